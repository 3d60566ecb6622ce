"""Beam tree rooted at the listener: mirrored apexes, beams clipped facet by facet.

A node is a facet seen in a sequence of mirrors. Its apex is the listener mirrored in that sequence, its
beam the pyramid from the apex through what can be seen of the facet, in front of the facet. A source
hears the listener by that sequence only from inside the beam. Facets are taken as convex hulls, a little
larger than they are, so that nothing on an edge is lost; the exact outline is tested on the finished path.
"""

from typing import NamedTuple

import numpy as np

from raytrace.kernels.hulls import CX, CY, CZ, GROUP, HX, HY, HZ, NX, NY, NZ, OFFSET
from raytrace.kernels.jit import inlined, kernel


class BeamNodes(NamedTuple):
    """Stored beams; node 0 is the listener itself. Room for more than are used.

    parent, facet, depth : (capacity,)
    apex : (capacity, 3) listener mirrored in the node's facets [m]
    side_start : (capacity + 1,) first of the node's sides
    sides : (side_capacity, 4) planes through the apex, positive inside the beam
    """

    parent: np.ndarray
    facet: np.ndarray
    depth: np.ndarray
    apex: np.ndarray
    side_start: np.ndarray
    sides: np.ndarray


class Region(NamedTuple):
    """Sources that a tree serves, and the longest path to each.

    centres : (n_sources, 3) [m]
    reach_m : (n_sources, up_to_order + 1) by number of bounces, never longer for more of them [m]
    """

    centres: np.ndarray
    reach_m: np.ndarray


@kernel
def grow_beams(region, facets, tolerance, nodes, node, n_nodes):
    """Grow the tree breadth first from `node` on, as far as the stores reach.

    Returns the first node that is not grown yet and the number of nodes: done when they are equal.
    """
    up_to_order = region.reach_m.shape[1] - 1
    farthest_sq = _farthest(region, facets.rows)
    mirrored = _mirrored_centres(region, facets.rows)
    score, group_score = np.empty((2, facets.rows.shape[1])), np.empty(facets.groups.shape[1])
    is_heard = np.empty(region.centres.shape[0], np.bool_)
    most_corners = 0
    for facet in range(facets.hull_start.size - 1):
        most_corners = max(most_corners, facets.hull_start[facet + 1] - facets.hull_start[facet])
    # Each cut adds a corner at most, and a beam has no more sides than its facet has corners.
    polygon = np.empty((2, (up_to_order + 2) * (most_corners + 4), 4))
    while node < n_nodes:
        if nodes.depth[node] == up_to_order:
            return n_nodes, n_nodes
        before, order = n_nodes, nodes.depth[node] + 1
        is_leaf = order == up_to_order
        _score_groups(node, nodes, facets, tolerance, group_score)
        first = 0
        while first < group_score.size:
            # Groups in a row that the beam may meet are looked at in one go.
            last = first
            while last < group_score.size and group_score[last] >= 0.0:
                last += 1
            if last > first:
                start, end = first * GROUP, last * GROUP
                if is_leaf:
                    _score_leaves(node, nodes, region, mirrored, facets.rows, tolerance, start, end, score)
                else:
                    _score_boxes(
                        node, nodes, facets.rows, farthest_sq[order], tolerance, start, end, score[0]
                    )
                n_nodes = _add_children(
                    node, nodes, facets, tolerance, start, end, score[0], polygon, is_heard, region, n_nodes
                )
                if n_nodes < 0:
                    return node, before
            first = last + 1
        node += 1
    return node, n_nodes


# Inlined: a call would count the references of two dozen arrays, as long as half its own work.
@inlined
def _add_children(node, nodes, facets, tolerance, start, end, score, polygon, is_heard, region, n_nodes):
    """Store a node's beams through the facets from `start` to `end`; the number of nodes, -1 if full."""
    for facet in range(start, min(end, facets.hull_start.size - 1)):
        if score[facet] < 0.0:
            continue
        count = _clip_hull(node, facet, nodes, facets, tolerance, polygon)
        if count < 3 or _too_far(nodes.apex[node], polygon, count, region, nodes.depth[node] + 1):
            continue
        if n_nodes == nodes.parent.size or nodes.side_start[n_nodes] + count > nodes.sides.shape[0]:
            return -1
        if _add_node(node, facet, nodes, facets.rows, polygon, count, is_heard, region, n_nodes):
            n_nodes += 1
    return n_nodes


@kernel
def _farthest(region, rows):
    """Square of the largest distance [m2] an apex may have from each facet's box, -1 where none may.

    (up_to_order + 1, n_facets), by the number of bounces with that at the facet.
    """
    out = np.full((region.reach_m.shape[1], rows.shape[1]), -1.0)
    for source in range(region.centres.shape[0]):
        x, y, z = region.centres[source, 0], region.centres[source, 1], region.centres[source, 2]
        for k in range(rows.shape[1]):
            dx = max(abs(x - rows[CX, k]) - rows[HX, k], 0.0)
            dy = max(abs(y - rows[CY, k]) - rows[HY, k], 0.0)
            dz = max(abs(z - rows[CZ, k]) - rows[HZ, k], 0.0)
            beyond = np.sqrt(dx * dx + dy * dy + dz * dz)
            for order in range(out.shape[0]):
                left = region.reach_m[source, order] - beyond
                if left > 0.0:
                    out[order, k] = max(out[order, k], left * left)
    return out


@kernel
def _score_groups(node, nodes, facets, tolerance, score):
    """Negative for groups of facets that are surely outside the node's beam."""
    cx, cy, cz = facets.groups[0], facets.groups[1], facets.groups[2]
    hx, hy, hz = facets.groups[3], facets.groups[4], facets.groups[5]
    score[:] = 0.0
    if node == 0 or score.size < 3:
        return
    own, first = nodes.facet[node], nodes.side_start[node]
    for side in range(first - 1, nodes.side_start[node + 1]):
        if side < first:
            px, py, pz = facets.rows[NX, own], facets.rows[NY, own], facets.rows[NZ, own]
            pw = 8.0 * tolerance - facets.rows[OFFSET, own]
        else:
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


@kernel
def _score_boxes(node, nodes, rows, farthest_sq, tolerance, start, end, score):
    """Negative for facets that are surely outside the node's beam, behind it, turned away or too far."""
    nx, ny, nz, offset = rows[NX], rows[NY], rows[NZ], rows[OFFSET]
    cx, cy, cz, hx, hy, hz = rows[CX], rows[CY], rows[CZ], rows[HX], rows[HY], rows[HZ]
    ax, ay, az = nodes.apex[node, 0], nodes.apex[node, 1], nodes.apex[node, 2]
    for k in range(np.uint64(start), np.uint64(end)):
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
    for k in range(np.uint64(start), np.uint64(end)):
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
        for k in range(np.uint64(start), np.uint64(end)):
            inside = px * cx[k] + py * cy[k] + pz * cz[k] + pw + bx * hx[k] + by * hy[k] + bz * hz[k]
            score[k] = min(score[k], inside)


@kernel
def _mirrored_centres(region, rows):
    """Centres mirrored in each facet, and twice their height above it: (n_sources, 4, n_facets) [m]."""
    out = np.empty((region.centres.shape[0], 4, rows.shape[1]))
    for source in range(out.shape[0]):
        for k in range(rows.shape[1]):
            height = -rows[OFFSET, k]
            for axis in range(3):
                height += rows[NX + axis, k] * region.centres[source, axis]
            for axis in range(3):
                out[source, axis, k] = region.centres[source, axis] - 2.0 * height * rows[NX + axis, k]
            out[source, 3, k] = 2.0 * height
    return out


@kernel
def _score_leaves(node, nodes, region, mirrored, rows, tolerance, start, end, score):
    """Negative in score[0] for facets in which no source can be mirrored into the node's beam.

    `score` (2, n_facets): the second row is room to work in.
    """
    for source in range(region.centres.shape[0]):
        row = score[min(source, 1)]
        reach = region.reach_m[source, nodes.depth[node] + 1]
        _score_mirrored(node, nodes, reach, mirrored[source], rows, tolerance, start, end, row)
        if source > 0:
            for k in range(start, end):
                score[0, k] = max(score[0, k], score[1, k])


@kernel
def _score_mirrored(node, nodes, reach, mirrored, rows, tolerance, start, end, score):
    """Negative for facets in which one source cannot be mirrored into the node's beam."""
    nx, ny, nz, offset = rows[NX], rows[NY], rows[NZ], rows[OFFSET]
    mx, my, mz, twice = mirrored[0], mirrored[1], mirrored[2], mirrored[3]
    ax, ay, az = nodes.apex[node, 0], nodes.apex[node, 1], nodes.apex[node, 2]
    slack = 8.0 * tolerance
    reach_sq = reach**2
    for k in range(np.uint64(start), np.uint64(end)):
        height = nx[k] * ax + ny[k] * ay + nz[k] * az - offset[k] - tolerance
        dx, dy, dz = mx[k] - ax, my[k] - ay, mz[k] - az
        score[k] = min(min(height, twice[k] + 2.0 * slack), reach_sq - (dx * dx + dy * dy + dz * dz))
    if node == 0:
        return
    own = nodes.facet[node]
    px, py, pz, pw = nx[own], ny[own], nz[own], slack - offset[own]
    for k in range(np.uint64(start), np.uint64(end)):
        score[k] = min(score[k], px * mx[k] + py * my[k] + pz * mz[k] + pw)
    for side in range(nodes.side_start[node], nodes.side_start[node + 1]):
        px, py, pz = nodes.sides[side, 0], nodes.sides[side, 1], nodes.sides[side, 2]
        pw = nodes.sides[side, 3] + slack
        for k in range(np.uint64(start), np.uint64(end)):
            score[k] = min(score[k], px * mx[k] + py * my[k] + pz * mz[k] + pw)


@kernel
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


@kernel
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


@kernel
def _too_far(apex, polygon, count, region, order):
    """Whether every path of `order` bounces from the apex by the polygon to the sources is too long."""
    for source in range(region.centres.shape[0]):
        to_apex, to_source = 0.0, 0.0
        for axis in range(3):
            low, high = np.inf, -np.inf
            for i in range(count):
                low = min(low, polygon[0, i, axis])
                high = max(high, polygon[0, i, axis])
            here = region.centres[source, axis]
            to_apex += max(low - apex[axis], 0.0, apex[axis] - high) ** 2
            to_source += max(low - here, 0.0, here - high) ** 2
        length = np.sqrt(to_apex) + np.sqrt(to_source)
        if length <= region.reach_m[source, order]:
            return False
    return True


@kernel
def _add_node(parent, facet, nodes, rows, polygon, count, is_heard, region, node):
    """Store a node; False, and nothing stored, if it is a leaf that no source of the region can see.

    `is_heard` (n_sources,) is room to work in.
    """
    is_leaf = nodes.depth[parent] + 2 == region.reach_m.shape[1]
    n_heard = is_heard.size
    is_heard[:] = True
    ux, uy, uz = nodes.apex[parent, 0], nodes.apex[parent, 1], nodes.apex[parent, 2]
    nx, ny, nz = rows[NX, facet], rows[NY, facet], rows[NZ, facet]
    height = nx * ux + ny * uy + nz * uz - rows[OFFSET, facet]
    ax, ay, az = ux - 2.0 * height * nx, uy - 2.0 * height * ny, uz - 2.0 * height * nz
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
        if is_leaf:
            for source in range(is_heard.size):
                sx, sy, sz = region.centres[source, 0], region.centres[source, 1], region.centres[source, 2]
                if is_heard[source] and px * sx + py * sy + pz * sz + pw < 0.0:
                    is_heard[source] = False
                    n_heard -= 1
            if n_heard == 0:
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
    return True
