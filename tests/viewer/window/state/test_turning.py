"""The eye that turns about a room, by its numbers."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support.studies import shipped_study
from viewer.pictures import set_stage
from viewer.window.state.turning import (
    Eye,
    eye_of,
    face_on,
    named_view,
    nearer,
    shifted,
    turned,
    view_names,
    with_projection,
)

SIZE = (900, 600)


@pytest.fixture(scope="module")
def stage():
    return set_stage(shipped_study("box", up_to_order=1))


angles = st.floats(-179.0, 179.0), st.floats(-88.0, 88.0)


@given(*angles, st.floats(0.5, 9.0))
def test_an_eye_and_its_camera_are_the_same(azimuth, elevation, distance):
    eye = Eye((1.0, 2.0, 1.2), distance, azimuth, elevation, 0.2, False)
    back = eye_of(eye.camera(SIZE), eye.target)
    assert back.azimuth_deg == pytest.approx(azimuth, abs=1e-6)  # rounding of arctangents
    assert back.elevation_deg == pytest.approx(elevation, abs=1e-5)  # arcsine is steep near upright
    assert back.distance_m == pytest.approx(distance, rel=1e-9)
    assert back.target == pytest.approx(eye.target, abs=1e-9)


@given(*angles)
def test_the_axes_of_a_camera_are_square_and_up_stays_up(azimuth, elevation):
    camera = Eye((0.0, 0.0, 0.0), 3.0, azimuth, elevation, 0.2, False).camera(SIZE)
    axes = np.stack([camera.right, camera.up, camera.forward])
    assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-12)  # rounding
    assert camera.up[2] >= 0.0
    assert camera.right[2] == 0.0


def test_turning_keeps_the_target_in_the_middle_of_the_picture(stage):
    eye = turned(named_view(stage, "room", SIZE), 120, -40)
    x, y = eye.camera(SIZE).project(np.array(eye.target))
    assert (x, y) == pytest.approx((450, 300), abs=1e-6)  # rounding, in pixels


def test_pushing_moves_the_picture_by_the_same_pixels(stage):
    for view in ("room", "plan"):
        eye = named_view(stage, view, SIZE)
        before = eye.camera(SIZE).project(np.array(eye.target))
        after = shifted(eye, 30, -20, SIZE[1]).camera(SIZE).project(np.array(eye.target))
        assert after - before == pytest.approx([30, -20], abs=1e-6)


def test_nearer_makes_larger_in_both_projections(stage):
    for view in ("room", "plan"):
        eye = named_view(stage, view, SIZE)
        point = np.array(eye.target)
        large = nearer(eye, 2.0).camera(SIZE).pixels_per_metre(point)
        assert large == pytest.approx(2.0 * eye.camera(SIZE).pixels_per_metre(point), rel=1e-9)


def test_the_other_projection_shows_the_target_as_large(stage):
    eye = named_view(stage, "room", SIZE)
    point = np.array(eye.target)
    flat = with_projection(eye, True)
    deep = with_projection(flat, False)
    sizes = [e.camera(SIZE).pixels_per_metre(point) for e in (eye, flat, deep)]
    assert sizes == pytest.approx([sizes[0]] * 3, rel=1e-9)


def test_the_plan_has_the_front_at_the_top_and_the_left_at_the_left(stage):
    camera = named_view(stage, "plan", SIZE).camera(SIZE)
    front_left, back_right = camera.project(np.array([[0.0, 0.0, 0.0], [4.2, 3.0, 0.0]]))
    assert front_left[0] < back_right[0]
    assert front_left[1] < back_right[1]


@pytest.mark.parametrize("name", ["front wall", "left wall", "ceiling", "floor"])
def test_facing_a_surface_looks_along_its_normal_and_holds_all_of_it(stage, name):
    room = stage.study.room
    surface = room.surfaces[room.surface_index(name)]
    camera = face_on(room, room.surface_index(name), SIZE).camera(SIZE)
    assert camera.forward == pytest.approx(-surface.frame.n, abs=1e-9)
    flat = camera.project(room.facets[surface.facets[0]].outline)
    assert (flat >= 0).all()
    assert (flat <= SIZE).all()


def test_from_the_seat_one_looks_at_the_front_wall(stage):
    camera = named_view(stage, "seat", SIZE).camera(SIZE)
    assert camera.forward == pytest.approx([-1.0, 0.0, 0.0], abs=1e-12)
    assert np.linalg.norm(camera.position - stage.study.scene.seats[0].ears) < 0.5
    # Looking out of a place, dragging to the right turns the head to the left: the room follows the hand.
    left = turned(named_view(stage, "seat", SIZE), 60, 0).camera(SIZE)
    assert left.forward[1] < 0


def test_every_surface_of_the_room_has_a_view_of_its_own(stage):
    names = [name for name, _ in view_names(stage.study)]
    assert {"room", "plan", "section", "seat", "floor", "back wall"} <= set(names)
    assert len(names) == len(set(names))
