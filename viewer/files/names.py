"""Names of files from the names that people give to walls and panels: safe, distinct, the same every time."""

import re
import unicodedata
from collections.abc import Iterable

_MOST_BYTES = 80  # file systems take 255, and there is a number before a stem and an ending behind it


def file_stems(names: Iterable[str]) -> tuple[str, ...]:
    """A stem for each name, no two the same: "Left wall, upper part" is "left-wall-upper-part".

    Names that would be alike are numbered in their order: "Wand A" and "Wand-A" are "wand-a" and "wand-a-2".
    """
    stems: dict[str, None] = {}
    for name in names:
        stem, number = file_stem(name), 1
        while (numbered := stem if number == 1 else f"{stem}-{number}") in stems:
            number += 1
        stems[numbered] = None
    return tuple(stems)


def file_stem(words: str) -> str:
    """Words as the name of a file without its ending; other words may give the same, see `file_stems`."""
    # Accents come and go with the file system (some keep letter and accent apart): left out.
    parted = unicodedata.normalize("NFKD", words.lower())
    bare = "".join(char for char in parted if not unicodedata.combining(char))
    stem = re.sub(r"[\W_]+", "-", unicodedata.normalize("NFC", bare))
    return stem.encode()[:_MOST_BYTES].decode(errors="ignore").strip("-") or "unnamed"
