"""A first scene file from the few numbers of a tape sketch."""

import json
import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from raytrace.scene.limits import STANDARDS, USUAL_LIMITS
from raytrace.scene.naming import quoted_list
from raytrace.scene.scene import Scene
from raytrace.scene.sketch_room import (
    SIDES,
    SUGGESTED,
    AnswerError,
    Answers,
    check_places,
    hole,
    lengths,
    middle_m,
    number_text,
    opening,
    outline,
    places,
    screen_box,
    sized,
    word,
)
from raytrace.scene.tables import problems
from raytrace.scene.values import name


@dataclass(frozen=True)
class Question:
    """One question of a tape sketch.

    Attributes
    ----------
    key : str
        Name of the answer.
    text : str
        The question as it is asked.
    example : str
        An answer that is accepted.
    default : float, str or None
        The answer of someone who has none; None where it follows from earlier answers (`suggestion`).
    """

    key: str
    text: str
    example: str
    default: float | str | None
    reader: Callable[[str | float], Any]

    def read(self, answer: str | float) -> Any:
        """The checked value of an answer; lengths in metres.

        Raises
        ------
        ValueError
            If the answer cannot be used; the text says what is accepted.
        """
        return self.reader(answer)

    def suggestion(self, answers: Answers) -> float | str:
        """The default, worked out from the checked answers so far where it follows from them. [m]"""
        return SUGGESTED[self.key](answers) if self.default is None else self.default


def sketch_scene(shape: str, answers: Mapping[str, str | float], *, title: str = "New room") -> str:
    """A commented scene file of one room with two speakers and a seat.

    Parameters
    ----------
    shape : str
        A key of `QUESTIONS`: "box", "gable", "lean-to", "plan" or "section".
    answers : mapping
        Answer by the key of its question, as typed or in metres. What is missing or blank takes the
        question's suggestion: an equal-sided triangle with the ears at about 38 % of the length.
    title : str
        The room's name.

    Returns
    -------
    str
        TOML that `load_scene` accepts.

    Raises
    ------
    AnswerError
        If an answer cannot be used.
    ValueError
        If the shape or a key is unknown.
    """
    if shape not in QUESTIONS:
        raise ValueError(f'unknown shape "{shape}"; accepted: {quoted_list(QUESTIONS)}')
    questions = QUESTIONS[shape]
    known = [question.key for question in questions]
    for key in answers:
        if key not in known:
            raise ValueError(f'unknown answer "{key}"; a {shape} room asks for {quoted_list(known)}')
    values: dict[str, Any] = {}
    for question in questions:
        answer = answers.get(question.key, "")
        given = answer if str(answer).strip() else question.suggestion(values)
        try:
            values[question.key] = question.read(given)
        except ValueError as problem:
            raise AnswerError(question.key, str(problem)) from None
    values.setdefault("middle", middle_m(values))
    check_places(values)
    typed = {key: str(answer).strip() for key, answer in answers.items() if isinstance(answer, str)}
    text = _scene_text(shape, values, typed, title)
    _check_scene(text)
    return text


def _check_scene(text: str) -> None:
    """Refuse answers that fit one by one but not together, such as a ridge below the eaves."""
    try:
        Scene.model_validate(tomllib.loads(text))
    except ValidationError as problem:
        key, message, _ = next(problems(problem))
        raise AnswerError(str(key[-1]), message) from None


_LENGTH = Question(
    "length", "Length, from the wall you face to the wall behind you", "4.2", 4.2, sized(1.0, 60.0)
)
_WIDTH = Question(
    "width", "Width, from the wall on your left to the wall on your right", "3000 mm", 3.0, sized(1.0, 60.0)
)
_MIDDLE = Question(
    "middle",
    "Where you sit across the room: distance from the left wall (y = 0)",
    "1.7",
    None,
    sized(-60.0, 60.0),
)
_PLACES = (
    Question("speakers_apart", "Speakers: distance from one to the other", "1.2", None, sized(0.3, 6.0)),
    Question(
        "speakers_from_front",
        "Speakers: distance from the wall you face",
        "750 mm",
        None,
        sized(0.05, 30.0),
    ),
    Question(
        "speakers_height", "Speakers: height of the tweeter above the floor", "1.2", 1.2, sized(0.1, 4.0)
    ),
    Question("ears_from_front", "Your ears: distance from the wall you face", "1.79", None, sized(0.1, 50.0)),
    Question("ears_height", "Your ears: height above the floor, seated", "1200 mm", 1.2, sized(0.5, 2.5)),
)
_HOLES = (
    Question(
        "door",
        "Door: wall, distance from the wall's left end as you face it, width; or none",
        "back, 0.3, 0.8",
        "none",
        hole(2, "back, 0.3, 0.8"),
    ),
    Question(
        "window",
        "Window: wall, distance from its left end, height of the sill, width, height; or none",
        "right, 1.2, 0.9, 1.4, 1.2",
        "none",
        hole(4, "right, 1.2, 0.9, 1.4, 1.2"),
    ),
)
_THINGS = (
    Question(
        "cabinet",
        "Cabinet of each speaker: depth, width, height; or none",
        "250 mm, 200 mm, 350 mm",
        "none",
        lengths(3, "250 mm, 200 mm, 350 mm"),
    ),
    Question(
        "screen",
        "Screens on the desk: distance from the wall you face, width of all together, height, height of "
        "their lower edge above the floor; or none",
        "0.7, 0.8, 0.35, 0.8",
        "none",
        lengths(4, "0.7, 0.8, 0.35, 0.8"),
    ),
)
_HEIGHT = Question("height", "Height, floor to ceiling", "8 ft", 2.4, sized(1.5, 12.0))

QUESTIONS: dict[str, tuple[Question, ...]] = {
    "box": (_LENGTH, _WIDTH, _HEIGHT, *_PLACES, *_HOLES, *_THINGS),
    "gable": (
        _LENGTH,
        Question("width", _WIDTH.text, "4.4", 4.4, sized(1.0, 60.0)),
        Question("eaves", "Height of the side walls, up to the slope", "1.1", 1.1, sized(0.0, 12.0)),
        Question("ridge", "Height of the ridge, which runs along the room", "2.6", 2.6, sized(1.5, 12.0)),
        *_PLACES,
        *_HOLES,
        *_THINGS,
    ),
    "lean-to": (
        _LENGTH,
        _WIDTH,
        Question("low", "Height of the ceiling at its low side", "2.05", 2.05, sized(0.0, 12.0)),
        Question("high", "Height of the ceiling at its high side", "2.75", 2.75, sized(1.5, 12.0)),
        Question("low_side", "Low side: front, back, left or right", "front", "front", word(*SIDES)),
        *_PLACES,
        *_HOLES,
        *_THINGS,
    ),
    "plan": (
        Question(
            "corners",
            "Corners of the floor in order, each as distance from the wall you face and from the left wall",
            "0 0, 6 0, 6 5.2, 3.4 5.2, 3.4 3.4, 0 3.4",
            "0 0, 6 0, 6 5.2, 3.4 5.2, 3.4 3.4, 0 3.4",
            outline,
        ),
        _HEIGHT,
        _MIDDLE,
        *_PLACES,
        *_HOLES,
        *_THINGS,
    ),
    "section": (
        _LENGTH,
        Question(
            "profile",
            "Corners of the cross-section in order, each as distance from the left wall and height",
            "0 0, 3.6 0, 3.6 2.4, 1.73 2.4, 0 0.95",
            "0 0, 3.6 0, 3.6 2.4, 1.73 2.4, 0 0.95",
            outline,
        ),
        _MIDDLE,
        *_PLACES,
        *_HOLES,
        *_THINGS,
    ),
}
"""The questions of every shape, in the order in which they are asked."""


def _scene_text(shape: str, values: Answers, typed: Mapping[str, str], title: str) -> str:
    stands = places(values)
    parts = [
        _INTRO.format(title=json.dumps(name(title), ensure_ascii=False)),
        _room_text(shape, values, typed),
        _SURFACES.format(example="wall 1" if shape == "plan" else "front wall"),
        *(_opening_text(values, key) for key in ("door", "window") if values[key] is not None),
        _SPEAKERS.format(
            left=_list(stands["left"]), right=_list(stands["right"]), body=_body_text(values["cabinet"])
        ),
        _SEAT.format(ears=_list(stands["ears"])),
        *([_screen_text(values)] if values["screen"] is not None else []),
        _MORE,
        _limits_text(),
    ]
    return "\n".join(parts)


def _limits_text() -> str:
    """The usual limit, and what every published one is meant for."""
    meant = (", ".join(filter(None, (limits.meant_for, str(limits.sizes)))) for limits in STANDARDS.values())
    known = [f'#   "{name}": {rooms}' for name, rooms in zip(STANDARDS, meant, strict=True)]
    return "\n".join([_LIMITS, *known, "[limits]", f'standard = "{USUAL_LIMITS.name}"', ""])


def _room_text(shape: str, values: Answers, typed: Mapping[str, str]) -> str:
    lines = [_ROOM_NOTES[shape], "[room]", f'shape = "{shape}"']
    for key in ("length", "width", "height", "eaves", "ridge", "low", "high"):
        if key in values:
            lines.append(f"{key} = {_length_text(values[key], typed.get(key, ''))}")
    if "low_side" in values:
        lines.append(f'low_side = "{values["low_side"]}"')
    for key in ("corners", "profile"):
        if key in values:
            rows = "".join(f"    {_list(corner)},\n" for corner in values[key])
            lines.append(f"{key} = [\n{rows}]")
    return "\n".join(lines) + "\n"


def _length_text(metres: float, typed: str) -> str:
    """The length as it was typed if that has a unit, so that the file shows the tape's own numbers."""
    return json.dumps(typed, ensure_ascii=False) if re.search(r"[^\d.\s-]", typed) else number_text(metres)


def _opening_text(values: Answers, key: str) -> str:
    wall, (u, v, width, height) = opening(values, key)
    material = "wood door" if key == "door" else "double glazing"
    return _OPENING.format(
        name=key, wall=wall, at=_list((u, v)), size=_list((width, height)), material=material
    )


def _body_text(size: tuple[float, ...] | None) -> str:
    return "" if size is None else f"body = {_list(size)}\n"


def _screen_text(values: Answers) -> str:
    centre, size = screen_box(values)
    return _SCREEN.format(centre=_list(centre), size=_list(size))


def _list(values: tuple[float, ...]) -> str:
    return f"[{', '.join(number_text(value) for value in values)}]"


_INTRO = """\
# A room from a tape sketch. Everything in it may be changed: lengths are metres, or text with a
# unit ("3400 mm", "11 ft 2 in"). A line that begins with # is a note; take the # away to use it.
#
# x runs from the wall you face towards the wall behind you, y from your left to your right,
# z from the floor up. So [0.75, 1.2, 1.2] is 0.75 m out, 1.2 m from the left, 1.2 m high.

title = {title}

# Printed in the report where given.
[job]
# client = "name of the client"
# place = "where the room is"
# author = "who wrote this"
# surveyed_by = "who held the tape"
# survey_error = "10 mm"      # how far a taped length may be off
# drilling = false            # for rooms in which nothing may be drilled

[air]
temperature = 20.0            # degrees Celsius: sets the speed of sound
humidity = 50.0               # per cent: sets how much the treble fades on its way
"""

_ROOM_NOTES = {
    "box": "# Four walls at right angles under a flat ceiling.",
    "gable": "# Two slopes that meet in a ridge along the room. Unequal side walls: eaves = [left, right].\n"
    "# A flat strip under the ridge: flat = its height.",
    "lean-to": "# One sloping ceiling over four walls; low_side is where it comes down.",
    "plan": "# Corners in order round the floor, [x, y] each: wall 1 runs from corner 1 to corner 2.\n"
    '# Walls may have names of their own: walls = ["front wall", ...], one for each corner.',
    "section": "# The cross-section: [y, z] of each corner in order, carried from front wall to back wall.",
}

_SURFACES = """\
# What every surface is made of; "default" stands for all that are not named.
[surfaces]
default = "plasterboard"
floor = "laminate floor"
# "{example}" = "brick"
"""

_OPENING = """\
# Where it sits is measured as you face the wall: from its left end, and from its lower edge.
[[openings]]
name = "{name}"
surface = "{wall}"
kind = "{name}"
at = {at}
size = {size}
material = "{material}"
"""

_SPEAKERS = """\
# The position is the point the sound comes from, about the tweeter. Both look at the first seat.
[[speakers]]
name = "left"
position = {left}
aim = "seat"
directivity = "two-way"
{body}
[[speakers]]
name = "right"
position = {right}
aim = "seat"
directivity = "two-way"
{body}"""

_SEAT = """\
# The point between the ears of someone who sits and works there.
[[seats]]
name = "mix"
ears = {ears}
"""

_SCREEN = """\
# All screens as one, upright between the speakers.
[[objects]]
name = "screen"
shape = "box"
centre = {centre}
size = {size}
material = "glass 4 mm"
"""

_MORE = """\
# Furniture counts: a desk between you and the speakers is often the first thing the sound meets.
# [[objects]]
# name = "desk"
# shape = "box"
# centre = [1.3, 1.5, 0.72]
# size = [0.7, 1.5, 0.03]
# material = "desk"
"""

_LIMITS = """\
# The yardstick: how far below the direct sound early reflections have to stay. Published ones, and the
# rooms they are meant for:"""
