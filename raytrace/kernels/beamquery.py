"""Paths from a source through stored beams."""

import numpy as np
from numba import njit

from raytrace.kernels.legs import OUTSIDE, leg_is_clear, locate


@njit(cache=True, nogil=True, error_model="numpy")
def sources_inside(source, reach_m, guard_reach_m, nodes, n_nodes, rows, tolerance, found):
    """Nodes whose beam holds the source (3,), into `found` (n_nodes,) int; returns their number.

    Each beam that does not leaves its most telling plane in `nodes.guard`, so that the next source near
    by is turned away by one product. Guards against distance hold for paths up to `guard_reach_m`.
    """
    sx, sy, sz = source[0], source[1], source[2]
    gx, gy, gz, gw = nodes.guard[0], nodes.guard[1], nodes.guard[2], nodes.guard[3]
    n_asked = 0
    for node in range(1, n_nodes):
        found[n_asked] = node
        n_asked += gx[node] * sx + gy[node] * sy + gz[node] * sz + gw[node] >= 0.0
    count = 0
    for i in range(n_asked):
        node = found[i]
        own = nodes.facet[node]
        worst = sx * rows[0, own] + sy * rows[1, own] + sz * rows[2, own] - rows[3, own] - tolerance
        which = -1
        for side in range(nodes.side_start[node], nodes.side_start[node + 1]):
            plane = nodes.sides[side]
            inside = sx * plane[0] + sy * plane[1] + sz * plane[2] + plane[3]
            if inside < worst:
                worst, which = inside, side
        dx, dy, dz = sx - nodes.apex[node, 0], sy - nodes.apex[node, 1], sz - nodes.apex[node, 2]
        distance = np.sqrt(dx * dx + dy * dy + dz * dz)
        if distance > guard_reach_m and guard_reach_m - distance < worst:
            ux, uy, uz = dx / distance, dy / distance, dz / distance
            gx[node], gy[node], gz[node] = -ux, -uy, -uz
            gw[node] = (
                ux * nodes.apex[node, 0] + uy * nodes.apex[node, 1] + uz * nodes.apex[node, 2] + guard_reach_m
            )
        elif worst < 0.0:
            if which < 0:
                gx[node], gy[node], gz[node] = rows[0, own], rows[1, own], rows[2, own]
                gw[node] = -rows[3, own] - tolerance
            else:
                gx[node], gy[node] = nodes.sides[which, 0], nodes.sides[which, 1]
                gz[node], gw[node] = nodes.sides[which, 2], nodes.sides[which, 3]
        elif distance <= reach_m:
            found[count] = node
            count += 1
    return count


@njit(cache=True, nogil=True, error_model="numpy")
def exact_paths(source, found, nodes, rows, arrays, tolerance, points, facets, length_m):
    """Finished paths among the nodes `found` (n,): source, bounces, listener into `points` (n, order + 2, 3).

    `facets` (n, order) and `length_m` (n,) go with them. Returns their number.
    """
    met = np.empty(rows.shape[1], np.bool_)
    count = 0
    for i in range(found.size):
        node = found[i]
        depth = nodes.depth[node]
        path = points[count]
        if not _fold(source, node, nodes, rows, arrays, tolerance, path):
            continue
        clear = True
        for leg in range(depth + 1):
            if clear:
                clear = leg_is_clear(path, leg, rows, arrays, tolerance, met)
        if not clear:
            continue
        apex = nodes.apex[node]
        square = (source[0] - apex[0]) ** 2 + (source[1] - apex[1]) ** 2 + (source[2] - apex[2]) ** 2
        length_m[count] = np.sqrt(square)
        for k in range(facets.shape[1]):
            facets[count, k] = -1
        for k in range(depth):
            facets[count, k] = nodes.facet[node]
            node = nodes.parent[node]
        for k in range(depth + 2, points.shape[1]):
            for axis in range(3):
                path[k, axis] = np.nan
        count += 1
    return count


@njit(cache=True, nogil=True, error_model="numpy")
def _fold(source, node, nodes, rows, arrays, tolerance, path):
    """Bounce points of the source's path through a node into `path`; False where one misses its facet."""
    path[0, 0], path[0, 1], path[0, 2] = source[0], source[1], source[2]
    step = 0
    while node > 0:
        facet = nodes.facet[node]
        nx, ny, nz, offset = rows[0, facet], rows[1, facet], rows[2, facet], rows[3, facet]
        front = nx * path[step, 0] + ny * path[step, 1] + nz * path[step, 2] - offset
        behind = nx * nodes.apex[node, 0] + ny * nodes.apex[node, 1] + nz * nodes.apex[node, 2] - offset
        if front < -tolerance or behind >= -tolerance or (step == 0 and front <= tolerance):
            return False
        t = max(front, 0.0) / (max(front, 0.0) - behind)
        step += 1
        for axis in range(3):
            path[step, axis] = path[step - 1, axis] + t * (nodes.apex[node, axis] - path[step - 1, axis])
        if locate(path[step, 0], path[step, 1], path[step, 2], facet, arrays, tolerance) == OUTSIDE:
            return False
        node = nodes.parent[node]
    for axis in range(3):
        path[step + 1, axis] = nodes.apex[0, axis]
    return True


@njit(cache=True, nogil=True, error_model="numpy")
def repeats(points, order, group, tolerance):
    """Which paths (n,) have the bounce points of an earlier one of their order and group of lengths."""
    n = order.size
    repeated = np.zeros(n, np.bool_)
    for i in range(n):
        for j in range(i + 1, n):
            if group[j] != group[i] or order[j] != order[i]:
                break
            apart = 0.0
            for k in range(1, order[i] + 1):
                for axis in range(3):
                    apart = max(apart, abs(points[i, k, axis] - points[j, k, axis]))
            repeated[j] |= apart <= 10.0 * tolerance and not repeated[i]
    return repeated
