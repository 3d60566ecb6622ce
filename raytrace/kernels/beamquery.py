"""Paths from a source through stored beams."""

from typing import NamedTuple

import numpy as np

from raytrace.kernels.edges import turn_and_miss
from raytrace.kernels.jit import kernel
from raytrace.kernels.legs import BLOCKED, CLEAR, OUTSIDE, TOUCHES, leg_is_clear, locate


class NearEdges(NamedTuple):
    """Edges beside which sound is not gone at once.

    is_free (n_points,) bool: whether the air goes round the edge from each corner of the facets to the next;
    is_body (n_facets,) bool: faces of objects; wavelength [m] of the Fresnel zone
    """

    is_free: np.ndarray
    is_body: np.ndarray
    wavelength: float


@kernel
def sources_inside(source, reach_m, nodes, n_nodes, rows, tolerance, found):
    """Nodes whose beam holds the source (3,), into `found` (n_nodes,) int; returns their number."""
    sx, sy, sz = source[0], source[1], source[2]
    count = 0
    for node in range(1, n_nodes):
        own = nodes.facet[node]
        if sx * rows[0, own] + sy * rows[1, own] + sz * rows[2, own] - rows[3, own] - tolerance < 0.0:
            continue
        is_inside = True
        for side in range(nodes.side_start[node], nodes.side_start[node + 1]):
            plane = nodes.sides[side]
            if sx * plane[0] + sy * plane[1] + sz * plane[2] + plane[3] < 0.0:
                is_inside = False
                break
        if is_inside and _distance(source, nodes.apex[node]) <= reach_m:
            found[count] = node
            count += 1
    return count


@kernel
def exact_paths(source, found, nodes, rows, arrays, tolerance, points, facets, length_m):
    """Finished paths among the nodes `found` (n,): source, bounces, listener into `points` (n, order + 2, 3).

    `facets` (n, order) and `length_m` (n,) go with them. Returns their number.
    """
    met = np.empty(rows.shape[1], np.bool_)
    count = 0
    for i in range(found.size):
        depth = _fold(source, found[i], nodes, rows, tolerance, points[count], facets[count])
        on_facets = depth > 0
        for k in range(depth):
            if on_facets:
                x, y, z = points[count, k + 1, 0], points[count, k + 1, 1], points[count, k + 1, 2]
                on_facets = locate(x, y, z, facets[count, k], arrays, tolerance) != OUTSIDE
        if on_facets and _legs_are_clear(points[count], depth, rows, arrays, tolerance, met):
            length_m[count] = _distance(source, nodes.apex[found[i]])
            count += 1
    return count


@kernel
def near_misses(source, found, nodes, rows, arrays, edges, tolerance, points, facets, missed, length_m):
    """Paths as `exact_paths`, but a spot misses its facet by a free edge, or a leg meets a body beside one.

    By less than the radius of the first Fresnel zone; `edges` is a NearEdges. `missed` (n, order) bool
    receives which spots miss. Returns the number of paths.
    """
    met = np.empty(rows.shape[1], np.bool_)
    count = 0
    for i in range(found.size):
        path = points[count]
        depth = _fold(source, found[i], nodes, rows, tolerance, path, facets[count])
        length = _distance(source, nodes.apex[found[i]])
        n_missed, travelled, near = 0, 0.0, depth > 0
        for k in range(depth):
            travelled += _distance(path[k], path[k + 1])
            facet = facets[count, k]
            outside = (
                locate(path[k + 1, 0], path[k + 1, 1], path[k + 1, 2], facet, arrays, tolerance) == OUTSIDE
            )
            missed[count, k] = outside
            n_missed += outside
            if outside and near:
                radius_sq = edges.wavelength * travelled * (length - travelled) / length
                near = _free_edge_distance_sq(path[k + 1], facet, arrays, edges.is_free) < radius_sq
        for k in range(depth, missed.shape[1]):
            missed[count, k] = False
        if not near:
            continue
        state = _legs_beside_edges(path, depth, length, rows, arrays, edges, tolerance, met)
        if state == TOUCHES or (state == CLEAR and n_missed > 0):
            length_m[count] = length
            count += 1
    return count


@kernel
def _legs_beside_edges(path, depth, length, rows, arrays, edges, tolerance, met):
    """CLEAR, TOUCHES where some legs meet bodies near their free edges and nothing else, or BLOCKED."""
    state, travelled = CLEAR, 0.0
    for leg in range(depth + 1):
        if not leg_is_clear(path, leg, rows, arrays, tolerance, met):
            if not _meets_edges(path, leg, travelled, length, rows, arrays, edges, tolerance):
                return BLOCKED
            state = TOUCHES
        travelled += _distance(path[leg], path[leg + 1])
    return state


@kernel
def _meets_edges(path, leg, travelled, length, rows, arrays, edges, tolerance):
    """Whether a leg that begins so far along its path [m] meets bodies, one of them near a free edge."""
    start, end = path[leg], path[leg + 1]
    way = _distance(start, end)
    is_near = False
    for facet in range(arrays.offsets.size):
        before, after = -rows[3, facet], -rows[3, facet]
        for axis in range(3):
            before += rows[axis, facet] * start[axis]
            after += rows[axis, facet] * end[axis]
        if (before > 0.0) == (after > 0.0) or min(abs(before), abs(after)) <= tolerance:
            continue
        t = before / (before - after)
        x = start[0] + t * (end[0] - start[0])
        y = start[1] + t * (end[1] - start[1])
        z = start[2] + t * (end[2] - start[2])
        inside = abs(x - rows[4, facet]) <= rows[7, facet] and abs(y - rows[5, facet]) <= rows[8, facet]
        if not inside or abs(z - rows[6, facet]) > rows[9, facet]:
            continue
        if locate(x, y, z, facet, arrays, tolerance) == OUTSIDE:
            continue
        if not edges.is_body[facet]:
            return False
        at = travelled + t * way
        radius_sq = edges.wavelength * at * (length - at) / length
        for loop in range(arrays.facet_loops[facet], arrays.facet_loops[facet + 1]):
            first, last = arrays.loop_start[loop], arrays.loop_start[loop + 1]
            for i in range(first, last):
                if edges.is_free[i]:
                    j = i + 1 if i + 1 < last else first
                    _, miss = turn_and_miss(arrays.points[i], arrays.points[j], start, end)
                    is_near |= miss * miss < radius_sq
    return is_near


@kernel
def _fold(source, node, nodes, rows, tolerance, path, facets):
    """The straight line from the source to a node's apex, folded back at the node's planes.

    Points into `path` (order + 2, 3), facets into `facets` (order,), NaN and -1 behind them. Returns the
    number of bounces, 0 where the line does not reach the planes one after the other from the air.
    """
    path[0, 0], path[0, 1], path[0, 2] = source[0], source[1], source[2]
    step = 0
    while node > 0:
        facet = nodes.facet[node]
        nx, ny, nz, offset = rows[0, facet], rows[1, facet], rows[2, facet], rows[3, facet]
        front = nx * path[step, 0] + ny * path[step, 1] + nz * path[step, 2] - offset
        behind = nx * nodes.apex[node, 0] + ny * nodes.apex[node, 1] + nz * nodes.apex[node, 2] - offset
        if front < -tolerance or behind >= -tolerance or (step == 0 and front <= tolerance):
            return 0
        t = max(front, 0.0) / (max(front, 0.0) - behind)
        for axis in range(3):
            path[step + 1, axis] = path[step, axis] + t * (nodes.apex[node, axis] - path[step, axis])
        facets[step] = facet
        step += 1
        node = nodes.parent[node]
    for axis in range(3):
        path[step + 1, axis] = nodes.apex[0, axis]
        for k in range(step + 2, path.shape[0]):
            path[k, axis] = np.nan
    for k in range(step, facets.size):
        facets[k] = -1
    return step


@kernel
def _legs_are_clear(path, depth, rows, arrays, tolerance, met):
    for leg in range(depth + 1):
        if not leg_is_clear(path, leg, rows, arrays, tolerance, met):
            return False
    return True


@kernel
def _distance(a, b):
    return np.sqrt((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2 + (a[2] - b[2]) ** 2)


@kernel
def _free_edge_distance_sq(point, facet, arrays, free_edges):
    """Square of the distance [m2] from a point (3,) to the nearest free edge of a facet, inf without one."""
    nearest = np.inf
    for loop in range(arrays.facet_loops[facet], arrays.facet_loops[facet + 1]):
        first, last = arrays.loop_start[loop], arrays.loop_start[loop + 1]
        for i in range(first, last):
            if not free_edges[i]:
                continue
            j = i + 1 if i + 1 < last else first
            along, square, total = 0.0, 0.0, 0.0
            for axis in range(3):
                edge = arrays.points[j, axis] - arrays.points[i, axis]
                along += edge * (point[axis] - arrays.points[i, axis])
                square += edge * edge
            t = min(1.0, max(0.0, along / square))
            for axis in range(3):
                edge = arrays.points[j, axis] - arrays.points[i, axis]
                total += (point[axis] - arrays.points[i, axis] - t * edge) ** 2
            nearest = min(nearest, total)
    return nearest


@kernel
def repeats(points, facets, missed, order, group, tolerance):
    """Which paths (n,) have the bounce points of an earlier one of their order and group of lengths.

    Where a spot misses, another facet is another reflector, and its path no repetition.
    """
    n = order.size
    repeated = np.zeros(n, np.bool_)
    for i in range(n):
        for j in range(i + 1, n):
            if group[j] != group[i] or order[j] != order[i]:
                break
            apart = 0.0
            for k in range(order[i]):
                for axis in range(3):
                    apart = max(apart, abs(points[i, k + 1, axis] - points[j, k + 1, axis]))
                if (missed[i, k] or missed[j, k]) and facets[i, k] != facets[j, k]:
                    apart = np.inf
            repeated[j] |= apart <= 10.0 * tolerance and not repeated[i]
    return repeated
