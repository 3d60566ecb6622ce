"""Text that reads as it is written: nothing in it steers a terminal, turns lines round or breaks a file."""

import unicodedata

REPLACED = "\N{REPLACEMENT CHARACTER}"
"""Stands where a character was that must not be passed on."""

# Control, surrogate, private, unassigned; format characters turn the direction of what follows, or hide.
_UNSHOWN = frozenset(("Cc", "Cf", "Cs", "Co", "Cn"))
_JOINERS = "\u00ad\u200c\u200d"  # soft hyphen and the joiners that some scripts are written with
_BLANKS = "\t\n\v\f\r\x85\u2028\u2029"


def counted(n: int, what: str) -> str:
    """So many of something, one of it in the singular.

    Examples
    --------
    >>> counted(1, "face"), counted(2, "face")
    ('1 face', '2 faces')
    """
    return f"{n} {what}" + ("" if n == 1 else "s")


def plain(text: str, *, keep: str = "") -> str:
    r"""Text whose every character shows: breaks of lines and tabs made blanks, the rest replaced.

    Parameters
    ----------
    text : str
        Anything, such as a title of a scene file or the name of a file.
    keep : str
        Characters left as they are: "\n" for text of several lines.

    Examples
    --------
    >>> plain("red \x1b[31m\nroom")
    'red �[31m room'
    """
    if text.isprintable():
        return text
    return "".join(char if char in keep else _plain(char) for char in text)


def _plain(char: str) -> str:
    if char in _BLANKS:
        return " "
    return REPLACED if unicodedata.category(char) in _UNSHOWN and char not in _JOINERS else char
