import numpy as np
import pytest
from conftest import BOX
from hypothesis import given
from hypothesis import strategies as st

from raytrace import run_study
from raytrace.patches import clip_to_convex, convex_hull

SQUARE = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])


def area(polygon):
    x, y = polygon.T
    return 0.5 * (np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))


def patch_on(study, name):
    return next(p for p in study.patches if study.room.surfaces[p.surface].name == name)


def test_every_first_reflection_in_the_window_has_a_patch(scene_of):
    study = run_study(scene_of(BOX), up_to_order=1)
    assert {study.room.surfaces[p.surface].name for p in study.patches} == {
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
    for patch in study.patches:
        frame = study.room.surfaces[patch.surface].frame
        assert patch.outline.min() >= -1e-9
        assert np.all(patch.outline <= np.array([frame.width, frame.height]) + 1e-9)
        assert np.all(patch.spots >= patch.rect[:2] - 1e-9)
        assert np.all(patch.spots <= patch.rect[2:] + 1e-9)


def test_later_reflections_get_patches_only_over_the_limit(scene_of):
    study = run_study(scene_of(BOX))
    for patch in study.patches:
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
