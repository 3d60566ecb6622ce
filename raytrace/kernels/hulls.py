"""Convex hulls of facets, a little larger than they are, and boxes round them: what beams are cut by."""

from typing import NamedTuple

import numpy as np

from raytrace.kernels.jit import kernel

NX, NY, NZ, OFFSET, CX, CY, CZ, HX, HY, HZ = range(10)
GROUP = 32  # facets that are looked at together: a few whole vectors


class BeamFacets(NamedTuple):
    """Facets as beams see them; neighbours in number should be neighbours in space.

    rows : (10, n_facets) normal, offset [m], centre and half size of a box round the hull [m]
    hulls : (n_corners, 3) corners of the convex hulls, anticlockwise seen from the air [m]
    hull_start : (n_facets + 1,) first corner of each hull
    groups : (6, n_groups) centre and half size of the box round each GROUP facets in a row [m]
    """

    rows: np.ndarray
    hulls: np.ndarray
    hull_start: np.ndarray
    groups: np.ndarray


@kernel
def prepare_facets(arrays, margin):
    """Hulls of all facets, widened by `margin` (n_facets,) [m] in their planes."""
    n_facets = arrays.offsets.size
    # Rounded up to whole groups with facets that everything is behind.
    rows = np.zeros((10, (n_facets + GROUP - 1) // GROUP * GROUP))
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
    return BeamFacets(rows, hulls, hull_start, _group_boxes(rows, n_facets))


@kernel
def _group_boxes(rows, n_facets):
    groups = np.empty((6, rows.shape[1] // GROUP))
    for group in range(groups.shape[1]):
        for axis in range(3):
            low, high = np.inf, -np.inf
            for k in range(group * GROUP, min((group + 1) * GROUP, n_facets)):
                low = min(low, rows[CX + axis, k] - rows[HX + axis, k])
                high = max(high, rows[CX + axis, k] + rows[HX + axis, k])
            groups[axis, group] = 0.5 * (low + high)
            groups[3 + axis, group] = 0.5 * (high - low)
    return groups


@kernel
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


@kernel
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


@kernel
def _unit(x, y, z):
    length = np.sqrt(x * x + y * y + z * z)
    return x / length, y / length, z / length


@kernel
def _cross(a, b):
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]
