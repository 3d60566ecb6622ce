"""Warnings on how speakers are turned and placed come from their thresholds on, and not before."""

import math

import pytest

from raytrace.aiming.oddities import aim_notes
from raytrace.aiming.pointing import find_pairs, find_pointings
from raytrace.room import build_room
from tests.raytrace.aiming.test_pointing import DESK, scene_of

LEFT, RIGHT = (1.0, 1.4, 1.2), (1.0, 2.6, 1.2)


def notes(left=LEFT, right=RIGHT, **options):
    """All sentences on a scene."""
    scene = scene_of(left, right, **options)
    room = build_room(scene)
    found = aim_notes(scene, find_pointings(scene, room), find_pairs(scene, room), None)
    return [str(note) for note in found]


def found(words, told):
    return [note for note in told if words in note]


def test_a_usual_pair_gets_no_warning():
    told = notes()
    assert not [n for n in told if n.startswith(("left", "right"))]
    assert found("modes", told)  # what the figures rest on stands there all the same


@pytest.mark.parametrize(("pitch", "is_told"), [(14.9, False), (15.1, True), (-14.9, False), (-15.1, True)])
def test_more_than_fifteen_degrees_off_axis_in_height_is_told(pitch, is_told):
    told = notes(aim=f"aim = {{ yaw = 0, pitch = {pitch} }}")
    own = found("its axis, more than 15", told)
    assert len(own) == (2 if is_told else 0)  # once for each speaker
    assert all(("below its axis" if pitch > 0 else "above its axis") in note for note in own)


@pytest.mark.parametrize(("tilt", "is_told"), [(14.9, False), (15.1, True)])
def test_a_wedge_of_more_than_fifteen_degrees_is_told_with_the_stand_instead(tilt, is_told):
    away_m = math.hypot(1.0, 0.6)
    low = 1.2 - away_m * math.tan(math.radians(tilt))
    own = found("needs a wedge", notes((1.0, 1.4, low), (1.0, 2.6, low)))
    assert len(own) == (2 if is_told else 0)
    assert all("a stand of 1050 mm" in note for note in own)  # ears at 1.2 m less half a cabinet of 0.3 m


@pytest.mark.parametrize(("below_m", "is_told"), [(0.249, False), (0.251, True)])
def test_an_axis_well_below_the_ears_is_told(below_m, is_told):
    pitch = -math.degrees(math.atan(below_m / math.hypot(1.0, 0.6)))
    assert bool(found("below the ears", notes(aim=f"aim = {{ yaw = 0, pitch = {pitch} }}"))) is is_told


@pytest.mark.parametrize(("longer_mm", "is_told"), [(19, False), (21, True)])
@pytest.mark.parametrize("farther", ["left", "right"])
def test_a_difference_of_two_tapes_in_distance_is_told(longer_mm, is_told, farther):
    away_m = math.hypot(1.0, 0.6) + 1e-3 * longer_mm
    x = 2.0 - math.sqrt(away_m**2 - 0.36)
    places = {"left": LEFT, "right": RIGHT} | {farther: (x, 1.4 if farther == "left" else 2.6, 1.2)}
    told = found("farther from the ears", notes(**places))
    assert bool(told) is is_told
    assert all(note.startswith(farther) and f"by {longer_mm} mm" not in note for note in told)
    assert all(f"is {longer_mm} mm" in note for note in told)


@pytest.mark.parametrize(("opening", "is_told"), [(49.5, True), (50.5, False), (69.5, False), (70.5, True)])
def test_a_triangle_far_from_equal_sides_is_told(opening, is_told):
    half_m = math.tan(math.radians(0.5 * opening))
    told = notes((1.0, 2.0 - half_m, 1.2), (1.0, 2.0 + half_m, 1.2))
    assert bool(found("equal-sided", told)) is is_told


def test_a_cabinet_that_would_reach_into_the_desk_is_told():
    told = notes((1.0, 1.4, 0.85), (1.0, 2.6, 0.85), more=DESK.format(z=0.735, pitch=0, yaw=0))
    # Half of 0.3 m below 0.85 m is 50 mm under the top at 0.75 m.
    assert len(found("would reach 50 mm into desk top", told)) == 2


def test_a_desk_that_slopes_sideways_is_told():
    told = notes((1.0, 1.7, 0.95), (1.0, 2.3, 0.95), more=DESK.format(z=0.735, pitch=6, yaw=90))
    assert found("sideways under it", told)


def test_without_a_pair_that_is_told():
    assert found("mix has no left and right speaker", notes(right=None))
