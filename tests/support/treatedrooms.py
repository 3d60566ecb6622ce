"""Rooms of `scenes/` with panels, clouds and stands in them, for the tests of drawings."""

from functools import cache

from raytrace import Room, Scene, build_room, load_scene
from tests.support.scenes import SCENES
from viewer.sheets import draw_panels

WALLS = """
[[panels]]
name = "left 1"
surface = "left wall"
build = "wool 100"
centre = ["3060 mm", "1200 mm"]
turned = 90
gap = "50 mm"
[[panels]]
name = "right 1"
surface = "right wall"
build = "wool 100"
centre = ["1140 mm", "1200 mm"]
turned = 90
gap = "50 mm"
[[keep_outs]]
name = "socket"
surface = "left wall"
at = ["400 mm", "250 mm"]
size = ["150 mm", "90 mm"]
reason = "double socket, cable runs straight up"
"""

BOX = (
    """
[[clouds]]
name = "cloud"
surface = "ceiling"
build = "wool 50"
centre = ["1100 mm", "1500 mm"]
rows = 1
columns = 3
spacing = "60 mm"
drop = "150 mm"
[[clouds]]
name = "rear"
surface = "ceiling"
build = "wool 30"
centre = ["3200 mm", "1500 mm"]
rows = 1
columns = 3
spacing = "60 mm"
drop = "250 mm"
tilt = { towards = "back wall", deg = 8 }
"""
    + WALLS
)

LEAN_TO = """
[[clouds]]
name = "cloud"
surface = "ceiling"
build = "wool 50"
centre = ["1450 mm", "2500 mm"]
rows = 2
columns = 2
spacing = "60 mm"
drop = "180 mm"
[[panels]]
name = "left high"
surface = "left wall"
build = "wool 50"
centre = ["1500 mm", "1600 mm"]
"""

RIDGE = """
[[panels]]
name = "slope 1"
surface = "left slope"
build = "wool 50"
centre = ["4100 mm", "1300 mm"]
gap = "50 mm"
[[clouds]]
name = "along"
surface = "right slope"
build = "wool 50"
centre = ["3300 mm", "1500 mm"]
rows = 1
columns = 2
spacing = "60 mm"
drop = "80 mm"
level = "along"
[[panels]]
name = "gable"
surface = "back wall"
build = "wool 50"
centre = ["1150 mm", "800 mm"]
"""

RENTED = """
[[stands]]
name = "left stand"
build = "wool 100"
turned = 90
at = ["1100 mm", "250 mm"]
yaw = 90
lift = "100 mm"
[[stands]]
name = "right lean"
build = "wool 100"
turned = 90
at = ["3620 mm", "1600 mm"]
yaw = 180
lean = 8
"""

TREATED = {"box": BOX, "lean-to": LEAN_TO, "ridge": RIDGE, "rented": RENTED}


def treated_text(name: str) -> str:
    """The text of a scene with its panels."""
    return (SCENES / f"{name}.toml").read_text(encoding="utf-8") + TREATED[name]


@cache
def treated_pages(name: str, units: str = "metric", paper: str | None = None) -> tuple[Scene, Room, tuple]:
    """The same read, its room, and its drawings: made once for all tests of a process that read them."""
    scene = load_scene(SCENES / f"{name}.toml", treated_text(name))
    room = build_room(scene)
    return scene, room, tuple(draw_panels(scene, room, units=units, paper=paper))
