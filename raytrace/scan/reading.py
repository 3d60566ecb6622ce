"""What the numbers of a scan count and which axis points up: proposed from the sizes of rooms."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.room import UNITS, MeshError, in_room

Floats = NDArray[np.float64]

_HEIGHT_M, _FLOOR_M2 = (1.8, 4.5), (4.0, 150.0)
_USUAL_HEIGHT_M = 2.5
_UNIT_ORDER = ("m", "mm", "cm", "in", "ft")


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
    """

    unit: str
    up: str
    height_m: float
    floor_m2: float
    others: tuple[tuple[str, str], ...] = ()
    asked: bool = False


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
    readings = []
    for axis in (up,) if up else ("z", "y"):
        for counted in (unit,) if unit else _UNIT_ORDER:
            # Strays far off must not make a room large.
            placed = in_room(points, counted, axis)
            size = np.percentile(placed, 99.5, axis=0) - np.percentile(placed, 0.5, axis=0)
            readings.append(Reading(counted, axis, float(size[2]), float(size[0] * size[1])))
    assert set(_UNIT_ORDER) == set(UNITS)
    sane = [reading for reading in readings if _is_sane(reading)]
    if not sane:
        if unit and up:
            chosen = readings[0]
            return Reading(unit, up, chosen.height_m, chosen.floor_m2, asked=True)
        made = ", ".join(
            f"{r.unit} {r.up}-up {r.height_m:.3g} m high" for r in readings if r.up == (up or "z")
        )
        raise MeshError(
            f"{file}: no unit makes a room of it ({made}); a room is 1.8 to 4.5 m high on 4 to 150 m2: "
            "give --unit and --up"
        )
    best = min(sane, key=lambda r: abs(np.log(r.height_m / _USUAL_HEIGHT_M)))
    others = tuple((r.unit, r.up) for r in sane if r is not best)
    return Reading(best.unit, best.up, best.height_m, best.floor_m2, others, asked=bool(unit and up))


def _is_sane(reading: Reading) -> bool:
    return (
        _HEIGHT_M[0] <= reading.height_m <= _HEIGHT_M[1] and _FLOOR_M2[0] <= reading.floor_m2 <= _FLOOR_M2[1]
    )
