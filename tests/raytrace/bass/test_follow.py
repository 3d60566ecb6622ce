"""The bass that follows a hand, against the same found anew."""

import functools

import numpy as np
import pytest

from raytrace.bass import BassFollower, find_bass
from raytrace.room import build_room
from raytrace.scene import load_scene
from tests.support.scenes import SCENES


def with_places(scene, *, sub=None, seat=None):
    """The scene with subwoofer or first seat elsewhere."""
    speakers = tuple(
        s.model_copy(update={"position": sub}) if sub is not None and s.use == "sub" else s
        for s in scene.speakers
    )
    seats = scene.seats if seat is None else (scene.seats[0].model_copy(update={"ears": seat}),)
    return scene.model_copy(update={"speakers": speakers, "seats": seats})


@functools.cache
def garage():
    scene = load_scene(SCENES / "garage.toml")
    follower = BassFollower()
    return scene, follower, follower.rest(scene, build_room(scene))


def anew(scene):
    return BassFollower().rest(scene, build_room(scene)).now


def test_the_map_is_that_of_the_whole_report():
    scene, _, found = garage()
    bass = find_bass(scene, build_room(scene))
    assert found.now.evenness_db == pytest.approx(bass.now_db, rel=1e-9)  # the same solve of the same room
    assert np.allclose(found.now.level_db[0], bass.responses[0].level_db)
    assert np.allclose(found.floor_db, bass.floor_db)
    assert np.allclose(found.places_m, [place.position_m for place in bass.places])
    assert np.allclose(found.best.level_db[0], bass.places[0].level_db)
    assert found.modes_hz.tolist() == [mode.hz for mode in bass.modes]


def test_a_moved_sub_and_a_moved_seat_are_followed_as_if_found_anew():
    scene, follower, _ = garage()
    for change in ({"sub": (3.1, 0.6, 0.25)}, {"seat": (2.4, 1.2, 1.25)}):
        moved = with_places(scene, **change)
        quick, whole = follower.moved(moved), anew(moved)
        # Either end of the same Green's function: reciprocity to rounding of hundreds of terms.
        assert np.allclose(quick.level_db, whole.level_db, atol=1e-6)
        assert quick.evenness_db == pytest.approx(whole.evenness_db, abs=1e-6)
        assert abs(quick.evenness_db - garage()[2].now.evenness_db) > 0.01  # it has changed at all


def test_nothing_is_followed_where_the_room_is_another_or_both_ends_have_moved():
    scene, follower, _ = garage()
    both = with_places(scene, sub=(3.1, 0.6, 0.25), seat=(2.4, 1.2, 1.25))
    assert follower.moved(both) is None
    assert follower.moved(scene.without_panels().model_copy(update={"objects": ()})) is None
    assert BassFollower().moved(scene) is None


def test_shapes_on_the_plane_are_those_of_the_box():
    # The first mode of a box: cos(pi x / length), one everywhere across (Rayleigh).
    scene, _, found = garage()
    along = np.cos(np.pi * found.plane_m[:, 0] / scene.room.length)
    assert np.abs(np.abs(found.shapes[0]) - np.abs(along)).max() < 5e-3  # shapes in cells; 1 mm off the wall
    assert np.sign(found.shapes[0][0]) == -np.sign(found.shapes[0][-1])
