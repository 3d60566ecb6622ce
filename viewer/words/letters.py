"""Letters that the one typeface of pictures, charts and PDF lacks, and what is said of them there."""

from functools import cache
from pathlib import Path

from viewer.look import FONT_FILES

_MOST_TOLD = 8


def missing_letters(text: str) -> str:
    """The letters of a text that print as empty boxes, each once."""
    if text.isascii():
        return ""
    known = _known()
    return "".join(char for char in dict.fromkeys(text) if char.isprintable() and ord(char) not in known)


def boxes_words(text: str) -> str:
    """What the foot of a page or picture says of its boxes: numbers, for the letters would be boxes too.

    Examples
    --------
    >>> boxes_words("Ж"), boxes_words("壁 3")
    ('', 'A box stands for a letter that this typeface lacks: U+58C1')
    """
    missing = missing_letters(text)
    if not missing:
        return ""
    numbers = ", ".join(f"U+{ord(char):04X}" for char in missing[:_MOST_TOLD])
    return f"A box stands for a letter that this typeface lacks: {numbers}" + (
        " and others" if len(missing) > _MOST_TOLD else ""
    )


@cache
def _known() -> frozenset[int]:
    import matplotlib
    from matplotlib.ft2font import FT2Font

    file = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / FONT_FILES["regular"]
    return frozenset(FT2Font(str(file)).get_charmap())
