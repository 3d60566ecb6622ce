"""Lengths as they are read off a tape: what a number without a unit means, and how a length is told back."""

import json
import re
from typing import Literal

from raytrace.scene.units import parse_length

Tape = Literal["m", "mm", "ft"]
"""What a number without a unit is: metres, millimetres, or feet (two numbers: feet and inches)."""

_INCH_M = 0.0254
_BARE = re.compile(r"-?(\d+\.?\d*|\.\d+)")
_INCHES = r"(\d+\s+\d+/\d+|\d+(?:\.\d+)?)"
_AFTER_A_MARK = re.compile(rf"(\d+)\s*['′’]\s*{_INCHES}")
_FEET_THEN_INCHES = re.compile(rf"(\d+)(?:\s*-\s*|\s+){_INCHES}\s*(?:\"|″|”|in)?")
_IN_EXAMPLES = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?![\w.])")


def tape_length(answer: str | float, tape: Tape = "m") -> float:
    """Metres of a typed length; a float is metres already.

    Parameters
    ----------
    answer : str or float
        With a unit as `parse_length` takes it, else in that of the tape. 13'4 is feet and inches anywhere,
        13-4 and 13 4 are where the tape is in feet.
    tape : Tape

    Raises
    ------
    ValueError
        For anything else; the text shows accepted examples.

    Examples
    --------
    >>> tape_length("3.4"), tape_length("3400", "mm"), tape_length("11 ft 2 in")
    (3.4, 3.4, 3.4036)
    >>> {tape_length(text, "ft") for text in ("13'4", "13-4", "13 4")}
    {4.064}
    """
    if not isinstance(answer, str):
        return parse_length(answer)
    text = answer.strip()
    if _BARE.fullmatch(text):
        return parse_length(float(text)) if tape == "m" else parse_length(f"{text} {tape}")
    pair = _AFTER_A_MARK.fullmatch(text) or (_FEET_THEN_INCHES.fullmatch(text) if tape == "ft" else None)
    return parse_length(f"{pair[1]} ft {pair[2]} in" if pair else text)


def rounded_to_tape(metres: float, tape: Tape) -> float:
    """A suggested length as someone would measure it off: to the centimetre or the inch. [m]"""
    return round(round(metres / _INCH_M) * _INCH_M, 4) if tape == "ft" else round(metres, 2)


def told_by_tape(metres: float, tape: Tape) -> str:
    """A length for whoever asked for it in these units.

    Examples
    --------
    >>> told_by_tape(4.2, "m"), told_by_tape(4.2, "mm"), told_by_tape(4.191, "ft")
    ('4.2 m', '4200 mm', '13 ft 9 in')
    """
    if tape == "m":
        return f"{number_text(metres)} m"
    if tape == "mm":
        return f"{number_text(1000.0 * metres, digits=1)} mm"
    inches = round(abs(metres) / _INCH_M, 2)
    feet, rest = int(inches // 12), round(inches % 12, 2)
    parts = [f"{feet} ft"] * (feet > 0) + [f"{rest:g} in"] * (rest > 0 or feet == 0)
    return "-" * (metres < 0.0 and inches > 0.0) + " ".join(parts)


def scene_length(metres: float, tape: Tape) -> str:
    """The same as it stands in a scene file: a bare number of metres, or text with its unit."""
    return number_text(metres) if tape == "m" else json.dumps(told_by_tape(metres, tape))


def by_tape(example: str, tape: Tape) -> str:
    """An example whose bare numbers are metres, as it is typed in other units.

    Examples
    --------
    >>> by_tape("back, 0.3, 0.8", "mm"), by_tape("back, 0.3, 0.8", "ft")
    ('back, 300, 800', "back, 1'0, 2'7")
    """
    if tape == "m":
        return example

    def typed(found: re.Match[str]) -> str:
        metres = float(found[0])
        if tape == "mm":
            return f"{1000.0 * metres:.0f}"
        feet, inches = divmod(round(metres / _INCH_M), 12)
        return f"{feet}'{inches}" if metres else "0"

    return _IN_EXAMPLES.sub(typed, example)


def number_text(number: float, *, digits: int = 4) -> str:
    """A number with so many decimals, without idle noughts."""
    return f"{number:.{digits}f}".rstrip("0").rstrip(".")
