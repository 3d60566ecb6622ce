"""Letters that the one typeface of pictures and sheets does not have, and what is said of them."""

from collections.abc import Iterator
from typing import Any

from raytrace import Scene
from viewer.paper.drafting import typeface

_MOST_SHOWN = 12


def typeface_note(scene: Scene) -> str:
    """What to say where a scene's words have letters that print as empty boxes; empty where all are there."""
    known = typeface(bold=False).get_charmap()
    words = "".join(_texts(vars(scene)))
    missing = "".join(dict.fromkeys(char for char in words if char.isprintable() and ord(char) not in known))
    if not missing:
        return ""
    shown = ", ".join(f"{char} (U+{ord(char):04X})" for char in missing[:_MOST_SHOWN])
    shown += " and others" if len(missing) > _MOST_SHOWN else ""
    return (
        f"The typeface of pictures, PDF and charts has no {shown}: boxes stand there. Tables, page.html, SVG "
        "and DXF hold them as they are."
    )


def _texts(value: Any) -> Iterator[str]:
    """All texts in plain data, names of its tables included."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from (*_texts(key), *_texts(inner))
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _texts(inner)
    elif hasattr(value, "__dict__"):
        yield from _texts(vars(value))
