"""A bare number that may be feet is found, where the scene has feet elsewhere."""

import pytest

from raytrace.room import build_room
from raytrace.scene import bare_numbers_like_feet, load_scene
from raytrace.study import place_notes

SCENE = """
title = "12 ft by nothing"
[room]
shape = "box"
length = {length}
width = {width}
height = {height}
[surfaces]
default = "plasterboard"
[[speakers]]
name = "left"
position = [0.75, 0.9, {up}]
[[seats]]
name = "mix"
ears = [1.79, 1.5, 1.2]
"""


def scene_of(length="4.2", width="3.0", height="2.4", up="1.2"):
    return load_scene("room.toml", SCENE.format(length=length, width=width, height=height, up=up))


def test_a_length_among_feet_is_found():
    scene = scene_of("13.4", '"9\' 10\\""', '"8 ft"')
    assert bare_numbers_like_feet(scene) == (("length", 13.4),)
    (note,) = (str(note) for note in place_notes(scene, build_room(scene)) if "feet" in str(note))
    assert note == (
        "The length of the room is taken as 13.40 m: a number without a unit is metres. Other lengths of the "
        'scene are in feet and inches: if this one is too, write length = "13.4 ft".'
    )


def test_inches_of_anything_count_as_feet_elsewhere():
    assert bare_numbers_like_feet(scene_of("13.4", up='"47 in"')) == (("length", 13.4),)


def test_metres_alone_are_taken_as_they_are():
    # "12 ft by nothing" is a title and no length.
    assert bare_numbers_like_feet(scene_of("13.4")) == ()
    assert bare_numbers_like_feet(scene_of("13.4", '"3000 mm"')) == ()


@pytest.mark.parametrize(
    ("length", "is_found"),
    # 2 m are 6.56 ft and 10 m are 32.8 ft: what lies between is an ordinary room in feet.
    [("6.5", False), ("6.6", True), ("32.8", True), ("32.9", False), ("4.2", False)],
)
def test_only_numbers_that_are_a_room_in_feet_are_found(length, is_found):
    assert bool(bare_numbers_like_feet(scene_of(length, height='"8 ft"'))) == is_found
