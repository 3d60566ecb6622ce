"""Toe-in, tilt and what lies under speakers, against angles worked out with a pencil."""

import math

import pytest

from raytrace.aiming.pointing import find_pairs, find_pointings
from raytrace.room import build_room
from raytrace.scene import load_scene

ROOM = """
title = "test room"
[room]
shape = "box"
length = 5.0
width = 4.0
height = 2.6
[surfaces]
default = "plasterboard"
"""
DESK = """
[[objects]]
name = "desk"
shape = "box"
centre = [1.0, 2.0, {z}]
size = [0.9, 2.0, 0.03]
pitch = {pitch}
yaw = {yaw}
material = "wood"
"""
SPEAKER = '[[speakers]]\nname = "{}"\nposition = [{}, {}, {}]\nbody = [0.2, 0.16, 0.3]\n{}\n'
SEAT = '[[seats]]\nname = "mix"\nears = [{}, {}, {}]\n'
FLOAT_DEG = 1e-9  # rounding of angles in double precision


def scene_of(left, right, ears=(2.0, 2.0, 1.2), *, more="", aim=""):
    """A room with two speakers, in metres."""
    text = ROOM + "".join(
        SPEAKER.format(name, *place, aim)
        for name, place in (("left", left), ("right", right))
        if place is not None
    )
    return load_scene("room.toml", text + SEAT.format(*ears) + more)


def pointings(*args, behind_m=0.2, **options):
    scene = scene_of(*args, **options)
    return find_pointings(scene, build_room(scene), behind_m=behind_m)


def test_an_equal_sided_triangle_asks_for_thirty_degrees():
    x = 2.0 - math.cos(math.radians(30.0)) * 1.4
    left, right = pointings((x, 1.3, 1.2), (x, 2.7, 1.2))
    for one in (left, right):
        assert one.distance_m == pytest.approx(1.4, abs=1e-12)  # rounding
        assert one.at_ears.toe_in_deg == pytest.approx(30.0, abs=FLOAT_DEG)
        assert one.at_ears.tilt_deg == pytest.approx(0.0, abs=FLOAT_DEG)
        assert one.off_axis_deg == pytest.approx(0.0, abs=1e-5)  # an arc cosine near 1 loses half the digits
    scene = scene_of((x, 1.3, 1.2), (x, 2.7, 1.2))
    (pair,) = find_pairs(scene, build_room(scene))
    assert pair.opening_deg == pytest.approx(60.0, abs=FLOAT_DEG)


def test_the_height_of_the_ears_over_the_speaker_is_the_tilt():
    # A metre away in plan and 0.2 m up: atan 0.2, and behind the head atan(0.2 / 1.3).
    (one,) = pointings((1.0, 2.0, 1.0), None, behind_m=0.3)
    assert one.at_ears.tilt_deg == pytest.approx(math.degrees(math.atan(0.2)), abs=FLOAT_DEG)
    assert one.behind_head.tilt_deg == pytest.approx(math.degrees(math.atan(0.2 / 1.3)), abs=FLOAT_DEG)


def test_an_axis_that_crosses_behind_the_head_turns_less():
    (one,) = pointings((1.0, 1.0, 1.2), None, behind_m=0.25)
    assert one.at_ears.toe_in_deg == pytest.approx(45.0, abs=FLOAT_DEG)
    assert one.behind_head.toe_in_deg == pytest.approx(math.degrees(math.atan(1.0 / 1.25)), abs=FLOAT_DEG)


def test_how_it_is_turned_now_is_told_from_its_yaw_and_pitch():
    left, right = pointings((1.0, 1.0, 1.2), (1.0, 3.0, 1.2), aim="aim = { yaw = 20, pitch = 5 }")
    assert left.now.toe_in_deg == pytest.approx(20.0, abs=FLOAT_DEG)
    assert right.now.toe_in_deg == pytest.approx(
        -20.0, abs=FLOAT_DEG
    )  # past the right wall: away from the seat
    assert left.off_axis_up_deg == pytest.approx(-5.0, abs=FLOAT_DEG)
    # 1.414 m away in plan the axis is that much times tan 5 degrees above the ears.
    assert left.passes_m == pytest.approx(math.sqrt(2.0) * math.tan(math.radians(5.0)), abs=1e-12)  # rounding
    # The axis 20 degrees in plan and 5 up against 45 in plan: cos = cos 5 cos 25.
    off_deg = math.degrees(math.acos(math.cos(math.radians(5.0)) * math.cos(math.radians(25.0))))
    assert left.off_axis_deg == pytest.approx(off_deg, abs=FLOAT_DEG)


def test_mirrored_speakers_have_the_same_angles_and_a_pair_without_differences():
    scene = scene_of((0.8, 1.1, 1.3), (0.8, 2.9, 1.3))
    room = build_room(scene)
    left, right = find_pointings(scene, room)
    assert left.at_ears.toe_in_deg == pytest.approx(right.at_ears.toe_in_deg, abs=FLOAT_DEG)
    assert left.at_ears.wedge_deg == pytest.approx(right.at_ears.wedge_deg, abs=FLOAT_DEG)
    (pair,) = find_pairs(scene, room)
    for difference in (
        pair.distance_difference_m,
        pair.angle_difference_deg,
        pair.tilt_difference_deg,
        pair.level_difference_db,
    ):
        assert difference == pytest.approx(0.0, abs=FLOAT_DEG)


def test_a_pair_differs_by_what_left_has_more():
    # Straight to the sides, 1.0 and 1.25 m: an omnidirectional pair differs by 20 lg 1.25 in level.
    scene = scene_of(
        (2.0, 0.75, 1.2), (2.0, 3.0, 1.2), (2.0, 2.0, 1.2), aim='aim = "seat"\ndirectivity = "omni"'
    )
    room = build_room(scene)
    (pair,) = find_pairs(scene, room)
    assert pair.distance_difference_m == pytest.approx(0.25, abs=1e-12)  # rounding
    assert pair.delay_difference_s == pytest.approx(0.25 / room.speed_of_sound_m_s, abs=1e-12)  # rounding
    assert pair.level_difference_db == pytest.approx(-20.0 * math.log10(1.25), abs=1e-9)  # rounding
    assert pair.angle_difference_deg == pytest.approx(0.0, abs=FLOAT_DEG)
    assert pair.between_m == pytest.approx(2.25, abs=1e-12)  # rounding


def test_a_speaker_on_the_floor_stands_on_a_stand_whose_top_is_level():
    (one,) = pointings((1.0, 2.0, 1.0), None)
    assert one.standing.surface == "floor"
    assert one.standing.on_object is None
    assert one.standing.gap_m == pytest.approx(0.85, abs=1e-12)  # 1.0 less half of 0.3, rounding
    assert one.level_stand_m == pytest.approx(1.05, abs=1e-12)  # 0.2 m higher, rounding
    assert one.at_ears.wedge_deg == pytest.approx(one.at_ears.tilt_deg, abs=FLOAT_DEG)


def test_on_a_level_desk_the_wedge_is_the_tilt():
    # The desk's top lies at 0.75 m: the cabinet, 0.3 m high, stands on it with its centre at 0.90 m.
    (one,) = pointings((1.0, 2.0, 0.9), None, more=DESK.format(z=0.735, pitch=0, yaw=0))
    assert one.standing.surface == "desk top"
    assert one.standing.on_object == "desk"
    assert one.standing.gap_m == pytest.approx(0.0, abs=1e-12)  # rounding
    assert one.at_ears.wedge_deg == pytest.approx(math.degrees(math.atan(0.3)), abs=FLOAT_DEG)


@pytest.mark.parametrize("pitch", [-6.0, 6.0])
@pytest.mark.parametrize("yaw", [0.0, 180.0])
def test_a_sloping_desk_takes_its_slope_off_the_wedge(pitch, yaw):
    (one,) = pointings((1.0, 2.0, 0.96), None, more=DESK.format(z=0.735, pitch=pitch, yaw=yaw))
    assert one.standing.on_object == "desk"
    # A pitch raises the far end along the object's own length, which a yaw of 180 degrees turns to the front.
    slope = pitch if yaw == 0.0 else -pitch
    tilt = math.degrees(math.atan(0.24))
    assert one.standing.slope_deg(0.0) == pytest.approx(slope, abs=FLOAT_DEG)
    assert one.at_ears.wedge_deg == pytest.approx(tilt - slope, abs=FLOAT_DEG)


def test_beside_the_slope_only_its_part_along_the_axis_counts():
    # Toe-in of 45 degrees on a desk that rises by 8 degrees along x: tan slope = tan 8 cos 45.
    (one,) = pointings((1.0, 1.5, 0.95), None, (1.5, 2.0, 1.2), more=DESK.format(z=0.735, pitch=8, yaw=0))
    slope = math.degrees(math.atan(math.tan(math.radians(8.0)) * math.cos(math.radians(45.0))))
    assert one.standing.slope_deg(45.0) == pytest.approx(slope, abs=FLOAT_DEG)


@pytest.mark.parametrize(("height_m", "on"), [(0.99, "desk"), (1.01, None)])
def test_from_a_tenth_of_a_metre_on_there_is_a_stand_on_the_desk(height_m, on):
    (one,) = pointings((1.0, 2.0, height_m), None, more=DESK.format(z=0.735, pitch=0, yaw=0))
    assert one.standing.on_object == on
    assert one.standing.gap_m == pytest.approx(height_m - 0.9, abs=1e-12)  # rounding
