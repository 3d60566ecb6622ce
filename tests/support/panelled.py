"""Scenes with panels, joists and clouds for the tests of hanging, loads and cut lists."""

from pathlib import Path

Corner = tuple[float, float, float]

BOX = """
title = "treated room"
[room]
{room}
[surfaces]
default = "plasterboard"
[[speakers]]
name = "left"
position = [0.6, 1.2, 0.9]
[[seats]]
name = "mix"
ears = [1.6, 1.5, 0.9]
"""

BOX_ROOM = 'shape = "box"\nlength = 5.0\nwidth = 4.0\nheight = 3.2'
GABLE_ROOM = 'shape = "gable"\nlength = 5.6\nwidth = 4.4\neaves = 2.1\nridge = 4.2'

JOISTS = """
[[joists]]
surface = "ceiling"
along = "v"
first = 0.2
spacing = 0.4
known = "surveyed"
"""


def scene_text(more: str, room: str = BOX_ROOM) -> str:
    """A room of given shape with whatever else is given."""
    return BOX.format(room=room) + more


def cloud(name: str = "cloud", **keys: object) -> str:
    """A one-panel cloud under the ceiling, 300 mm down, unless said otherwise."""
    given = {
        "surface": "ceiling", "build": "wool 50", "centre": [2.5, 2.0], "rows": 1, "columns": 1,
        "drop": 0.3, **keys,
    }  # fmt: skip
    return _table("clouds", name, given)


def panel(name: str = "P", **keys: object) -> str:
    """A panel on the left wall unless said otherwise."""
    return _table("panels", name, {"surface": "left wall", "build": "wool 50", "centre": [2.5, 1.2], **keys})


def _table(kind: str, name: str, keys: dict[str, object]) -> str:
    lines = [f'name = "{name}"', *(f"{key} = {_value(value)}" for key, value in keys.items())]
    return f"\n[[{kind}]]\n" + "\n".join(lines) + "\n"


def _value(value: object) -> str:
    return f'"{value}"' if isinstance(value, str) and not value.startswith("{") else str(value)


def mesh_box(folder: Path, name: str, low: Corner, high: Corner) -> str:
    """An object of that name from a mesh, whose faces are "name 1" to "name 6": a box between two corners."""
    corners = [(x, y, z) for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])]
    faces = ("1 2 4 3", "5 7 8 6", "1 5 6 2", "3 4 8 7", "1 3 7 5", "2 6 8 4")
    lines = [*(f"v {x} {y} {z}" for x, y, z in corners), *(f"f {face}" for face in faces)]
    (folder / "box.obj").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return (
        f'\n[[objects]]\nname = "{name}"\nshape = "mesh"\nfile = "{folder / "box.obj"}"\nunit = "m"\n'
        'material = "wood"\n'
    )
