"""Dips of near boundaries against mirror images drawn with a pencil, and all of them against a plain sum."""

import math

import numpy as np
import pytest

from raytrace.aiming.boundaries import boundaries_of, boundary_response
from raytrace.aiming.wallsweep import APART_M, STEP_M, sweep_to_wall
from raytrace.scene import load_scene
from tests.support.scenes import BOX

C = 343.2  # m/s at 20 degC as reference tables take it; the program's own is compared with it below
ROOM = """
title = "test room"
[room]
shape = "box"
length = 5.0
width = 4.0
height = 2.6
[surfaces]
default = "hard"
"front wall" = "{front}"
[materials.hard]
absorption = [0, 0, 0, 0, 0, 0, 0, 0]
scattering = 0
[materials.half]
absorption = [0.75, 0.75, 0.75, 0.75, 0.75, 0.75, 0.75, 0.75]
scattering = 0
"""
SPEAKER = '[[speakers]]\nname = "{}"\nposition = [{}, {}, {}]\ndirectivity = "omni"\n'
SEAT = '[[seats]]\nname = "mix"\nears = [{}, {}, {}]\n'


def response(source, ears, *, front="hard"):
    text = ROOM.format(front=front) + SPEAKER.format("left", *source) + SEAT.format(*ears)
    boundaries = boundaries_of(load_scene("room.toml", text))
    return boundaries, boundary_response(boundaries, speaker=0, seat=0)


def dip(response, surface):
    return next(dip for dip in response.dips if dip.surface == surface)


# Boundary dips c / 4d of the project's reference values, at 343.2 m/s (textbook, from memory).
@pytest.mark.parametrize(
    ("away_m", "hz"), [(0.3, 286.0), (0.5, 171.6), (0.6, 143.0), (0.8, 107.25), (1.0, 85.8), (1.2, 71.5)]
)
def test_straight_before_wall_and_speaker_the_dip_is_a_quarter_wave(away_m, hz):
    boundaries, found = response((away_m, 2.0, 1.3), (4.0, 2.0, 1.3))
    front = dip(found, "front wall")
    speed = boundaries.room.speed_of_sound_m_s
    assert front.hz * C / speed == pytest.approx(hz, abs=0.05)  # tables give a decimal
    assert front.quarter_wave_hz == pytest.approx(front.hz, rel=1e-12)  # rounding
    assert front.detour_m == pytest.approx(2.0 * away_m, abs=1e-12)  # rounding


@pytest.mark.parametrize(
    ("surface", "image"),
    [
        ("front wall", (-0.8, 1.3, 1.2)),
        ("back wall", (9.2, 1.3, 1.2)),
        ("left wall", (0.8, -1.3, 1.2)),
        ("right wall", (0.8, 6.7, 1.2)),
        ("floor", (0.8, 1.3, -1.2)),
        ("ceiling", (0.8, 1.3, 4.0)),
    ],
)
def test_off_the_wall_s_normal_the_dip_is_that_of_the_mirror_image(surface, image):
    source, ears = (0.8, 1.3, 1.2), (2.4, 2.0, 1.25)
    boundaries, found = response(source, ears)
    detour_m = math.dist(image, ears) - math.dist(source, ears)
    one = dip(found, surface)
    assert one.hz == pytest.approx(
        boundaries.room.speed_of_sound_m_s / (2.0 * detour_m), rel=1e-12
    )  # rounding
    assert one.hz > one.quarter_wave_hz  # the detour is never longer than twice the distance
    # A rigid wall sends back all of it, weaker only by its longer way: 1 - r / r'. Air takes 1e-4 dB.
    alone = 20.0 * math.log10(1.0 - math.dist(source, ears) / math.dist(image, ears))
    assert one.alone_db == pytest.approx(alone, abs=0.01)


def test_half_the_pressure_back_makes_half_a_dip():
    source, ears = (0.8, 2.0, 1.3), (3.8, 2.0, 1.3)
    _, found = response(source, ears, front="half")
    # Absorption of 0.75 leaves half the pressure; 3 m direct, 4.6 m by the wall. Air takes 1e-4 dB.
    assert dip(found, "front wall").alone_db == pytest.approx(
        20.0 * math.log10(1.0 - 0.5 * 3.0 / 4.6), abs=0.01
    )


def test_all_together_are_the_plain_sum_of_seven_sources():
    source, ears = np.array([0.8, 1.3, 1.2]), np.array([2.4, 2.0, 1.25])
    boundaries, found = response(source, ears)
    images = [source, *(source + d for d in ([-1.6, 0, 0], [8.4, 0, 0], [0, -2.6, 0], [0, 5.4, 0]))]
    images += [source + d for d in ([0, 0, -2.4], [0, 0, 2.8])]
    lengths = np.array([np.linalg.norm(ears - image) for image in images])
    k = 2.0 * np.pi / boundaries.room.speed_of_sound_m_s
    edge = 2.0 ** (1.0 / 24.0)  # half a twelfth of an octave
    for hz, level_db in zip(found.frequency_hz[::9], found.level_db[::9], strict=True):
        lines = np.geomspace(hz / edge, hz * edge, 401)
        total = np.sum(lengths[0] / lengths * np.exp(-1j * k * lines[:, None] * lengths), axis=1)
        # Eight lines a band against 401: their mean differs by that much at most on combs of 30 ms.
        assert level_db == pytest.approx(10.0 * np.log10(np.mean(np.abs(total) ** 2)), abs=0.15)


def test_a_combined_dip_names_who_takes_most():
    # On the middle line of width and height floor, ceiling and side walls do the same on both sides.
    _, found = response((0.8, 2.0, 1.3), (2.4, 2.0, 1.3))
    assert found.combined
    deepest = found.combined[0]
    assert deepest.level_db == min(one.level_db for one in found.combined)
    assert {"left wall", "right wall"} <= set(deepest.surfaces) or "left wall" not in deepest.surfaces
    assert {"floor", "ceiling"} <= set(deepest.surfaces) or "floor" not in deepest.surfaces


def test_mirrored_speakers_meet_mirrored_boundaries():
    text = (
        ROOM.format(front="half")
        + SPEAKER.format("left", 0.8, 1.1, 1.2)
        + SPEAKER.format("right", 0.8, 2.9, 1.2)
    )
    boundaries = boundaries_of(load_scene("room.toml", text + SEAT.format(2.3, 2.0, 1.2)))
    left, right = (boundary_response(boundaries, speaker=k, seat=0) for k in (0, 1))
    np.testing.assert_allclose(left.level_db, right.level_db, atol=1e-9)  # rounding
    assert dip(left, "left wall").hz == pytest.approx(dip(right, "right wall").hz, rel=1e-12)  # rounding


def test_a_speaker_built_into_the_wall_has_no_dip_of_it():
    _, found = response((0.0, 2.0, 1.3), (3.0, 2.0, 1.3))
    assert "front wall" not in {one.surface for one in found.dips}


DESK = """
[[objects]]
name = "desk"
shape = "box"
centre = [1.5, 2.0, 0.735]
size = [0.9, 2.0, 0.03]
material = "hard"
"""


def test_a_desk_has_a_dip_and_the_floor_under_it_keeps_its_own():
    text = (
        ROOM.format(front="hard") + SPEAKER.format("left", 0.8, 1.6, 1.2) + SEAT.format(2.2, 2.0, 1.2) + DESK
    )
    boundaries = boundaries_of(load_scene("room.toml", text))
    found = boundary_response(boundaries, speaker=0, seat=0)
    # The image under the top at 0.75 m is 0.9 m below the speaker.
    direct_m = math.hypot(1.4, 0.4)
    detour_m = math.hypot(direct_m, 0.9) - direct_m
    speed = boundaries.room.speed_of_sound_m_s
    assert dip(found, "desk top").hz == pytest.approx(speed / (2.0 * detour_m), rel=1e-12)  # rounding
    assert dip(found, "floor").is_shadowed
    assert not dip(found, "desk top").is_shadowed


def test_the_sweep_finds_the_distance_that_its_own_places_say():
    text = (
        ROOM.format(front="hard")
        + SPEAKER.format("left", 0.8, 1.3, 1.2)
        + SPEAKER.format("right", 0.8, 2.7, 1.2)
    )
    scene = load_scene("room.toml", text + SEAT.format(2.4, 2.0, 1.2))
    boundaries = boundaries_of(scene)
    sweep = sweep_to_wall(scene, boundaries, bounds_m=(0.3, 0.9))
    assert sweep.wall == "front wall"
    distances = [place.distance_m for place in sweep.places]
    assert distances[0] == pytest.approx(0.3)
    assert distances[-1] == pytest.approx(0.9)
    assert np.diff(distances).max() <= STEP_M + 1e-9  # rounding
    assert sweep.best[0].evenness_db == min(place.evenness_db for place in sweep.places)
    apart = [abs(a.distance_m - b.distance_m) for i, a in enumerate(sweep.best) for b in sweep.best[:i]]
    assert min(apart) >= APART_M - 1e-9  # rounding
    # The same place from the scene itself: both speakers there, evenness of each from its own response.
    best = sweep.best[0].distance_m
    moved = text.replace("[0.8, 1.3", f"[{best!r}, 1.3").replace("[0.8, 2.7", f"[{best!r}, 2.7")
    scene = load_scene("room.toml", moved + SEAT.format(2.4, 2.0, 1.2))
    again = boundaries_of(scene)
    both = [boundary_response(again, speaker=k, seat=0).evenness_db for k in (0, 1)]
    assert sweep.best[0].evenness_db == pytest.approx(np.mean(both), abs=1e-9)  # rounding
    # All that are told are better than where they stand; from the best there is none.
    assert all(place.evenness_db < sweep.now.evenness_db for place in sweep.best)
    assert sweep_to_wall(scene, again, bounds_m=(0.3, 0.9)).best == ()


def test_no_distance_puts_the_speakers_beside_the_head():
    text = (
        ROOM.format(front="hard")
        + SPEAKER.format("left", 0.8, 1.3, 1.2)
        + SPEAKER.format("right", 0.8, 2.7, 1.2)
    )
    scene = load_scene("room.toml", text + SEAT.format(1.8, 2.0, 1.2))
    sweep = sweep_to_wall(scene, boundaries_of(scene), bounds_m=(0.3, 1.5))
    # 0.7 m aside of straight ahead: from 1.1 m on there are more than 90 degrees between them.
    assert max(place.distance_m for place in sweep.places) == pytest.approx(1.1, abs=STEP_M)


def test_speakers_in_the_wall_are_not_swept():
    text = (
        ROOM.format(front="hard")
        + SPEAKER.format("left", 0.0, 1.3, 1.2)
        + SPEAKER.format("right", 0.0, 2.7, 1.2)
    )
    scene = load_scene("room.toml", text + SEAT.format(2.4, 2.0, 1.2))
    assert sweep_to_wall(scene, boundaries_of(scene)) is None


def test_a_room_of_another_shape_is_met_by_its_own_faces():
    slope = BOX.replace('shape = "box"', 'shape = "lean-to"').replace(
        "height = 2.6", 'low = 1.4\nhigh = 2.8\nlow_side = "left"'
    )
    boundaries = boundaries_of(load_scene("room.toml", slope))
    found = boundary_response(boundaries, speaker=0, seat=0)
    ceiling = next(s for s in boundaries.room.surfaces if s.frame.n[2] < -0.5)
    # The plane z = 1.4 + 0.35 y: a point's distance from it is (1.4 + 0.35 y - z) cos(atan 0.35).
    away_m = (1.4 + 0.35 * 1.3 - 1.2) / math.hypot(1.0, 0.35)
    one = dip(found, ceiling.name)
    assert one.distance_m == pytest.approx(away_m, abs=1e-9)  # rounding
    ears = np.array([3.2, 2.0, 1.2])
    image = np.array([1.0, 1.3, 1.2]) + 2.0 * away_m * np.array([0.0, -0.35, 1.0]) / math.hypot(1.0, 0.35)
    detour_m = np.linalg.norm(ears - image) - math.hypot(2.2, 0.7)
    assert one.detour_m == pytest.approx(detour_m, abs=1e-9)  # rounding
