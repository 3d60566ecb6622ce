"""Texts that are no scene, told by a look at their signs: nested or numbered beyond what is worth trying."""

import re
from typing import NamedTuple

MOST_BYTES = 2_000_000
"""Scenes are written by hand: the largest that come along hold 5 kB."""
DEEPEST = 64
"""A scene needs four levels."""
MOST_DIGITS = 100
"""A float tells 17 of them."""

STRING = re.compile(
    r'"""(?:[^"\\]|\\.|"{1,2}(?!"))*"{3,5}'
    r"|'''(?:[^']|'{1,2}(?!'))*'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)
"""A TOML string of any kind, quotes included."""
_SIGN = re.compile(rf"[\"'#\[\]{{}}.,=\n]|(?<!\d)[0-9_]{{{MOST_DIGITS + 1},}}")


class Refusal(NamedTuple):
    """Why a text cannot be read, and the offset where that shows."""

    at: int
    why: str


def why_unreadable(text: str) -> Refusal | None:
    r"""What keeps a text from being read as TOML in reasonable time and space; None for most.

    Takes time in proportion to the text, whatever stands in it.

    Parameters
    ----------
    text : str
        With line ends "\n".

    Returns
    -------
    Refusal or None
        Text that is no TOML for other reasons is left to the parser.
    """
    if "\r" in text:
        return Refusal(
            text.index("\r"),
            "a line ends in a lone carriage return, as old text editors wrote it; save the file with line "
            "ends LF or CRLF",
        )
    depth = dots = at = 0
    while found := _SIGN.search(text, at):
        sign, at = found[0], found.end()
        if sign in "\"'":
            string = STRING.match(text, found.start())
            if string is None:
                return None  # not closed: the parser gets no farther either
            at = string.end()
            continue
        if sign == "#":
            end = text.find("\n", at)
            at = len(text) if end < 0 else end
        elif len(sign) > 1:
            return Refusal(found.start(), f"a number of more than {MOST_DIGITS} digits")
        depth += (sign in "[{") - (sign in "]}")
        dots = dots + 1 if sign == "." else 0
        if max(depth, dots + 1) > DEEPEST:
            return Refusal(found.start(), f"nested more than {DEEPEST} deep; a scene needs four levels")
    return None
