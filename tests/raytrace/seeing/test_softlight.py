"""Light of pictures against closed forms: open ground, the foot of a wall, a lamp, a lamp behind a screen."""

import numpy as np
import pytest

from raytrace.seeing import Glow, soft_light
from raytrace.seeing.softlight import AMBIENT, BRIGHTEST, CONTRAST, DARKEST, LEAST_M

FAR_M = 1000.0
UP = np.array([[0.0, 0.0, 1.0]])


def sheet(corner, one, other):
    """A flat rectangle as two triangles, (2, 3, 3)."""
    a, b, d = np.array(corner), np.array(one), np.array(other)
    return np.array([[a, a + b, a + b + d], [a, a + b + d, a + d]], float)


SKY = np.concatenate(
    [sheet([-FAR_M, -FAR_M, height], [2 * FAR_M, 0, 0], [0, 2 * FAR_M, 0]) for height in (-1.0, FAR_M)]
)


def light_of(brightness):
    """What the faces receive before it is drawn: the curve of the film turned back."""
    return -np.log(1.0 - (brightness - DARKEST) / (BRIGHTEST - DARKEST)) / CONTRAST


def test_in_the_open_all_of_the_sky_counts():
    assert light_of(soft_light(SKY, [[0, 0, 0]], UP, ())) == pytest.approx(AMBIENT, rel=1e-9)


def test_at_the_foot_of_a_wall_half_of_it_is_gone():
    wall = sheet([0.003, -FAR_M, 0], [0, 2 * FAR_M, 0], [0, 0, FAR_M])
    light = light_of(soft_light(np.concatenate([SKY, wall]), [[0, 0, 0]], UP, ()))
    # Rays along the wall meet it far off and count again: a few of the 96.
    assert light == pytest.approx(AMBIENT / 2, abs=AMBIENT * 0.05)


def test_light_falls_off_towards_a_wall_without_steps():
    wall = sheet([0.0, -FAR_M, 0], [0, 2 * FAR_M, 0], [0, 0, FAR_M])
    away = np.zeros((60, 3))
    away[:, 0] = -np.linspace(0.01, 3.0, 60)
    light = soft_light(np.concatenate([SKY, wall]), away, np.repeat(UP, 60, axis=0), ())
    assert (np.diff(light) > 0).all()
    assert (np.diff(light, 2) < 0).all()  # ever more gently: no step that a band would show


def test_a_lamp_shines_by_angle_and_distance_and_not_through_a_screen():
    lamp = Glow(np.array([[0.0, 0.0, 2.0]]), 1.5)
    places = np.array([[0.0, 0, 0], [2.0, 0, 0]])
    normals = np.repeat(UP, 2, axis=0)
    dark = light_of(soft_light(SKY, places, normals, ()))
    lit = light_of(soft_light(SKY, places, normals, (lamp,))) - dark
    # 2 mm above the face, where the rays start, is a thousandth of the way nearer.
    assert lit == pytest.approx([1.5 / (4 + LEAST_M**2), 1.5 * np.sqrt(0.5) / (8 + LEAST_M**2)], rel=0.005)
    screen = np.concatenate([SKY, sheet([-0.1, -0.1, 1.0], [0.2, 0, 0], [0, 0.2, 0])])
    without = soft_light(screen, places, normals, ())
    assert (soft_light(screen, places, normals, (lamp,)) > without).tolist() == [False, True]


def test_what_would_lead_the_kernels_astray_is_refused():
    flat = sheet([0, 0, 1], [1, 0, 0], [0, 1, 0])
    for triangles, place in ((flat, [0, 0, 0]), (SKY, [0, np.nan, 0])):
        with pytest.raises(ValueError, match="triangles must be"):
            soft_light(triangles, [place], UP, ())


def test_the_sequence_of_places_changes_nothing():
    rng = np.random.default_rng(3)
    places = rng.uniform(0, 1, (5000, 3)) * [1, 1, 0]
    wall = np.concatenate([SKY, sheet([0.5, 0, 0], [0, 1, 0], [0, 0, 1])])
    normals = np.repeat(UP, len(places), axis=0)
    light = soft_light(wall, places, normals, ())
    assert np.array_equal(soft_light(wall, places[::-1], normals, ())[::-1], light)
