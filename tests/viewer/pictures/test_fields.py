"""Fields on a plane as bands: every part of it in the band of its value."""

import numpy as np
import pytest
from vtkmodules.util.numpy_support import vtk_to_numpy

from viewer.pictures.faces import column, loops_of
from viewer.pictures.fields import bands, even_levels_db, hatching, lobes


def grid(missing=0):
    """Points of a grid of 2 m by 1 m with some left out at one end, and the distance along it."""
    x, y = np.meshgrid(np.arange(21) / 10, np.arange(11) / 10, indexing="ij")
    points = np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])[missing * 11 :]
    return points, points[:, 0]


def area(loop):
    legs = loop[1:] - loop[0]
    return np.linalg.norm(np.cross(legs[:-1], legs[1:]), axis=1).sum() / 2


def test_each_band_holds_what_lies_between_its_levels():
    points, values = grid()
    found = bands(points, values, np.array([0.0, 0.55, 1.25, 2.0]), height_m=0.3)
    areas = np.zeros(3)
    for loop, band in zip(loops_of(found.faces), column(found.faces, "band").astype(int), strict=True):
        areas[band] += area(loop)
        assert np.allclose(loop[:, 2], 0.3)
    assert areas == pytest.approx([0.55, 0.7, 0.75], abs=1e-5)  # VTK keeps places as float32
    lines = np.vstack(loops_of(found.lines))
    assert {round(float(x), 3) for x in lines[:, 0]} >= {0.55, 1.25}


def test_places_that_are_missing_leave_a_gap():
    points, values = grid()
    kept = (np.abs(points[:, :2] - [1.0, 0.5]) > 0.05).any(axis=1)
    found = bands(points[kept], values[kept], np.array([0.0, 3.0]), height_m=0.0)
    # Four squares of 0.1 m meet at the place that is left out.
    assert sum(area(loop) for loop in loops_of(found.faces)) == pytest.approx(2.0 - 0.04, abs=1e-5)


def test_no_places_make_no_faces():
    assert bands(np.empty((0, 3)), np.empty(0), np.array([0.0, 1.0]), height_m=0.0).faces.n_cells == 0


def test_levels_are_round_and_start_at_the_most_even_place():
    levels = even_levels_db(np.array([7.56, 9.0, 12.0, 13.9]))
    assert levels[0] == 7.5
    assert np.allclose(np.diff(levels), 1.0)


def test_strokes_lie_where_the_field_is_negative_and_each_lobe_has_a_sign():
    points, _ = grid()
    values = np.cos(np.pi * points[:, 0] / 2.0)
    strokes = hatching(points, values, step_m=0.1, height_m=0.5)
    assert vtk_to_numpy(strokes.GetPoints().GetData())[:, 0].min() > 0.99
    found = lobes(points, values, 0.3)
    assert [round(value, 6) for _, value in found] == [1.0, -1.0]
    assert [float(place[0]) for place, _ in found] == [0.0, 2.0]
