"""Timber as it is sold: actual size behind a name, stock lengths, mass."""

import math
from dataclasses import dataclass

from raytrace.scene import DRESSED_M, frame_section

SOFTWOOD_KG_M3 = 480.0
"""Planed softwood. Common practice, no source: 20 x 100 mm weighs 0.9 to 1.0 kg a metre."""

_INCH = 0.0254
_METRIC_STOCK_M = (2.4, 3.0, 4.8)
_IMPERIAL_STOCK_M = (8 * 0.3048, 12 * 0.3048, 16 * 0.3048)
# Nominal inches for rails and for battens across joists (common practice, no source).
_USUAL_FOR = {"20x45": (1, 2), "45x70": (2, 4)}
_NEAR_M = 0.002  # what planing or a saw makes of no account


@dataclass(frozen=True)
class Timber:
    """One section of timber: what it is called, actual thickness and depth [m], lengths in the shop [m]."""

    name: str
    thickness_m: float
    depth_m: float
    stock_m: tuple[float, ...]

    @property
    def kg_m(self) -> float:
        """Mass per length as softwood. [kg/m]"""
        return SOFTWOOD_KG_M3 * self.thickness_m * self.depth_m


BATTEN = Timber("20x45", 0.020, 0.045, _METRIC_STOCK_M)
"""For rails and cross-bars on metric frames."""
ACROSS_JOISTS = Timber("45x70", 0.045, 0.070, (2.4, 3.0, 4.8))
"""For battens across joists, flat on the surface; its size is for a competent person to check."""
NOMINAL_BATTEN = Timber("1x2", 0.75 * _INCH, 1.5 * _INCH, _IMPERIAL_STOCK_M)
"""The same on frames of nominal inch timber."""


STAND = Timber("45x70", 0.045, 0.070, _METRIC_STOCK_M)
"""For legs, feet and blocks of stands. Common practice, no source."""
NOMINAL_STAND = Timber("2x3", 1.5 * _INCH, 2.5 * _INCH, _IMPERIAL_STOCK_M)
"""The same beside frames of nominal inch timber."""


@dataclass(frozen=True)
class YardTimber:
    """What an imperial yard sells in place of a timber.

    Attributes
    ----------
    name : str
        Nominal inches: "1x5".
    thickness_m, depth_m : float
        Dressed size as sold. [m]
    is_ripped : bool
        Whether it is sawn lengthways to the depth of the timber it stands for.
    """

    name: str
    thickness_m: float
    depth_m: float
    is_ripped: bool


def yard_timber(timber: Timber) -> YardTimber:
    """The nominal size of an imperial yard that a timber is made from.

    Thickness as near as dressed boards come, and the narrowest that is wide enough. Rails and battens,
    whose size is no frame's depth, become the usual size of the same use.

    Examples
    --------
    >>> sold = yard_timber(frame_timber("20x100", 0.1))
    >>> sold.name, sold.is_ripped
    ('1x5', True)
    """
    if is_nominal(timber):
        return YardTimber(timber.name, timber.thickness_m, timber.depth_m, False)
    usual = _USUAL_FOR.get(timber.name)
    if usual is not None:
        thin, deep = usual
        return YardTimber(f"{thin}x{deep}", DRESSED_M[thin], DRESSED_M[deep], False)
    thin, deep = (
        next((n for n, actual_m in DRESSED_M.items() if actual_m > side_m - _NEAR_M), max(DRESSED_M))
        for side_m in (timber.thickness_m, timber.depth_m)
    )
    depth_m = DRESSED_M[deep]
    return YardTimber(f"{thin}x{deep}", DRESSED_M[thin], depth_m, bool(depth_m > timber.depth_m + _NEAR_M))


def yard_length_m(stock_m: float) -> float:
    """The even number of feet in which an imperial yard sells a length. [m]

    Examples
    --------
    >>> [round(yard_length_m(x) / 0.3048) for x in (2.4, 3.0, 4.8, 16 * 0.3048)]
    [8, 10, 16, 16]
    """
    two_feet = 24 * _INCH
    return math.ceil(stock_m / two_feet - 1e-9) * two_feet


def frame_timber(frame: str | None, slab_m: float) -> Timber:
    """The timber that the frame of a build is made of.

    Parameters
    ----------
    frame : str or None
        As the build says; see `frame_section`.
    slab_m : float
        Thickness of the slab. [m]

    Examples
    --------
    >>> pine = frame_timber("pine 1x4", 0.1)
    >>> round(1000 * pine.thickness_m), round(1000 * pine.depth_m)
    (19, 89)
    """
    section = frame_section(frame, slab_m)
    stock_m = _IMPERIAL_STOCK_M if section.is_nominal else _METRIC_STOCK_M
    return Timber(section.name, section.thickness_m, section.depth_m, stock_m)


def batten_for(timber: Timber) -> Timber:
    """What rails and cross-bars of a frame are made of, from the same shop."""
    return NOMINAL_BATTEN if is_nominal(timber) else BATTEN


def stand_timber(timber: Timber) -> Timber:
    """What carries a standing panel with a frame of that timber, from the same shop."""
    return NOMINAL_STAND if is_nominal(timber) else STAND


def is_nominal(timber: Timber) -> bool:
    """Whether a timber is sold by nominal inches."""
    return timber.stock_m == _IMPERIAL_STOCK_M
