"""Rooms with surfaces that absorb nothing or everything, one at a time and all."""

WALLS = ("left wall", "right wall", "front wall", "back wall", "ceiling", "floor")
ROOM = """
title = "test room"
[room]
shape = "box"
length = 5.0
width = 4.0
height = 2.6
[surfaces]
default = "plain"
{own}
[materials.plain]
absorption = [0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1]
source = "invented for the test"
[materials.black]
absorption = [1, 1, 1, 1, 1, 1, 1, 1]
source = "sound leaves"
[materials.white]
absorption = [0, 0, 0, 0, 0, 0, 0, 0]
source = "nothing is lost"
[[speakers]]
name = "left"
position = [1.0, 1.3, 1.2]
[[speakers]]
name = "right"
position = [1.0, 2.7, 1.2]
[[seats]]
name = "mix"
ears = [3.2, 2.0, 1.2]
"""
PANEL = """
[[panels]]
name = "absorber"
surface = "left wall"
build = "wool 100"
centre = [2.0, 1.3]
"""
CASES = [(material, (wall,)) for material in ("black", "white") for wall in WALLS]
CASES += [("black", WALLS), ("white", WALLS)]


def name_of(case):
    return case[0] if isinstance(case, tuple) and case[1] == WALLS else " ".join((case[0], *case[1]))


def text_of(case, more=""):
    material, walls = case
    return ROOM.format(own="\n".join(f'"{wall}" = "{material}"' for wall in walls)) + more


def written(tmp_path, case, more=""):
    path = tmp_path / "room.toml"
    path.write_text(text_of(case, more), encoding="utf-8")
    return str(path)
