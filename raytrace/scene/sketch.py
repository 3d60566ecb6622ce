"""A first scene file from the few numbers of a tape sketch."""

import json
import tomllib
from collections.abc import Mapping
from contextlib import suppress
from typing import Any

from pydantic import ValidationError

from raytrace.scene.limits import STANDARDS, USUAL_LIMITS
from raytrace.scene.naming import quoted_list
from raytrace.scene.scene import Scene
from raytrace.scene.sketch_questions import QUESTIONS
from raytrace.scene.sketch_room import AnswerError, Answers, check_answer, opening, places, screen_box
from raytrace.scene.tables import problems
from raytrace.scene.tape import Tape, rounded_to_tape, scene_length, told_by_tape
from raytrace.scene.units import parse_length
from raytrace.scene.values import name


def sketch_scene(
    shape: str, answers: Mapping[str, str | float], *, title: str = "New room", tape: Tape = Tape.METRES
) -> str:
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
    tape : Tape
        What numbers without a unit are, and what the scene is written in.

    Returns
    -------
    str
        TOML that `load_scene` accepts.

    Raises
    ------
    AnswerError
        If an answer or the title cannot be used.
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
        given = answer if str(answer).strip() else question.suggestion(values, tape)
        try:
            values[question.key] = question.read(given, tape)
            check_answer(question.key, values, tape)
        except ValueError as problem:
            raise AnswerError(question.key, str(problem)) from None
    typed = {key: str(answer).strip() for key, answer in answers.items() if isinstance(answer, str)}
    try:
        name(title)
    except ValueError as problem:
        raise AnswerError("title", str(problem)) from None
    text = _scene_text(shape, values, typed, title=title, tape=tape)
    _check_scene(text)
    return text


def _check_scene(text: str) -> None:
    """Refuse answers that fit one by one but not together, such as a ridge below the eaves."""
    try:
        Scene.model_validate(tomllib.loads(text))
    except ValidationError as problem:
        key, message, _ = next(problems(problem))
        raise AnswerError(str(key[-1]), message) from None


def _scene_text(shape: str, values: Answers, typed: Mapping[str, str], *, title: str, tape: Tape) -> str:
    stands = {name: _list(place, tape) for name, place in places(values).items()}
    cabinet = values["cabinet"]
    body = "" if cabinet is None else f"body = {_list(cabinet, tape)}\n"
    parts = [
        _intro_text(title, tape),
        _room_text(shape, values, typed, tape),
        _SURFACES.format(example="wall 1" if shape == "plan" else "front wall"),
        *(_opening_text(values, key, tape) for key in ("door", "window") if values[key] is not None),
        _SPEAKERS.format(left=stands["left"], right=stands["right"], body=body),
        _SEAT.format(ears=stands["ears"]),
        *([_screen_text(values, tape)] if values["screen"] is not None else []),
        _MORE.format(
            centre=_list(_rounded(_DESK_CENTRE_M, tape), tape), size=_list(_rounded(_DESK_SIZE_M, tape), tape)
        ),
        _limits_text(),
    ]
    return "\n".join(parts)


def _intro_text(title: str, tape: Tape) -> str:
    """What lengths mean and what is printed: a tape in feet has a reader in feet."""
    place = _rounded((0.75, 1.2, 1.2), tape)
    out, left, up = (told_by_tape(value, tape) for value in place)
    feet = tape == Tape.FEET
    return _INTRO.format(
        title=json.dumps(title, ensure_ascii=False),
        place=f"{_list(place, tape)} is\n# {out} out, {left} from the left, {up} high",
        units='units = "imperial"' if feet else '# units = "imperial"',
        error='"1/2 in"' if feet else '"10 mm"',
    )


def _rounded(values: tuple[float, ...], tape: Tape) -> tuple[float, ...]:
    return tuple(rounded_to_tape(value, tape) for value in values)


def _limits_text() -> str:
    """The usual limit, and what every published one is meant for."""
    meant = (", ".join(filter(None, (limits.meant_for, str(limits.sizes)))) for limits in STANDARDS.values())
    known = [f'#   "{name}": {rooms}' for name, rooms in zip(STANDARDS, meant, strict=True)]
    return "\n".join([_LIMITS, *known, "[limits]", f'standard = "{USUAL_LIMITS.name}"', ""])


def _room_text(shape: str, values: Answers, typed: Mapping[str, str], tape: Tape) -> str:
    lines = [_ROOM_NOTES[shape], "[room]", f'shape = "{shape}"']
    for key in ("length", "width", "height", "eaves", "ridge", "low", "high"):
        if key in values:
            lines.append(f"{key} = {_length_text(values[key], typed.get(key, ''), tape)}")
    if "low_side" in values:
        lines.append(f'low_side = "{values["low_side"]}"')
    for key in ("corners", "profile"):
        if key in values:
            rows = "".join(f"    {_list(corner, tape)},\n" for corner in values[key])
            lines.append(f"{key} = [\n{rows}]")
    return "\n".join(lines) + "\n"


def _length_text(metres: float, typed: str, tape: Tape) -> str:
    """The length as it was typed if that says its unit, so that the file shows the tape's own numbers."""
    with suppress(ValueError):
        parse_length(typed)
        return json.dumps(typed, ensure_ascii=False)
    return scene_length(metres, tape)


def _opening_text(values: Answers, key: str, tape: Tape) -> str:
    wall, (u, v, width, height) = opening(values, key)
    material = "wood door" if key == "door" else "double glazing"
    # Only the width of a door is asked for: its usual height is told as a tape would.
    height = rounded_to_tape(height, tape) if key == "door" else height
    at, size = _list((u, v), tape), _list((width, height), tape)
    return _OPENING.format(name=key, wall=wall, at=at, size=size, material=material)


def _screen_text(values: Answers, tape: Tape) -> str:
    centre, size = screen_box(values)
    return _SCREEN.format(centre=_list(centre, tape), size=_list(size, tape))


def _list(values: tuple[float, ...], tape: Tape) -> str:
    return f"[{', '.join(scene_length(value, tape) for value in values)}]"


_INTRO = """\
# A room from a tape sketch. Everything in it may be changed: lengths are metres, or text with a
# unit ("3400 mm", "11 ft 2 in"). A line that begins with # is a note; take the # away to use it.
#
# x runs from the wall you face towards the wall behind you, y from your left to your right,
# z from the floor up. So {place}.

title = {title}

# Printed in the report where given.
[job]
# client = "name of the client"
# place = "where the room is"
# author = "who wrote this"
# surveyed_by = "who held the tape"
# survey_error = {error}      # how far a taped length may be off
# drilling = false            # for rooms in which nothing may be drilled
{units}          # feet and inches in all that is printed; without it metres

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

_DESK_CENTRE_M, _DESK_SIZE_M = (1.3, 1.5, 0.72), (0.7, 1.5, 0.03)
_MORE = """\
# Furniture counts: a desk between you and the speakers is often the first thing the sound meets.
# [[objects]]
# name = "desk"
# shape = "box"
# centre = {centre}
# size = {size}
# material = "desk"
"""

_LIMITS = """\
# The yardstick: how far below the direct sound early reflections have to stay. Published ones, and the
# rooms they are meant for:"""
