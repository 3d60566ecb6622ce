"""Letters that the one typeface of pictures and sheets does not have, and what is said of them."""

from collections.abc import Iterator
from typing import Any

from raytrace import Scene
from viewer.words import missing_letters

_MOST_SHOWN = 12


def typeface_note(scene: Scene) -> str:
    """What to say where a scene's words have letters that print as empty boxes; empty where all are there."""
    missing = missing_letters("".join(texts_of(vars(scene))))
    if not missing:
        return ""
    shown = ", ".join(f"{char} (U+{ord(char):04X})" for char in missing[:_MOST_SHOWN])
    shown += " and others" if len(missing) > _MOST_SHOWN else ""
    return (
        f"The typeface of pictures, PDF and charts has no {shown}: boxes stand there. Tables, page.html, SVG "
        "and DXF hold them as they are."
    )


def texts_of(value: Any) -> Iterator[str]:
    """All texts in plain data, names of its tables included."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from (*texts_of(key), *texts_of(inner))
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from texts_of(inner)
    elif hasattr(value, "__dict__"):
        yield from texts_of(vars(value))
