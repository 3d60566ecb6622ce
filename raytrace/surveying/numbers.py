"""Measured numbers of a scene: every length that a tape gave, and the scene with some of them off."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

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
from raytrace.verdicts import SURVEY_M

_AXES = ("x", "y", "z")
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


@dataclass(frozen=True)
class SurveyNumber:
    """One length of a scene as it was measured.

    Attributes
    ----------
    what : str
        What it is called.
    key : KeyPath
        Where the scene has it.
    value_m, error_m : float
        As drawn, and one standard error of it. [m]
    """

    what: str
    key: KeyPath
    value_m: float
    error_m: float

    @property
    def moves_walls(self) -> bool:
        """Whether faces move with it, and not only who plays or listens."""
        return self.key[0] not in ("speakers", "seats")


def survey_error_m(scene: Scene) -> float:
    """One standard error of a taped length: what the scene says, else what is usual. [m]"""
    return SURVEY_M if scene.job.survey_error is None else scene.job.survey_error


def survey_numbers(scene: Scene) -> tuple[SurveyNumber, ...]:
    """Every measured length of a scene: its room, what stands in it, who plays and listens.

    A coordinate of 0 is where the tape began, not a length. Angles, openings, and where a mesh has its
    corners are not among them.
    """
    named = [*_room_keys(scene), *_furniture_keys(scene), *_place_keys(scene)]
    error_m = survey_error_m(scene)
    numbers = (SurveyNumber(what, key, value_at(scene, key), error_m) for what, key in named)
    return tuple(number for number in numbers if number.value_m != 0.0)


def _room_keys(scene: Scene) -> list[tuple[str, KeyPath]]:
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
    if isinstance(room, PlanRoom):
        named += [
            (f"corner {k + 1} {axis}", ("room", "corners", k, i))
            for k in range(len(room.corners))
            for i, axis in enumerate(("x", "y"))
        ]
    if isinstance(room, SectionRoom):
        across = "y" if room.length is not None else "x"
        named += [
            (f"profile {k + 1} {axis}", ("room", "profile", k, i))
            for k in range(len(room.profile))
            for i, axis in enumerate((across, "z"))
        ]
    if isinstance(room, BoxRoom | PlanRoom):
        named += [
            (f"eaves at the {slope.wall}", ("room", "slopes", k, "eaves"))
            for k, slope in enumerate(room.slopes)
        ]
    return named


def _furniture_keys(scene: Scene) -> list[tuple[str, KeyPath]]:
    """Where boxes stand; their own sizes are taken as right."""
    return [
        (f"{entry.name} {axis}", ("objects", k, "centre", i))
        for k, entry in enumerate(scene.objects)
        if isinstance(entry, BoxObject)
        for i, axis in enumerate(_AXES)
    ]


def _place_keys(scene: Scene) -> list[tuple[str, KeyPath]]:
    named: list[tuple[str, KeyPath]] = [
        (f"{speaker.name} speaker {axis}", ("speakers", k, "position", i))
        for k, speaker in enumerate(scene.speakers)
        for i, axis in enumerate(_AXES)
    ]
    named += [
        (f"{seat.name} ears {axis}", ("seats", k, "ears", i))
        for k, seat in enumerate(scene.seats)
        for i, axis in enumerate(_AXES)
    ]
    return named


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
