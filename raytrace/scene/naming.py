"""Names that were probably meant by a wrong one: by their letters or by their meaning."""

import difflib
import re
import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from importlib.resources import files

_CLOSE = 0.85  # as alike as a word with a letter wrong: its letters say enough
_ALIKE = 0.6
_LONGEST = 60  # no name of a scene comes near; comparing letters takes the square of it


def nearest_name(name: str, names: Iterable[str]) -> str | None:
    """The one of `names` that `name` was probably meant to be, or None.

    A slip of the hand comes first, then a word of the same meaning, then whatever is spelt alike.

    Examples
    --------
    >>> nearest_name("widht", ["length", "width", "height"])
    'width'
    >>> nearest_name("rear wall", ["left wall", "back wall"])
    'back wall'
    """
    if len(name) > _LONGEST:
        return None
    choices = {_plain(choice): choice for choice in names if len(choice) <= _LONGEST}
    plain = _plain(name)
    for found in (
        difflib.get_close_matches(plain, choices, n=1, cutoff=_CLOSE),
        _of_same_meaning(plain, choices),
        difflib.get_close_matches(plain, choices, n=1, cutoff=_ALIKE),
    ):
        if found:
            return choices[found[0]]
    return None


def did_you_mean(name: str, names: Iterable[str]) -> str:
    """The nearest of `names`, else all of them, as the end of a message: ', did you mean "width"?'."""
    names = list(names)
    nearest = nearest_name(name, names)
    if nearest is not None:
        return f', did you mean "{nearest}"?'
    return f"; accepted: {quoted_list(names)}" if names else ""


def quoted_list(names: Iterable[str]) -> str:
    """Names in quotes, separated by commas."""
    return ", ".join(f'"{name}"' for name in names)


def _plain(name: str) -> str:
    return " ".join(re.split(r"[\s_-]+", name.lower().strip()))


def _of_same_meaning(plain: str, choices: Mapping[str, str]) -> list[str]:
    """The first choice that a word in a name stands for, alone or with the rest of the name."""
    for word, meanings in _synonyms().items():
        inside = re.compile(rf"\b{re.escape(word)}s?\b")
        if inside.search(plain):
            for meaning in map(_plain, meanings):
                for meant in (inside.sub(meaning, plain), meaning):
                    if meant in choices:
                        return [meant]
    return []


@cache
def _synonyms() -> dict[str, list[str]]:
    """The names that words stand for, the longest words first."""
    rows = tomllib.loads(files("raytrace.scene").joinpath("synonyms.toml").read_text(encoding="utf-8"))
    return dict(sorted(rows.items(), key=lambda row: -len(row[0])))
