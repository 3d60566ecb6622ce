"""Where rays first meet a facet: one question, three kernels, chosen by the number of rays and facets."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FEW_TESTS = 20_000  # rays times facets: up to here all are tested, 0.2 ms, and nothing is made ready first
MOST_IN_PACKETS = 100  # facets; above, the tree is faster (tests/bench/bench_hits.py)
SLACK = 1e-6  # of the size of everything: more than float32 errs by in a hit's place (test_hits.py)
_ROUNDING = 4e-16  # of the size: error of a float64 coordinate, two units in the last place


@dataclass(frozen=True)
class HitIndex:
    """Facets made ready for rays.

    Attributes
    ----------
    facet_arrays : FacetArrays
    triangles : (n_triangles, 3, 3) float
        [m]
    facet_of_triangle : (n_triangles,) int
    rows : (10, n_facets) float
        Planes and boxes, as BeamFacets.rows.
    size_m, tolerance_m : float
        Diagonal of the box round everything; how near an edge a hit counts as on it.
    """

    facet_arrays: Any
    triangles: Floats
    facet_of_triangle: Ints
    rows: Floats
    size_m: float
    tolerance_m: float

    @cached_property
    def pieces(self) -> Any:
        """PacketPieces, None where there are so many facets that a tree is faster."""
        if len(self.facet_arrays.offsets) > MOST_IN_PACKETS:
            return None
        return pack_pieces(self.facet_arrays, self.triangles, self.facet_of_triangle)

    @cached_property
    def tree(self) -> Any:
        """WideTree."""
        return pack_tree(self.triangles)


def index_facets(
    facet_arrays: Any, triangles: Floats, facet_of_triangle: Ints, *, tolerance_m: float
) -> HitIndex:
    """The index of some facets, given with their triangles.

    Parameters
    ----------
    facet_arrays : FacetArrays
    triangles : (n_triangles, 3, 3) float
        Anticlockwise as seen from the air. [m]
    facet_of_triangle : (n_triangles,) int
    tolerance_m : float
        How near an edge a hit counts as on it.
    """
    from raytrace.kernels.hulls import prepare_facets

    n_facets = len(facet_arrays.offsets)
    size_m = float(np.linalg.norm(facet_arrays.high.max(axis=0) - facet_arrays.low.min(axis=0)))
    return HitIndex(
        facet_arrays=facet_arrays,
        triangles=triangles,
        facet_of_triangle=facet_of_triangle,
        rows=prepare_facets(facet_arrays, np.full(n_facets, 4 * tolerance_m)).rows,
        size_m=size_m,
        tolerance_m=tolerance_m,
    )


def first_hits(index: HitIndex, origins: Floats, directions: Floats) -> tuple[Floats, Ints]:
    """Where rays first meet a facet, from either side: exact distances, float32 only in between.

    Parameters
    ----------
    index : HitIndex
    origins, directions : (n, 3) float
        Starts [m]; unit vectors.

    Returns
    -------
    distance_m : (n,) float
        inf where nothing is met.
    facet : (n,) int
        -1 likewise. Facets are closed: a ray aimed at an edge or corner hits.

    Notes
    -----
    A ray that starts less than 1e-6 of the size behind a facet starts on it: it is taken to come from
    the air.
    """
    from raytrace.kernels.legs import hits_of_few
    from raytrace.kernels.settle import first_in_packets, settle_hits

    distance_m, facet = np.empty(len(origins)), np.empty(len(origins), np.int64)
    exactness = SLACK * index.size_m, index.tolerance_m, _ROUNDING * index.size_m
    arrays = index.facet_arrays
    if len(origins) * len(arrays.offsets) <= FEW_TESTS:
        hits_of_few(arrays, origins, directions, *exactness[1:], distance_m, facet)
    elif index.pieces is not None:
        first_in_packets(arrays, origins, directions, index.pieces, *exactness, distance_m, facet)
    else:
        facet[:], margin = _propose(index, origins, directions, np.full(len(origins), np.inf))
        planes = np.empty((4, len(origins)))
        settle_hits(arrays, origins, directions, facet, margin, *exactness, planes, distance_m)
    return distance_m, facet


def clear_legs(index: HitIndex, starts: Floats, ends: Floats) -> NDArray[np.bool_]:
    """Whether nothing stands between pairs of points.

    Parameters
    ----------
    index : HitIndex
    starts, ends : (n, 3) float
        [m]

    Returns
    -------
    (n,) bool
        An end on a facet, a leg along a facet and a leg that just touches an edge are clear.
    """
    from raytrace.kernels.legs import legs_of_few
    from raytrace.kernels.settle import settle_legs

    clear = np.empty(len(starts), np.bool_)
    if len(starts) * len(index.facet_arrays.offsets) <= FEW_TESTS:
        legs_of_few(index.facet_arrays, index.rows, starts, ends, index.tolerance_m, clear)
        return clear
    ways = ends - starts
    length_m = np.linalg.norm(ways, axis=1)
    directions = ways / np.maximum(length_m, np.finfo(np.float64).tiny)[:, None]
    facet, margin = _propose(index, starts, directions, length_m)
    settle_legs(
        index.facet_arrays,
        index.rows,
        starts,
        ends,
        facet,
        margin,
        SLACK * index.size_m,
        index.tolerance_m,
        clear,
    )
    return clear


def _propose(index: HitIndex, origins: Floats, directions: Floats, reach_m: Floats) -> tuple[Ints, Any]:
    """First facet on each ray as float32 sees it, -1 for none, and how far inside its outline. [m]"""
    from raytrace.kernels.packets import closest_in_packets, new_packet
    from raytrace.kernels.tree import closest_in_tree

    part, margin = np.empty(len(origins), np.int32), np.empty(len(origins), np.float32)
    slack_m = np.float32(SLACK * index.size_m)
    if index.pieces is not None:
        closest_in_packets(origins, directions, reach_m, index.pieces, slack_m, new_packet(), part, margin)
        facet_of_part = index.pieces.facet
    else:
        closest_in_tree(origins, directions, reach_m, index.tree, slack_m, part, margin)
        facet_of_part = index.facet_of_triangle
    return np.where(part >= 0, facet_of_part[part], -1), margin


def pack_pieces(facet_arrays: Any, triangles: Floats, facet_of_triangle: Ints) -> Any:
    """PacketPieces of facets: convex pieces, those that few rays meet in groups."""
    from raytrace.kernels.boxtree import grow_box_tree
    from raytrace.kernels.packets import PacketPieces

    normals = facet_arrays.normals
    pieces = convex_pieces(triangles, facet_of_triangle, normals)
    corners = [piece for _, piece in pieces]
    low = np.array([piece.min(axis=0) for piece in corners])
    high = np.array([piece.max(axis=0) for piece in corners])
    middle = (low.min(axis=0) + high.max(axis=0)) / 2
    tree = grow_box_tree(np.hstack([low, high]), 1)
    groups = _groups(tree)
    members = [tree.items[tree.first[node] : tree.last[node]] for node in groups]
    common = np.setdiff1d(np.arange(len(pieces)), np.concatenate([np.empty(0, np.int64), *members]))
    rows = np.concatenate([common, *members])
    facet = np.array([pieces[row][0] for row in rows])
    offsets = facet_arrays.offsets[facet] - normals[facet] @ middle
    pad = 10 * SLACK * float(np.linalg.norm(high.max(axis=0) - low.min(axis=0)))
    boxes = tree.box[groups].reshape(-1, 6) - np.tile(middle, 2) + np.repeat([-pad, pad], 3)
    sides = [
        _half_planes(corners[row] - middle, normals[f], facet_arrays.axis[f])
        for row, f in zip(rows, facet, strict=True)
    ]
    return PacketPieces(
        planes=np.column_stack([normals[facet], offsets]).astype(np.float32),
        sides=np.array(sides, np.float32),
        axis=facet_arrays.axis[facet],
        facet=facet,
        group_start=np.cumsum([0, len(common), *(len(m) for m in members)]),
        boxes=boxes.astype(np.float32),
        middle=middle,
    )


def convex_pieces(triangles: Floats, facet_of_triangle: Ints, normals: Floats) -> list[tuple[int, Floats]]:
    """Triangles of a facet joined two by two where that gives a convex quadrilateral: (facet, corners)."""
    pieces: list[tuple[int, Floats]] = []
    for facet in dict.fromkeys(facet_of_triangle.tolist()):
        left = list(triangles[facet_of_triangle == facet])
        while left:
            piece = left.pop(0)
            for k, other in enumerate(left):
                joined = _joined(piece, other, normals[facet])
                if joined is not None:
                    piece = joined
                    del left[k]
                    break
            pieces.append((facet, piece))
    return pieces


def _joined(first: Floats, second: Floats, normal: Floats) -> Floats | None:
    """The convex quadrilateral of two triangles that share an edge, None where there is none."""
    one, two = first.tolist(), second.tolist()
    for i in range(3):
        for j in range(3):
            if one[i] == two[(j + 1) % 3] and one[(i + 1) % 3] == two[j]:
                corners = np.array([one[i], two[(j + 2) % 3], one[(i + 1) % 3], one[(i + 2) % 3]])
                edges = np.roll(corners, -1, axis=0) - corners
                turns = np.cross(edges, np.roll(edges, -1, axis=0)) @ normal
                return corners if (turns > 0).all() else None
    return None


def _half_planes(corners: Floats, normal: Floats, axis: int) -> Floats:
    """Sides of a convex piece as lines in the plane left when `axis` is dropped. (4, 3)"""
    flat = corners[:, [(axis + 1) % 3, (axis + 2) % 3]]
    if normal[axis] < 0:
        flat = flat[::-1]
    edge = np.roll(flat, -1, axis=0) - flat
    inwards = np.column_stack([-edge[:, 1], edge[:, 0]]) / np.linalg.norm(edge, axis=1)[:, None]
    lines = np.column_stack([inwards, -np.sum(inwards * flat, axis=1)])
    return lines[[0, 1, 2, len(lines) - 1]]


def _groups(tree: Any) -> list[int]:
    """Nodes of a box tree whose pieces are worth a test of their box first.

    Costs in tests of one piece against one packet, measured: a box 0.35; picking a ray out of the packet
    and putting it back 12; half-empty packets make a piece half as dear again.
    """
    from raytrace.kernels.boxtree import half_area
    from raytrace.kernels.packets import MOST_BOXES

    whole = half_area(tree.box[0])
    cost = np.empty(len(tree.left))
    chosen: list[list[int]] = [[] for _ in cost]
    gain: dict[int, float] = {}
    for node in range(len(tree.left) - 1, -1, -1):
        count = float(tree.last[node] - tree.first[node])
        alone = 0.35 + half_area(tree.box[node]) / whole * (12.0 + 1.5 * count)
        left = tree.left[node]
        parts = count if left < 0 else cost[left] + cost[left + 1]
        if alone < parts:
            cost[node], chosen[node], gain[node] = alone, [node], count - alone
        else:
            cost[node] = parts
            chosen[node] = [] if left < 0 else chosen[left] + chosen[left + 1]
    return sorted(chosen[0], key=lambda node: -gain[node])[:MOST_BOXES]


def pack_tree(triangles: Floats) -> Any:
    """WideTree of triangles (n, 3, 3)."""
    from raytrace.kernels.boxtree import grow_box_tree
    from raytrace.kernels.fused import on_cache_lines
    from raytrace.kernels.tree import WIDE, WideTree, gather_wide_nodes, pack_leaves, plan_wide_nodes

    triangles = np.ascontiguousarray(triangles, np.float64)
    low, high = triangles.min(axis=1), triangles.max(axis=1)
    middle = (low.min(axis=0) + high.max(axis=0)) / 2
    size_m = float(np.linalg.norm(high.max(axis=0) - low.min(axis=0)))
    tree = grow_box_tree(np.hstack([low, high]), WIDE)
    boxes, links, leaf_nodes = gather_wide_nodes(tree, plan_wide_nodes(tree), middle, 4 * SLACK * size_m)
    leaves, numbers = pack_leaves(triangles, tree, leaf_nodes, middle)
    return WideTree(
        boxes=on_cache_lines(boxes),
        links=on_cache_lines(links),
        leaves=on_cache_lines(leaves),
        triangles=on_cache_lines(numbers),
        middle=middle,
        half=high.max(axis=0) - middle,
    )
