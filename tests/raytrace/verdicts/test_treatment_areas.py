import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from raytrace import run_study
from raytrace.verdicts.treatment_areas import clip_to_convex, convex_hull, overlap
from tests.support.scenes import BOX

SQUARE = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])


def area(polygon):
    x, y = polygon.T
    return 0.5 * (np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))


def patch_on(study, name):
    return next(p for p in study.treatment_areas if study.room.surfaces[p.surface].name == name)


def test_every_first_reflection_in_the_window_has_a_patch(scene_of):
    study = run_study(scene_of(BOX), up_to_order=1)
    assert {study.room.surfaces[p.surface].name for p in study.treatment_areas} == {
        "floor", "ceiling", "front wall", "back wall", "left wall", "right wall",
    }  # fmt: skip


def test_a_patch_is_the_hull_of_fresnel_ellipses_round_nine_spots(scene_of):
    # With a head zone of 1 mm the patch is one ellipse: radius sqrt(lambda a1 a2 / (a1 + a2)) across the
    # plane of incidence and that over cos(theta) along it.
    scene = scene_of(BOX + "zone = [0.001, 0.001, 0.001]\n")
    patch = patch_on(run_study(scene, up_to_order=1), "ceiling")
    length = 3.6290  # worked room: path by the ceiling, both legs equal, 39.51 degrees off the normal
    across = np.sqrt(0.3432 * (length / 2) ** 2 / length)
    assert len(patch.spots) == 9
    radii = np.linalg.norm(patch.outline - patch.spots[0], axis=1)
    assert radii.min() == pytest.approx(across, abs=0.005)  # 48 corners and 1 mm of head
    assert radii.max() == pytest.approx(across / np.cos(np.radians(39.51)), abs=0.005)


def test_a_patch_stays_on_its_surface_and_holds_its_spots(scene_of):
    study = run_study(scene_of(BOX))
    for patch in study.treatment_areas:
        frame = study.room.surfaces[patch.surface].frame
        assert patch.outline.min() >= -1e-9
        assert np.all(patch.outline <= np.array([frame.width, frame.height]) + 1e-9)
        assert np.all(patch.spots >= patch.rect[:2] - 1e-9)
        assert np.all(patch.spots <= patch.rect[2:] + 1e-9)


def test_later_reflections_get_patches_only_over_the_limit(scene_of):
    study = run_study(scene_of(BOX))
    for patch in study.treatment_areas:
        for row in patch.rows:
            assert study.arrivals.order[row] == 1 or study.arrivals.zone_worst_db[row] > -10.0


@given(st.lists(st.tuples(st.floats(-5, 5), st.floats(-5, 5)), min_size=3, max_size=30))
def test_the_hull_holds_every_point_and_turns_left(points):
    points = np.round(np.array(points), 3)
    hull = convex_hull(points)
    if len(hull) < 3:
        return
    assert area(hull) > 0
    for a, b in zip(hull, np.roll(hull, -1, axis=0), strict=True):
        side = (b - a)[0] * (points[:, 1] - a[1]) - (b - a)[1] * (points[:, 0] - a[0])
        assert side.min() >= -1e-9  # rounding


def test_clipping_keeps_the_common_area():
    assert area(clip_to_convex(SQUARE, SQUARE + 0.25)) == pytest.approx(0.75**2)
    assert area(clip_to_convex(SQUARE, 3 * SQUARE - 1)) == pytest.approx(1.0)
    assert len(clip_to_convex(SQUARE, SQUARE + 2)) == 0


@pytest.mark.parametrize("turned", [1, -1])
@pytest.mark.parametrize("shift", [0.0, 0.3, 0.8, 5.0])
def test_whichever_polygon_does_the_cutting_the_same_is_left(turned, shift):
    angles = np.linspace(0.0, 2.0 * np.pi, 40, endpoint=False)
    disc = shift + 0.5 * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    with_notch = np.array(
        [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.6, 1.0], [0.5, 0.2], [0.4, 1.0], [0.0, 1.0]]
    )
    for polygon in (SQUARE, with_notch):
        shared, cut = overlap(polygon[::turned], disc), clip_to_convex(polygon[::turned], disc)
        # The same up to the rounding of crossings.
        assert area(shared) == pytest.approx(area(cut), abs=1e-12)
        assert len(shared) > 2 or not len(cut)
        for end in (np.min, np.max):
            assert not len(cut) or end(shared, axis=0) == pytest.approx(end(cut, axis=0), abs=1e-12)


@given(st.lists(st.tuples(st.floats(-5, 5), st.floats(-5, 5)), min_size=3, max_size=60))
def test_points_left_out_beforehand_are_no_corners_of_the_hull(points):
    points = np.array(points)
    assume(np.ptp(points, axis=0).max() > 0.0)  # where all are one there is no hull, but digits of their mean
    full = {tuple(corner) for corner in convex_hull(points)}
    inner = {tuple(point) for point in points} - full
    middle = points.mean(axis=0)
    doubled = np.concatenate([points, *[middle + 0.3 * (np.array([p]) - middle) for p in inner]])
    # Where points lie on one another, rounding of their mean may put it outside by a digit.
    for corner in convex_hull(doubled):
        assert min(np.abs(np.array([c]) - corner).max() for c in full) <= 1e-14
