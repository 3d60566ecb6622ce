"""Pixels against arithmetic: what is covered, what is nearest, where light and pattern lie."""

import numpy as np
import pytest

from raytrace.seeing import Bars, Canvas, Eye, Faces, Grid, Pattern

RED, BLUE = [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]


def eye(*, is_parallel=True, width=60, height=40):
    """An eye that looks along x from (0, 0, 0), y to its left, z up; a metre is half the picture's height."""
    axes = np.array([[0.0, -1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]])
    return Eye(np.zeros(3), axes, 1.0, is_parallel, width, height)


def faces(corners, colour=RED, *, grid=-1, opacity=1.0):
    corners = np.array(corners, float).reshape(-1, 3, 3)
    n = len(corners)
    return Faces(corners, np.tile(colour, (n, 3, 1)), np.full(n, grid), np.full(n, opacity))


def quad(x, colour=RED, *, half=0.6, **more):
    a, b, c, d = [x, -half, -half], [x, half, -half], [x, half, half], [x, -half, half]
    return faces([[a, b, c], [a, c, d]], colour, **more)


@pytest.mark.parametrize("is_parallel", [True, False])
def test_a_triangle_covers_the_pixels_whose_middles_lie_in_it(is_parallel):
    rng = np.random.default_rng(1)
    look = eye(is_parallel=is_parallel)
    for _ in range(20):
        corners = np.column_stack([rng.uniform(1, 3, 3), rng.uniform(-1.5, 1.5, (3, 2))])
        canvas = Canvas(look)
        canvas.faces(faces(corners))
        flat = look.on_screen(corners)[:, :2]
        x, y = np.meshgrid(np.arange(60) + 0.5, np.arange(40) + 0.5)
        sides = [
            (flat[k - 2, 0] - flat[k, 0]) * (y - flat[k, 1])
            - (flat[k - 2, 1] - flat[k, 1]) * (x - flat[k, 0])
            for k in range(3)
        ]
        inside = np.logical_or(np.min(sides, axis=0) > 0, np.max(sides, axis=0) < 0)
        assert np.array_equal(canvas.pixels[..., 3] == 255, inside)


def test_neighbours_share_an_edge_without_gap_or_overlap():
    canvas = Canvas(eye(is_parallel=False))
    canvas.faces(quad(1.0, half=0.77, opacity=0.5))
    alpha = canvas.pixels[..., 3]
    assert set(np.unique(alpha)) == {0, 128}  # half of 255: once where covered, never twice


@pytest.mark.parametrize("is_parallel", [True, False])
def test_the_nearest_face_is_seen_whichever_comes_first(is_parallel):
    near, far = quad(1.0, RED), quad(2.0, BLUE, half=1.4)
    pictures = []
    for order in ((near, far), (far, near)):
        canvas = Canvas(eye(is_parallel=is_parallel))
        for each in order:
            canvas.faces(each)
        pictures.append(canvas.pixels)
    assert np.array_equal(*pictures)
    assert pictures[0][20, 30].tolist() == [255, 0, 0, 255]


def test_glass_mixes_with_what_is_behind_and_is_hidden_by_what_is_before():
    canvas = Canvas(eye())
    canvas.faces(quad(2.0, BLUE))
    canvas.faces(quad(1.0, RED, opacity=0.5))
    canvas.faces(quad(3.0, RED, opacity=0.5))
    assert canvas.pixels[20, 30].tolist() == pytest.approx([128, 0, 128, 255], abs=1)  # rounded to bytes
    canvas.begin_over()
    canvas.faces(quad(3.0, RED))
    assert canvas.pixels[20, 30].tolist() == [255, 0, 0, 255]


@pytest.mark.parametrize("is_parallel", [True, False])
def test_light_lies_where_it_is_on_the_face(is_parallel):
    # Brightness that rises evenly along u, on a face that slants away from the eye.
    u = np.array([1.0, 1.0, 0.0]) / np.sqrt(2)
    axes = np.array([u, [0.0, 0.0, 1.0]])
    origin = np.array([2.0, 0.0, 0.0])
    grid = Grid(
        origin, axes, np.array([-2.0, -1.0]), np.array([4.0, 2.0]), np.array([[0.2, 1.0]] * 2), Pattern.PLAIN
    )
    corners = [origin + a * u + [0, 0, b] for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    look = eye(is_parallel=is_parallel)
    canvas = Canvas(look, [grid])
    canvas.faces(
        faces([[corners[0], corners[1], corners[2]], [corners[0], corners[2], corners[3]]], [0, 1, 0], grid=0)
    )
    for along in (-0.6, 0.0, 0.6):
        x, y, _ = look.on_screen(origin + along * u)
        # The eye looks at the middle of a pixel, up to half of one off: 0.6 of a byte's 204 steps over 40.
        assert canvas.pixels[int(y), int(x), 1] == pytest.approx(255 * (0.6 + 0.2 * along), abs=6)


def test_a_bar_is_as_wide_and_as_long_as_it_is():
    canvas = Canvas(eye(width=200, height=200))
    n = np.array([[[2.0, -0.5, 0.1], [2.0, 0.5, -0.2]]])
    canvas.bars(Bars(n, np.array([0.05]), np.array([RED]), np.ones(1), np.zeros(1, bool)))
    length, radius = np.hypot(1.0, 0.3) * 100, 5.0
    covered = canvas.pixels[..., 3].sum() / 255
    assert covered == pytest.approx(2 * radius * length + np.pi * radius**2, rel=0.01)  # smoothed edges


def test_bars_thinner_than_a_pixel_grow_faint_and_not_broken():
    canvas = Canvas(eye(width=200, height=200))
    n = np.array([[[2.0, -0.5, 0.0], [2.0, 0.5, 0.003]]])
    canvas.bars(Bars(n, np.array([0.002]), np.array([RED]), np.ones(1), np.zeros(1, bool)))
    columns = canvas.pixels[:, 55:145, 3].sum(axis=0) / 255
    assert columns == pytest.approx(0.4, abs=0.1)  # 2 x 0.2 px wide everywhere


def test_patterns_stay_close_to_the_colour_of_their_face():
    for pattern in Pattern:
        grid = Grid(
            np.array([2.0, 0, 0]),
            np.array([[0, 1.0, 0], [0, 0, 1.0]]),
            np.full(2, -3.0),
            np.full(2, 6.0),
            np.ones((2, 2)),
            pattern,
        )
        canvas = Canvas(eye(width=60, height=60), [grid])
        canvas.faces(quad(2.0, [0.8, 0.8, 0.8], half=0.9, grid=0))
        seen = canvas.pixels[canvas.pixels[..., 3] == 255, 0] / 255
        assert seen.mean() == pytest.approx(0.8, rel=0.05)  # a tint, not another colour
        assert (np.ptp(seen) > 0) == (pattern is not Pattern.PLAIN)
