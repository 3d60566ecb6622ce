"""What the answers of a tape sketch say about the room: where things stand, what fits, what to suggest."""

import math
import re
from collections.abc import Callable, Mapping
from typing import Any

from raytrace.scene.naming import did_you_mean
from raytrace.scene.rooms import check_outline
from raytrace.scene.tables import OUTLINE
from raytrace.scene.tape import Tape, by_tape, tape_length, told_by_tape
from raytrace.scene.values import Choice, Length, Wrong

Answers = Mapping[str, Any]
"""Checked answers by the key of their question, lengths in metres."""
Corners = tuple[tuple[float, float], ...]

SIDES = ("front", "back", "left", "right")
SCREEN_M = 0.03  # thickness of a screen (common practice, no source)
_NONE = ("none", "no", "n", "")
_ON_FLOOR_M = 0.001  # where a height is not known yet
_DOOR_HEIGHT_M = 2.0  # a door leaf, common practice, no source
# Ears of someone who sits, and tweeters level with them (common practice, no source).
_SEATED_M = (1.2, 1.15, 1.25)
# So far from half the height floor and ceiling are told apart at the seat: 0.5 ms at a distance of 1.4 m.
_OFF_HALF_M = 0.1
_FARTHEST_SEAT = 0.45  # share of the length: half of it is where the lowest mode has no sound
_LEAST_APART_M, _LEAST_FRONT_M = 0.8, 0.3


class AnswerError(ValueError):
    """An answer that cannot be used: the key of its question, and why not."""

    def __init__(self, key: str, why: str) -> None:
        super().__init__(key, why)
        self.key = key
        self.why = why

    def __str__(self) -> str:
        """Both, as a terminal shows them."""
        return f"{self.key}: {self.why}"


Reader = Callable[[str | float, Tape], Any]
"""From an answer as typed, and the unit of numbers without one, to its checked value; lengths in metres."""


def sized(low: float, high: float) -> Reader:
    """Reader of a length between two bounds. [m]"""
    within = Length(low, high)
    return lambda answer, tape: within(tape_length(answer, tape))


def word(*words: str) -> Reader:
    """Reader of one of a few words."""
    choice = Choice(words)
    return lambda answer, _tape: choice(str(answer).strip().lower())


def _corners(answer: str | float, tape: Tape) -> Corners:
    """Corners typed as "0 0, 6 0, 6 5.2"."""
    return tuple(_corner(part, tape) for part in re.split(r"[,;]", str(answer)) if part.strip())


def _corner(part: str, tape: Tape) -> tuple[float, float]:
    """Two lengths separated by a blank; a length of feet and inches may hold blanks itself."""
    words = part.split()
    found = []
    for split in range(1, len(words)):
        try:
            halves = (" ".join(words[:split]), " ".join(words[split:]))
            found.append((tape_length(halves[0], tape), tape_length(halves[1], tape)))
        except ValueError:
            continue
    if len(found) != 1:
        raise ValueError(
            f'"{part.strip()}" is not a corner; write two lengths with a blank between them and a comma '
            f"after each corner, decimals with a point: {by_tape('0 0, 6 0, 6 5.2, 3.4 5.2', tape)}"
        )
    return found[0]


def outline(answer: str | float, tape: Tape = Tape.METRES) -> Corners:
    """Corners of an outline typed as "0 0, 6 0, 6 5.2", checked. [m]"""
    corners = _corners(answer, tape)
    if len(corners) < 3:
        example = by_tape("0 0, 6 0, 6 5.2, 3.4 5.2", tape)
        raise ValueError(f"at least 3 corners are needed, found {len(corners)}: {example}")
    try:
        checked: Corners = OUTLINE(corners)
        check_outline(checked, "corners")
    except Wrong as wrong:
        number = next((part + 1 for part in wrong.tail if isinstance(part, int)), None)
        raise ValueError(f"corner {number}: {wrong}" if number else str(wrong)) from None
    return checked


def hole(n_lengths: int, example: str) -> Reader:
    """Reader of "wall, length, length, ..."; nothing for "none" and "no"."""

    def read(answer: str | float, tape: Tape) -> tuple[str, tuple[float, ...]] | None:
        parts = [part.strip() for part in str(answer).split(",")]
        if parts[0].lower() in _NONE:
            return None
        if len(parts) != n_lengths + 1:
            shown = by_tape(example, tape)
            raise ValueError(f"expected a wall and {n_lengths} lengths, for example {shown}, or none")
        wall = parts[0].lower()
        wall = f"{wall} wall" if wall in SIDES else wall
        return wall, tuple(Length(0.0, 60.0)(tape_length(part, tape)) for part in parts[1:])

    return read


def lengths(count: int, example: str) -> Reader:
    """Reader of so many lengths with commas between them; nothing for "none" and "no"."""

    def read(answer: str | float, tape: Tape) -> tuple[float, ...] | None:
        parts = [part.strip() for part in str(answer).split(",")]
        if parts[0].lower() in _NONE:
            return None
        if len(parts) != count:
            raise ValueError(f"expected {count} lengths, for example {by_tape(example, tape)}, or none")
        return tuple(Length(0.01, 60.0)(tape_length(part, tape)) for part in parts)

    return read


def screen_box(answers: Answers) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Centre and size of the screen between the speakers. [m]"""
    front, width, height, lower = answers["screen"]
    return (front, middle_m(answers), lower + height / 2.0), (SCREEN_M, width, height)


def _depth_m(answers: Answers) -> float:
    """From the front wall to the farthest point of the room."""
    return max(x for x, _ in answers["corners"]) if "corners" in answers else float(answers["length"])


def _span(answers: Answers, at: float) -> tuple[float, float]:
    """Left and right wall (y) at a distance from the front; the widest stretch of an outline."""
    if "width" in answers:
        return 0.0, float(answers["width"])
    if "profile" in answers:
        across = [y for y, _ in answers["profile"]]
        return min(across), max(across)
    crossings = _crossings(answers["corners"], at)
    spans = zip(crossings[::2], crossings[1::2], strict=False)
    return max(spans, key=lambda span: span[1] - span[0], default=(0.0, 0.0))


def _crossings(corners: Corners, at: float) -> list[float]:
    """Second coordinates where the outline crosses a line of constant first one, ascending."""
    edges = zip(corners, (*corners[1:], corners[0]), strict=True)
    return sorted(
        a[1] + (b[1] - a[1]) * (at - a[0]) / (b[0] - a[0]) for a, b in edges if (a[0] <= at) != (b[0] <= at)
    )


def _inside(corners: Corners, first: float, second: float) -> bool:
    return sum(crossing < second for crossing in _crossings(corners, first)) % 2 == 1


def _roof_m(answers: Answers, x: float, y: float) -> float:
    """Height of the roof over a place on the floor."""
    if "height" in answers:
        return float(answers["height"])
    if "profile" in answers:
        return max(_crossings(answers["profile"], y), default=0.0)
    if "ridge" in answers:
        rise = answers["ridge"] - answers["eaves"]
        return float(answers["eaves"] + rise * (1.0 - abs(2.0 * y / answers["width"] - 1.0)))
    along = y / answers["width"] if answers["low_side"] in ("left", "right") else x / answers["length"]
    from_low = along if answers["low_side"] in ("front", "left") else 1.0 - along
    return float(answers["low"] + (answers["high"] - answers["low"]) * from_low)


def _fits(answers: Answers, point: tuple[float, float, float]) -> bool:
    x, y, z = point
    if "corners" in answers:
        on_floor = _inside(answers["corners"], x, y)
    else:
        left, right = _span(answers, x)
        on_floor = 0.0 < x < answers["length"] and left < y < right
    under_roof = _inside(answers["profile"], y, z) if "profile" in answers else z < _roof_m(answers, x, y)
    return on_floor and z > 0.0 and under_roof


def places(answers: Answers) -> dict[str, tuple[float, float, float]]:
    """Speakers and ears, the latter midway between the former; those that the answers place so far."""
    placed = {}
    middle = middle_m(answers)
    if "speakers_from_front" in answers:
        half, front = answers["speakers_apart"] / 2.0, answers["speakers_from_front"]
        height = answers.get("speakers_height", _ON_FLOOR_M)
        placed["left"] = (front, middle - half, height)
        placed["right"] = (front, middle + half, height)
    if "ears_from_front" in answers:
        placed["ears"] = (answers["ears_from_front"], middle, answers.get("ears_height", _ON_FLOOR_M))
    return placed


def check_answer(key: str, answers: Answers, tape: Tape = Tape.METRES) -> None:
    """Refuse the latest answer if it does not fit those before it.

    Raises
    ------
    ValueError
        A roof that does not rise; a speaker, the ears or the screen outside; a hole beside its wall.
    """
    if key in _RISES:
        low = _RISES[key]
        if answers[key] <= answers[low]:
            found, other = told_by_tape(answers[key], tape), told_by_tape(answers[low], tape)
            raise ValueError(f"{found} is not above {_CALLED[low]} ({other})")
    if key == "speakers_apart":
        left, right = _span(answers, 0.2 * _depth_m(answers))
        middle, half = middle_m(answers), answers["speakers_apart"] / 2.0
        if not left < middle - half < middle + half < right:
            wide = told_by_tape(right - left, tape)
            raise ValueError(f"a speaker would be outside the room, which is {wide} wide there")
    if key in _PLACES:
        _check_places(_PLACES[key], answers, tape)
    if key == "screen" and answers["screen"] is not None:
        (x, y, z), (_, width, height) = screen_box(answers)
        if not all(_fits(answers, (x, y + side * width / 2.0, z + height / 2.0)) for side in (-1.0, 1.0)):
            raise ValueError("it would reach beyond the room")
    if key in ("door", "window") and answers[key] is not None:
        _check_hole(key, answers, tape)


def _check_places(who: str, answers: Answers, tape: Tape) -> None:
    """Whether "speakers" or "ears" are over the floor, and under the roof if their height is known."""
    for name, point in places(answers).items():
        if (name == "ears") == (who == "ears") and not _fits(answers, point):
            what = "the ears" if name == "ears" else f"the {name} speaker"
            x, y, z = (told_by_tape(value, tape) for value in point)
            up = f", {z} up" if f"{who}_height" in answers else ""
            raise ValueError(f"{what} would be outside the room, {x} from the front, {y} from the left{up}")


_PLACES = {f"{who}_{what}": who for who in ("speakers", "ears") for what in ("from_front", "height")}
_RISES = {"ridge": "eaves", "high": "low"}
_CALLED = {"eaves": "the side walls", "low": "the low side"}


def _check_hole(key: str, answers: Answers, tape: Tape) -> None:
    wall, (u, sill, width, height) = opening(answers, key)
    if u + width > _wall_m(answers, wall) or sill + height > _wall_top_m(answers, wall, u, width):
        wide, high = _wall_m(answers, wall), _wall_top_m(answers, wall, u, width)
        raise ValueError(
            f"reaches beyond the {wall}, which is {told_by_tape(wide, tape)} wide and there "
            f"{told_by_tape(high, tape)} high"
        )
    if key == "window" and answers["door"] is not None:
        other, (start, _, across, _) = opening(answers, "door")
        if wall == other and u < start + across and start < u + width:
            raise ValueError("overlaps the door")


def opening(answers: Answers, key: str) -> tuple[str, tuple[float, float, float, float]]:
    """Wall of a door or window, and its u, v, width and height there."""
    wall, lengths = answers[key]
    if wall not in _wall_names(answers):
        raise ValueError(f"no such wall{did_you_mean(wall, _wall_names(answers))}")
    if key == "door":
        return wall, (lengths[0], 0.0, lengths[1], _DOOR_HEIGHT_M)
    return wall, lengths


def _wall_names(answers: Answers) -> tuple[str, ...]:
    if "corners" in answers:
        return tuple(f"wall {number}" for number in range(1, len(answers["corners"]) + 1))
    # The side walls of a cross-section have as many pieces as it has edges: only its ends are plain.
    return tuple(f"{side} wall" for side in (SIDES[:2] if "profile" in answers else SIDES))


def _wall_m(answers: Answers, wall: str) -> float:
    """Width of a wall."""
    if "corners" in answers:
        start = _wall_names(answers).index(wall)
        corners = (*answers["corners"], answers["corners"][0])
        return math.dist(corners[start], corners[start + 1])
    if wall in ("front wall", "back wall"):
        left, right = _span(answers, 0.0)
        return right - left
    return float(answers["length"])


def _wall_top_m(answers: Answers, wall: str, u: float, width: float) -> float:
    """Height of the lower end of a wall's top over a stretch of its width."""
    if "corners" in answers:
        return float(answers["height"])
    left, right = _span(answers, 0.0)
    depth = float(answers["length"])
    tops = []
    for along in (u, u + width):
        x, y = {
            "front wall": (0.0, left + along),
            "back wall": (depth, right - along),
            "left wall": (depth - along, left),
            "right wall": (along, right),
        }[wall]
        tops.append(_roof_m(answers, x, y))
    return min(tops)


def seated_heights_m(ceiling_m: float | None) -> tuple[float, ...]:
    """Heights of seated ears and of tweeters level with them, the best first. [m]

    Midway between floor and ceiling both reflections arrive together and add up: such heights come last.

    Parameters
    ----------
    ceiling_m : float or None
        Of a level ceiling; None where the roof slopes. [m]
    """
    if ceiling_m is None:
        return _SEATED_M
    apart_m = {ears_m: abs(ceiling_m - 2.0 * ears_m) for ears_m in _SEATED_M}
    clear = [ears_m for ears_m in _SEATED_M if apart_m[ears_m] > _OFF_HALF_M - 1e-9]
    return (*clear, *sorted(set(_SEATED_M) - set(clear), key=lambda ears_m: -apart_m[ears_m]))


def _seated_m(answers: Answers) -> float:
    return seated_heights_m(answers.get("height"))[0]


def _ears_height_m(answers: Answers) -> float:
    """Level with the tweeters where one can sit so."""
    speakers_m = float(answers["speakers_height"])
    return speakers_m if min(_SEATED_M) <= speakers_m <= max(_SEATED_M) else _seated_m(answers)


def _apart_m(answers: Answers) -> float:
    """So wide as is usual, but not so that an equal-sided triangle puts the ears at half the length."""
    depth_m = _depth_m(answers)
    left, right = _span(answers, 0.2 * depth_m)
    usual_m = min(max(0.4 * (right - left), 1.0), 1.5, 0.8 * (right - left))
    widest_m = max(_LEAST_APART_M, (_FARTHEST_SEAT * depth_m - _LEAST_FRONT_M) / math.sqrt(0.75))
    return _rounded(min(usual_m, widest_m))


def _from_front_m(answers: Answers) -> float:
    """So far from the front wall that the ears of an equal-sided triangle are at 38 % of the length."""
    back_m = 0.38 * _depth_m(answers) - math.sqrt(0.75) * answers["speakers_apart"]
    return _rounded(max(_LEAST_FRONT_M, back_m))


def _ears_m(answers: Answers) -> float:
    return _rounded(answers["speakers_from_front"] + math.sqrt(0.75) * answers["speakers_apart"])


def middle_m(answers: Answers) -> float:
    """Where one sits across the room: as it was answered, else its middle at the speakers. [m]"""
    given = answers.get("middle")
    return sum(_span(answers, 0.2 * _depth_m(answers))) / 2.0 if given is None else float(given)


SUGGESTED: dict[str, Callable[[Answers], float]] = {
    "middle": middle_m,
    "speakers_apart": _apart_m,
    "speakers_from_front": _from_front_m,
    "speakers_height": _seated_m,
    "ears_from_front": _ears_m,
    "ears_height": _ears_height_m,
}


def _rounded(metres: float) -> float:
    return round(metres, 2)
