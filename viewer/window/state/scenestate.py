"""The scene's text as the window shows it, as one frozen record: what it holds, what of it is selected."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

from raytrace import LISTS, KeyPath, Scene
from viewer.window.state.theme import THEMES, Theme
from viewer.window.state.view_state import Kind, Thing

MOVED_BY_HAND = ("speakers", "seats", "objects", "panels", "stands", "clouds")
SINGLE = {
    "speakers": "Speaker",
    "seats": "Seat",
    "objects": "Furniture",
    "openings": "Opening",
    "keep_outs": "To be kept free",
    "joists": "Joists",
    "panels": "Panel",
    "stands": "Standing panel",
    "clouds": "Cloud",
    "materials": "Material",
    "builds": "Build",
    "covers": "Cover",
}
HEADINGS = {
    "speakers": "Speakers",
    "seats": "Seats",
    "objects": "Furniture",
    "openings": "Doors, windows, rugs",
    "keep_outs": "To be kept free",
    "joists": "Joists",
    "panels": "Panels",
    "stands": "Standing panels",
    "clouds": "Clouds",
}
_WHOLES: dict[str, tuple[tuple[KeyPath, str], ...]] = {
    "The room": (
        ((), "title"),
        (("room",), "shape and sizes"),
        (("surfaces",), "surfaces"),
    ),
    "The job": (
        (("job",), "who, where, what may be drilled"),
        (("air",), "air"),
        (("limits",), "limit"),
        (("method",), "method"),
        (("prices",), "prices"),
        (("stock",), "owned panels"),
    ),
}
_OWN = {"materials": "Own materials", "builds": "Own builds", "covers": "Own covers"}


@dataclass(frozen=True)
class SceneState:
    """One state of the scene's text beside the room.

    Attributes
    ----------
    scene : Scene
        What the text says.
    surfaces, faces : tuple of str
        Names of the surfaces of the room itself, and of all there are.
    chosen : tuple of KeyPath
        The tables that are selected, in the sequence in which they were.
    refused : (KeyPath, str) or None
        The key that was last given a value that cannot be, and why.
    units, theme : str
    """

    scene: Scene
    surfaces: tuple[str, ...]
    faces: tuple[str, ...]
    chosen: tuple[KeyPath, ...] = ()
    refused: tuple[KeyPath, str] | None = None
    units: str = "metric"
    theme: str = "light"

    @property
    def colours(self) -> Theme:
        """The colours of the theme."""
        return THEMES[self.theme]


def contents_of(scene: Scene) -> list[tuple[str, list[tuple[KeyPath, str]]]]:
    """What a room holds, by heading: each table of its scene with what it is called."""
    found = [("The room", list(_WHOLES["The room"]))]
    for kind, heading in HEADINGS.items():
        entries = getattr(scene, kind)
        rows = [((kind, k), _entry_words(kind, entry)) for k, entry in enumerate(entries)]
        found += [(heading, cast("list[tuple[KeyPath, str]]", rows))] if rows else []
    for kind, heading in _OWN.items():
        names: Sequence[str] = tuple(getattr(scene, kind))
        found += [(heading, [((kind, name), name) for name in names])] if names else []
    return [*found, ("The job", list(_WHOLES["The job"]))]


def _entry_words(kind: str, entry: object) -> str:
    """What an entry is called, and what kind of thing it is where its list holds several."""
    if kind == "joists":
        return f"behind the {getattr(entry, 'surface', '')}"
    name = str(getattr(entry, "name", ""))
    what = {"openings": getattr(entry, "kind", ""), "speakers": getattr(entry, "use", "")}.get(kind, "")
    what = "" if what == "main" else "rug or curtain" if what == "cover" else what
    return f"{name}, {what}" if what and what != name else name


def table_words(scene: Scene, path: KeyPath) -> str:
    """What a table is called over its form."""
    words = next((words for _, rows in contents_of(scene) for own, words in rows if own == path), "")
    if len(path) == 2:
        own = getattr(scene, str(path[0]))[path[1]]
        kind = str(own.kind) if path[0] == "openings" else ""
        what = {"": SINGLE[str(path[0])], "cover": "Rug or curtain"}.get(kind, kind.capitalize())
        return f"{what}: {getattr(own, 'name', words)}"
    return f"{words[:1].upper()}{words[1:]}"


def thing_of(chosen: Sequence[KeyPath]) -> Thing | None:
    """What of the selected tables can be moved by hand, if it is one alone."""
    if len(chosen) == 1 and len(chosen[0]) == 2 and chosen[0][0] in MOVED_BY_HAND:
        return cast("Kind", chosen[0][0]), cast("int", chosen[0][1])
    return None


def are_entries(chosen: Sequence[KeyPath]) -> bool:
    """Whether all that is selected are entries of lists, which can be duplicated and deleted."""
    return bool(chosen) and all(len(path) == 2 and path[0] in LISTS for path in chosen)


def still_there(scene: Scene, chosen: Sequence[KeyPath]) -> tuple[KeyPath, ...]:
    """What of the selected tables a scene still has."""
    there = {own for _, rows in contents_of(scene) for own, _ in rows}
    return tuple(path for path in chosen if path in there)
