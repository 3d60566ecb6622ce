"""Rooms whose ceiling is tilted by a few degrees, one of every shape that can be."""

import math
from collections.abc import Callable

from raytrace import Room

TILTS_DEG = (1, 3, 5, 8, 12)
LONG_M, WIDE_M, LOW_M = 4.5, 2.9, 2.05


def _lean_to(tilt_deg: float) -> str:
    high = LOW_M + LONG_M * math.tan(math.radians(tilt_deg))
    return (
        f'shape = "lean-to"\nlength = {LONG_M}\nwidth = {WIDE_M}\nlow = {LOW_M}\nhigh = {high!r}\n'
        'low_side = "front"'
    )


def _gable(tilt_deg: float) -> str:
    ridge = LOW_M + 0.5 * WIDE_M * math.tan(math.radians(tilt_deg))
    return f'shape = "gable"\nlength = {LONG_M}\nwidth = {WIDE_M}\neaves = {LOW_M}\nridge = {ridge!r}'


def _section(tilt_deg: float) -> str:
    high = LOW_M + LONG_M * math.tan(math.radians(tilt_deg))
    profile = f"[[0, 0], [{LONG_M}, 0], [{LONG_M}, {high!r}], [0, {LOW_M}]]"
    return f'shape = "section"\nwidth = {WIDE_M}\nprofile = {profile}'


def _slopes(tilt_deg: float) -> str:
    slope = f'{{wall = "left wall", eaves = {LOW_M}, pitch = {tilt_deg}}}'
    return f'shape = "box"\nlength = {LONG_M}\nwidth = {WIDE_M}\nheight = 2.6\nslopes = [{slope}]'


TILTED: dict[str, Callable[[float], str]] = {
    "lean-to": _lean_to,
    "gable": _gable,
    "section": _section,
    "slopes": _slopes,
}


def tilted_ceilings(room: Room) -> tuple[int, ...]:
    """Surfaces overhead that are not exactly level, the largest first."""
    rises = [float(surface.frame.n[2]) for surface in room.surfaces]
    found = [index for index, rise in enumerate(rises) if -0.999999 < rise < -0.1]
    return tuple(sorted(found, key=lambda index: -room.surfaces[index].area_m2))
