"""What is odd about where speakers and seats stand is told with its numbers, from a threshold on."""

import math

import numpy as np
import pytest

from raytrace.room import build_room
from raytrace.scene import load_scene
from raytrace.study import place_notes
from tests.support.scenes import SCENES

ROOM = """
title = "test room"
[room]
shape = "box"
length = 4.2
width = 3.0
height = 2.4
[surfaces]
default = "plasterboard"
"""
SPEAKER = '[[speakers]]\nname = "{}"\nposition = [{}, {}, {}]\n{}\n'
SEAT = '[[seats]]\nname = "{}"\nears = [{}, {}, {}]\nzone = [0, 0, 0]\n'
EARS = (1.8, 1.5, 1.2)


def notes(left=(0.8, 0.9, 1.2), right=(0.8, 2.1, 1.2), ears=EARS, *, more="", aim=""):
    """Sentences about a pair of speakers and a seat."""
    text = ROOM + "".join(
        SPEAKER.format(name, *(f"{x:.9f}" for x in place), aim)
        for name, place in (("left", left), ("right", right))
        if place is not None
    )
    scene = load_scene("room.toml", text + SEAT.format("mix", *(f"{x:.9f}" for x in ears)) + more)
    return [str(note) for note in place_notes(scene, build_room(scene))]


def found(words, told):
    return [note for note in told if words in note]


def test_nothing_is_said_of_a_usual_place():
    assert notes() == []


@pytest.mark.parametrize("name", ["box", "treated-box", "garage", "elbow", "classroom", "ridge", "rented"])
def test_nothing_is_said_of_the_symmetric_rooms_that_come_along(name):
    scene = load_scene(SCENES / f"{name}.toml")
    assert place_notes(scene, build_room(scene)) == ()


def test_a_slope_beside_one_speaker_only_is_told():
    scene = load_scene(SCENES / "half-slope.toml")
    (told,) = map(str, place_notes(scene, build_room(scene)))
    # The left slope rises 40 degrees from 0.95 m: (0.95 + 1.4 tan 40 - 1.2) cos 40 = 0.708 m from [1.4, 1.2].
    assert "left is 708 mm from left slope, right 1000 mm from right wall" in told


@pytest.mark.parametrize(("behind_m", "is_told"), [(0.0199, False), (0.0201, True)])
def test_a_speaker_behind_the_ears_is_told_from_20_mm_on(behind_m, is_told):
    told = found("behind the ears", notes(left=(EARS[0] + behind_m, 0.9, 1.2)))
    assert bool(told) == is_told
    assert not is_told or "left stands 20 mm behind the ears at mix" in told[0]


@pytest.mark.parametrize(("farther_m", "is_told"), [(0.0199, False), (0.0201, True)])
def test_unequal_distances_are_told_from_20_mm_on(farther_m, is_told):
    towards = np.subtract((0.8, 2.1, 1.2), EARS)
    far = np.linalg.norm(towards)
    right = np.add(EARS, towards * (far + farther_m) / far)
    told = found("no mirror images", notes(right=tuple(right)))
    assert bool(told) == is_told
    assert not is_told or "1166 mm and 1186 mm from the ears" in told[0]  # sqrt(1 + 0.36) m, and 20 mm more


@pytest.mark.parametrize(("turned_deg", "is_told"), [(0.99, False), (1.01, True)])
@pytest.mark.parametrize("upwards", [False, True])
def test_unequal_directions_are_told_from_one_degree_on(turned_deg, upwards, is_told):
    angle = math.radians(turned_deg)
    x, y, z = np.subtract((0.8, 2.1, 1.2), EARS)
    if upwards:
        flat = math.hypot(x, y)
        offset = (x * math.cos(angle), y * math.cos(angle), z + flat * math.sin(angle))
    else:
        offset = (
            x * math.cos(angle) - y * math.sin(angle),
            x * math.sin(angle) + y * math.cos(angle),
            z,
        )
    told = found("no mirror images", notes(right=tuple(np.add(EARS, offset))))
    assert bool(told) == is_told
    assert not is_told or "1.0 degrees apart" in told[0]


@pytest.mark.parametrize(("shift_m", "is_told"), [(0.00995, False), (0.01005, True)])
def test_a_pair_off_the_middle_of_the_room_is_told_from_20_mm_on(shift_m, is_told):
    places = (np.add(place, (0.0, shift_m, 0.0)) for place in ((0.8, 0.9, 1.2), (0.8, 2.1, 1.2), EARS))
    told = notes(*map(tuple, places))
    assert bool(told) == is_told
    assert not is_told or told == [
        "left is 910 mm from left wall, right 890 mm from right wall: their side reflections differ."
    ]


def test_two_speakers_on_one_side_are_told():
    told = notes(left=(0.8, 1.7, 1.2))
    assert told == ["left and right stand on one side of mix: left and right cannot be compared."]


def test_one_speaker_is_no_pair():
    assert notes(left=None) == []


@pytest.mark.parametrize(("off_deg", "is_told"), [(44.9, False), (45.1, True)])
def test_a_speaker_that_looks_away_is_told_from_45_degrees_on(off_deg, is_told):
    # The seat lies straight ahead of a speaker in the middle.
    told = notes(left=None, right=(0.8, 1.5, 1.2), aim=f"aim = {{ yaw = {off_deg} }}")
    assert bool(found("right looks 45 degrees past mix", told)) == is_told


def test_a_yaw_of_the_wrong_sign_is_told():
    told = notes(left=None, right=(0.8, 2.1, 1.2), aim="aim = { yaw = 30 }")
    # The seat is at atan(0.6 / 1.0) = 31 degrees towards the left wall.
    assert found("right looks 61 degrees past mix", told)


def test_a_speaker_that_sends_the_same_everywhere_has_no_side_to_look_to():
    assert notes(left=None, aim='aim = { yaw = 180 }\ndirectivity = "omni"') == []


def test_a_speaker_that_looks_at_another_seat_does_not_look_away():
    second = SEAT.format("sofa", 0.8, 0.6, 1.2)
    assert not found("looks", notes(left=None, aim="aim = { yaw = -90 }", more=second))
    assert found("looks", notes(left=None, aim="aim = { yaw = -90 }"))


@pytest.mark.parametrize(("ears_m", "is_told"), [(0.3001, False), (0.2999, True)])
def test_ears_near_a_wall_are_told_within_300_mm(ears_m, is_told):
    told = found("no room to move", notes(ears=(4.2 - ears_m, 1.5, 1.2)))
    assert bool(told) == is_told
    assert not is_told or "The ears at mix are 300 mm from back wall" in told[0]


def test_ears_near_furniture_are_told():
    rack = (
        '[[objects]]\nname = "rack"\nshape = "box"\ncentre = [2.4, 1.5, 1.0]\nsize = [0.6, 0.6, 2.0]\n'
        'material = "furniture"\n'
    )
    assert found("300 mm from rack front", notes(ears=(1.8001, 1.5, 1.2), more=rack))
    assert notes(ears=(1.7999, 1.5, 1.2), left=None, more=rack) == []


@pytest.mark.parametrize(("gap_m", "is_told"), [(0.0001, False), (-0.0001, True)])
def test_ears_near_a_panel_are_told(gap_m, is_told):
    panel = (
        '[[panels]]\nname = "P1"\nsurface = "back wall"\nbuild = "wool 100"\ncentre = [1.5, 1.2]\n'
        'gap = "50 mm"\n'
    )
    # Wall, 50 mm of air, 100 mm of wool, 300 mm.
    told = notes(ears=(4.2 - 0.45 - gap_m, 1.5, 1.2), more=panel)
    assert bool(found("300 mm from P1", told)) == is_told


@pytest.mark.parametrize(("ears_m", "is_told"), [(1.1999, False), (1.2001, True)])
def test_ears_above_the_underside_of_a_cloud_are_told(ears_m, is_told):
    # Head room is kept under every cloud but one over furniture.
    cloud = (
        '[[objects]]\nname = "desk"\nshape = "box"\ncentre = [1.8, 1.5, 0.72]\nsize = [1.4, 1.4, 0.03]\n'
        'material = "desk"\n[[clouds]]\nname = "low"\nsurface = "ceiling"\nbuild = "wool 100"\n'
        "centre = [1.8, 1.5]\nrows = 1\ncolumns = 1\ndrop = 1.1\n"
    )
    # Its underside: 2.4 m less 1.1 m less 100 mm of wool. It reaches from y = 1.2 to 1.8 m: ears right in it
    # are refused, so these stand beside it, and only a head that moves comes under it.
    ears = f"[1.8, 1.85, {ears_m}]"
    moving = f'[[seats]]\nname = "host"\nears = {ears}\nzone = [0, 0.0501, 0]\n'
    still = moving.replace("0.0501", "0.0499")
    told = found("The ears at host", notes(ears=(3.2, 1.5, 1.2), more=cloud + moving))
    assert bool(found("the underside of low over them is 1.20 m", told)) == is_told
    assert not found("underside", notes(ears=(3.2, 1.5, 1.2), more=cloud + still))


@pytest.mark.parametrize(("gap", "is_told"), [(0.81, False), (0.79, True), (0.1, True)])
def test_furniture_in_the_way_of_a_door_is_told(gap, is_told):
    more = f"""
[[openings]]
name = "door"
kind = "door"
surface = "back wall"
at = [1.1, 0]
size = [0.8, 2.0]
material = "wood door"
swing = {{ hinge = "left", out = 0.8 }}
[[objects]]
name = "sofa"
shape = "box"
centre = [{4.2 - gap - 0.4}, 1.5, 0.4]
size = [0.8, 1.8, 0.8]
material = "sofa"
"""
    told = found("leaf", notes(more=more))
    assert told == (
        ['sofa stands in the way of the leaf of "door", which does not open fully.'] if is_told else []
    )
