"""Convex polygons cut along planes, and integrals over them."""

import numpy as np

from raytrace.kernels.jit import kernel


@kernel
def split(points, start, planes, plane_start, slack):
    """Convex polygons cut along planes of their own, every part kept.

    points (n, 3), start (n_polygons + 1,): corners of one polygon after the other [m]; planes (m, 4):
    normal and offset; plane_start (n_polygons + 1,): which of them cut which; slack [m]: how far off a plane
    a corner is on it. Returns corners and starts of the parts and the polygon (n_parts,) that each is of.
    """
    n_polygons = len(start) - 1
    most = 0
    for p in range(n_polygons):
        most = max(most, start[p + 1] - start[p] + plane_start[p + 1] - plane_start[p])
    pool = np.empty((64, most + 2, 3))
    count = np.empty(64, np.int64)
    out_points = np.empty((4 * len(points) + 64, 3))
    out_start = np.empty(4 * n_polygons + 64, np.int64)
    parent = np.empty(4 * n_polygons + 64, np.int64)
    out_start[0] = 0
    n_out = 0
    for p in range(n_polygons):
        count[0] = start[p + 1] - start[p]
        pool[0, : count[0]] = points[start[p] : start[p + 1]]
        n_parts = 1
        for k in range(plane_start[p], plane_start[p + 1]):
            if 2 * n_parts > len(count):
                count = np.concatenate((count, np.empty_like(count)))
                pool = np.concatenate((pool, np.empty_like(pool)))
            for i in range(n_parts):
                if _cut(pool, count, i, n_parts, planes[k], slack):
                    n_parts += 1
        for i in range(n_parts):
            if n_out + 2 > len(parent):
                parent = np.concatenate((parent, np.empty_like(parent)))
                out_start = np.concatenate((out_start, np.empty_like(out_start)))
            first = out_start[n_out]
            while first + count[i] > len(out_points):
                out_points = np.concatenate((out_points, np.empty_like(out_points)))
            out_points[first : first + count[i]] = pool[i, : count[i]]
            parent[n_out] = p
            n_out += 1
            out_start[n_out] = first + count[i]
    return out_points[: out_start[n_out]], out_start[: n_out + 1], parent[:n_out]


@kernel
def _cut(pool, count, i, spare, plane, slack):
    """Cut polygon i of a pool: its part behind the plane stays, the other one becomes polygon `spare`."""
    n = count[i]
    height = np.empty(n)
    low = high = 0.0
    for j in range(n):
        q = pool[i, j]
        height[j] = q[0] * plane[0] + q[1] * plane[1] + q[2] * plane[2] - plane[3]
        if abs(height[j]) <= slack:
            height[j] = 0.0
        low, high = min(low, height[j]), max(high, height[j])
    if low == 0.0 or high == 0.0:
        return False
    behind = np.empty((n + 1, 3))
    n_behind = n_before = 0
    for j in range(n):
        following = (j + 1) % n
        if height[j] <= 0.0:
            behind[n_behind] = pool[i, j]
            n_behind += 1
        if height[j] >= 0.0:
            pool[spare, n_before] = pool[i, j]
            n_before += 1
        if height[j] * height[following] < 0.0:
            t = height[j] / (height[j] - height[following])
            for axis in range(3):
                x = pool[i, j, axis] + t * (pool[i, following, axis] - pool[i, j, axis])
                behind[n_behind, axis] = x
                pool[spare, n_before, axis] = x
            n_behind += 1
            n_before += 1
    pool[i, :n_behind] = behind[:n_behind]
    count[i] = n_behind
    count[spare] = n_before
    return True


@kernel
def moments(points, start, polygon, cell, sign, centre, half, nodes, weights, out):
    """Add to the moments of cells what faces of their air make of them, by the divergence theorem.

    points (n, 3), start (n_polygons + 1,): corners [m]; polygon, cell, sign (m,): which face bounds which
    cell, +1 where its corners run anticlockwise as seen from outside the air; centre, half (n_cells, 3): of
    the cells [m]; nodes, weights: a Gauss rule on 0 to 1; out (n_cells, n, n, n): integrals of x^a y^b z^c
    in units of each cell's half sizes. A homogeneous f of degree q: the divergence of f r is (q + 3) f.
    """
    n_powers = out.shape[1]
    power = np.ones((3, n_powers))
    corner = np.empty((3, 3))
    for row in range(len(polygon)):
        p, target = polygon[row], cell[row]
        for k in range(start[p] + 1, start[p + 1] - 1):
            for axis in range(3):
                for which, at in enumerate((start[p], k, k + 1)):
                    corner[which, axis] = (points[at, axis] - centre[target, axis]) / half[target, axis]
            a, b, c = corner[0], corner[1], corner[2]
            volume = sign[row] * (
                a[0] * (b[1] * c[2] - b[2] * c[1])
                + a[1] * (b[2] * c[0] - b[0] * c[2])
                + a[2] * (b[0] * c[1] - b[1] * c[0])
            )
            for i in range(len(nodes)):
                for j in range(len(nodes)):
                    share = volume * weights[i] * weights[j] * nodes[i]
                    for axis in range(3):
                        along = a[axis] + nodes[i] * (b[axis] - a[axis] + nodes[j] * (c[axis] - b[axis]))
                        for e in range(1, n_powers):
                            power[axis, e] = power[axis, e - 1] * along
                    for e in range(n_powers):
                        for f in range(n_powers):
                            both = share * power[0, e] * power[1, f]
                            for g in range(n_powers):
                                out[target, e, f, g] += both * power[2, g] / (3 + e + f + g)


@kernel
def rule(points, start, nodes, weights):
    """Points and weights for integrals over convex polygons, and which polygon each is of.

    points (n, 3), start (n_polygons + 1,): corners [m]; nodes, weights: a Gauss rule on 0 to 1, taken along
    two sides of each triangle of a fan. Returns (m, 3) [m], (m,) [m2], (m,).
    """
    n_polygons, n = len(start) - 1, len(nodes)
    total = (start[n_polygons] - 2 * n_polygons) * n * n
    places = np.empty((total, 3))
    shares = np.empty(total)
    polygon = np.empty(total, np.int64)
    row = 0
    for p in range(n_polygons):
        a = points[start[p]]
        for k in range(start[p] + 1, start[p + 1] - 1):
            b, c = points[k], points[k + 1]
            e, g = b - a, c - a
            x = e[1] * g[2] - e[2] * g[1]
            y = e[2] * g[0] - e[0] * g[2]
            z = e[0] * g[1] - e[1] * g[0]
            double_area = np.sqrt(x * x + y * y + z * z)
            for i in range(n):
                for j in range(n):
                    for axis in range(3):
                        across = b[axis] - a[axis] + nodes[j] * (c[axis] - b[axis])
                        places[row, axis] = a[axis] + nodes[i] * across
                    shares[row] = double_area * weights[i] * weights[j] * nodes[i]
                    polygon[row] = p
                    row += 1
    return places, shares, polygon
