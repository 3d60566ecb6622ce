"""Plain answers in float64: every facet asked for hits and legs, every sequence of facets for paths."""

import numpy as np
from numba import njit

OUTSIDE, INSIDE, ON_EDGE = 0, 1, 2


@njit(cache=True, nogil=True, error_model="numpy")
def locate(x, y, z, facet, arrays, tolerance):
    """Where a point of a facet's plane lies: OUTSIDE, INSIDE, or ON_EDGE within `tolerance` [m]."""
    a = (arrays.axis[facet] + 1) % 3
    b = (arrays.axis[facet] + 2) % 3
    point = (x, y, z)
    inside = False
    for loop in range(arrays.facet_loops[facet], arrays.facet_loops[facet + 1]):
        first = arrays.loop_start[loop]
        last = arrays.loop_start[loop + 1]
        j = last - 1
        for i in range(first, last):
            p = arrays.points[j]
            q = arrays.points[i]
            ex, ey, ez = q[0] - p[0], q[1] - p[1], q[2] - p[2]
            t = ((x - p[0]) * ex + (y - p[1]) * ey + (z - p[2]) * ez) / (ex * ex + ey * ey + ez * ez)
            t = min(1.0, max(0.0, t))
            dx, dy, dz = x - p[0] - t * ex, y - p[1] - t * ey, z - p[2] - t * ez
            if dx * dx + dy * dy + dz * dz <= tolerance * tolerance:
                return ON_EDGE
            if (p[b] > point[b]) != (q[b] > point[b]):
                crossing = p[a] + (point[b] - p[b]) * (q[a] - p[a]) / (q[b] - p[b])
                if point[a] < crossing:
                    inside = not inside
            j = i
    return INSIDE if inside else OUTSIDE


@njit(cache=True, nogil=True, error_model="numpy")
def leg_is_clear(start, end, arrays, tolerance):
    """Whether nothing stands between two points [m]; touching an edge in passing is allowed.

    A facet met in its interior blocks. Where the leg meets edges only, it slips past if it crosses one
    facet of the edge from the air side and another from behind at the same place; otherwise it goes
    through the edge into what stands there.
    """
    direction = end - start
    length = np.sqrt(direction[0] ** 2 + direction[1] ** 2 + direction[2] ** 2)
    if length <= 2 * tolerance:
        return True
    n_facets = arrays.offsets.size
    edge_distance = np.empty(n_facets)
    edge_sign = np.empty(n_facets)
    n_edges = 0
    for facet in range(n_facets):
        normal = arrays.normals[facet]
        before = normal[0] * start[0] + normal[1] * start[1] + normal[2] * start[2] - arrays.offsets[facet]
        after = normal[0] * end[0] + normal[1] * end[1] + normal[2] * end[2] - arrays.offsets[facet]
        if before * after >= 0.0:
            continue
        t = before / (before - after)
        if t * length <= tolerance or (1.0 - t) * length <= tolerance:
            continue
        x, y, z = start[0] + t * direction[0], start[1] + t * direction[1], start[2] + t * direction[2]
        place = locate(x, y, z, facet, arrays, tolerance)
        if place == INSIDE:
            return False
        if place == ON_EDGE:
            edge_distance[n_edges] = t * length
            edge_sign[n_edges] = 1.0 if before > 0.0 else -1.0
            n_edges += 1
    for i in range(n_edges):
        slips_past = False
        for j in range(n_edges):
            # A leg at a slant meets the two planes of one edge a little apart: allow for it.
            if edge_sign[i] != edge_sign[j] and abs(edge_distance[i] - edge_distance[j]) <= 1e3 * tolerance:
                slips_past = True
        if not slips_past:
            return False
    return True


@njit(cache=True, nogil=True, error_model="numpy")
def legs_are_clear(starts, ends, arrays, tolerance, clear):
    """`leg_is_clear` of legs (n, 3) to (n, 3), into clear (n,) bool."""
    for leg in range(clear.size):
        clear[leg] = leg_is_clear(starts[leg], ends[leg], arrays, tolerance)


@njit(cache=True, nogil=True, error_model="numpy")
def first_hits_of_all(origins, directions, arrays, tolerance, distance, which):
    """First facet `which` (n,) on rays (n, 3) that start in the air, -1 for none, and its distance [m]."""
    for ray in range(which.size):
        origin, direction = origins[ray], directions[ray]
        distance[ray], which[ray] = np.inf, -1
        for facet in range(arrays.offsets.size):
            normal = arrays.normals[facet]
            slant = normal[0] * direction[0] + normal[1] * direction[1] + normal[2] * direction[2]
            height = normal[0] * origin[0] + normal[1] * origin[1] + normal[2] * origin[2]
            t = (arrays.offsets[facet] - height) / slant
            if not 0.0 < t < distance[ray]:
                continue
            x, y, z = origin[0] + t * direction[0], origin[1] + t * direction[1], origin[2] + t * direction[2]
            if locate(x, y, z, facet, arrays, tolerance) != OUTSIDE:
                distance[ray], which[ray] = t, facet


@njit(cache=True, nogil=True, error_model="numpy")
def unfold(depth, sequence, images, source, listener, arrays, tolerance, points):
    """Bounce points of one facet sequence into `points` (depth + 2, 3); False if it is no path."""
    points[0] = source
    points[depth + 1] = listener
    for k in range(depth, 0, -1):
        facet = sequence[k]
        normal = arrays.normals[facet]
        target = points[k + 1]
        image = images[k]
        front = normal[0] * target[0] + normal[1] * target[1] + normal[2] * target[2] - arrays.offsets[facet]
        behind = normal[0] * image[0] + normal[1] * image[1] + normal[2] * image[2] - arrays.offsets[facet]
        if front < -tolerance or behind >= -tolerance:
            return False
        front = max(front, 0.0)
        t = front / (front - behind)
        for axis in range(3):
            points[k, axis] = target[axis] + t * (image[axis] - target[axis])
        if locate(points[k, 0], points[k, 1], points[k, 2], facet, arrays, tolerance) == OUTSIDE:
            return False
    last = arrays.normals[sequence[depth]]
    height = last[0] * listener[0] + last[1] * listener[1] + last[2] * listener[2]
    if height - arrays.offsets[sequence[depth]] <= tolerance:
        return False
    for k in range(depth + 1):
        if not leg_is_clear(points[k], points[k + 1], arrays, tolerance):
            return False
    return True


@njit(cache=True, nogil=True, error_model="numpy")
def distance_to_box(point, low, high):
    """Distance [m] from a point to an axis-parallel box, 0 inside."""
    total = 0.0
    for axis in range(3):
        gap = max(low[axis] - point[axis], 0.0, point[axis] - high[axis])
        total += gap * gap
    return np.sqrt(total)


@njit(cache=True, nogil=True, error_model="numpy")
def search_images(source, listener, up_to_order, within_m, arrays, tolerance, points_out, facets_out):
    """All specular paths of at most `up_to_order` bounces and `within_m` metres, by depth-first search.

    `points_out` (capacity, up_to_order + 2, 3) and `facets_out` (capacity, up_to_order) receive them.
    Returns their number (which may exceed the capacity: the rest is counted, not stored) and the length
    [m] of the shortest path of `up_to_order + 1` bounces, inf if none is within reach.
    """
    n_facets = arrays.offsets.size
    deepest = up_to_order + 1
    sequence = np.full(deepest + 2, -1, np.int64)
    images = np.empty((deepest + 1, 3))
    images[0] = source
    points = np.empty((deepest + 2, 3))
    count = 0
    next_order_m = np.inf
    depth = 1
    while depth > 0:
        sequence[depth] += 1
        facet = sequence[depth]
        if facet == n_facets:
            sequence[depth] = -1
            depth -= 1
            continue
        if facet == sequence[depth - 1] and depth > 1:
            continue

        # The image lies behind the facet: only what is in front of a facet is mirrored by it.
        normal = arrays.normals[facet]
        image = images[depth - 1]
        height = normal[0] * image[0] + normal[1] * image[1] + normal[2] * image[2] - arrays.offsets[facet]
        if height <= tolerance:
            continue
        reach = within_m if depth < deepest else min(within_m, next_order_m)
        if distance_to_box(image, arrays.low[facet], arrays.high[facet]) > reach:
            continue
        for axis in range(3):
            images[depth, axis] = image[axis] - 2.0 * height * normal[axis]

        # A straight line from the image to the listener, folded back, is the path.
        length = np.sqrt(
            (images[depth, 0] - listener[0]) ** 2
            + (images[depth, 1] - listener[1]) ** 2
            + (images[depth, 2] - listener[2]) ** 2
        )
        if length <= reach and unfold(depth, sequence, images, source, listener, arrays, tolerance, points):
            if depth == deepest:
                next_order_m = min(next_order_m, length)
            else:
                if count < facets_out.shape[0]:
                    for k in range(depth + 2):
                        points_out[count, k] = points[k]
                    for k in range(depth):
                        facets_out[count, k] = sequence[k + 1]
                count += 1
        if depth < deepest:
            depth += 1
    return count, next_order_m


def image_paths(room, source, listener, *, up_to_order, within_m):
    """{sequence of facets: length [m]} of every specular path, and the shortest of the next order [m]."""
    capacity = 4096
    points = np.full((capacity, up_to_order + 2, 3), np.nan)
    facets = np.full((capacity, up_to_order), -1, np.int64)
    source, listener = np.array(source, np.float64), np.array(listener, np.float64)
    count, next_order_m = search_images(
        source, listener, up_to_order, within_m, room.facet_arrays, room.tolerance_m, points, facets
    )
    assert count <= capacity
    lengths = np.nansum(np.linalg.norm(np.diff(points[:count], axis=1), axis=2), axis=1)
    sequences = [tuple(row[row >= 0].tolist()) for row in facets[:count]]
    return dict(zip(sequences, lengths.tolist(), strict=True)), next_order_m
