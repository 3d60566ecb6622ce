"""Measured numbers of a scene: every length that a tape gave, and the scene with some of them off."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from raytrace.scene import (
    BoxObject,
    BoxRoom,
    GableRoom,
    KeyPath,
    LeanToRoom,
    PlanRoom,
    Scene,
    SectionRoom,
)
from raytrace.surveying.plans import corner_moves, mean_error_m, taped_lengths, wall_name
from raytrace.verdicts import SURVEY_M

Floats = NDArray[np.float64]

_DATUMS = ("front wall", "left wall")
_AT_DATUM_M, _SKEW = 0.05, 0.09  # a wall that is taped from starts at 0, within 5 degrees of the other axis
_TOUCHES_M = 0.0005
_SIZES = {
    "length": "room length",
    "width": "room width",
    "height": "ceiling height",
    "ridge": "ridge height",
    "ridge_at": "place of the ridge",
    "flat": "height of the flat ceiling",
    "low": "height of the low side",
    "high": "height of the high side",
}


Moves = tuple[tuple[KeyPath, float], ...]
"""Keys of a scene and how far each of them moves per metre of a length."""


@dataclass(frozen=True)
class SurveyNumber:
    """One length of a room as a tape gave it.

    Attributes
    ----------
    what : str
        What it is called.
    moves : tuple of (KeyPath, float)
        What of the scene moves with it, and how far per metre of it.
    value_m, error_m : float
        As drawn, and one standard error of it. [m]
    corners : (2,) tuple of int or None
        Of a plan, between which it was measured; counted from 1.
    """

    what: str
    moves: Moves
    value_m: float
    error_m: float
    corners: tuple[int, int] | None = None

    @property
    def moves_walls(self) -> bool:
        """Whether faces move with it, and not only who plays or listens."""
        return any(key[0] not in ("speakers", "seats") for key, _ in self.moves)

    def shifted(self, scene: Scene, by_m: float) -> Scene:
        """A scene with this length more by so much, unchecked: it is only reckoned with."""
        return with_numbers(scene, {key: value_at(scene, key) + share * by_m for key, share in self.moves})


def survey_error_m(scene: Scene) -> float:
    """One standard error of a taped length: what the scene says, else what is usual. [m]"""
    return SURVEY_M if scene.job.survey_error is None else scene.job.survey_error


def survey_numbers(scene: Scene) -> tuple[SurveyNumber, ...]:
    """Every length of a scene that a tape is laid along: its room, what stands in it, who plays and listens.

    Of a plan these are its walls and the diagonals that hold it. What touches a wall or stands where the
    tape begins is no length. Angles, openings, and where a mesh has its corners are not among them.
    """
    numbers = (*_room_numbers(scene), *_furniture_numbers(scene), *_place_numbers(scene))
    return tuple(number for number in numbers if abs(number.value_m) > _TOUCHES_M)


def _room_numbers(scene: Scene) -> list[SurveyNumber]:
    room, error_m = scene.room, survey_error_m(scene)
    named = [(what, key) for what, key in _room_keys(scene) if value_at(scene, key) != 0.0]
    numbers = [SurveyNumber(what, ((key, 1.0),), value_at(scene, key), error_m) for what, key in named]
    if not isinstance(room, PlanRoom):
        return numbers
    if room.heights:
        height_m = mean_error_m([error_m if own.error is None else own.error for own in room.heights])
        numbers = [replace(n, error_m=height_m) if n.what == _SIZES["height"] else n for n in numbers]
    return numbers + _plan_numbers(room, error_m)


def _room_keys(scene: Scene) -> list[tuple[str, KeyPath]]:
    """Single lengths of a room; those of a plan's outline are not among them."""
    room = scene.room
    named: list[tuple[str, KeyPath]] = [
        (what, ("room", size))
        for size, what in _SIZES.items()
        if isinstance(getattr(room, size, None), float)
    ]
    if isinstance(room, GableRoom):
        sides = ("left", "right") if room.ridge_along == "length" else ("front", "back")
        named += [(f"{side} eaves", ("room", "eaves", k)) for k, side in enumerate(sides)]
    if isinstance(room, LeanToRoom):
        named = [(what, key) for what, key in named if key[-1] != "height"]
    if isinstance(room, SectionRoom):
        side = "left wall" if room.length is not None else "front wall"
        for k in range(len(room.profile)):
            named.append((f"profile {k + 1} to {side}", ("room", "profile", k, 0)))
            named.append((f"height of profile {k + 1}", ("room", "profile", k, 1)))
    if isinstance(room, BoxRoom | PlanRoom):
        named += [
            (f"eaves at the {slope.wall}", ("room", "slopes", k, "eaves"))
            for k, slope in enumerate(room.slopes)
        ]
    return named


def _plan_numbers(room: PlanRoom, error_m: float) -> list[SurveyNumber]:
    """Walls and diagonals of a plan, with what each does to all corners."""
    lengths = taped_lengths(room, error_m)
    corners = np.array(room.corners, np.float64)
    numbers = []
    for own, moves in zip(lengths, corner_moves(room, lengths), strict=True):
        a, b = (k - 1 for k in own.corners)
        keys: Moves = tuple(
            (("room", "corners", k, i), float(moves[k, i])) for k, i in np.argwhere(moves != 0.0).tolist()
        )
        length_m = float(np.linalg.norm(corners[b] - corners[a]))
        numbers.append(SurveyNumber(own.what, keys, length_m, own.error_m, own.corners))
    return numbers


def _furniture_numbers(scene: Scene) -> list[SurveyNumber]:
    """Where boxes stand, by their nearer sides and their tops; their own sizes are taken as right."""
    numbers = []
    for k, entry in enumerate(scene.objects):
        if not isinstance(entry, BoxObject):
            continue
        nearer = np.array([-1.0, -1.0, 1.0]) * _half_m(entry)
        numbers += _placed(scene, entry.name, ("objects", k, "centre"), nearer)
    # What passes through a wall or through the floor leaves nothing to lay a tape along.
    return [number for number in numbers if number.value_m > 0.0]


def _half_m(entry: BoxObject) -> Floats:
    """How far a box reaches from its centre along x, y and z, (3,). [m]"""
    turns = np.radians([entry.yaw, entry.pitch])
    (cy, cp), (sy, sp) = np.abs(np.cos(turns)).tolist(), np.abs(np.sin(turns)).tolist()
    reach = np.array([[cy * cp, sy, cy * sp], [sy * cp, cy, sy * sp], [sp, 0.0, cp]])
    half: Floats = reach @ (0.5 * np.asarray(entry.size))
    return half


def _place_numbers(scene: Scene) -> list[SurveyNumber]:
    numbers = []
    for k, speaker in enumerate(scene.speakers):
        numbers += _placed(scene, f"{speaker.name} speaker", ("speakers", k, "position"), np.zeros(3))
    for k, seat in enumerate(scene.seats):
        numbers += _placed(scene, f"{seat.name} ears", ("seats", k, "ears"), np.zeros(3))
    return numbers


def _placed(scene: Scene, who: str, key: KeyPath, reach_m: Floats) -> list[SurveyNumber]:
    """Distances of one thing from front, left side and floor, measured to a point so far off its own."""
    at = np.array([value_at(scene, (*key, axis)) for axis in range(3)]) + reach_m
    error_m, numbers = survey_error_m(scene), []
    for axis in range(2):
        name, from_m = _datum(scene.room, axis, float(at[1 - axis]))
        numbers.append((f"{who} to {name}", float(at[axis]) - from_m, axis))
    numbers.append((f"height of {who}", float(at[2]), 2))
    return [SurveyNumber(what, (((*key, axis), 1.0),), value_m, error_m) for what, value_m, axis in numbers]


def _datum(room: Any, axis: int, across_m: float) -> tuple[str, float]:
    """The wall that distances along x or y are taped from, and where it is at a place across. [m]"""
    if not isinstance(room, PlanRoom):
        return _DATUMS[axis], 0.0
    found = []
    corners = room.corners
    for k, (start, end) in enumerate(zip(corners, (*corners[1:], corners[0]), strict=True)):
        run_m, rise_m = end[1 - axis] - start[1 - axis], end[axis] - start[axis]
        if min(abs(start[axis]), abs(end[axis])) < _AT_DATUM_M and abs(rise_m) < _SKEW * abs(run_m):
            at_m = start[axis] + (across_m - start[1 - axis]) / run_m * rise_m
            found.append((abs(run_m), wall_name(room, k), at_m))
    _, name, at_m = max(found, default=(0.0, f"{'xy'[axis]} = 0", 0.0))
    return name, at_m


def value_at(scene: Scene, key: KeyPath) -> float:
    """The number that a scene has under a key. [m, degC]"""
    value: Any = scene
    for step in key:
        value = value[step] if isinstance(step, int) else getattr(value, step)
    return float(value)


def with_numbers(scene: Scene, values: Mapping[KeyPath, float]) -> Scene:
    """A scene with other numbers, none of them checked: it is only reckoned with."""
    changed: Any = scene
    for key, value in values.items():
        changed = _replaced(changed, key, value)
    assert isinstance(changed, Scene)
    return changed


def _replaced(holder: Any, key: KeyPath, value: float) -> Any:
    """A table or tuple with one number in it replaced."""
    step, rest = key[0], key[1:]
    if isinstance(step, int):
        entries = list(holder)
        entries[step] = _replaced(entries[step], rest, value) if rest else value
        return tuple(entries)
    inner = getattr(holder, step)
    return holder.model_copy(update={step: _replaced(inner, rest, value) if rest else value})
