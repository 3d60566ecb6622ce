"""Lengths as they are read off a tape: what a number without a unit means, and how a length is told back."""

import json
import re
from enum import StrEnum

from raytrace.scene.units import parse_length


class Tape(StrEnum):
    """What a number without a unit is: metres, millimetres, or feet (two numbers: feet and inches)."""

    METRES = "m"
    MILLIMETRES = "mm"
    FEET = "ft"


_INCH_M = 0.0254
_ACCEPTED = {
    Tape.MILLIMETRES: "write millimetres as a bare number (3400) or a length with its unit: 3.4 m, 340 cm",
    Tape.FEET: "write feet and inches (13' 4 1/2\", 13 4 1/2, 13.5) or a length with its unit: 3.4 m, 50 in",
}
_BARE = re.compile(r"-?(\d+\.?\d*|\.\d+)")
_INCHES = r"(\d+\s+\d+/\d+|\d+(?:\.\d+)?)"
_AFTER_A_MARK = re.compile(rf"(\d+)\s*['′’]\s*{_INCHES}")
_FEET_THEN_INCHES = re.compile(rf"(\d+)(?:\s*-\s*|\s+){_INCHES}\s*(?:\"|″|”|in)?")
_IN_EXAMPLES = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?![\w.])")


def tape_length(answer: str | float, tape: Tape = Tape.METRES) -> float:
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
    >>> tape_length("3.4"), tape_length("3400", Tape.MILLIMETRES), tape_length("11 ft 2 in")
    (3.4, 3.4, 3.4036)
    >>> {tape_length(text, Tape.FEET) for text in ("13'4", "13-4", "13 4")}
    {4.064}
    """
    if not isinstance(answer, str):
        return parse_length(answer)
    text = answer.strip()
    if _BARE.fullmatch(text):
        return parse_length(float(text)) if tape == Tape.METRES else parse_length(f"{text} {tape}")
    pair = _AFTER_A_MARK.fullmatch(text) or (_FEET_THEN_INCHES.fullmatch(text) if tape == Tape.FEET else None)
    try:
        return parse_length(f"{pair[1]} ft {pair[2]} in" if pair else text)
    except ValueError:
        if tape == Tape.METRES:
            raise
        raise ValueError(f'"{text[:20]}" is not a length; {_ACCEPTED[tape]}') from None


def rounded_to_tape(metres: float, tape: Tape) -> float:
    """A suggested length as someone would measure it off: to the centimetre or the inch. [m]"""
    return round(round(metres / _INCH_M) * _INCH_M, 4) if tape == Tape.FEET else round(metres, 2)


def told_by_tape(metres: float, tape: Tape) -> str:
    """A length for whoever asked for it in these units.

    Examples
    --------
    >>> [told_by_tape(4.191, tape) for tape in Tape]
    ['4.191 m', '4191 mm', '13 ft 9 in']
    """
    if tape == Tape.METRES:
        return f"{number_text(metres)} m"
    if tape == Tape.MILLIMETRES:
        return f"{number_text(1000.0 * metres, digits=1)} mm"
    inches = round(abs(metres) / _INCH_M, 2)
    feet, rest = int(inches // 12), round(inches % 12, 2)
    parts = [f"{feet} ft"] * (feet > 0) + [f"{rest:g} in"] * (rest > 0 or feet == 0)
    return "-" * (metres < 0.0 and inches > 0.0) + " ".join(parts)


def scene_length(metres: float, tape: Tape) -> str:
    """The same as it stands in a scene file: a bare number of metres, or text with its unit."""
    return number_text(metres) if tape == Tape.METRES else json.dumps(told_by_tape(metres, tape))


def by_tape(example: str, tape: Tape) -> str:
    """An example whose bare numbers are metres, as it is typed in other units.

    Examples
    --------
    >>> [by_tape("back, 0.2, 0.8", tape) for tape in Tape]
    ['back, 0.2, 0.8', 'back, 200, 800', "back, 8in, 2'7"]
    """
    if tape == Tape.METRES:
        return example

    def typed(found: re.Match[str]) -> str:
        metres = float(found[0])
        if tape == Tape.MILLIMETRES:
            return f"{1000.0 * metres:.0f}"
        feet, inches = divmod(round(metres / _INCH_M), 12)
        return f"{feet}'{inches}" if feet else f"{inches}in" if inches else "0"

    return _IN_EXAMPLES.sub(typed, example)


def number_text(number: float, *, digits: int = 4) -> str:
    """A number with so many decimals, without idle noughts."""
    return f"{number:.{digits}f}".rstrip("0").rstrip(".")
