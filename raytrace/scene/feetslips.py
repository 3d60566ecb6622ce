"""Sizes of a room without a unit, in a scene whose other lengths are in feet and inches."""

import re
from collections.abc import Iterator
from typing import Any

from raytrace.scene.scene import Scene
from raytrace.scene.units import parse_length

_FOOT_M = 0.3048
# Sizes of ordinary rooms [m]: what these numbers are in feet is looked for (common practice, no source).
_ORDINARY_M = {"length": (2.0, 10.0), "width": (2.0, 10.0)}
_ORDINARY_HEIGHT_M = (1.8, 4.5)
_HEIGHTS = ("height", "ridge", "high", "flat")
_FEET_OR_INCHES = re.compile(r"ft|in\b|['\"′″’”]")


def bare_numbers_like_feet(scene: Scene) -> tuple[tuple[str, float], ...]:
    """Sizes of the room that were written as bare numbers and may be feet.

    Parameters
    ----------
    scene : Scene

    Returns
    -------
    tuple of (str, float)
        Key of the [room] table and the number as written, where as many feet would be an ordinary size and
        some other length of the scene is in feet or inches.
    """
    document = scene.document
    room = document.get("room", {})
    ordinary = _ORDINARY_M | dict.fromkeys(_HEIGHTS, _ORDINARY_HEIGHT_M)
    bare = tuple(
        (key, float(room[key]))
        for key, (low, high) in ordinary.items()
        if isinstance(room.get(key), int | float) and low <= room[key] * _FOOT_M <= high
    )
    return bare if bare and any(map(_is_in_feet, _texts(document))) else ()


def _texts(value: Any) -> Iterator[str]:
    """Every text below a value, the names of its tables left out."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for below in value.values():
            yield from _texts(below)
    elif isinstance(value, list):
        for below in value:
            yield from _texts(below)


def _is_in_feet(text: str) -> bool:
    """Whether a text is a length in feet or inches."""
    if not _FEET_OR_INCHES.search(text.lower()):
        return False
    try:
        parse_length(text)
    except ValueError:
        return False
    return True
