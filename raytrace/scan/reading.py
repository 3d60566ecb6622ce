"""What the numbers of a scan count and which axis points up: proposed from the sizes of rooms."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from raytrace.room import UNITS, MeshError, in_room

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_HEIGHT_M, _FLOOR_M2 = (1.8, 4.5), (4.0, 150.0)
_USUAL_HEIGHT_M = 2.5
_UNIT_ORDER = ("m", "mm", "cm", "in", "ft")
_AXES, _SIDEWAYS = ("z", "y"), "x"
_UNUSUAL = np.log(1.3)  # heights beyond 1.9 to 3.2 m are worth a word where another reading is more usual
_STOREYS = (2, 3)
_LEVEL, _FLOOR_SHARE = 0.94, 0.5  # cosine to upright of a floor between storeys, and how much a stair leaves
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
    by_format : bool
        Whether the upright axis is that of its format.
    doubt : str
        What speaks against it; empty where nothing does.
    """

    unit: str
    up: str
    height_m: float
    floor_m2: float
    others: tuple[tuple[str, str], ...] = ()
    asked: bool = False
    by_format: bool = False
    doubt: str = ""

    @property
    def is_high(self) -> bool:
        """Whether it is higher than rooms are, as two storeys in one file are."""
        return self.height_m > _HEIGHT_M[1]


@dataclass(frozen=True)
class Asked:
    """What is known beforehand of how a file is to be read.

    Attributes
    ----------
    unit, up : str or None
        Where somebody says so.
    own_up : str
        Which axis points up by the rules of its format; empty where it has none.
    """

    unit: str | None = None
    up: str | None = None
    own_up: str = ""

    def allows(self, reading: Reading) -> bool:
        """Whether nobody says otherwise."""
        return self.unit in (None, reading.unit) and self.up in (None, reading.up)

    @property
    def by_format(self) -> bool:
        """Whether an axis of the format's own is tried alone."""
        return bool(self.own_up) and self.up is None


def propose_reading(points: Floats, triangles: Ints, asked: Asked, *, file: str) -> Reading:
    """How to read the points of a file: as a room of a sane size.

    Parameters
    ----------
    points : (n, 3) float
        In the numbers and axes of the file.
    triangles : (m, 3) int
    asked : Asked
    file : str
        Its name, for messages.

    Raises
    ------
    MeshError
        If no unit makes a room of it; says what each would make. If it may be a house on its side.
    """
    axes = _AXES if asked.up is None or asked.up in _AXES else (*_AXES, asked.up)
    readings = [_read(points, counted, axis) for axis in axes for counted in _UNIT_ORDER]
    assert set(_UNIT_ORDER) == set(UNITS)
    allowed = [r for r in readings if asked.allows(r)]
    tried = [r for r in allowed if r.up == asked.own_up or not asked.by_format]
    every = sorted((r for r in readings if _is_sane(r)), key=_unusual)
    sane = [r for r in every if r in tried]
    if not sane and not (asked.unit and asked.up and _is_thinkable(tried[0])):
        raise MeshError(_no_room(file, points, tried, every))
    best = sane[0] if sane else tried[0]
    others = tuple((r.unit, r.up) for r in every if (r in allowed or not sane) and r is not best)
    if not (asked.up or asked.own_up) and _unusual(best) > _UNUSUAL:
        _refuse_house(points, triangles, best, readings, file)
    is_asked = bool(asked.unit and asked.up)
    doubt = _doubt(points, asked, best, every)
    return replace(best, others=others, asked=is_asked, by_format=asked.by_format, doubt=doubt)


def _doubt(points: Floats, asked: Asked, best: Reading, every: Sequence[Reading]) -> str:
    """What speaks against a reading; `every` sane one is there, the most usual first."""
    if _unusual(best) <= _UNUSUAL:
        return ""
    storeys = STOREYS if best.is_high else ""
    if (asked.unit or asked.up or asked.own_up) and every and _unusual(every[0]) < 0.5 * _unusual(best):
        usual = every[0]
        how = "as asked" if asked.unit or asked.up else f"{asked.own_up}-up, as its format has it,"
        return (
            f"read {how} it is {_size(best)}; with --unit {usual.unit} --up {usual.up} it would be "
            f"{_size(usual)}, as rooms are{storeys and '.'}{storeys}"
        )
    doubt = f"it is {_size(best)}, as few rooms are: look at --unit and --up{storeys and '.'}{storeys}"
    lying = [] if asked.up or best.is_high else _lying(points, asked.unit)
    if lying and _unusual(lying[0]) < 0.5 * _unusual(best):
        doubt += (
            f". Does the scan lie on its side? With --unit {lying[0].unit} --up {_SIDEWAYS} it would be "
            f"{_size(lying[0])}; if it stands on its head then: --up=-{_SIDEWAYS}"
        )
    return doubt


def _refuse_house(
    points: Floats, triangles: Ints, best: Reading, readings: Sequence[Reading], file: str
) -> None:
    """Refuse an unusual room that may as well be several usual storeys, one over the other."""
    for house in readings:
        n_storeys = round(house.height_m / _USUAL_HEIGHT_M)
        storey = replace(house, height_m=house.height_m / max(n_storeys, 1))
        if house.up == best.up or n_storeys not in _STOREYS or not _fits(house.floor_m2):
            continue
        if _unusual(storey) < 0.5 * _unusual(best) and _is_parted(points, triangles, house):
            raise MeshError(
                f"{file} is either one storey (--up {best.up}), {_size(best)}, as few rooms are, or "
                f"{n_storeys} storeys of {storey.height_m:.2f} m each (--up {house.up}): say with --up which "
                "axis points up; of several storeys, export one"
            )


def _is_parted(points: Floats, triangles: Ints, house: Reading) -> bool:
    """Whether something level and nearly as large as its floor parts a house between bottom and top."""
    corners = in_room(points, house.unit, house.up)[triangles]
    with np.errstate(over="ignore", invalid="ignore"):  # strays may be anywhere
        across = 0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        is_level = np.abs(across[:, 2]) > _LEVEL * np.linalg.norm(across, axis=1)
    height_m = corners[..., 2].mean(axis=1)
    low, high = np.percentile(corners[..., 2], (0.5, 99.5))
    between = (height_m > 0.75 * low + 0.25 * high) & (height_m < 0.25 * low + 0.75 * high)
    level_m2 = float(np.abs(across[is_level & between, 2]).sum())
    return level_m2 > _FLOOR_SHARE * house.floor_m2


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
            f"{said}.{storeys} As a room of usual size: --unit {usual[0].unit} --up {usual[0].up} "
            f"({_size(usual[0])})"
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
