"""What the numbers of a scan count and which axis points up: proposed from the sizes of rooms."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from raytrace.room import UNITS, MeshError, in_room

Floats = NDArray[np.float64]

_HEIGHT_M, _FLOOR_M2 = (1.8, 4.5), (4.0, 150.0)
_USUAL_HEIGHT_M = 2.5
_UNIT_ORDER = ("m", "mm", "cm", "in", "ft")
_AXES, _SIDEWAYS = ("z", "y"), "x"
_UNUSUAL = np.log(1.3)  # heights beyond 1.9 to 3.2 m are worth a word where another reading is more usual
STOREYS = " Are there several storeys in it? Export one."
# Units that no scene takes, in metres.
_ODD_UNITS = (
    (1000.0, "kilometres"),
    (0.1, "decimetres"),
    (1e-6, "thousandths of a millimetre"),
)


@dataclass(frozen=True)
class Reading:
    """One way to read the numbers of a scan.

    Attributes
    ----------
    unit, up : str
    height_m, floor_m2 : float
        What the room is then: its height and the rectangle round its floor.
    others : tuple of (str, str)
        Unit and upright axis of other readings that make a room too.
    asked : bool
        Whether somebody said so, rather than the sizes.
    doubt : str
        What speaks against it; empty where nothing does.
    """

    unit: str
    up: str
    height_m: float
    floor_m2: float
    others: tuple[tuple[str, str], ...] = ()
    asked: bool = False
    doubt: str = ""

    @property
    def is_high(self) -> bool:
        """Whether it is higher than rooms are, as two storeys in one file are."""
        return self.height_m > _HEIGHT_M[1]


def propose_reading(points: Floats, *, unit: str | None = None, up: str | None = None, file: str) -> Reading:
    """How to read the points of a file: as a room of a sane size.

    Parameters
    ----------
    points : (n, 3) float
        In the numbers and axes of the file.
    unit, up : str, optional
        Where somebody says so.
    file : str
        Its name, for messages.

    Raises
    ------
    MeshError
        If no unit makes a room of it; says what each would make.
    """
    axes = _AXES if up is None or up in _AXES else (*_AXES, up)
    readings = [_read(points, counted, axis) for axis in axes for counted in _UNIT_ORDER]
    assert set(_UNIT_ORDER) == set(UNITS)
    asked = [r for r in readings if (unit is None or r.unit == unit) and (up is None or r.up == up)]
    every = sorted((r for r in readings if _is_sane(r)), key=_unusual)
    sane = [r for r in every if r in asked]
    if not sane and not (unit and up and _is_thinkable(asked[0])):
        raise MeshError(_no_room(file, points, asked, every))
    best = sane[0] if sane else asked[0]
    others = tuple((r.unit, r.up) for r in (sane or every) if r is not best)
    doubt = ""
    if (unit or up) and every and _unusual(best) > _UNUSUAL and _unusual(every[0]) < 0.5 * _unusual(best):
        usual = every[0]
        doubt = (
            f"read as asked it is {_size(best)}; with --unit {usual.unit} --up {usual.up} it would be "
            f"{_size(usual)}, as rooms are"
        )
    elif _unusual(best) > _UNUSUAL:
        doubt = f"it is {_size(best)}, as few rooms are: look at --unit and --up"
        doubt += f".{STOREYS}" if best.is_high else ""
        lying = [] if up or best.is_high else _lying(points, unit)
        if lying and _unusual(lying[0]) < 0.5 * _unusual(best):
            doubt += (
                f". Does the scan lie on its side? With --unit {lying[0].unit} --up {_SIDEWAYS} it would be "
                f"{_size(lying[0])}; if it stands on its head then: --up=-{_SIDEWAYS}"
            )
    return replace(best, others=others, asked=bool(unit and up), doubt=doubt)


def _read(points: Floats, unit: str, up: str) -> Reading:
    placed = in_room(points, unit, up)
    # Strays far off must not make a room large.
    size = np.percentile(placed, 99.5, axis=0) - np.percentile(placed, 0.5, axis=0)
    return Reading(unit, up, float(size[2]), float(size[0] * size[1]))


def _lying(points: Floats, unit: str | None) -> list[Reading]:
    """Readings of a file that lies on its side, as no program writes them by itself, the most usual first."""
    readings = [_read(points, counted, _SIDEWAYS) for counted in ((unit,) if unit else _UNIT_ORDER)]
    return sorted((r for r in readings if _is_sane(r)), key=_unusual)


def _unusual(reading: Reading) -> float:
    """How far a height is from that of most rooms, as a ratio's logarithm."""
    return float(abs(np.log(max(reading.height_m, 1e-9) / _USUAL_HEIGHT_M)))


def _no_room(file: str, points: Floats, asked: Sequence[Reading], every: Sequence[Reading]) -> str:
    """Why no unit makes a room of a file, and which other one would."""
    span = np.percentile(points, 99.5, axis=0) - np.percentile(points, 0.5, axis=0)
    numbers = " by ".join(f"{length:.4g}" for length in span)
    made = ", ".join(f"{r.unit} {r.up}-up {r.height_m:.3g} m high" for r in asked if r.up == asked[0].up)
    said = (
        f"{file}: no unit makes a room of it: its numbers span {numbers} ({made}); a room is 1.8 to 4.5 m "
        "high on 4 to 150 m²"
    )
    flat = [r for r in asked if 2.0 * _HEIGHT_M[0] <= r.height_m <= 3.0 * _HEIGHT_M[1] and _fits(r.floor_m2)]
    storeys = STOREYS if flat else ""
    usual = every or ([] if storeys else _lying(points, None))
    if usual:
        return (
            f"{said}. As a room of usual size: --unit {usual[0].unit} --up {usual[0].up} ({_size(usual[0])})"
        )
    for times, name in _ODD_UNITS:
        odd = [r for r in (_read(points * times, "m", axis) for axis in _AXES) if _is_sane(r)]
        if odd:
            best = min(odd, key=_unusual)
            return (
                f"{said}. Its numbers seem to count {name} ({_size(best)}): multiply them by {times:g} in "
                f"the program that wrote it, then --unit m --up {best.up}"
            )
    return f"{said}.{storeys} Is it another kind of thing, give --unit and --up"


def _size(reading: Reading) -> str:
    return f"{reading.height_m:.2f} m high on a rectangle of {reading.floor_m2:.1f} m²"


def _fits(floor_m2: float) -> bool:
    return _FLOOR_M2[0] <= floor_m2 <= _FLOOR_M2[1]


def _is_sane(reading: Reading) -> bool:
    return _HEIGHT_M[0] <= reading.height_m <= _HEIGHT_M[1] and _fits(reading.floor_m2)


def _is_thinkable(reading: Reading) -> bool:
    """Whether what somebody asks for may be a room at all: a cupboard, or a hall."""
    return 1.0 <= reading.height_m <= 30.0 and 1.0 <= reading.floor_m2 <= 5000.0
