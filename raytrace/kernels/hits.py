"""Closest hit and any hit by brute force over flat facets with holes."""

import math

import numpy as np
from numba import njit

OUTSIDE, INSIDE, ON_EDGE = 0, 1, 2
CLEAR, BLOCKED, TOUCHES = 0, 1, 2


@njit(cache=True, nogil=True, error_model="numpy")
def place_on_facet(facets, facet, x, y, z, tolerance):
    """Where a point of a facet's plane lies: OUTSIDE, INSIDE or ON_EDGE (within tolerance [m])."""
    point = (x, y, z)
    for axis in range(3):
        if (
            point[axis] < facets.low[facet, axis] - tolerance
            or point[axis] > facets.high[facet, axis] + tolerance
        ):
            return OUTSIDE
    a = (facets.axis[facet] + 1) % 3
    b = (facets.axis[facet] + 2) % 3
    pa, pb = point[a], point[b]
    inside = False
    for loop in range(facets.facet_loops[facet], facets.facet_loops[facet + 1]):
        first, last = facets.loop_start[loop], facets.loop_start[loop + 1]
        qa, qb = facets.points[last - 1, a], facets.points[last - 1, b]
        for i in range(first, last):
            ra, rb = facets.points[i, a], facets.points[i, b]
            ea, eb = ra - qa, rb - qb
            da, db = pa - qa, pb - qb
            t = min(1.0, max(0.0, (da * ea + db * eb) / (ea * ea + eb * eb)))
            off_a, off_b = da - t * ea, db - t * eb
            if off_a * off_a + off_b * off_b <= tolerance * tolerance:
                return ON_EDGE
            if (qb > pb) != (rb > pb) and da < db * ea / eb:
                inside = not inside
            qa, qb = ra, rb
    return INSIDE if inside else OUTSIDE


@njit(cache=True, nogil=True, error_model="numpy")
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
        if place_on_facet(facets, facet, x, y, z, reach) != OUTSIDE:
            nearest, which = distance, facet
    return nearest, which


@njit(cache=True, nogil=True, error_model="numpy")
def closest_hits(facets, origins, directions, tolerance, rounding, distance, which):
    """`closest_hit` of rays (n, 3), into distance (n,) [m] and which (n,) int."""
    for ray in range(origins.shape[0]):
        distance[ray], which[ray] = closest_hit(facets, origins[ray], directions[ray], tolerance, rounding)


@njit(cache=True, nogil=True, error_model="numpy")
def _leg_state(facets, start, end, shift, tolerance):
    """CLEAR, BLOCKED, or TOUCHES where edges are met and nothing else; the leg is moved by `shift` (3,).

    Facets whose plane an end of the unmoved leg lies on never block it.
    """
    state = CLEAR
    for facet in range(facets.offsets.size):
        nx, ny, nz = facets.normals[facet, 0], facets.normals[facet, 1], facets.normals[facet, 2]
        before = nx * start[0] + ny * start[1] + nz * start[2] - facets.offsets[facet]
        after = nx * end[0] + ny * end[1] + nz * end[2] - facets.offsets[facet]
        if abs(before) <= tolerance or abs(after) <= tolerance:
            continue
        lift = nx * shift[0] + ny * shift[1] + nz * shift[2]
        before, after = before + lift, after + lift
        if (before > 0.0) == (after > 0.0):
            continue
        t = before / (before - after)
        x = start[0] + shift[0] + t * (end[0] - start[0])
        y = start[1] + shift[1] + t * (end[1] - start[1])
        z = start[2] + shift[2] + t * (end[2] - start[2])
        place = place_on_facet(facets, facet, x, y, z, tolerance)
        if place == INSIDE:
            return BLOCKED
        if place == ON_EDGE:
            state = TOUCHES
    return state


@njit(cache=True, nogil=True, error_model="numpy")
def leg_is_clear(facets, start, end, tolerance):
    """Whether nothing stands between two points (3,); ends on facets and grazing contact are allowed.

    A leg that meets nothing but edges is clear if some parallel leg a hair beside it is: so it slips past
    the edge of an obstacle but not through a seam between two facets.
    """
    shift = np.zeros(3)
    state = _leg_state(facets, start, end, shift, tolerance)
    if state != TOUCHES:
        return state == CLEAR
    dx, dy, dz = end[0] - start[0], end[1] - start[1], end[2] - start[2]
    length = math.sqrt(dx * dx + dy * dy + dz * dz)
    dx, dy, dz = dx / length, dy / length, dz / length
    # Two directions across the leg.
    if abs(dz) < 0.9:
        flat = math.hypot(dx, dy)
        ux, uy, uz = -dy / flat, dx / flat, 0.0
    else:
        flat = math.hypot(dy, dz)
        ux, uy, uz = 0.0, -dz / flat, dy / flat
    vx, vy, vz = dy * uz - dz * uy, dz * ux - dx * uz, dx * uy - dy * ux
    hair = 1e3 * tolerance
    for k in range(16):
        # An odd first angle: no neighbour lies in a plane of the room.
        c, s = math.cos(0.1234 + k * math.pi / 8.0), math.sin(0.1234 + k * math.pi / 8.0)
        shift[0] = hair * (c * ux + s * vx)
        shift[1] = hair * (c * uy + s * vy)
        shift[2] = hair * (c * uz + s * vz)
        if _leg_state(facets, start, end, shift, tolerance) == CLEAR:
            return True
    return False


@njit(cache=True, nogil=True, error_model="numpy")
def legs_are_clear(facets, starts, ends, tolerance, clear):
    """`leg_is_clear` of legs (n, 3) to (n, 3), into clear (n,) bool."""
    for leg in range(starts.shape[0]):
        clear[leg] = leg_is_clear(facets, starts[leg], ends[leg], tolerance)
