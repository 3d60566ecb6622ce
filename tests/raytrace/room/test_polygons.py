import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from raytrace.room.polygons import (
    area_vector,
    clip_convex,
    is_convex,
    join,
    leaves_polygon,
    locate,
    signed_area,
    triangulate,
    with_touching_corners,
)

L_SHAPE = np.array([(0, 0), (6, 0), (6, 5), (3, 5), (3, 3), (0, 3)], float)


def flat(points, z=0.0):
    return np.column_stack([points, np.full(len(points), z)])


def star(radii):
    """A polygon that winds once round the origin, its corners as far out as told."""
    angles = np.linspace(0, 2 * np.pi, len(radii), endpoint=False)
    return np.array(radii)[:, None] * np.column_stack([np.cos(angles), np.sin(angles)])


radii = st.lists(st.floats(0.2, 3.0), min_size=4, max_size=12)


def test_area_of_an_axis_parallel_face_has_exact_zeros():
    x_wall = np.array([(4.2, 0, 0), (4.2, 0, 2.4), (4.2, 3.1, 2.4), (4.2, 3.1, 0)])
    vector = area_vector(x_wall)
    assert vector[1] == vector[2] == 0.0
    assert vector[0] == pytest.approx(-3.1 * 2.4, rel=1e-15)  # rounding of one product


@given(radii)
def test_triangles_tile_a_polygon_of_any_form(radii):
    outline = flat(star(radii), 1.3)
    triangles = triangulate(outline)
    areas = 0.5 * np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    assert len(triangles) == len(outline) - 2
    assert (areas[:, 2] >= -1e-12).all()  # a fan of nearly straight corners rounds to nothing
    assert areas[:, 2].sum() == pytest.approx(signed_area(outline[:, :2]), rel=1e-9)  # sums of 12 terms


def test_triangles_leave_a_hole_open():
    hole = np.array([(1, 1), (1, 2), (2, 2), (2, 1)], float)
    triangles = triangulate(flat(L_SHAPE), [flat(hole)])
    areas = 0.5 * np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])[:, 2]
    assert areas.sum() == pytest.approx(24.0 - 1.0, rel=1e-12)  # closed form; rounding of sums
    assert not (locate(triangles.mean(axis=1)[:, :2], [hole], 0.0) > 0).any()


def test_a_star_is_refused_though_it_turns_left_everywhere():
    turns = np.radians(144.0 * np.arange(5))
    star = np.column_stack([np.cos(turns), np.sin(turns), np.zeros(5)])
    assert not is_convex(star[:, :2])
    with pytest.raises(ValueError, match="crosses itself"):
        triangulate(star)


def test_an_outline_that_crosses_itself_is_refused():
    bow = flat(np.array([(0, 0), (2, 2), (2, 0), (0, 3)], float))
    with pytest.raises(ValueError, match="crosses itself"):
        triangulate(bow)


@given(radii, st.floats(-3, 3), st.floats(-3, 3))
def test_locating_agrees_with_the_winding_angle(radii, x, y):
    outline = star(radii)
    point = np.array([x, y])
    rays = outline - point
    following = np.roll(rays, -1, axis=0)
    cross = rays[:, 0] * following[:, 1] - rays[:, 1] * following[:, 0]
    turned = np.arctan2(cross, (rays * following).sum(axis=1)).sum() / (2 * math.pi)
    place = locate(point[None], [outline], 1e-9)[0]
    if place != 0:
        assert (place > 0) == (turned > 0.5)


@given(radii, st.floats(0, 2 * math.pi), st.floats(-1, 1))
def test_two_halves_of_a_clipped_polygon_make_the_whole(radii, angle, offset):
    outline = star([1.0] * len(radii))  # convex
    normal = np.array([math.cos(angle), math.sin(angle)])
    names = [f"edge {k}" for k in range(len(outline))]
    halves = [clip_convex(outline, names, sign * normal, sign * offset, "cut") for sign in (1, -1)]
    areas = [signed_area(points) if len(points) else 0.0 for points, _ in halves]
    assert sum(areas) == pytest.approx(signed_area(outline), rel=1e-9)  # corners made by division
    for points, labels in halves:
        assert len(points) == len(labels)
        assert labels.count("cut") <= 1


def test_a_clipped_edge_keeps_its_name():
    square = np.array([(0, 0), (2, 0), (2, 2), (0, 2)], float)
    points, labels = clip_convex(square, ["floor", "right", "top", "left"], np.array([0.0, 1.0]), 1.5, "cut")
    assert points.tolist() == [[0, 0], [2, 0], [2, 1.5], [0, 1.5]]
    assert labels == ["floor", "right", "cut", "left"]


def test_joined_triangles_give_back_the_outline():
    points = L_SHAPE
    triangles = triangulate(flat(points))[:, :, :2]
    rows = [
        [int(np.abs(points - corner).sum(axis=1).argmin()) for corner in triangle] for triangle in triangles
    ]
    ((outline, holes),) = join(rows, points)
    assert not holes
    start = outline.index(0)
    assert outline[start:] + outline[:start] == [0, 1, 2, 3, 4, 5]


def test_joining_finds_the_hole_and_the_separate_piece():
    # A frame of four trapezoids about a hole, and a square that touches it at one corner only.
    points = np.array(
        [(0, 0), (3, 0), (3, 3), (0, 3), (1, 1), (2, 1), (2, 2), (1, 2), (4, 3), (4, 4), (3, 4)], float
    )
    loops = [[0, 1, 5, 4], [1, 2, 6, 5], [2, 3, 7, 6], [3, 0, 4, 7], [2, 8, 9, 10]]
    (frame, holes), (square, no_holes) = join(loops, points)
    assert sorted(frame) == [0, 1, 2, 3]
    assert [sorted(hole) for hole in holes] == [[4, 5, 6, 7]]
    assert signed_area(points[holes[0]]) == -1.0
    assert sorted(square) == [2, 8, 9, 10]
    assert not no_holes


def test_a_corner_on_an_edge_is_put_in():
    points = np.array([(0, 0), (4, 0), (4, 1), (2, 0), (1, 0.5)], float)
    assert with_touching_corners([0, 1, 2], points, 1e-6) == [0, 3, 1, 2]


@pytest.mark.parametrize(
    ("low", "high", "leaves"),
    [
        ((0, 0), (6, 3), False),  # flush with the outline
        ((2, 1), (5, 4.5), True),  # over the inner corner
        ((2, 3.2), (2.5, 4), True),
        ((3.2, 3.2), (5.9, 4.9), False),
        ((-0.0004, 0), (1, 1), False),  # less than the half millimetre that is let pass
        ((-0.001, 0), (1, 1), True),
    ],
)
def test_a_rectangle_that_leaves_an_l_is_found(low, high, leaves):
    corners = np.array([low, (high[0], low[1]), high, (low[0], high[1])])
    assert leaves_polygon(corners, [L_SHAPE], 0.0005) == leaves


def test_a_rectangle_over_a_hole_leaves_the_polygon():
    hole = np.array([(1, 1), (1, 2), (2, 2), (2, 1)], float)
    around = np.array([(0.5, 0.5), (2.5, 0.5), (2.5, 2.5), (0.5, 2.5)])
    assert leaves_polygon(around, [L_SHAPE, hole], 0.0005)
    assert not leaves_polygon(around + np.array([2.2, 0]), [L_SHAPE, hole], 0.0005)


def test_a_rectangle_across_a_notch_leaves_the_polygon_though_its_corners_do_not():
    u_shape = np.array([(0, 0), (6, 0), (6, 4), (4, 4), (4, 1), (2, 1), (2, 4), (0, 4)], float)
    across = np.array([(1, 2), (5, 2), (5, 3), (1, 3)], float)
    assert (locate(across, [u_shape], 0.0005) > 0).all()
    assert leaves_polygon(across, [u_shape], 0.0005)
