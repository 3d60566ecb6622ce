"""Lengths as people write them, and back."""

import contextlib
import math
import re
from fractions import Fraction

from raytrace.facts import Amount, Fixing, Hint, Told

_METRES = {
    "mm": Fraction(1, 1000),
    "cm": Fraction(1, 100),
    "m": Fraction(1),
    "ft": Fraction(3048, 10000),
    "in": Fraction(254, 10000),
}
_SPELLINGS = {"'": "ft", "′": "ft", "’": "ft", '"': "in", "″": "in", "”": "in"}
_DECIMAL = r"\d+(?:\.\d*)?|\.\d+"
_INCHES = rf"(?P<whole>\d+)\s+(?P<part>\d+/\d+)|(?P<ratio>\d+/\d+)|(?P<inches>{_DECIMAL})"
_ONE_UNIT = re.compile(rf"(?P<number>{_DECIMAL})\s*(?P<unit>mm|cm|m|ft)")
_FEET_INCHES = re.compile(rf"(?:(?P<feet>\d+)\s*ft\s*(?:-\s*)?)?(?:{_INCHES})\s*in")
_LONGEST_TEXT = 100  # characters; a float tells 17 digits
_FARTHEST_M = 1e15  # millimetres of it are still told apart
_ACCEPTED = 'write metres as a bare number (3.4) or text with a unit: "1200 mm", "3.4 m", "8\' 6 1/2\\""'


def parse_length(value: float | int | str) -> float:
    r"""Metres in a length as people write it.

    Parameters
    ----------
    value : float, int or str
        A number is metres. Text carries its unit: mm, cm, m, ft, in, ' or ", feet and inches
        together, inches as decimals or fractions; one sign may stand in front of the whole.

    Returns
    -------
    float
        The length, correctly rounded. [m]

    Raises
    ------
    ValueError
        For anything else, a decimal comma, a missing unit or a number that is not finite; the text
        shows accepted examples.

    Examples
    --------
    >>> parse_length("1200 mm"), parse_length(3.4), parse_length("8' 6 1/2\""), parse_length("3/4 in")
    (1.2, 3.4, 2.6035, 0.01905)
    """
    if isinstance(value, str):
        return _parse_text(value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"a length cannot be {value!r}; {_ACCEPTED}")
    if not -_FARTHEST_M <= value <= _FARTHEST_M:
        what = f"{value:g}" if isinstance(value, float) else "a number of so many digits"
        raise ValueError(f"a length cannot be {what}; {_ACCEPTED}")
    return float(value)


def _parse_text(value: str) -> float:
    if len(value) > _LONGEST_TEXT:
        raise ValueError(f'"{value[:20]}..." is not a length: {len(value)} characters; {_ACCEPTED}')
    text = value.strip().lower()
    for sign, unit in _SPELLINGS.items():
        text = text.replace(sign, unit)
    polarity = -1 if text.startswith("-") else 1
    text = text.removeprefix("-").strip()
    if "," in text:
        raise ValueError(
            f'"{value}" holds a comma; write the decimal with a point, no thousands sign'
            f"{_without_comma(value.strip())}"
        )
    if re.fullmatch(_DECIMAL, text):
        meant = " or ".join(f'"{value.strip()} {unit}"' for unit in ("mm", "cm", "m", "in"))
        raise ValueError(f'"{value}" has no unit; write {meant}')
    if match := _ONE_UNIT.fullmatch(text):
        return float(polarity * Fraction(match["number"]) * _METRES[match["unit"]])
    match = _FEET_INCHES.fullmatch(text)
    inches = _inches(match) if match else None
    if match is None or inches is None:
        raise ValueError(f'"{value}" is not a length; {_ACCEPTED}')
    feet = Fraction(match["feet"] or 0)
    return float(polarity * (feet * _METRES["ft"] + inches * _METRES["in"]))


def _without_comma(value: str) -> str:
    """What a text with a comma may have meant, as ', for example "3.4 m"'; both readings of "1,200 mm"."""
    meant = [value.replace(",", ".")] if value.count(",") == 1 else []
    if re.search(r"\d,\d{3}(?!\d)", value):
        meant.insert(0, value.replace(",", ""))
    accepted = []
    for text in meant:
        with contextlib.suppress(ValueError):
            parse_length(text)
            accepted.append(f'"{text}"')
    return f", for example {' or '.join(accepted)}" if accepted else f"; {_ACCEPTED}"


def _inches(match: re.Match[str]) -> Fraction | None:
    """Inches of a match; None for a fraction over 1 or 0 below, or 12 inches and more beside feet."""
    ratio = match["part"] or match["ratio"]
    if ratio and int(ratio.split("/")[1]) == 0:
        return None
    if match["part"] and Fraction(ratio) >= 1:
        return None
    inches = Fraction(match["inches"]) if match["inches"] else Fraction(match["whole"] or 0) + Fraction(ratio)
    return None if match["feet"] and inches >= 12 else inches


def format_length(metres: float, *, units: str = "metric", style: str = "mm", bare: bool = False) -> str:
    r"""Text of a length for people.

    Parameters
    ----------
    metres : float
        The length. [m]
    units : {"metric", "imperial"}
        Imperial text is feet and inches to the nearest eighth, whatever the style.
    style : {"mm", "m"}
        Whole millimetres, or metres to the centimetre.
    bare : bool
        Without "mm" or "m", where a head or the next length says it; feet and inches keep their signs.

    Returns
    -------
    str

    Raises
    ------
    ValueError
        If the length is not finite, or units or style are none of the above.

    Examples
    --------
    >>> format_length(1.27), format_length(1.27, style="m"), format_length(1.27, units="imperial")
    ('1270 mm', '1.27 m', '4\' 2"')
    >>> format_length(1.27, bare=True), format_length(1.27, units="imperial", bare=True)
    ('1270', '4\' 2"')
    """
    if not math.isfinite(metres):
        raise ValueError(f"a length cannot be {metres}")
    if units == "imperial":
        return _feet_and_inches(metres)
    if units != "metric":
        raise ValueError(f'units are "metric" or "imperial", not {units!r}')
    if style == "mm":
        return f"{round(metres * 1000)}" + ("" if bare else " mm")
    if style == "m":
        return f"{round(metres, 2) + 0.0:.2f}" + ("" if bare else " m")  # + 0.0 turns -0.0 into 0.0
    raise ValueError(f'style is "mm" or "m", not {style!r}')


def told_in(units: str) -> Told:
    """The facts of a sentence as whoever writes a scene in these units reads them.

    Examples
    --------
    >>> from raytrace.facts import millimetres, sentence
    >>> sentence("ends {short} before the wall", short=millimetres(0.06)).told(told_in("imperial"))
    'ends 2 3/8" before the wall'
    """

    def words(fact: Amount | Fixing | Hint) -> str:
        if units == "metric" or not isinstance(fact, Amount) or not fact.lengths_m:
            return str(fact)
        return fact.between.join(map(_by_tape, fact.lengths_m))

    return words


def _by_tape(metres: float) -> str:
    """Feet and inches; what a tape does not show is not nothing."""
    text = _feet_and_inches(metres)
    return 'less than 1/8"' if metres and text == '0"' else text


def _feet_and_inches(metres: float) -> str:
    eighths = round(abs(metres) / 0.0254 * 8)
    feet, rest = divmod(eighths, 96)
    whole, part = divmod(rest, 8)
    inches = str(whole)
    if part:
        ratio = Fraction(part, 8)
        inches = f"{whole} {ratio}" if whole else f"{ratio}"
    sign = "-" if metres < 0 and eighths else ""
    return f"{sign}{feet}' {inches}\"" if feet else f'{sign}{inches}"'
