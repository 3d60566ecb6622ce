import numpy as np
import pytest

from raytrace.kernels.packets import BLOCK, closest_in_packets, new_packet
from raytrace.kernels.settle import settle_legs
from raytrace.kernels.tree import closest_in_tree
from raytrace.room import rays
from raytrace.room.rays import clear_legs, first_hits, index_facets, pack_pieces, pack_tree
from tests.support.cuboids import box_room, free_points, prism, room_of, room_with_boxes
from tests.support.oracles_images import first_hits_of_all, legs_are_clear

SIZE = (6.0, 4.5, 2.8)
ROOMS = {
    "box": room_of(box_room(SIZE)),
    "elbow": room_of(prism([(0, 0), (6, 0), (6, 4.5), (3.4, 4.5), (3.4, 3.1), (0, 3.1)], 0, 2.8)),
    "boxes": room_with_boxes(9, seed=1),
    # A box room far from where its coordinates are measured, as from a survey.
    "far away": room_of([outline + np.array([1000.0, -2000.0, 100.0]) for outline in box_room(SIZE)]),
}
BOTH = pytest.mark.parametrize("kernel", ["packets", "tree"])
ALL = pytest.mark.parametrize("kernel", ["few", "packets", "tree"])


def index_of(room, kernel, monkeypatch):
    monkeypatch.setattr(rays, "FEW_TESTS", 10**9 if kernel == "few" else 0)
    monkeypatch.setattr(rays, "MOST_IN_PACKETS", 0 if kernel == "tree" else 10**9)
    index = index_facets(
        room.facet_arrays, room.triangles, room.facet_of_triangle, tolerance_m=room.tolerance_m
    )
    assert (index.pieces is None) == (kernel == "tree")
    return index


def places(room, name, n, rng):
    """Random points in the air."""
    if name == "boxes":
        some = free_points(room, 300, seed=3)
    else:
        low, high = room.facet_arrays.low.min(axis=0), room.facet_arrays.high.max(axis=0)
        some = rng.uniform(0.05, 0.95, (300, 3)) * (high - low) + low
        if name == "elbow":
            some = some[(some[:, 0] > 3.5) | (some[:, 1] < 3.0)]
    return some[rng.integers(0, len(some), n)]


def unit(vectors):
    return vectors / np.linalg.norm(vectors, axis=1)[:, None]


def exactly(room, origins, directions):
    """First hits by float64 among all facets."""
    distance, facet = np.empty(len(origins)), np.empty(len(origins), np.int64)
    first_hits_of_all(origins, directions, room.facet_arrays, room.tolerance_m, distance, facet)
    return distance, facet


def edge_points(room, n, rng):
    """Points on the edges of all facets, a quarter of them corners."""
    start = np.concatenate([facet.outline for facet in room.facets])
    end = np.concatenate([np.roll(facet.outline, -1, axis=0) for facet in room.facets])
    pick, share = rng.integers(0, len(start), n), rng.uniform(0, 1, (n, 1))
    share[: n // 4] = 0.0
    return start[pick] + share * (end[pick] - start[pick])


@ALL
@pytest.mark.parametrize("name", ROOMS)
def test_no_ray_aimed_at_an_edge_or_corner_is_lost(name, kernel, monkeypatch):
    room, rng, n = ROOMS[name], np.random.default_rng(5), 100_000
    targets, origins = edge_points(room, n, rng), places(room, name, n, rng)
    away = targets - origins
    distance, facet = first_hits(index_of(room, kernel, monkeypatch), origins, unit(away))
    assert (facet >= 0).all()
    # Nothing lies behind what was aimed at; a ray along a face meets its far edge at a slant.
    assert (distance <= np.linalg.norm(away, axis=1) + 1e-6).all()


@BOTH
@pytest.mark.parametrize("name", ROOMS)
def test_float32_alone_loses_no_ray_aimed_at_an_edge(name, kernel):
    room, rng, n = ROOMS[name], np.random.default_rng(6), 100_000
    origins = places(room, name, n, rng)
    directions = unit(edge_points(room, n, rng) - origins)
    part, margin, reach = np.empty(n, np.int64), np.empty(n), np.full(n, np.inf)
    slack = np.float32(rays.SLACK * np.linalg.norm(SIZE))
    if kernel == "packets":
        pieces = pack_pieces(room.facet_arrays, room.triangles, room.facet_of_triangle)
        closest_in_packets(origins, directions, reach, pieces, slack, new_packet(), part, margin)
    else:
        closest_in_tree(origins, directions, reach, pack_tree(room.triangles), slack, part, margin)
    assert (part >= 0).all()


@ALL
@pytest.mark.parametrize("name", ROOMS)
def test_first_hits_equal_float64_among_all_facets(name, kernel, monkeypatch):
    room, rng, n = ROOMS[name], np.random.default_rng(7), 20_000
    origins, directions = places(room, name, n, rng), unit(rng.normal(size=(n, 3)))
    directions[:600] = np.eye(3)[rng.integers(0, 3, 600)] * rng.choice([-1.0, 1.0], (600, 1))
    distance, facet = first_hits(index_of(room, kernel, monkeypatch), origins, directions)
    expected, expected_facet = exactly(room, origins, directions)
    assert np.array_equal(facet, expected_facet)
    # the same plane, summed in another order: rounding of coordinates
    rounding = 1e-12 if name == "far away" else 1e-14
    slant = np.abs(np.sum(room.facet_arrays.normals[facet] * directions, axis=1))
    assert (np.abs(distance - expected) * slant <= 10 * rounding).all()


@BOTH
def test_float32_errs_by_less_than_the_slack(kernel):
    """The bound that lets float32 propose and float64 decide: inside or outside, within a tenth of it."""
    room, rng, n = ROOMS["boxes"], np.random.default_rng(8), 50_000
    origins, directions = places(room, "boxes", n, rng), unit(rng.normal(size=(n, 3)))
    size = np.linalg.norm(SIZE)
    part, margin, reach = np.empty(n, np.int64), np.empty(n), np.full(n, np.inf)
    if kernel == "packets":
        pieces = pack_pieces(room.facet_arrays, room.triangles, room.facet_of_triangle)
        slack = np.float32(rays.SLACK * size)
        closest_in_packets(origins, directions, reach, pieces, slack, new_packet(), part, margin)
        facet, sides = pieces.facet[part], pieces.sides[part].astype(float)
        axes = np.column_stack([(pieces.axis[part] + 1) % 3, (pieces.axis[part] + 2) % 3])
    else:
        tree = pack_tree(room.triangles)
        closest_in_tree(origins, directions, reach, tree, np.float32(rays.SLACK * size), part, margin)
        facet = room.facet_of_triangle[part]
    normals = room.facet_arrays.normals[facet]
    slant = np.sum(normals * directions, axis=1)
    distance = (room.facet_arrays.offsets[facet] - np.sum(normals * origins, axis=1)) / slant
    spots = origins + distance[:, None] * directions
    if kernel == "packets":
        flat = np.take_along_axis(spots - pieces.middle, axes, axis=1)
        inside = np.min(np.sum(sides[:, :, :2] * flat[:, None], axis=2) + sides[:, :, 2], axis=1)
    else:
        a, b, c = np.moveaxis(room.triangles[part], 1, 0)
        area = np.sum(np.cross(b - a, c - a) * normals, axis=1)
        shares = [
            np.sum(np.cross(q - p, spots - p) * normals, axis=1) / area for p, q in ((a, b), (b, c), (c, a))
        ]
        longest = np.max([np.linalg.norm(q - p, axis=1) for p, q in ((a, b), (b, c), (c, a))], axis=0)
        inside = np.min(shares, axis=0) * area / longest
    error = np.abs(margin - inside) * np.abs(slant)
    assert error.max() <= 0.3 * rays.SLACK * size  # 1e-6 of the size is allowed for
    assert error.max() >= 0.003 * rays.SLACK * size  # else the slack is needlessly wide


@ALL
def test_a_ray_that_starts_on_a_facet_leaves_it(kernel, monkeypatch):
    room, rng, n = ROOMS["boxes"], np.random.default_rng(9), 4000
    index = index_of(room, kernel, monkeypatch)
    origins, directions = places(room, "boxes", n, rng), unit(rng.normal(size=(n, 3)))
    distance, facet = first_hits(index, origins, directions)
    spots = origins + distance[:, None] * directions
    normals = room.facet_arrays.normals[facet]
    reflected = directions - 2 * np.sum(directions * normals, axis=1)[:, None] * normals
    away, next_facet = first_hits(index, spots, reflected)
    assert (next_facet >= 0).all()
    assert (next_facet != facet).all()
    assert (away > 0).all()
    through, same_facet = first_hits(index, spots, directions)  # on through the facet: met at once
    assert np.array_equal(same_facet, facet)
    assert (through <= 1e-9 / np.abs(np.sum(directions * normals, axis=1))).all()  # the spot's rounding


@ALL
def test_a_loose_board_is_met_from_both_sides(kernel, monkeypatch):
    board = np.array([(2.0, 1.0, 0.5), (2.0, 2.0, 0.5), (2.0, 2.0, 1.5), (2.0, 1.0, 1.5)])
    room = room_of([*box_room(SIZE), board])
    index = index_of(room, kernel, monkeypatch)
    origins = np.array([[1.0, 1.5, 1.0], [3.0, 1.5, 1.0], [1.0, 2.5, 1.0]])
    distance, facet = first_hits(index, origins, np.array([[1.0, 0, 0], [-1.0, 0, 0], [1.0, 0, 0]]))
    assert facet.tolist() == [6, 6, 3]
    assert distance.tolist() == pytest.approx([1.0, 1.0, 5.0])
    assert clear_legs(index, origins[[0, 0]], origins[[1, 2]]).tolist() == [False, True]


@ALL
def test_a_ray_through_a_hole_meets_what_lies_behind(kernel, monkeypatch):
    hole = np.array([(1.5, 0, 1.0), (2.5, 0, 1.0), (2.5, 0, 2.0), (1.5, 0, 2.0)])
    room = room_of(
        [*box_room(SIZE), np.array([(0, -1.0, 0), (0, -1.0, 3.0), (6.0, -1.0, 3.0), (6.0, -1.0, 0)])]
    )
    pierced = room_of([facet.outline for facet in room.facets], holes={2: [hole]})
    index = index_of(pierced, kernel, monkeypatch)
    origins, directions = np.tile([[2.0, 1.0, 1.5]], (2, 1)), unit(np.array([[0, -1.0, 0], [1.0, -1.0, 0]]))
    distance, facet = first_hits(index, origins, directions)
    assert facet.tolist() == [6, 2]
    assert distance.tolist() == pytest.approx([2.0, np.sqrt(2.0)])


@ALL
@pytest.mark.parametrize("name", ["elbow", "boxes"])
def test_clear_legs_equal_float64_among_all_facets(name, kernel, monkeypatch):
    room, rng, n = ROOMS[name], np.random.default_rng(10), 6000
    starts, ends = places(room, name, n, rng), places(room, name, n, rng)
    starts[:1500] = edge_points(room, 1500, rng)  # ends on edges and corners
    ends[1000:2500] = edge_points(room, 1500, rng)
    distance, _ = exactly(room, starts[2500:4000], unit(ends[2500:4000] - starts[2500:4000] + 1e-9))
    ends[2500:4000] = starts[2500:4000] + distance[:, None] * unit(ends[2500:4000] - starts[2500:4000] + 1e-9)
    index, clear, expected = index_of(room, kernel, monkeypatch), np.empty(n, np.bool_), np.empty(n, np.bool_)
    # Every leg in doubt: float32 has no say.
    nothing, doubt = np.zeros(n, np.int64), np.full(n, -1.0)
    settle_legs(index.facet_arrays, index.rows, starts, ends, nothing, doubt, 0.0, room.tolerance_m, expected)
    expected |= (starts == ends).all(axis=1)  # nothing stands in a leg of no length
    assert np.array_equal(clear_legs(index, starts, ends), expected)
    legs_are_clear(starts, ends, room.facet_arrays, room.tolerance_m, clear)
    assert np.array_equal(clear[4000:], expected[4000:])  # the oracle's ends stand free
    assert 0.1 < expected[:1000].mean() < 0.99  # both answers occur


@BOTH
def test_any_number_of_rays_gives_the_same_answers(kernel, monkeypatch):
    room, rng = ROOMS["boxes"], np.random.default_rng(12)
    index, n_most = index_of(room, kernel, monkeypatch), BLOCK + 100
    origins, directions = places(room, "boxes", n_most, rng), unit(rng.normal(size=(n_most, 3)))
    distance, facet = first_hits(index, origins, directions)
    for n in (0, 1, 15, 16, 17, BLOCK - 1, BLOCK, BLOCK + 1):
        some_distance, some_facet = first_hits(index, origins[:n], directions[:n])
        assert np.array_equal(some_distance, distance[:n])
        assert np.array_equal(some_facet, facet[:n])


def test_rays_outside_that_meet_nothing_say_so(monkeypatch):
    for kernel in ("packets", "tree"):
        index = index_of(ROOMS["boxes"], kernel, monkeypatch)
        distance, facet = first_hits(index, np.array([[2.0, 1.5, 5.0]]), np.array([[0.0, 0.0, 1.0]]))
        assert distance[0] == np.inf
        assert facet[0] == -1
