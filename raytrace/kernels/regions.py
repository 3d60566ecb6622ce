"""Points of a scan that lie in one plane and can be reached from one of them."""

import numpy as np

from raytrace.kernels.jit import kernel


@kernel
def offset_round(points, normal, around):
    """Median of the offsets of planes through some points, all of one normal. [m]"""
    offset = np.empty(around.size)
    for k in range(around.size):
        x, y, z = points[around[k]]
        offset[k] = x * normal[0] + y * normal[1] + z * normal[2]
    offset.sort()
    half = around.size // 2
    return offset[half] if around.size % 2 else 0.5 * (offset[half - 1] + offset[half])


@kernel
def reach_in_plane(points, normals, neighbours, free, seed, plane, off_m, same, walk):
    """How many points can be reached from one through neighbours that are free and lie in a plane.

    Parameters
    ----------
    points, normals : (n, 3) float64
    neighbours : (n, k) int64
    free : (n,) bool
    seed : int
    plane : (4,) float64
        Normal and offset. [m]
    off_m, same : float
        How far off the plane a point may lie [m], and the least cosine of the angle to it.
    walk : tuple
        (n,) int64 with the last seed that came by each point; the number of this seed, unlike all before; and
        (n,) int64 for the points that are reached, the seed first whether it fits or not.
    """
    passed, number, reached = walk
    passed[seed], reached[0] = number, seed
    count, done = 1, 0
    while done < count:
        for other in neighbours[reached[done]]:
            if passed[other] == number:
                continue
            passed[other] = number
            if free[other] and lies_in(points[other], normals[other], plane, off_m, same):
                reached[count] = other
                count += 1
        done += 1
    return count


@kernel
def lies_in(point, normal, plane, off_m, same):
    """Whether a point lies in a plane and the surface round it is turned as that is."""
    off = point[0] * plane[0] + point[1] * plane[1] + point[2] * plane[2] - plane[3]
    turned = normal[0] * plane[0] + normal[1] * plane[1] + normal[2] * plane[2]
    return abs(off) <= off_m and abs(turned) >= same
