"""Cameras: the room fits, points land where geometry says, walls in between hide."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from viewer import look
from viewer.pictures.camera import fit_camera, hidden_points

CORNERS = np.array([[x, y, z] for x in (0, 4.2) for y in (0, 3.0) for z in (0, 2.4)])
ABOVE = {"towards_viewer": (0.0, 0.0, 1.0), "up": (-1.0, 0.0, 0.0), "view_angle_deg": None}


@given(
    azimuth=st.floats(-180, 180),
    elevation=st.floats(-70, 70),
    parallel=st.booleans(),
    width=st.integers(200, 900),
)
def test_the_room_fills_the_picture_and_stays_inside(azimuth, elevation, parallel, width):
    a, e = np.radians(azimuth), np.radians(elevation)
    towards = (np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e))
    camera = fit_camera(
        CORNERS,
        towards,
        up=(0, 0, 1),
        view_angle_deg=None if parallel else 24.0,
        size=(width, 400),
        margin=0.05,
    )
    pixels = camera.project(CORNERS)
    margin = 0.05 * np.array([width, 400])
    assert (pixels >= margin - 1e-6).all()  # rounding of a few hundred pixels
    assert (pixels <= np.array([width, 400]) - margin + 1e-6).all()
    spans = (pixels.max(axis=0) - pixels.min(axis=0)) / (np.array([width, 400]) - 2 * margin)
    assert spans.max() == pytest.approx(1.0, abs=1e-9)  # the tighter of the two directions is full


def test_the_plan_has_the_front_wall_on_top_and_the_left_wall_at_the_left():
    camera = fit_camera(CORNERS, size=(600, 600), **ABOVE)
    front_left, back_right = camera.project(np.array([[0, 0, 1.0], [4.2, 3.0, 1.0]]))
    assert front_left[1] < back_right[1]
    assert front_left[0] < back_right[0]


def test_the_section_has_the_front_wall_at_the_left_and_the_floor_below():
    view = next(view for view in look.VIEWS if view.name == "section")
    camera = fit_camera(CORNERS, view.towards_viewer[0], up=view.up, view_angle_deg=None, size=(600, 400))
    front_floor, back_ceiling = camera.project(np.array([[0, 1.0, 0], [4.2, 1.0, 2.4]]))
    assert front_floor[0] < back_ceiling[0]
    assert front_floor[1] > back_ceiling[1]


def test_a_parallel_picture_keeps_lengths():
    camera = fit_camera(CORNERS, size=(600, 500), **ABOVE)
    (x0, _), (x1, _) = camera.project(np.array([[1.0, 0.5, 0.3], [1.0, 2.5, 2.0]]))
    assert x1 - x0 == pytest.approx(2.0 * camera.pixels_per_metre(CORNERS[0]), rel=1e-12)


def test_a_perspective_shrinks_with_distance():
    camera = fit_camera(CORNERS, (1.0, 0.0, 0.3), up=(0, 0, 1), view_angle_deg=24.0, size=(600, 400))
    near, far = (camera.pixels_per_metre(np.array([x, 1.5, 1.2])) for x in (4.2, 0.0))
    depths = camera.depth(np.array([[0.0, 1.5, 1.2], [4.2, 1.5, 1.2]]))
    assert near / far == pytest.approx(depths[0] / depths[1], rel=1e-12)  # similar triangles
    assert near > far


def test_faces_turned_to_the_eye_are_seen():
    camera = fit_camera(CORNERS, size=(600, 500), **ABOVE)
    assert camera.sees(np.zeros((3, 3)), np.array([[0, 0, 1.0], [0, 0, -1.0], [1.0, 0, 0]])).tolist() == [
        True,
        False,
        False,
    ]


def test_a_wall_hides_what_stands_behind_it_and_nothing_else():
    wall = np.array([[[0, 0, 1.0], [2, 0, 1.0], [2, 2, 1.0]], [[0, 0, 1.0], [2, 2, 1.0], [0, 2, 1.0]]])
    camera = fit_camera(CORNERS, size=(600, 500), **ABOVE)
    points = np.array([[1.0, 0.5, 0.5], [1.0, 0.5, 1.5], [3.0, 0.5, 0.5], [1.0, 0.5, 0.97]])
    assert hidden_points(camera, points, wall, near_m=0.05).tolist() == [True, False, False, False]


def test_nothing_hides_where_nothing_is_solid():
    camera = fit_camera(CORNERS, size=(600, 500), **ABOVE)
    assert not hidden_points(camera, CORNERS, np.empty((0, 3, 3)), near_m=0.05).any()
