from itertools import pairwise, product

import numpy as np
import pytest

from raytrace.reflections import BeamTree, FreeEdges
from tests.support.cuboids import (
    box_room,
    free_points,
    prism,
    room_of,
    room_with_boxes,
    tree_paths,
    turned_box,
)
from tests.support.oracles import brute_force_paths, folded, is_cut, lattice_lengths, winds_round

BOX = (5.0, 4.0, 2.6)
# An L in plan, its long facets concave.
ELBOW = prism([(0, 0), (5, 0), (5, 5.2), (3.4, 5.2), (3.4, 4.0), (0, 4.0)], 0, 2.6)
# Two parallel boards 3 mm apart from the walls: many narrow beams.
BOARDS = (
    box_room(BOX)
    + turned_box((0.103, 2.0, 1.3), (0.2, 2.0, 1.0))
    + turned_box((2.5, 0.103, 1.2), (1.0, 0.2, 0.8))
)
ROOMS = {
    "elbow": room_of(ELBOW),
    "desk": room_of(box_room(BOX) + turned_box((1.9, 1.9, 0.715), (0.7, 1.5, 0.03), yaw=0.14)),
    "boards": room_of(BOARDS),
    "three boxes": room_with_boxes(3, seed=4, size=BOX),
}


def as_set(paths):
    return {tuple(row[row >= 0]) for row in paths.facets}


def in_the_air(room, rng):
    while True:
        point = rng.uniform(0.05, 0.95, 3) * BOX
        heights = room.facet_arrays.normals[6:] @ point - room.facet_arrays.offsets[6:]
        if room is ROOMS["elbow"] or all(box.max() > 0.01 for box in heights.reshape(-1, 6)):
            return point


@pytest.mark.parametrize("up_to_order", range(6))
def test_a_box_gives_exactly_the_image_lattice(up_to_order):
    source, listener = np.array([1.0, 1.3, 1.2]), np.array([3.2, 2.0, 1.1])
    paths = tree_paths(room_of(box_room(BOX)), source, listener, up_to_order, 100.0)
    lengths, orders = lattice_lengths(BOX, source, listener, up_to_order=up_to_order)
    assert np.allclose(paths.length_m, np.sort(lengths[orders > 0]), rtol=0, atol=1e-12)  # rounding
    assert np.array_equal(np.bincount(paths.order, minlength=1)[1:], np.bincount(orders)[1:])


@pytest.mark.parametrize("name", ROOMS)
def test_beams_find_what_a_search_of_every_sequence_finds(name):
    room, rng = ROOMS[name], np.random.default_rng(11)
    up_to_order = 3 if len(room.facets) < 15 else 2
    for _ in range(3):
        source, listener = in_the_air(room, rng), in_the_air(room, rng)
        within_m = np.linalg.norm(source - listener) + 0.03 * 343.2
        expected = brute_force_paths(room, source, listener, up_to_order=up_to_order, within_m=within_m)
        paths = tree_paths(room, source, listener, up_to_order, within_m)
        assert as_set(paths) == set(expected)
        for facets, points in zip(paths.facets, paths.points, strict=True):
            sequence = tuple(facets[facets >= 0])
            # the oracle folds from the other end: rounding over a few metres
            assert np.allclose(points[: len(sequence) + 2], expected[sequence], rtol=0, atol=1e-12)
            assert np.isnan(points[len(sequence) + 2 :]).all()


def test_every_leg_of_a_path_obeys_the_law_of_reflection():
    room = room_with_boxes(9, seed=1)
    source, listener = free_points(room, 2, seed=2)
    paths = tree_paths(room, source, listener, 4, 12.0)
    assert set(paths.order) == {1, 2, 3, 4}
    for points, facets, order, length_m in zip(*paths[:4], strict=True):
        legs = np.diff(points[: order + 2], axis=0)
        lengths = np.linalg.norm(legs, axis=1)
        assert lengths.sum() == pytest.approx(length_m, abs=1e-12)  # rounding
        ways = legs / lengths[:, None]
        normals = room.facet_arrays.normals[facets[:order]]
        turned = ways[:-1] - 2 * np.sum(ways[:-1] * normals, axis=1)[:, None] * normals
        assert np.allclose(turned, ways[1:], rtol=0, atol=1e-12 / lengths.min())  # rounding over the leg


@pytest.mark.parametrize("name", ROOMS)
def test_swapping_the_ends_reverses_every_path(name):
    room, rng = ROOMS[name], np.random.default_rng(5)
    # On a grid of 0.1 m spots fall on edges and corners again and again.
    for grid in (None, 0.1):
        source, listener = in_the_air(room, rng), in_the_air(room, rng)
        if grid:
            source, listener = np.round(source / grid) * grid, np.round(listener / grid) * grid
        there = tree_paths(room, source, listener, 4, 14.0)
        back = tree_paths(room, listener, source, 4, 14.0)
        assert len(there.order) > 10
        assert as_set(there) == {sequence[::-1] for sequence in as_set(back)}


def test_a_spot_on_the_seam_of_two_facets_is_found_once():
    # The floor is two facets that meet at x = 2; image geometry puts the spot at x = (1 + 3) / 2.
    halves = [
        np.array([(0, 0, 0), (2, 0, 0), (2, 4, 0), (0, 4, 0)]),
        np.array([(2, 0, 0), (5, 0, 0), (5, 4, 0), (2, 4, 0)]),
    ]
    room = room_of(halves + box_room(BOX)[1:])
    ends = np.array([1.0, 1.3, 1.2]), np.array([3.0, 2.0, 1.2])
    there, back = tree_paths(room, *ends, 3, 14.0), tree_paths(room, *ends[::-1], 3, 14.0)
    spots = there.points[there.order == 1, 1]
    on_the_floor = np.flatnonzero(np.abs(spots[:, 2]) < 1e-12)  # rounding
    assert len(on_the_floor) == 1
    assert spots[on_the_floor[0], 0] == pytest.approx(2.0, abs=1e-12)  # rounding
    assert as_set(there) == {sequence[::-1] for sequence in as_set(back)}
    whole = tree_paths(room_of(box_room(BOX)), *ends, 3, 14.0)
    assert np.allclose(there.length_m, whole.length_m, rtol=0, atol=1e-12)  # rounding


def test_a_corner_hit_exactly_returns_each_order_once():
    # Source and listener on the room's diagonal: spots in the corner itself, all six sequences coincide.
    source, listener = np.full(3, 0.5), np.full(3, 1.0)
    paths = tree_paths(room_of(box_room((3.0, 3.0, 3.0))), source, listener, 3, 5.0)
    in_the_corner = [
        p for p, n in zip(paths.points, paths.order, strict=True) if n == 3 and np.allclose(p[1:4], 0)
    ]
    assert len(in_the_corner) == 1


def test_an_edge_touched_in_passing_does_not_block():
    # Floor and ceiling paths over the line x = y touch the upright edge of a column at (2, 2).
    room = room_of(box_room(BOX) + turned_box((2.25, 1.75, 1.3), (0.5, 0.5, 2.6)))
    source, listener = np.array([1.0, 1.0, 1.0]), np.array([3.0, 3.0, 1.5])
    hair = np.array([0.0, 1e-6, 0.0])
    for shift, at_point in ((0 * hair, {0, 1}), (hair, {0, 1}), (-hair, set())):
        paths = tree_paths(room, source + shift, listener + shift, 1, 14.0)
        assert {facets[0] for facets in paths.facets} & {0, 1} == at_point


def test_a_leg_through_two_edges_of_a_column_is_blocked():
    # From corner to corner of a square column, along its diagonal: no facet is met in its interior.
    room = room_of(box_room(BOX) + turned_box((2.5, 2.0, 1.3), (0.5, 0.5, 2.6)))
    source, listener = np.array([1.5, 1.0, 1.0]), np.array([3.4, 2.9, 1.6])
    paths = tree_paths(room, source, listener, 1, 14.0)
    assert not any(facets[0] in (0, 1) for facets in paths.facets)  # floor and ceiling spots lie behind it
    step = np.array([0.6, 0.0, 0.0])
    aside = tree_paths(room, source + step, listener + step, 1, 14.0)
    assert {0, 1} <= {facets[0] for facets in aside.facets}


def test_a_source_that_a_tree_was_not_grown_for_gets_what_a_fresh_search_finds():
    room = room_with_boxes(9, seed=1)
    points = free_points(room, 12, seed=8)
    listener, start = points[0], points[1]
    tree = BeamTree(room.facet_arrays, room.tolerance_m)
    tree.grow(listener, up_to_order=3, within_m=9.0, source=start)
    for source in points[2:]:
        within_m = np.linalg.norm(source - listener) + 6.0
        fresh, paths = tree_paths(room, source, listener, 3, within_m), tree.paths(source, within_m)
        assert np.array_equal(paths.facets, fresh.facets)
        assert np.array_equal(paths.points, fresh.points, equal_nan=True)


def test_a_tree_larger_than_its_first_store_loses_nothing():
    source, listener = np.array([1.0, 1.3, 1.2]), np.array([3.2, 2.0, 1.1])
    room = room_of(box_room(BOX))
    tree = BeamTree(room.facet_arrays, room.tolerance_m)
    tree.grow(listener, up_to_order=16, within_m=60.0, source=source)
    assert tree.n_beams > 4096  # else the test proves nothing
    lengths, orders = lattice_lengths(BOX, source, listener, up_to_order=16)
    paths = tree.paths(source, 60.0)
    assert np.allclose(paths.length_m, np.sort(lengths[(orders > 0) & (lengths <= 60.0)]), rtol=0, atol=1e-11)


def test_a_tree_for_many_sources_gives_each_what_it_finds_alone():
    room = room_with_boxes(9, seed=1)
    listener, *sources = free_points(room, 4, seed=8)
    direct_m = np.linalg.norm(np.array(sources) - listener, axis=1)
    # Four bounces over a shorter way than one to three, as among the early reflections.
    reach_m = direct_m[:, None] + np.array([9.0, 9.0, 9.0, 7.0])
    tree = BeamTree(room.facet_arrays, room.tolerance_m)
    tree.grow(listener, up_to_order=4, within_m=reach_m, source=sources)
    n_beams, n_deep = tree.n_beams, 0
    for source, direct in zip(sources, direct_m, strict=True):
        for order, beyond_m in ((3, 9.0), (4, 7.0), (1, 2.0)):
            alone = tree_paths(room, source, listener, order, direct + beyond_m)
            paths = tree.paths(source, direct + beyond_m, order)
            assert np.array_equal(paths.facets, alone.facets)
            assert np.array_equal(paths.points, alone.points, equal_nan=True)
            n_deep += np.count_nonzero(paths.order == 4)
    assert n_deep > 0  # else the shorter way proves nothing
    assert tree.n_beams == n_beams  # asked, not grown anew


def test_a_spot_in_a_hole_is_no_reflection():
    hole = np.array([(1.5, 1.2, 0), (1.5, 2.2, 0), (2.5, 2.2, 0), (2.5, 1.2, 0)], float)
    whole, pierced = room_of(box_room(BOX)), room_of(box_room(BOX), holes={0: [hole]})
    inside = np.array([1.0, 1.3, 1.2]), np.array([3.0, 2.0, 1.2])  # floor spot (2.0, 1.65)
    beside = np.array([1.0, 0.3, 1.2]), np.array([3.0, 0.6, 1.2])  # floor spot (2.0, 0.45)
    assert as_set(tree_paths(whole, *inside, 1, 14.0)) - as_set(tree_paths(pierced, *inside, 1, 14.0)) == {
        (0,)
    }
    assert as_set(tree_paths(whole, *beside, 1, 14.0)) == as_set(tree_paths(pierced, *beside, 1, 14.0))


def test_many_facets_are_searched_in_groups_and_none_is_lost():
    # 132 facets in five groups; the oracle knows neither groups nor sequence.
    room = room_with_boxes(21, seed=12, size=BOX, sides=(0.1, 0.4))
    source, listener = free_points(room, 2, seed=1, size=BOX)
    within_m = np.linalg.norm(source - listener) + 0.03 * 343.2
    expected = brute_force_paths(room, source, listener, up_to_order=2, within_m=within_m)
    assert as_set(tree_paths(room, source, listener, 2, within_m)) == set(expected)
    deep = tree_paths(room, source, listener, 3, within_m)
    assert np.count_nonzero(deep.order == 3) > 5  # shallow groups would leave none
    back = tree_paths(room, listener, source, 3, within_m)
    assert as_set(deep) == {sequence[::-1] for sequence in as_set(back)}


def free_edges_of_objects(room, wavelength_m, *, bends):
    """All edges of the boxes, none of the room's six facets; `bends`: legs pass them too."""
    arrays = room.facet_arrays
    first = arrays.loop_start[arrays.facet_loops[6]]
    is_body = bends & (np.arange(len(room.facets)) >= 6)
    return FreeEdges(np.arange(len(arrays.points)) >= first, is_body, wavelength_m)


def misses(room, source, listener, up_to_order, *, bends=False, wavelength_m=0.3432, within_m=12.0):
    free_edges = free_edges_of_objects(room, wavelength_m, bends=bends)
    tree = BeamTree(room.facet_arrays, room.tolerance_m, free_edges=free_edges)
    tree.grow(listener, up_to_order=up_to_order, within_m=within_m, source=source)
    return tree.near_misses(source, within_m)


def test_a_spot_is_a_near_miss_up_to_the_fresnel_radius():
    # A desk top 1 m below both ends, 2 m apart: unfolded 2 sqrt(2) m, so r1 = sqrt(wavelength / sqrt(2)).
    desk = turned_box((2.5, 2.0, 0.7), (1.0, 1.0, 0.02))  # its left edge at y = 1.5
    room, radius = room_of(box_room(BOX) + desk), np.sqrt(0.3432 / np.sqrt(2.0))
    for beyond, expected in ((-0.01, 0), (0.01, 1), (radius - 1e-6, 1), (radius + 1e-6, 0)):
        source, listener = np.array([1.5, 1.5 - beyond, 1.71]), np.array([3.5, 1.5 - beyond, 1.71])
        paths = misses(room, source, listener, 1)
        tops = [row for row in range(len(paths.order)) if paths.facets[row, 0] == 7]
        assert len(tops) == expected
        for row in tops:
            assert paths.missed[row].tolist() == [True]
            assert paths.length_m[row] == pytest.approx(2 * np.sqrt(2.0), abs=1e-12)  # rounding


def test_corners_of_the_room_are_never_nearly_missed():
    room = room_of(box_room(BOX))
    assert len(misses(room, (1.0, 1.3, 1.2), (3.2, 2.0, 1.1), 4).order) == 0


@pytest.mark.parametrize("bends", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_near_misses_equal_a_search_of_every_sequence(seed, bends):
    room = room_with_boxes(4, seed=seed, size=BOX, sides=(0.4, 1.0))
    source, listener = free_points(room, 2, seed=seed + 20, size=BOX)
    expected = set()
    for order in (1, 2):
        for sequence in product(range(len(room.facets)), repeat=order):
            is_twice = any(a == b for a, b in pairwise(sequence))
            if not is_twice and _nearly(room, sequence, source, listener, bends=bends):
                expected.add(sequence)
    there = misses(room, source, listener, 2, bends=bends)
    back = misses(room, listener, source, 2, bends=bends)
    assert as_set(there) == expected
    assert len(expected) >= 3  # else the test proves little
    assert {sequence[::-1] for sequence in as_set(back)} == expected


def _nearly(room, sequence, source, listener, *, bends):
    """Whether a sequence is a near miss: every spot on its facet or near a free edge, not all on.

    With `bends` legs that boxes cut near their edges make one too.
    """
    planes, images = [(facet.normal, facet.offset) for facet in room.facets], [source]
    for facet in sequence:
        normal, offset = planes[facet]
        images.append(images[-1] - 2 * (normal @ images[-1] - offset) * normal)
    points = folded(images, sequence, planes, listener)
    normal, offset = planes[sequence[0]]
    if points is None or normal @ source <= offset:
        return False
    legs = np.linalg.norm(np.diff(points, axis=0), axis=1)
    n_missed = 0
    for k, facet in enumerate(sequence):
        if winds_round(room.facets[facet], points[k + 1]):
            continue
        before, after = legs[: k + 1].sum(), legs[k + 1 :].sum()
        if facet < 6 or _to_outline(room.facets[facet], points[k + 1]) ** 2 >= (
            0.3432 * before * after / (before + after)
        ):
            return False
        n_missed += 1
    if legs.sum() > 12.0:
        return False
    cut = [k for k in range(len(legs)) if is_cut(room.triangles, points[k], points[k + 1])]
    if not bends or not cut:
        return n_missed > 0 and not cut
    return all(_cut_near_an_edge(room, points, k, legs) for k in cut)


def _cut_near_an_edge(room, points, leg, legs):
    """Whether what a leg runs into is boxes alone, one of them not far from an edge."""
    start, end = points[leg], points[leg + 1]
    along, is_near = (end - start) / legs[leg], False
    for number, facet in enumerate(room.facets):
        before, after = facet.normal @ start - facet.offset, facet.normal @ end - facet.offset
        if before * after >= 0.0 or min(abs(before), abs(after)) < 1e-9:  # an end lies on it
            continue
        share = before / (before - after)
        if not winds_round(facet, start + share * (end - start)):
            continue
        if number < 6:
            return False
        at = legs[:leg].sum() + share * legs[leg]
        radius_m = np.sqrt(0.3432 * at * (legs.sum() - at) / legs.sum())
        # Seen along the leg it is a point, and how far it is from an outline the nearest an edge comes.
        flat = facet.outline - start - np.outer((facet.outline - start) @ along, along)
        sides = np.roll(flat, -1, axis=0) - flat
        share = np.clip(-np.sum(flat * sides, axis=1) / np.sum(sides**2, axis=1), 0.0, 1.0)
        is_near |= np.linalg.norm(flat + share[:, None] * sides, axis=1).min() < radius_m
    return is_near


def _to_outline(facet, spot):
    start, end = facet.outline, np.roll(facet.outline, -1, axis=0)
    along = np.sum((spot - start) * (end - start), axis=1) / np.sum((end - start) ** 2, axis=1)
    nearest = start + np.clip(along, 0, 1)[:, None] * (end - start)
    return np.linalg.norm(spot - nearest, axis=1).min()
