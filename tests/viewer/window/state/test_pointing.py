"""What lies under the pointer, by geometry."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from viewer.window.state.pointing import inside_outline, nearest_line, nearest_point, ray
from viewer.window.state.turning import Eye

SIZE = (800, 600)
EYES = (
    Eye((2.0, 1.5, 1.0), 6.0, 30.0, 25.0, 0.25, False),
    Eye((2.0, 1.5, 1.0), 6.0, -60.0, 40.0, 2.0, True),
)


@given(st.sampled_from(EYES), st.floats(0, 800), st.floats(0, 600), st.floats(0.5, 9.0))
def test_a_ray_through_a_pixel_meets_what_is_seen_there(eye, x, y, reach):
    camera = eye.camera(SIZE)
    start, direction = ray(camera, (x, y))
    assert camera.project(start + reach * direction) == pytest.approx([x, y], abs=1e-6)  # rounding, in pixels


@pytest.mark.parametrize("eye", EYES)
def test_a_line_is_found_beside_its_picture_and_not_farther_away(eye):
    camera = eye.camera(SIZE)
    lines = [np.array([[0.0, 0.0, 0.0], [4.0, 0.0, 0.0]]), np.array([[0.0, 3.0, 2.0], [4.0, 3.0, 2.0]])]
    a, b = camera.project(lines[1])
    along = (b - a) / np.linalg.norm(b - a)
    off = (a + b) / 2 + 5 * np.array([-along[1], along[0]])
    assert nearest_line(camera, lines, tuple(off), 6.0) == 1
    assert nearest_line(camera, lines, tuple(off), 4.0) is None


def test_what_is_behind_the_eye_is_not_under_the_pointer():
    eye = Eye((2.0, 1.5, 1.0), 0.0, 0.0, 0.0, 0.8, False)
    camera = eye.camera(SIZE)
    behind = np.array([[4.0, 1.5, 1.0]])
    assert nearest_point(camera, behind, (400.0, 300.0), 1e9) is None
    through = np.array([[4.0, 1.5, 1.0], [0.0, 1.5, 1.0]])  # starts behind, ends straight ahead
    assert nearest_line(camera, [through], (400.0, 300.0), 1.0) == 0


def test_a_pixel_inside_the_outline_of_a_body_is_on_it():
    camera = EYES[0].camera(SIZE)
    cube = np.array([[x, y, z] for x in (1.8, 2.2) for y in (1.3, 1.7) for z in (0.8, 1.2)])
    assert inside_outline(camera, cube, tuple(camera.project(np.array([2.0, 1.5, 1.0]))))
    assert not inside_outline(camera, cube, tuple(camera.project(np.array([3.0, 0.5, 1.0]))))
