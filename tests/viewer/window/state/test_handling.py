"""Where things go when they are pulled, by geometry."""

import numpy as np
import pytest

from raytrace import Follower, load_scene
from tests.support.panelled import cloud, mesh_box, scene_text
from tests.support.scenes import SCENES
from viewer.window.state.handling import (
    Grip,
    bodies,
    moved_to,
    object_corners,
    place_at,
    place_of,
    place_words,
    point_of,
    thing_at,
    things_of,
)
from viewer.window.state.turning import Eye

SIZE = (900, 600)
OBLIQUE = Eye((2.0, 1.5, 1.0), 7.0, 35.0, 30.0, 0.25, False)
ABOVE = Eye((2.0, 1.5, 1.0), 7.0, 0.0, 90.0, 2.0, True)
SIDE = Eye((2.0, 1.5, 1.0), 7.0, -90.0, 0.0, 2.0, True)


@pytest.fixture(scope="module")
def study():
    return Follower().ears(load_scene(SCENES / "treated-box.toml"))


def grip_at(camera, place):
    return Grip(("speakers", 0), place, tuple(camera.project(place)))


@pytest.mark.parametrize("eye", [OBLIQUE, ABOVE])
def test_over_the_floor_a_thing_stays_under_the_pointer_and_at_its_height(eye):
    camera, start, end = eye.camera(SIZE), np.array([1.0, 1.0, 1.2]), np.array([1.6, 1.9, 1.2])
    there = moved_to(camera, grip_at(camera, start), tuple(camera.project(end)), upright=False)
    assert there == pytest.approx(end, abs=1e-6)  # rounding of the projection


def test_seen_from_the_side_a_thing_moves_in_the_plane_of_the_picture():
    camera, start, end = SIDE.camera(SIZE), np.array([1.0, 1.0, 1.2]), np.array([1.6, 1.0, 1.5])
    there = moved_to(camera, grip_at(camera, start), tuple(camera.project(end)), upright=False)
    assert there == pytest.approx(end, abs=1e-6)


@pytest.mark.parametrize("eye", [OBLIQUE, SIDE, ABOVE])
def test_up_and_down_moves_nothing_else(eye):
    camera, start = eye.camera(SIZE), np.array([1.0, 1.0, 1.2])
    grip = grip_at(camera, start)
    there = moved_to(camera, grip, (grip.pixel[0] + 40, grip.pixel[1] - 30), upright=True)
    assert there[:2] == pytest.approx(start[:2], abs=0)
    assert there[2] > start[2]


def test_along_a_wall_a_panel_stays_on_it():
    camera, start, end = OBLIQUE.camera(SIZE), np.array([1.0, 0.0, 1.2]), np.array([1.5, 0.0, 1.4])
    wall = np.array([0.0, 1.0, 0.0])
    there = moved_to(camera, grip_at(camera, start), tuple(camera.project(end)), upright=False, along=wall)
    assert there == pytest.approx(end, abs=1e-6)


def test_a_place_and_its_point_in_the_room_are_the_same(study):
    kinds = set()
    for thing in things_of(study):
        kinds.add(thing[0])
        assert place_at(study, thing, point_of(study, thing)) == pytest.approx(
            place_of(study, thing), abs=1e-9
        )
        assert len(place_words(study, thing)) == len(place_of(study, thing))
    assert {"speakers", "seats", "panels", "clouds"} <= kinds


def test_the_thing_under_the_pointer_is_what_is_drawn_solid(study):
    camera = ABOVE.camera(SIZE)
    seat = tuple(camera.project(np.array(study.scene.seats[0].ears)))
    # The cloud over the seat is nearer to an eye above, but drawn faintly like its ceiling.
    assert thing_at(study, camera, seat) == ("seats", 0)
    cloud = next(p for p in study.room.panels if p.kind == "cloud")
    corner = cloud.centre + 0.4 * (cloud.corners[0] - cloud.centre)
    assert thing_at(study, camera, tuple(camera.project(corner))) == ("clouds", 0)
    assert thing_at(study, camera, (2.0, 2.0)) is None


def test_what_touches_the_ceiling_is_built_in_and_furniture_is_not():
    movable = {}
    for name in ("beams", "ridge", "garage", "cupboard"):
        study = Follower().ears(load_scene(SCENES / f"{name}.toml"))
        found = [index for (kind, index), *_ in bodies(study) if kind == "objects"]
        movable[name] = {study.scene.objects[index].name for index in found}
    assert not {"beam 1", "beam 2", "beam 3"} & movable["beams"]
    assert "chimney breast" not in movable["ridge"]
    assert "desk" in movable["ridge"] & movable["garage"] & movable["cupboard"]


def test_a_speaker_over_the_desk_is_gripped_before_the_desk():
    study = Follower().ears(load_scene(SCENES / "garage.toml"))
    camera = ABOVE.camera(SIZE)
    for i, speaker in enumerate(study.scene.speakers):
        assert thing_at(study, camera, tuple(camera.project(np.array(speaker.position)))) == ("speakers", i)


def test_an_object_is_its_own_body_though_a_cloud_has_its_name(scene_of, tmp_path):
    name = "cloud 2 of 3"
    box = mesh_box(tmp_path, name, (2.2, 0.2, 0.0), (2.6, 0.4, 0.5))
    study = Follower().ears(scene_of(scene_text(box + cloud(name, drop=0.6))))
    assert study.room.free_groups[0].name == name
    corners = object_corners(study, name)
    assert corners.min(axis=0) == pytest.approx([2.2, 0.2, 0.0])
    assert corners.max(axis=0) == pytest.approx([2.6, 0.4, 0.5])


def test_lengths_of_what_has_sizes_are_said_to_be_those_of_its_middle(study):
    rented = Follower().ears(load_scene(SCENES / "rented.toml"))
    assert place_words(rented, ("objects", 0)) == ("middle from the front", "from the left", "up")
    assert place_words(rented, ("speakers", 0)) == ("from the front", "from the left", "up")
    assert place_words(study, ("panels", 0)) == ("middle along the left wall", "up it")
