"""Closest hit among many triangles: a tree of boxes with sixteen children, each node one look.

A node's sixteen boxes, and a leaf's sixteen triangles, are tested in one go: float32, structure of arrays,
each row one cache line. Coordinates are measured from the middle of everything.
"""

from typing import NamedTuple

import numpy as np

from raytrace.kernels.boxtree import half_area
from raytrace.kernels.fused import lowest_bit
from raytrace.kernels.jit import kernel
from raytrace.kernels.sixteens import (
    at_place,
    bits_below,
    bits_up_to,
    fused,
    greater,
    lesser,
    reciprocal,
    row_of,
    spread,
)

WIDE = 16
DEEPEST = 256  # links that can wait: far more than a tree of sixteens ever needs
CROWD = 131072  # rays sorted together: a part of the tree is fetched once for all that need it
CELLS = 8  # per axis, in which rays are gathered by where they leave the box round everything
NODE_COST, LEAF_COST = 1.0, 1.3  # time of one look at either, measured


class WideTree(NamedTuple):
    """Boxes and triangles packed for looks at sixteen.

    boxes : (n_nodes, 6, 16) float32 low and high corners; x0 y0 z0 x1 y1 z1 [m]
    links : (n_nodes, 16) int32 child node, or -1 - leaf
    leaves : (n_leaves, 13, 16) float32 plane (4), two barycentric coordinates as linear forms (4 + 4),
        reciprocal of the shortest height [1/m]
    triangles : (n_leaves, 16) int32 number of each triangle
    middle : (3,) origin of all float32 coordinates [m]
    half : (3,) half size of everything [m]
    """

    boxes: np.ndarray
    links: np.ndarray
    leaves: np.ndarray
    triangles: np.ndarray
    middle: np.ndarray
    half: np.ndarray


@kernel
def plan_wide_nodes(tree):
    """How to gather a box tree into wide nodes at the least cost; (n_nodes, 17) slots for the left child.

    Column k: what to do with k slots of the parent: 0 as with k - 1, else so many to the left child.
    Column 1: -1 a leaf, else an inner node and its own slots for the left child.
    """
    n_nodes = tree.left.size
    cost = np.empty((n_nodes, WIDE + 1))
    plan = np.zeros((n_nodes, WIDE + 1), np.int8)
    for node in range(n_nodes - 1, -1, -1):
        area = half_area(tree.box[node])
        as_leaf = area * LEAF_COST if tree.last[node] - tree.first[node] <= WIDE else np.inf
        cost[node, 1], plan[node, 1] = as_leaf, -1
        left = tree.left[node]
        if left < 0:
            cost[node, 2:] = as_leaf
            continue
        for slots in range(WIDE, 1, -1):
            cost[node, slots] = np.inf
            for share in range(1, slots):
                both = cost[left, share] + cost[left + 1, slots - share]
                if both < cost[node, slots]:
                    cost[node, slots], plan[node, slots] = both, share
        if area * NODE_COST + cost[node, WIDE] < as_leaf:
            cost[node, 1], plan[node, 1] = area * NODE_COST + cost[node, WIDE], plan[node, WIDE]
        for slots in range(2, WIDE + 1):
            if cost[node, slots - 1] <= cost[node, slots]:
                cost[node, slots], plan[node, slots] = cost[node, slots - 1], 0
    return plan


@kernel
def gather_wide_nodes(tree, plan, middle, pad):
    """boxes, links of a WideTree, widened by `pad` [m], and the box tree's node of each leaf."""
    n_most = tree.left.size
    boxes = np.empty((n_most, 6, WIDE), np.float32)
    links = np.zeros((n_most, WIDE), np.int32)
    roots, leaf_nodes = np.zeros(n_most, np.int64), np.empty(n_most, np.int64)
    waiting, slots_of = np.empty(2 * WIDE, np.int64), np.empty(2 * WIDE, np.int64)
    n_nodes, n_leaves, wide = 1, 0, 0
    while wide < n_nodes:
        root = roots[wide]
        waiting[0], slots_of[0], n_waiting = root, 1, 1
        if plan[root, 1] > 0:
            share = plan[root, 1]
            waiting[0], slots_of[0] = tree.left[root] + 1, WIDE - share
            waiting[1], slots_of[1], n_waiting = tree.left[root], share, 2
        slot = 0
        while n_waiting > 0:
            n_waiting -= 1
            node, slots = waiting[n_waiting], slots_of[n_waiting]
            while slots > 1 and plan[node, slots] == 0:
                slots -= 1
            if slots > 1:
                share = plan[node, slots]
                waiting[n_waiting], slots_of[n_waiting] = tree.left[node] + 1, slots - share
                waiting[n_waiting + 1], slots_of[n_waiting + 1] = tree.left[node], share
                n_waiting += 2
                continue
            for axis in range(3):
                boxes[wide, axis, slot] = tree.box[node, axis] - middle[axis] - pad
                boxes[wide, 3 + axis, slot] = tree.box[node, 3 + axis] - middle[axis] + pad
            if plan[node, 1] < 0:
                leaf_nodes[n_leaves] = node
                n_leaves += 1
                links[wide, slot] = -n_leaves
            else:
                roots[n_nodes] = node
                links[wide, slot] = n_nodes
                n_nodes += 1
            slot += 1
        for empty in range(slot, WIDE):
            for axis in range(3):
                boxes[wide, axis, empty], boxes[wide, 3 + axis, empty] = np.inf, -np.inf
        wide += 1
    return boxes[:n_nodes], links[:n_nodes], leaf_nodes[:n_leaves]


@kernel
def pack_leaves(corners, tree, leaf_nodes, middle):
    """leaves, triangles of a WideTree from corners (n, 3, 3)."""
    leaves = np.zeros((leaf_nodes.size, 13, WIDE), np.float32)
    triangles = np.full((leaf_nodes.size, WIDE), -1, np.int32)
    for leaf in range(leaf_nodes.size):
        # Empty places: a constant barycentric coordinate far outside.
        leaves[leaf, 7] = -1e30
        first, last = tree.first[leaf_nodes[leaf]], tree.last[leaf_nodes[leaf]]
        for lane in range(last - first):
            number = tree.items[first + lane]
            triangles[leaf, lane] = number
            a = corners[number, 0] - middle
            b, c = corners[number, 1] - corners[number, 0], corners[number, 2] - corners[number, 0]
            normal = np.cross(b, c)
            double_area = np.sqrt(np.sum(normal * normal))
            normal /= double_area
            u, v = np.cross(c, normal) / double_area, np.cross(normal, b) / double_area
            longest = max(np.sum(b * b), np.sum(c * c), np.sum((c - b) * (c - b)))
            for axis in range(3):
                leaves[leaf, axis, lane] = normal[axis]
                leaves[leaf, 4 + axis, lane] = u[axis]
                leaves[leaf, 8 + axis, lane] = v[axis]
            leaves[leaf, 3, lane] = np.sum(normal * a)
            leaves[leaf, 7, lane] = -np.sum(u * a)
            leaves[leaf, 11, lane] = -np.sum(v * a)
            leaves[leaf, 12, lane] = np.sqrt(longest) / double_area
    return leaves, triangles


@kernel
def closest_in_tree(origins, directions, reach, tree, slack, triangle, margin):
    """First triangle on each ray (n, 3) within `reach` (n,) [m], into `triangle` (n,), -1 for none.

    `slack` [m] is how far outside its outline, over the slant, a triangle still counts as met, and how
    far behind it a ray may start; `margin` (n,) [m] receives how far inside the hit lies, at least.
    """
    boxes, links, leaves = tree.boxes, tree.links, tree.leaves
    waiting, entry = np.empty(DEEPEST, np.int32), np.empty(DEEPEST, np.float32)
    n_most = min(CROWD, origins.shape[0])
    cells = np.empty(n_most, np.int32)
    rays, numbers = np.empty((n_most, 8), np.float32), np.empty(n_most, np.int32)
    for first in range(0, origins.shape[0], CROWD):
        n = min(CROWD, origins.shape[0] - first)
        _cells_of_exit(origins, directions, first, n, tree, cells)
        _gather_rays(origins, directions, reach, first, n, tree, cells, rays, numbers)
        for at in range(n):
            origin = (rays[at, 0], rays[at, 1], rays[at, 2])
            direction = (rays[at, 3], rays[at, 4], rays[at, 5])
            inverse = (_reciprocal(direction[0]), _reciprocal(direction[1]), _reciprocal(direction[2]))
            best, found, inside = rays[at, 6], np.int32(-1), np.float32(0.0)
            link, n_waiting = np.int32(0), np.uint64(0)
            while True:
                if link >= 0:
                    node = np.uint64(link)
                    bits, enters = _boxes_met(boxes, node, origin, inverse, best)
                    if bits != 0:
                        if bits & np.uint32(bits - np.uint32(1)) == 0:
                            link = links[node, np.uint64(lowest_bit(bits))]
                            continue
                        n_waiting = _put_by_distance(links, node, bits, enters, waiting, entry, n_waiting)
                else:
                    leaf = np.uint64(-link - 1)
                    bits, distance, share = _triangles_met(leaves, leaf, origin, direction, best, slack)
                    while bits != 0:
                        place = np.uint64(lowest_bit(bits))
                        bits = np.uint32(bits & np.uint32(bits - np.uint32(1)))
                        t = at_place(distance, place)
                        if t < best:
                            inside = at_place(share, place) / leaves[leaf, 12, place]
                            best, found = t, tree.triangles[leaf, place]
                while n_waiting > 0 and entry[n_waiting - np.uint64(1)] > best:
                    n_waiting -= np.uint64(1)
                if n_waiting == 0:
                    break
                n_waiting -= np.uint64(1)
                link = waiting[n_waiting]
            triangle[first + numbers[at]], margin[first + numbers[at]] = found, inside


@kernel
def _cells_of_exit(origins, directions, first, n, tree, cells):
    """Number of the cell in which each ray leaves the box round everything, into `cells` (n,)."""
    half = tree.half
    per_x, per_y, per_z = 0.5 * CELLS / half[0], 0.5 * CELLS / half[1], 0.5 * CELLS / half[2]
    last = CELLS - 1.0
    for i in range(n):
        x, y, z = (
            origins[first + i, 0] - tree.middle[0],
            origins[first + i, 1] - tree.middle[1],
            origins[first + i, 2] - tree.middle[2],
        )
        dx, dy, dz = directions[first + i, 0], directions[first + i, 1], directions[first + i, 2]
        way_x = ((half[0] if dx > 0.0 else -half[0]) - x) / (dx if abs(dx) > 1e-20 else 1e-20)
        way_y = ((half[1] if dy > 0.0 else -half[1]) - y) / (dy if abs(dy) > 1e-20 else 1e-20)
        way_z = ((half[2] if dz > 0.0 else -half[2]) - z) / (dz if abs(dz) > 1e-20 else 1e-20)
        way = max(min(min(abs(way_x), abs(way_y)), abs(way_z)), 0.0)
        x = min(max((x + way * dx + half[0]) * per_x, 0.0), last)
        y = min(max((y + way * dy + half[1]) * per_y, 0.0), last)
        z = min(max((z + way * dz + half[2]) * per_z, 0.0), last)
        cells[i] = (np.int32(x) * CELLS + np.int32(y)) * CELLS + np.int32(z)


@kernel
def _gather_rays(origins, directions, reach, first, n, tree, cells, rays, numbers):
    """Rays of a batch sorted by cell, so that neighbours share nodes: rays (n, 8) and their numbers (n,)."""
    start = np.zeros(CELLS**3 + 1, np.int64)
    for i in range(n):
        start[cells[i] + 1] += 1
    for cell in range(CELLS**3):
        start[cell + 1] += start[cell]
    for i in range(n):
        at = start[cells[i]]
        start[cells[i]] += 1
        for axis in range(3):
            rays[at, axis] = origins[first + i, axis] - tree.middle[axis]
            rays[at, 3 + axis] = directions[first + i, axis]
        rays[at, 6], numbers[at] = reach[first + i], i


@kernel
def _reciprocal(d):
    tiny = np.float32(1e-20)
    return np.float32(1.0) / (d if abs(d) > tiny else tiny)


@kernel
def _boxes_met(boxes, node, origin, inverse, best):
    """Bits of the children whose boxes a ray meets before `best` [m], and where it enters each. [m]"""
    ix, iy, iz = spread(inverse[0]), spread(inverse[1]), spread(inverse[2])
    sx, sy, sz = (
        spread(-origin[0] * inverse[0]),
        spread(-origin[1] * inverse[1]),
        spread(-origin[2] * inverse[2]),
    )
    # The side of each box that the ray enters by.
    x = np.uint64(0) if inverse[0] >= 0 else np.uint64(3)
    y = np.uint64(1) if inverse[1] >= 0 else np.uint64(4)
    z = np.uint64(2) if inverse[2] >= 0 else np.uint64(5)
    p, q, r = np.uint64(3) - x, np.uint64(5) - y, np.uint64(7) - z
    enters = greater(
        greater(fused(row_of(boxes, node, x), ix, sx), fused(row_of(boxes, node, y), iy, sy)),
        greater(fused(row_of(boxes, node, z), iz, sz), spread(np.float32(0.0))),
    )
    leaves = lesser(
        lesser(fused(row_of(boxes, node, p), ix, sx), fused(row_of(boxes, node, q), iy, sy)),
        lesser(fused(row_of(boxes, node, r), iz, sz), spread(best)),
    )
    return bits_up_to(enters, leaves), enters


@kernel
def _put_by_distance(links, node, bits, enters, waiting, entry, n_waiting):
    """Children to look at later, nearest last; returns the new number of waiting links."""
    base = n_waiting
    while bits != 0:
        child = np.uint64(lowest_bit(bits))
        bits = np.uint32(bits & np.uint32(bits - np.uint32(1)))
        t = at_place(enters, child)
        place = n_waiting
        while place > base and entry[place - np.uint64(1)] < t:
            entry[place] = entry[place - np.uint64(1)]
            waiting[place] = waiting[place - np.uint64(1)]
            place -= np.uint64(1)
        entry[place], waiting[place] = t, links[node, child]
        n_waiting += np.uint64(1)
    return n_waiting


@kernel
def _triangles_met(leaves, leaf, origin, direction, best, slack):
    """Bits of a leaf's triangles that a ray meets before `best` [m]; distance [m] and least share of each.

    The share is the least barycentric coordinate: how far inside its outline a triangle is met.
    """
    ox, oy, oz = spread(origin[0]), spread(origin[1]), spread(origin[2])
    dx, dy, dz = spread(direction[0]), spread(direction[1]), spread(direction[2])
    nx, ny, nz = _three_rows(leaves, leaf, np.uint64(0))
    # Along the plane this is inf or nan, and every comparison with it false: nothing is met.
    inverse = reciprocal(fused(nx, dx, fused(ny, dy, nz * dz)))
    height = fused(nx, ox, fused(ny, oy, fused(nz, oz, -row_of(leaves, leaf, np.uint64(3)))))
    # From the air a ray may start a little behind the facet, from behind it may not.
    ahead, least = -height * inverse, spread(slack) * inverse
    t = greater(ahead, spread(np.float32(0.0)))
    x, y, z = fused(t, dx, ox), fused(t, dy, oy), fused(t, dz, oz)
    ux, uy, uz = _three_rows(leaves, leaf, np.uint64(4))
    vx, vy, vz = _three_rows(leaves, leaf, np.uint64(8))
    u = fused(uy, y, fused(uz, z, fused(ux, x, row_of(leaves, leaf, np.uint64(7)))))
    v = fused(vy, y, fused(vz, z, fused(vx, x, row_of(leaves, leaf, np.uint64(11)))))
    share = lesser(lesser(u, v), spread(np.float32(1.0)) - u - v)
    outside = -abs(least) * row_of(leaves, leaf, np.uint64(12))
    bits = bits_below(t, spread(best)) & bits_up_to(least, ahead) & bits_up_to(outside, share)
    return bits, t, share


@kernel
def _three_rows(leaves, leaf, row):
    """Rows x, y, z of a linear form in a leaf."""
    return (
        row_of(leaves, leaf, row),
        row_of(leaves, leaf, row + np.uint64(1)),
        row_of(leaves, leaf, row + np.uint64(2)),
    )
