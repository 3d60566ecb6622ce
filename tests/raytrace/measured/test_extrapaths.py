"""Points with one extra path: what an ellipsoid must be, and its cuts held against a plain search."""

import numpy as np
import pytest

from raytrace import build_room, load_scene
from raytrace.measured.extrapaths import points_with_extra
from tests.support.scenes import BOX

DESK = """
[[objects]]
name = "desk"
shape = "box"
centre = [2.0, 1.6, 0.7]
size = [0.6, 1.4, 0.06]
yaw = 20
material = "plasterboard"
"""


@pytest.fixture(scope="module")
def studio(tmp_path_factory):
    path = tmp_path_factory.mktemp("box") / "box.toml"
    path.write_text(BOX + DESK, encoding="utf-8")
    scene = load_scene(path)
    return build_room(scene), np.array(scene.speakers[0].position), np.array(scene.seats[0].ears)


def detour_m(points, source, listener):
    ways = np.linalg.norm(points - source, axis=-1) + np.linalg.norm(points - listener, axis=-1)
    return ways - np.linalg.norm(source - listener)


@pytest.mark.parametrize("extra_m", [0.3, 1.2, 2.1])
def test_every_point_has_the_extra_path_on_its_face_in_sight_of_both(studio, extra_m):
    room, source, listener = studio
    found = points_with_extra(room, source, listener, extra_m=extra_m)
    assert found.curves
    for curve in found.curves:
        facet = room.facets[curve.facet]
        assert detour_m(curve.points, source, listener) == pytest.approx(extra_m, abs=1e-9)  # rounding
        assert curve.points @ facet.normal == pytest.approx(facet.offset, abs=1e-9)
        middles = curve.points[:-1] + 0.5 * np.diff(curve.points, axis=0)
        assert room.is_clear(np.broadcast_to(source, middles.shape), middles).all()


@pytest.mark.parametrize("extra_m", [0.5, 2.1])
def test_no_place_of_a_face_is_missing(studio, extra_m):
    room, source, listener = studio
    found = points_with_extra(room, source, listener, extra_m=extra_m)
    grid_m, checked = 0.02, set()
    for k, facet in enumerate(room.facets):
        own = [curve.points for curve in found.curves if curve.facet == k]
        frame = room.surfaces[facet.surface].frame
        flat = (facet.outline - facet.outline[0]) @ np.array([frame.u, frame.v]).T
        low, high = flat.min(axis=0), flat.max(axis=0)
        u, v = (np.arange(a + grid_m, b - grid_m, grid_m) for a, b in zip(low, high, strict=True))
        if not (len(u) and len(v)):
            continue
        places = np.stack(np.meshgrid(u, v, indexing="ij"), axis=-1)
        points = facet.outline[0] + places @ np.array([frame.u, frame.v])
        longer = detour_m(points, source, listener) > extra_m
        changes = (longer[1:, :-1] != longer[:-1, :-1]) | (longer[:-1, 1:] != longer[:-1, :-1])
        here = points[:-1, :-1][changes]
        if not len(here):
            continue
        seen = np.array(
            [
                room.is_clear(np.broadcast_to(end, here.shape), here + 1e-6 * facet.normal)
                for end in (source, listener)
            ]
        ).all(axis=0)
        # What stands in the way may begin between two points of the grid: those are left out.
        near = np.array([np.linalg.norm(here - p, axis=1) < 3 * grid_m for p in here])
        sure = np.array([seen[row].all() for row in near])
        if sure.any():
            checked.add(facet.surface)
            assert own, room.surfaces[facet.surface].name
            curve = np.concatenate(own)
            gaps = np.linalg.norm(here[sure][:, None] - curve, axis=2).min(axis=1)
            # Points of a curve lie 3 degrees apart, 0.1 m on the largest; a cell is 28 mm across.
            assert gaps.max() < 0.09
    assert checked == set(found.surfaces)


def test_the_shell_of_a_drawn_reflection_touches_its_face_at_the_mirror_spot(studio):
    room, source, listener = studio
    mirrored = source * (1, 1, -1)
    spot = listener + (mirrored - listener) * listener[2] / (listener[2] - mirrored[2])
    extra_m = np.linalg.norm(mirrored - listener) - np.linalg.norm(source - listener)
    ceiling = room.surface_index("ceiling")
    just = points_with_extra(room, source, listener, extra_m=float(extra_m) + 1e-4)
    assert ceiling not in just.surfaces  # 1.4 m above the ears, the floor 1.2 m below
    touch = [curve.points for curve in just.curves if curve.surface == room.surface_index("floor")]
    # 0.1 mm more of path reaches 20 mm about the spot: half axes sqrt(2 h^2 e / L) and longer along it.
    assert np.linalg.norm(np.concatenate(touch) - spot, axis=1).max() < 0.03
    less = points_with_extra(room, source, listener, extra_m=float(extra_m) - 1e-4)
    assert room.surface_index("floor") not in less.surfaces


def test_the_longest_cut_stands_first_and_no_shell_is_refused(studio):
    room, source, listener = studio
    found = points_with_extra(room, source, listener, extra_m=2.1)
    length_m = {
        surface: sum(
            np.linalg.norm(np.diff(curve.points, axis=0), axis=1).sum()
            for curve in found.curves
            if curve.surface == surface
        )
        for surface in found.surfaces
    }
    assert list(length_m.values()) == sorted(length_m.values(), reverse=True)
    with pytest.raises(ValueError, match="extra_m"):
        points_with_extra(room, source, listener, extra_m=0.0)


def test_a_detour_longer_than_over_any_corner_is_beyond_the_room(studio):
    room, source, listener = studio
    corners = np.array([[x, y, z] for x in (0.0, 5.0) for y in (0.0, 4.0) for z in (0.0, 2.6)])
    longest_m = detour_m(corners, source, listener).max()
    assert not points_with_extra(room, source, listener, extra_m=longest_m - 1e-3).is_beyond(room)
    beyond = points_with_extra(room, source, listener, extra_m=longest_m + 1e-3)
    assert beyond.is_beyond(room)
    assert not beyond.curves
