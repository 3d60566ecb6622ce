"""Scenes of one room each, by their shape, for the tests of geometry."""

TEMPLATE = """
title = "test room"
[room]
{room}
[surfaces]
default = "plasterboard"
{more}
[[speakers]]
name = "left"
position = {speaker}
directivity = "omni"
[[seats]]
name = "mix"
ears = {seat}
zone = [0, 0, 0]
"""

SHAPES = {
    "box": 'shape = "box"\nlength = 4.2\nwidth = 3.0\nheight = 2.4',
    "box with slopes": 'shape = "box"\nlength = 4.8\nwidth = 3.6\nheight = 2.4\nslopes = ['
    '{wall = "left wall", eaves = 0.95, pitch = 40}, {wall = "back wall", eaves = 1.4, pitch = 30}]',
    "gable": 'shape = "gable"\nlength = 5.6\nwidth = 4.4\neaves = 1.1\nridge = 2.6',
    "gable with flat": 'shape = "gable"\nlength = 5.6\nwidth = 4.4\neaves = [1.1, 1.4]\nridge = 2.9\n'
    "ridge_at = 1.9\nflat = 2.4",
    "gable across": 'shape = "gable"\nlength = 5.6\nwidth = 4.4\neaves = [1.1, 1.3]\nridge = 2.6\n'
    'ridge_along = "width"',
    "tent": 'shape = "gable"\nlength = 5.6\nwidth = 4.4\neaves = 0\nridge = 2.6',
    "lean-to": 'shape = "lean-to"\nlength = 4.5\nwidth = 2.9\nlow = 2.05\nhigh = 2.75\nlow_side = "front"',
    "elbow": 'shape = "plan"\ncorners = [[0,0],[6,0],[6,5.2],[3.4,5.2],[3.4,3.4],[0,3.4]]\nheight = 2.45',
    "hip": 'shape = "plan"\nheight = 2.3\n'
    "corners = [[0,0],[4.7,0],[4.7,2.2],[5.5,2.2],[5.5,4.1],[0.21,4.1]]\n"
    'slopes = [{wall = "wall 1", eaves = 0.8, pitch = 45}, {wall = "wall 4", eaves = 1.0, pitch = 35}]',
    "section": 'shape = "section"\nlength = 4.0\nprofile = [[0,0],[4,0],[4,1.5],[3,2.5],[1.2,2.5],'
    "[1.2,2.2],[0.8,2.2],[0.8,2.5],[0.4,2.5],[0,2.0]]",
    "section across": 'shape = "section"\nwidth = 3.0\n'
    "profile = [[0,0],[0,2.0],[2,2.6],[4.4,2.6],[5,1.2],[5,0]]",
}

INSIDE = {
    "hip": ("[0.75, 2.1, 1.15]", "[1.7, 2.5, 1.15]"),
    "tent": ("[0.9, 1.9, 0.9]", "[2.0, 2.3, 0.9]"),
}
# A rectangle drawn 40 mm too wide, of which both diagonals and all walls were measured.
MEASURED_PLAN = """shape = "plan"
corners = [[0, 0], [4.0, 0], [4.0, 3.04], [0, 3.04]]   # as paced
height = 2.4
diagonals = [
    { corners = [1, 2], length = 4.0 }, { corners = [2, 3], length = 3.0 },
    { corners = [3, 4], length = 4.0 }, { corners = [4, 1], length = 3.0 },
    { corners = [1, 3], length = 5.0 }, { corners = [2, 4], length = 5.0 },
]
heights = [{ height = 2.42, place = "by the door" }, { height = 2.44 }]"""


def room_text(
    shape: str, more: str = "", *, speaker: str = "[0.95, 1.5, 1.2]", seat: str = "[1.9, 1.7, 1.1]"
) -> str:
    """A scene of a shape of `SHAPES`, or of a `[room]` table written out."""
    speaker, seat = INSIDE.get(shape, (speaker, seat))
    return TEMPLATE.format(room=SHAPES.get(shape, shape), more=more, speaker=speaker, seat=seat)


def box_object(name, centre, size, yaw=0.0, pitch=0.0):
    """A box as text of a scene."""
    return (
        f'[[objects]]\nname = "{name}"\nshape = "box"\ncentre = {list(centre)}\nsize = {list(size)}\n'
        f'yaw = {yaw}\npitch = {pitch}\nmaterial = "wood"\n'
    )


DESK = box_object("desk", (2.8, 1.5, 0.6), (1.0, 0.6, 0.2))  # x 2.3-3.3, y 1.2-1.8, z 0.5-0.7
