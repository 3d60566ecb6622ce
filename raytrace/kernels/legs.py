"""Whether a spot lies on a facet, what a ray meets first, and whether anything stands between two points."""

import numpy as np

from raytrace.kernels.jit import inlined, kernel

OUTSIDE, INSIDE, ON_EDGE = 0, 1, 2
CLEAR, BLOCKED, TOUCHES = 0, 1, 2


@kernel
def locate(x, y, z, facet, arrays, tolerance):
    """Where a point of a facet's plane lies: OUTSIDE, INSIDE, or ON_EDGE within `tolerance` [m]."""
    low, high = arrays.low, arrays.high
    if x < low[facet, 0] - tolerance or x > high[facet, 0] + tolerance:
        return OUTSIDE
    if y < low[facet, 1] - tolerance or y > high[facet, 1] + tolerance:
        return OUTSIDE
    if z < low[facet, 2] - tolerance or z > high[facet, 2] + tolerance:
        return OUTSIDE
    a = (arrays.axis[facet] + 1) % 3
    b = (arrays.axis[facet] + 2) % 3
    points, point = arrays.points, (x, y, z)
    inside = False
    for loop in range(arrays.facet_loops[facet], arrays.facet_loops[facet + 1]):
        first = arrays.loop_start[loop]
        last = arrays.loop_start[loop + 1]
        j = last - 1
        for i in range(first, last):
            ex, ey, ez = points[i, 0] - points[j, 0], points[i, 1] - points[j, 1], points[i, 2] - points[j, 2]
            dx, dy, dz = x - points[j, 0], y - points[j, 1], z - points[j, 2]
            along, square = dx * ex + dy * ey + dz * ez, ex * ex + ey * ey + ez * ez
            t = min(1.0, max(0.0, along / square))
            dx, dy, dz = dx - t * ex, dy - t * ey, dz - t * ez
            if dx * dx + dy * dy + dz * dz <= tolerance * tolerance:
                return ON_EDGE
            if (points[j, b] > point[b]) != (points[i, b] > point[b]):
                slope = (points[i, a] - points[j, a]) / (points[i, b] - points[j, b])
                if point[a] < points[j, a] + (point[b] - points[j, b]) * slope:
                    inside = not inside
            j = i
    return INSIDE if inside else OUTSIDE


@kernel
def leg_is_clear(path, leg, rows, arrays, tolerance, met):
    """Whether nothing stands between the points `leg` and `leg + 1` of a path (n, 3) [m].

    `rows` (10, n_facets) are normals, offsets, centres and half sizes of boxes; `met` (n_facets,) bool is
    room to work in. Ends on facets and grazing contact are allowed: a leg that meets nothing but edges is
    clear if some parallel leg a hair beside it is, so it slips past the edge of an obstacle but not
    through a seam between two facets.
    """
    x, y, z = path[leg, 0], path[leg, 1], path[leg, 2]
    dx, dy, dz = path[leg + 1, 0] - x, path[leg + 1, 1] - y, path[leg + 1, 2] - z
    ux, uy, uz = (dy, -dx, 0.0) if abs(dz) < abs(dx) + abs(dy) else (0.0, dz, -dy)
    vx, vy, vz = dy * uz - dz * uy, dz * ux - dx * uz, dx * uy - dy * ux
    u = 1e3 * tolerance / np.sqrt(ux * ux + uy * uy + uz * uz)
    v = 1e3 * tolerance / np.sqrt(vx * vx + vy * vy + vz * vz)
    a, b = 0.0, 0.0
    for k in range(17):
        shift = (a * ux + b * vx, a * uy + b * vy, a * uz + b * vz)
        state = _leg_state((x, y, z), (dx, dy, dz), shift, rows, arrays, tolerance, met)
        if state == CLEAR or (k == 0 and state == BLOCKED):
            return state == CLEAR
        # An odd first angle: no neighbour lies in a plane of the room.
        a, b = u * np.cos(0.1234 + k * np.pi / 8.0), v * np.sin(0.1234 + k * np.pi / 8.0)
    return False


# Inlined: a call would count the references of a dozen arrays.
@inlined
def _leg_state(start, way, shift, rows, arrays, tolerance, met):
    """CLEAR, BLOCKED, or TOUCHES where edges are met and nothing else; the leg is moved by `shift`.

    Facets whose plane an end of the unmoved leg lies on never block it.
    """
    nx, ny, nz, offset = rows[0], rows[1], rows[2], rows[3]
    cx, cy, cz, hx, hy, hz = rows[4], rows[5], rows[6], rows[7], rows[8], rows[9]
    dx, dy, dz = way
    sx, sy, sz = shift
    x, y, z = start[0] + sx, start[1] + sy, start[2] + sz
    for k in range(met.size):
        lift = nx[k] * sx + ny[k] * sy + nz[k] * sz
        before = nx[k] * x + ny[k] * y + nz[k] * z - offset[k]
        along = nx[k] * dx + ny[k] * dy + nz[k] * dz
        after = before + along
        t = -before / along
        inside = (abs(x + t * dx - cx[k]) <= hx[k]) & (abs(y + t * dy - cy[k]) <= hy[k])
        off_plane = (abs(before - lift) > tolerance) & (abs(after - lift) > tolerance)
        met[k] = inside & (abs(z + t * dz - cz[k]) <= hz[k]) & ((before > 0.0) != (after > 0.0)) & off_plane
    state = CLEAR
    for k in range(met.size):
        if met[k]:
            t = (offset[k] - nx[k] * x - ny[k] * y - nz[k] * z) / (nx[k] * dx + ny[k] * dy + nz[k] * dz)
            place = locate(x + t * dx, y + t * dy, z + t * dz, k, arrays, tolerance)
            if place == INSIDE:
                return BLOCKED
            if place == ON_EDGE:
                state = TOUCHES
    return state


@kernel
def closest_hit(facets, origin, direction, tolerance, rounding):
    """Distance [m] and number of the first facet on a ray; inf, -1 where there is none.

    `rounding` [m] is the error of a coordinate. A ray that starts on a facet hits it only when it heads
    out of the air through it, so that a ray started in a corner is not lost.
    """
    nearest, which = np.inf, -1
    for facet in range(facets.offsets.size):
        nx, ny, nz = facets.normals[facet, 0], facets.normals[facet, 1], facets.normals[facet, 2]
        slant = nx * direction[0] + ny * direction[1] + nz * direction[2]
        if abs(slant) < 1e-9:
            continue
        height = nx * origin[0] + ny * origin[1] + nz * origin[2] - facets.offsets[facet]
        distance = -height / slant
        if abs(height) <= tolerance:
            if slant > 0.0:
                continue
            distance = max(distance, 0.0)
        if distance < 0.0 or distance >= nearest:
            continue
        # At a slant, rounding shifts the hit along the facet: widen it by as much, so that no ray slips
        # between two facets that share an edge.
        reach = tolerance + rounding / abs(slant)
        x = origin[0] + distance * direction[0]
        y = origin[1] + distance * direction[1]
        z = origin[2] + distance * direction[2]
        if locate(x, y, z, facet, facets, reach) != OUTSIDE:
            nearest, which = distance, facet
    return nearest, which


@kernel
def hits_of_few(facets, origins, directions, tolerance, rounding, distance, which):
    """First facets `which` (n,) on rays (n, 3) and distances (n,) [m], each looked for among all facets.

    `tolerance` and `rounding` as in closest_hit; -1 and inf for nothing.
    """
    for ray in range(which.size):
        distance[ray], which[ray] = closest_hit(facets, origins[ray], directions[ray], tolerance, rounding)


@kernel
def legs_of_few(facets, rows, starts, ends, tolerance, clear):
    """Whether legs (n, 3) to (n, 3) are clear, each held against all facets; `rows` as in leg_is_clear."""
    met, path = np.empty(rows.shape[1], np.bool_), np.empty((2, 3))
    for leg in range(clear.size):
        for axis in range(3):
            path[0, axis], path[1, axis] = starts[leg, axis], ends[leg, axis]
        clear[leg] = leg_is_clear(path, 0, rows, facets, tolerance, met)
