"""What can be put into a room: what it is called, how it begins, and the name it gets."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from raytrace import Scene

On = Literal["floor", "ceiling", "wall", "any"]

MIDDLE = "middle "  # what has sizes stands where its middle is
EAR_M = 1.20  # seated ears and the drivers at their height: common practice, no source


@dataclass(frozen=True)
class Starter:
    """Something that can be added.

    Attributes
    ----------
    words : str
        What it is called in menus.
    kind : str
        The list of the scene it goes to.
    on : str
        Where it goes: x, y over the "floor"; a "wall", the "ceiling" or "any" surface of the room.
    entry : mapping
        Its keys without name and place; sizes as common practice has them, no source.
    height_m : float
        Of what is placed over the floor: the third coordinate.
    is_amid : bool
        Belongs between speakers and seat, where it begins.
    """

    words: str
    kind: str
    on: On
    entry: Mapping[str, Any] = field(default_factory=dict)
    height_m: float = 0.0
    is_amid: bool = False


def _box(words: str, size: tuple[float, float, float], material: str, top_m: float | None = None) -> Starter:
    """Furniture that stands on the floor, or whose top is at a height."""
    middle = (size[2] if top_m is None else top_m) - size[2] / 2
    entry = {"shape": "box", "size": list(size), "material": material}
    return Starter(words, "objects", "floor", entry, round(middle, 3))


STARTERS = (
    Starter("Speaker", "speakers", "floor", {}, EAR_M),
    Starter("Sub", "speakers", "floor", {"use": "sub"}, 0.25),
    Starter("Seat", "seats", "floor", {}, EAR_M),
    replace(_box("Desk", (0.70, 1.50, 0.03), "wood", 0.73), is_amid=True),
    replace(_box("Screen", (0.05, 0.62, 0.37), "glass 4 mm", 1.30), is_amid=True),
    _box("Shelf", (0.30, 0.80, 1.80), "bookshelf"),
    _box("Wardrobe", (0.60, 1.20, 2.00), "furniture"),
    _box("Sofa", (0.90, 1.80, 0.80), "sofa"),
    _box("Cabinet", (0.45, 0.90, 0.75), "furniture"),
    Starter("Door", "openings", "wall", {"kind": "door", "size": [0.80, 2.00], "material": "wood door"}),
    Starter("Window", "openings", "wall", {"kind": "window", "size": [1.20, 1.10], "material": "window"}),
    Starter(
        "Rug", "openings", "floor", {"kind": "cover", "size": [1.60, 2.00], "material": "rug"}, is_amid=True
    ),
    Starter("Part to be kept free", "keep_outs", "any", {"radius": 0.20}),
    Starter("Joists", "joists", "ceiling", {"along": "v", "spacing": 0.40, "known": "assumed"}),
    Starter("Panel", "panels", "wall", {"build": "wool 100"}),
    Starter("Standing panel", "stands", "floor", {"build": "wool 100"}),
    Starter(
        "Cloud",
        "clouds",
        "ceiling",
        {"build": "wool 50", "rows": 2, "columns": 2, "drop": 0.10},
        is_amid=True,
    ),
)
GROUPS = (3, 9, 14)  # a line before each of these in menus
NAMES = {"keep_outs": "free", "stands": "stand", "seats": "seat"}


def starter_of(words: str) -> Starter:
    """The starter of a menu's words."""
    return next(own for own in STARTERS if own.words == words)


def starter_like(kind: str, entry: Mapping[str, Any], scene_entry: Any) -> Starter:
    """A starter that makes more of what is there already."""
    places = {"name", "surface", "position", "ears", "centre", "at", "panels", "first"}
    base = next(own for own in STARTERS if own.kind == kind)
    rest = {key: value for key, value in entry.items() if key not in places}
    if kind == "clouds" and "panels" in entry:
        rest |= {"rows": 1, "columns": 1}
    on: On = base.on
    if kind == "openings":
        on = "floor" if scene_entry.kind == "cover" and "floor" in entry["surface"] else "any"
    elif kind in ("panels", "keep_outs"):
        on = "any"
    point = getattr(scene_entry, "position", None) or getattr(scene_entry, "ears", None)
    point = point or (getattr(scene_entry, "centre", None) if kind == "objects" else None)
    height_m = float(point[2]) if point is not None else base.height_m
    return Starter(str(entry.get("name", base.words)), kind, on, rest, height_m)


def new_name(scene: Scene, kind: str, words: str) -> str:
    """A name that nothing has yet: the other speaker of a pair, else the thing's own with a number."""
    kinds = ("panels", "stands", "clouds") if kind in ("panels", "stands", "clouds") else (kind,)
    taken = {getattr(entry, "name", "") for own in kinds for entry in getattr(scene, own)}
    if kind == "speakers" and words == "Speaker":
        free = [side for side in ("left", "right") if side not in taken]
        if free:
            return free[0]
    base = re.sub(r" \d+$", "", words if words in taken else NAMES.get(kind, words.lower()))
    number = 1
    name = base
    while name in taken:
        number += 1
        name = f"{base} {number}"
    return name


def is_taken(scene: Scene, kind: str, name: str) -> bool:
    """Whether a list of the scene has something of that name."""
    kinds = ("panels", "stands", "clouds") if kind in ("panels", "stands", "clouds") else (kind,)
    return any(getattr(entry, "name", None) == name for own in kinds for entry in getattr(scene, own))
