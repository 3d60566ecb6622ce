"""Wave fronts are spheres round images of the source, cut to the room, and none of their area is lost."""

import numpy as np
import pytest

from raytrace.reflections import trace_fronts
from tests.support.studies import shipped_study

TIMES_S = (0.001, 0.004, 0.009)


@pytest.fixture(scope="module")
def box():
    return shipped_study("box").room


def areas(points, triangles):
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2


@pytest.mark.parametrize("time_s", TIMES_S)
def test_every_point_is_as_far_from_an_image_of_the_source_as_sound_goes(box, time_s):
    source = np.array([0.75, 0.9, 1.2])
    fronts = trace_fronts(box, source, until_s=0.012, fineness=3)
    points, triangles, order = fronts.at(time_s)
    reach_m = time_s * box.speed_of_sound_m_s
    size = np.array([4.2, 3.0, 2.4])
    counts = np.arange(-3, 4)
    axes = [
        np.sort(np.concatenate([2 * counts * s + x, 2 * counts * s - x]))
        for s, x in zip(size, source, strict=True)
    ]
    images = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    used = points[np.unique(triangles)]
    off = np.abs(np.linalg.norm(used[:, None] - images[None], axis=2) - reach_m).min(axis=1)
    assert off.max() < 1e-5  # each bounce moves a ray on by 1e-6 m
    assert (used > -1e-5).all()
    assert (used < size + 1e-5).all()
    assert set(order[order >= 0].tolist()) <= set(range(7))


def test_a_front_that_met_nothing_is_a_whole_sphere(box):
    fronts = trace_fronts(box, (2.1, 1.5, 1.2), until_s=0.005, fineness=4)
    radius_m = 0.003 * box.speed_of_sound_m_s
    points, triangles, order = fronts.at(0.003)
    assert (order == 0).all()
    # Flat triangles of a sphere quartered four times lack less than 0.5 % of its area.
    assert areas(points, triangles).sum() == pytest.approx(4 * np.pi * radius_m**2, rel=5e-3)


def test_mirrored_pieces_have_the_area_of_the_sphere_but_for_gaps_at_edges(box):
    fronts = trace_fronts(box, (2.1, 1.5, 1.2), until_s=0.008, fineness=5)
    radius_m = 0.0075 * box.speed_of_sound_m_s
    points, triangles, order = fronts.at(0.0075)
    assert (order > 0).any()
    share = areas(points, triangles).sum() / (4 * np.pi * radius_m**2)
    assert 0.85 < share < 1.0  # gaps are one triangle wide along the edges of the pieces


def test_before_the_sound_leaves_there_is_only_the_source(box):
    fronts = trace_fronts(box, (2.1, 1.5, 1.2), until_s=0.005, fineness=2)
    points, _, _ = fronts.at(-0.001)
    assert np.allclose(points, (2.1, 1.5, 1.2))
