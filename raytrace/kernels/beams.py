"""Beam tree rooted at the listener: mirrored apexes, beams clipped facet by facet.

A node is a facet seen in a sequence of mirrors. Its apex is the listener mirrored in that sequence, its
beam the pyramid from the apex through what can be seen of the facet, in front of the facet. A source
hears the listener by that sequence only from inside the beam. Facets are taken as convex hulls, a little
larger than they are, so that nothing on an edge is lost; the exact outline is tested on the finished path.
"""

from typing import NamedTuple

import numpy as np
from numba import njit

NX, NY, NZ, OFFSET, CX, CY, CZ, HX, HY, HZ = range(10)


class BeamFacets(NamedTuple):
    """Facets as beams see them.

    rows : (10, n_facets) normal, offset [m], centre and half size of a box round the hull [m]
    hulls : (n_corners, 3) corners of the convex hulls, anticlockwise seen from the air [m]
    hull_start : (n_facets + 1,) first corner of each hull
    """

    rows: np.ndarray
    hulls: np.ndarray
    hull_start: np.ndarray


class BeamNodes(NamedTuple):
    """Stored beams; node 0 is the listener itself. Room for more than are used.

    parent, facet, depth : (capacity,)
    apex : (capacity, 3) listener mirrored in the node's facets [m]
    side_start : (capacity + 1,) first of the node's sides
    sides : (side_capacity, 4) planes through the apex, positive inside the beam
    guard : (4, capacity) the plane that last kept a source out
    """

    parent: np.ndarray
    facet: np.ndarray
    depth: np.ndarray
    apex: np.ndarray
    side_start: np.ndarray
    sides: np.ndarray
    guard: np.ndarray


class Region(NamedTuple):
    """Sources that a tree serves: a ball, and the longest path."""

    centre: np.ndarray
    radius: float
    reach_m: float


@njit(cache=True, nogil=True, error_model="numpy")
def prepare_facets(arrays, margin):
    """Hulls of all facets, widened by `margin` (n_facets,) [m] in their planes."""
    n_facets = arrays.offsets.size
    # Rounded up to whole vectors with facets that everything is behind.
    rows = np.zeros((10, (n_facets + 31) // 32 * 32))
    rows[OFFSET] = np.inf
    hulls = np.empty((2 * arrays.points.shape[0], 3))
    hull_start = np.zeros(n_facets + 1, np.int64)
    for facet in range(n_facets):
        loop = arrays.facet_loops[facet]
        outline = arrays.points[arrays.loop_start[loop] : arrays.loop_start[loop + 1]]
        normal = arrays.normals[facet]
        first = hull_start[facet]
        corner = _convex_hull(outline, normal, arrays.axis[facet])
        count = _widen(outline, corner, normal, margin[facet], hulls[first:])
        hull_start[facet + 1] = first + count
        for axis in range(3):
            low, high = np.inf, -np.inf
            for i in range(first, first + count):
                low = min(low, hulls[i, axis])
                high = max(high, hulls[i, axis])
            rows[NX + axis, facet] = normal[axis]
            rows[CX + axis, facet] = 0.5 * (low + high)
            rows[HX + axis, facet] = 0.5 * (high - low) + margin[facet]
        rows[OFFSET, facet] = arrays.offsets[facet]
    return BeamFacets(rows, hulls, hull_start)


@njit(cache=True, nogil=True, error_model="numpy")
def _convex_hull(outline, normal, axis):
    """Indices of the corners of the convex hull of a flat outline (n, 3), anticlockwise about `normal`."""
    a, b = (axis + 1) % 3, (axis + 2) % 3
    sign = 1.0 if normal[axis] > 0.0 else -1.0
    n = outline.shape[0]
    first = 0
    for i in range(1, n):
        if outline[i, a] < outline[first, a] or (
            outline[i, a] == outline[first, a] and outline[i, b] < outline[first, b]
        ):
            first = i
    hull = np.empty(n, np.int64)
    count = 0
    current = first
    while count < n:
        # Wrapping: the next corner is the one with nothing to its right; the farthest of several in line.
        hull[count] = current
        count += 1
        following = -1
        for i in range(n):
            va, vb = outline[i, a] - outline[current, a], outline[i, b] - outline[current, b]
            if va == 0.0 and vb == 0.0:
                continue
            if following >= 0:
                wa = outline[following, a] - outline[current, a]
                wb = outline[following, b] - outline[current, b]
                turn = sign * (wa * vb - wb * va)
                if turn > 0.0 or (turn == 0.0 and va * va + vb * vb <= wa * wa + wb * wb):
                    continue
            following = i
        if following < 0 or (
            outline[following, a] == outline[first, a] and outline[following, b] == outline[first, b]
        ):
            break
        current = following
    return hull[:count]


@njit(cache=True, nogil=True, error_model="numpy")
def _widen(outline, corner, normal, margin, out):
    """Corners of a hull moved outwards by `margin` [m] into `out`; sharp corners become two."""
    n = corner.size
    count = 0
    for i in range(n):
        p, q, r = outline[corner[i - 1]], outline[corner[i]], outline[corner[(i + 1) % n]]
        t0 = _unit(q[0] - p[0], q[1] - p[1], q[2] - p[2])
        t1 = _unit(r[0] - q[0], r[1] - q[1], r[2] - q[2])
        n0 = _cross(t0, (normal[0], normal[1], normal[2]))
        n1 = _cross(t1, (normal[0], normal[1], normal[2]))
        if t0[0] * t1[0] + t0[1] * t1[1] + t0[2] * t1[2] < 0.0:
            for axis in range(3):
                out[count, axis] = q[axis] + margin * (n0[axis] + t0[axis])
                out[count + 1, axis] = q[axis] + margin * (n1[axis] - t1[axis])
            count += 2
        else:
            stretch = margin / (1.0 + n0[0] * n1[0] + n0[1] * n1[1] + n0[2] * n1[2])
            for axis in range(3):
                out[count, axis] = q[axis] + stretch * (n0[axis] + n1[axis])
            count += 1
    return count


@njit(cache=True, nogil=True, error_model="numpy")
def _unit(x, y, z):
    length = np.sqrt(x * x + y * y + z * z)
    return x / length, y / length, z / length


@njit(cache=True, nogil=True, error_model="numpy")
def _cross(a, b):
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


@njit(cache=True, nogil=True, error_model="numpy")
def grow_beams(up_to_order, region, facets, tolerance, nodes, node, n_nodes):
    """Grow the tree breadth first from `node` on, as far as the stores reach.

    Returns the first node that is not grown yet and the number of nodes: done when they are equal.
    """
    n_facets = facets.hull_start.size - 1
    farthest_sq = _farthest(region, facets.rows)
    mirrored = _mirrored_centres(region, facets.rows)
    score = np.empty(facets.rows.shape[1])
    widest = 0
    for facet in range(n_facets):
        widest = max(widest, facets.hull_start[facet + 1] - facets.hull_start[facet])
    widest = (up_to_order + 2) * (widest + 4)
    polygon = np.empty((2, widest, 4))
    while node < n_nodes:
        if nodes.depth[node] == up_to_order:
            return n_nodes, n_nodes
        before = n_nodes
        leaves = nodes.depth[node] + 1 == up_to_order
        if leaves and region.radius < np.inf:
            _score_mirrored(node, nodes, region, mirrored, facets.rows, tolerance, score)
        else:
            _score_boxes(node, nodes, facets.rows, farthest_sq, tolerance, score)
        for facet in range(n_facets):
            if score[facet] < 0.0:
                continue
            count = _clip_hull(node, facet, nodes, facets, tolerance, polygon)
            if count < 3 or _too_far(nodes.apex[node], polygon, count, region):
                continue
            if n_nodes == nodes.parent.size or nodes.side_start[n_nodes] + count > nodes.sides.shape[0]:
                return node, before
            if _add_node(node, facet, nodes, facets.rows, polygon, count, leaves, region, n_nodes):
                n_nodes += 1
        node += 1
    return node, n_nodes


@njit(cache=True, nogil=True, error_model="numpy")
def _farthest(region, rows):
    """Square of the largest distance [m2] an apex may have from each facet's box, -1 where none may."""
    out = np.empty(rows.shape[1])
    for k in range(rows.shape[1]):
        dx = max(abs(region.centre[0] - rows[CX, k]) - rows[HX, k], 0.0)
        dy = max(abs(region.centre[1] - rows[CY, k]) - rows[HY, k], 0.0)
        dz = max(abs(region.centre[2] - rows[CZ, k]) - rows[HZ, k], 0.0)
        left = region.reach_m - max(np.sqrt(dx * dx + dy * dy + dz * dz) - region.radius, 0.0)
        out[k] = left * left if left > 0.0 else -1.0
    return out


@njit(cache=True, nogil=True, error_model="numpy")
def _score_boxes(node, nodes, rows, farthest_sq, tolerance, score):
    """Negative for facets that are surely outside the node's beam, behind it, turned away or too far."""
    nx, ny, nz, offset = rows[NX], rows[NY], rows[NZ], rows[OFFSET]
    cx, cy, cz, hx, hy, hz = rows[CX], rows[CY], rows[CZ], rows[HX], rows[HY], rows[HZ]
    ax, ay, az = nodes.apex[node, 0], nodes.apex[node, 1], nodes.apex[node, 2]
    for k in range(score.size):
        height = nx[k] * ax + ny[k] * ay + nz[k] * az - offset[k] - tolerance
        dx = max(abs(ax - cx[k]) - hx[k], 0.0)
        dy = max(abs(ay - cy[k]) - hy[k], 0.0)
        dz = max(abs(az - cz[k]) - hz[k], 0.0)
        score[k] = min(height, farthest_sq[k] - (dx * dx + dy * dy + dz * dz))
    if node == 0:
        return
    own = nodes.facet[node]
    px, py, pz, pw = nx[own], ny[own], nz[own], 8.0 * tolerance - offset[own]
    bx, by, bz = abs(px), abs(py), abs(pz)
    for k in range(score.size):
        inside = px * cx[k] + py * cy[k] + pz * cz[k] + pw + bx * hx[k] + by * hy[k] + bz * hz[k]
        score[k] = min(score[k], inside)
    for side in range(nodes.side_start[node], nodes.side_start[node + 1]):
        px, py, pz, pw = (
            nodes.sides[side, 0],
            nodes.sides[side, 1],
            nodes.sides[side, 2],
            nodes.sides[side, 3],
        )
        bx, by, bz = abs(px), abs(py), abs(pz)
        for k in range(score.size):
            inside = px * cx[k] + py * cy[k] + pz * cz[k] + pw + bx * hx[k] + by * hy[k] + bz * hz[k]
            score[k] = min(score[k], inside)


@njit(cache=True, nogil=True, error_model="numpy")
def _mirrored_centres(region, rows):
    """The region's centre mirrored in each facet, and twice its height above it: (4, n_facets) [m]."""
    out = np.empty((4, rows.shape[1]))
    for k in range(rows.shape[1]):
        height = -rows[OFFSET, k]
        for axis in range(3):
            height += rows[NX + axis, k] * region.centre[axis]
        for axis in range(3):
            out[axis, k] = region.centre[axis] - 2.0 * height * rows[NX + axis, k]
        out[3, k] = 2.0 * height
    return out


@njit(cache=True, nogil=True, error_model="numpy")
def _score_mirrored(node, nodes, region, mirrored, rows, tolerance, score):
    """Negative for facets in which no source of the region can be mirrored into the node's beam."""
    nx, ny, nz, offset = rows[NX], rows[NY], rows[NZ], rows[OFFSET]
    mx, my, mz, twice = mirrored[0], mirrored[1], mirrored[2], mirrored[3]
    ax, ay, az = nodes.apex[node, 0], nodes.apex[node, 1], nodes.apex[node, 2]
    slack = region.radius + 8.0 * tolerance
    reach_sq = (region.reach_m + region.radius) ** 2
    for k in range(score.size):
        height = nx[k] * ax + ny[k] * ay + nz[k] * az - offset[k] - tolerance
        dx, dy, dz = mx[k] - ax, my[k] - ay, mz[k] - az
        score[k] = min(min(height, twice[k] + 2.0 * slack), reach_sq - (dx * dx + dy * dy + dz * dz))
    if node == 0:
        return
    own = nodes.facet[node]
    px, py, pz, pw = nx[own], ny[own], nz[own], slack - offset[own]
    for k in range(score.size):
        score[k] = min(score[k], px * mx[k] + py * my[k] + pz * mz[k] + pw)
    for side in range(nodes.side_start[node], nodes.side_start[node + 1]):
        px, py, pz = nodes.sides[side, 0], nodes.sides[side, 1], nodes.sides[side, 2]
        pw = nodes.sides[side, 3] + slack
        for k in range(score.size):
            score[k] = min(score[k], px * mx[k] + py * my[k] + pz * mz[k] + pw)


@njit(cache=True, nogil=True, error_model="numpy")
def _clip_hull(node, facet, nodes, facets, tolerance, polygon):
    """What the node's beam shows of a facet; returns its number of corners, 0 if nothing.

    `polygon` (2, n, 4) is room to work in; the corners come back in polygon[0, :, :3].
    """
    first = facets.hull_start[facet]
    count = facets.hull_start[facet + 1] - first
    for i in range(count):
        for axis in range(3):
            polygon[0, i, axis] = facets.hulls[first + i, axis]
    if node == 0:
        return count
    own = nodes.facet[node]
    rows = facets.rows
    count = _cut(
        polygon, count, rows[NX, own], rows[NY, own], rows[NZ, own], 8.0 * tolerance - rows[OFFSET, own]
    )
    for side in range(nodes.side_start[node], nodes.side_start[node + 1]):
        if count == 0:
            break
        sides = nodes.sides
        count = _cut(polygon, count, sides[side, 0], sides[side, 1], sides[side, 2], sides[side, 3])
    return count


@njit(cache=True, nogil=True, error_model="numpy")
def _cut(polygon, count, px, py, pz, pw):
    """Cut a convex polygon (2, n, 4) at a plane in place: what is on the positive side stays."""
    n_out = 0
    for i in range(count):
        here = px * polygon[0, i, 0] + py * polygon[0, i, 1] + pz * polygon[0, i, 2] + pw
        polygon[0, i, 3] = here
        n_out += here < 0.0
    if n_out == 0:
        return count
    if n_out == count:
        return 0
    kept = 0
    j = count - 1
    for i in range(count):
        before, here = polygon[0, j, 3], polygon[0, i, 3]
        if (before < 0.0) != (here < 0.0):
            t = before / (before - here)
            polygon[1, kept, 0] = polygon[0, j, 0] + t * (polygon[0, i, 0] - polygon[0, j, 0])
            polygon[1, kept, 1] = polygon[0, j, 1] + t * (polygon[0, i, 1] - polygon[0, j, 1])
            polygon[1, kept, 2] = polygon[0, j, 2] + t * (polygon[0, i, 2] - polygon[0, j, 2])
            kept += 1
        if here >= 0.0:
            polygon[1, kept, 0] = polygon[0, i, 0]
            polygon[1, kept, 1] = polygon[0, i, 1]
            polygon[1, kept, 2] = polygon[0, i, 2]
            kept += 1
        j = i
    for i in range(kept):
        polygon[0, i, 0], polygon[0, i, 1], polygon[0, i, 2] = (
            polygon[1, i, 0],
            polygon[1, i, 1],
            polygon[1, i, 2],
        )
    return kept


@njit(cache=True, nogil=True, error_model="numpy")
def _too_far(apex, polygon, count, region):
    """Whether every path from the apex by the polygon to the region's sources is too long."""
    to_apex, to_source = 0.0, 0.0
    for axis in range(3):
        low, high = np.inf, -np.inf
        for i in range(count):
            low = min(low, polygon[0, i, axis])
            high = max(high, polygon[0, i, axis])
        to_apex += max(low - apex[axis], 0.0, apex[axis] - high) ** 2
        to_source += max(low - region.centre[axis], 0.0, region.centre[axis] - high) ** 2
    return np.sqrt(to_apex) + max(np.sqrt(to_source) - region.radius, 0.0) > region.reach_m


@njit(cache=True, nogil=True, error_model="numpy")
def _add_node(parent, facet, nodes, rows, polygon, count, is_leaf, region, node):
    """Store a node; False, and nothing stored, if it is a leaf that no source of the region can see."""
    ux, uy, uz = nodes.apex[parent, 0], nodes.apex[parent, 1], nodes.apex[parent, 2]
    nx, ny, nz = rows[NX, facet], rows[NY, facet], rows[NZ, facet]
    height = nx * ux + ny * uy + nz * uz - rows[OFFSET, facet]
    ax, ay, az = ux - 2.0 * height * nx, uy - 2.0 * height * ny, uz - 2.0 * height * nz
    sx, sy, sz = region.centre[0], region.centre[1], region.centre[2]
    side = nodes.side_start[node]
    for i in range(count):
        j = i + 1 if i + 1 < count else 0
        ux, uy, uz = polygon[0, i, 0] - ax, polygon[0, i, 1] - ay, polygon[0, i, 2] - az
        vx, vy, vz = (
            polygon[0, j, 0] - polygon[0, i, 0],
            polygon[0, j, 1] - polygon[0, i, 1],
            polygon[0, j, 2] - polygon[0, i, 2],
        )
        px, py, pz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        length = np.sqrt(px * px + py * py + pz * pz)
        # An edge this short (the beam is far wider than it) has no direction: the beam goes without.
        if length < 1e-13 * (1.0 + height):
            continue
        px, py, pz = px / length, py / length, pz / length
        pw = -(px * ax + py * ay + pz * az)
        if is_leaf and px * sx + py * sy + pz * sz + pw < -region.radius:
            return False
        nodes.sides[side, 0], nodes.sides[side, 1], nodes.sides[side, 2], nodes.sides[side, 3] = (
            px,
            py,
            pz,
            pw,
        )
        side += 1
    if side == nodes.side_start[node]:
        return False
    nodes.side_start[node + 1] = side
    nodes.parent[node], nodes.facet[node] = parent, facet
    nodes.depth[node] = nodes.depth[parent] + 1
    nodes.apex[node, 0], nodes.apex[node, 1], nodes.apex[node, 2] = ax, ay, az
    for axis in range(4):
        nodes.guard[axis, node] = 0.0
    return True
