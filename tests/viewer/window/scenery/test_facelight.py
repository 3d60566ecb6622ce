"""Flat faces are lit as the graphics card would light every pixel of them."""

import numpy as np
import pytest

from viewer import look
from viewer.pictures import Camera, discs, polygons
from viewer.window.scenery.facelight import face_planes, lit

SQUARE = np.array([[0.0, 0.0, 0.0], [2.0, 0.0, 0.0], [2.0, 2.0, 0.0], [0.0, 2.0, 0.0]])
GREY = np.array([[0.5, 0.4, 0.3]])
# From above, x to the right.
ABOVE = Camera(np.array([1.0, 1.0, 4.0]), *np.eye(3)[:2], np.array([0.0, 0.0, -1.0]), 0.5, False, 80, 60)


def share_from_above(light):
    return light["ambient"] + light["diffuse"] * sum(
        strength * max(direction[2], 0.0) / np.linalg.norm(direction) for direction, strength in look.LIGHTS
    )


def test_middles_and_normals_of_faces():
    l_shape = np.array([[0, 0, 1], [2, 0, 1], [2, 1, 1], [1, 1, 1], [1, 2, 1], [0, 2, 1]], np.float64)
    middles, normals = face_planes(polygons([SQUARE, SQUARE[::-1] + 5.0, l_shape, np.zeros((3, 3))]))
    assert middles[:2].tolist() == [[1.0, 1.0, 0.0], [6.0, 6.0, 5.0]]
    # Rounding.
    assert normals == pytest.approx(np.array([[0, 0, 1], [0, 0, -1], [0, 0, 1], [0, 0, 0]], float), abs=1e-12)


def test_normals_of_discs_are_those_they_were_made_with():
    wanted = np.array([[0.6, 0.0, 0.8], [0.0, -1.0, 0.0]])
    found = face_planes(discs(np.ones((2, 3)) * 40.0, wanted, radii_m=np.full(2, 0.02)))[1]
    assert found == pytest.approx(wanted, abs=1e-9)  # 2 cm wide and 70 m away: 1e-16 * 70 / 0.02, with room


@pytest.mark.parametrize("light", [look.WALL_LIGHT, look.SOLID_LIGHT])
@pytest.mark.parametrize("turn", [1, -1])
def test_a_face_seen_head_on_gets_every_light_by_its_own_angle(light, turn):
    found = lit(GREY, face_planes(polygons([SQUARE[::turn]])), light, ABOVE)
    assert found == pytest.approx(GREY * min(share_from_above(light), 2.0), abs=1e-12)  # rounding


def test_light_follows_the_camera_and_white_stays_white():
    planes = face_planes(polygons([SQUARE]))
    along = np.array([1.0, 0.0, 1.0]) / np.sqrt(2.0)
    tilted = Camera(
        5.0 * along, np.array([0.0, 1.0, 0.0]), np.cross(along, [0.0, 1.0, 0.0]), -along, 1.0, True, 80, 60
    )
    assert not np.allclose(
        lit(GREY, planes, look.SOLID_LIGHT, ABOVE), lit(GREY, planes, look.SOLID_LIGHT, tilted)
    )
    assert lit(np.ones((1, 3)), planes, {"ambient": 1.0, "diffuse": 1.0}, ABOVE).max() == 1.0
