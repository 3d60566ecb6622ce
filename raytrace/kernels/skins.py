"""How many times triangles surround points, from the solid angles under which they are seen."""

import math

import numpy as np

from raytrace.kernels.jit import kernel

_NONE = 1e-300  # what has no length has no direction either


@kernel
def turns(points, triangles):
    """How many times triangles (m, 3, 3) surround points (n, 3), (n,): see `facets.turns_around`."""
    found = np.empty(points.shape[0])
    for i in range(points.shape[0]):
        total = 0.0
        for t in range(triangles.shape[0]):
            total += _half_angle(points[i, 0], points[i, 1], points[i, 2], triangles[t])
        found[i] = total / (2.0 * math.pi)
    return found


@kernel
def turns_beside(middles, beside, triangles, near):
    """The same of points middles (n, 3) + beside (n, k, 3), (n, k): see `facets.turns_beside`.

    Triangles farther than near [m] from a middle are counted from there for all points beside it.
    """
    found = np.empty(beside.shape[:2])
    planes, sides = _planes(triangles)
    for i in range(middles.shape[0]):
        x, y, z = middles[i, 0], middles[i, 1], middles[i, 2]
        far = 0.0
        found[i] = 0.0
        for t in range(triangles.shape[0]):
            is_near = abs(_height(planes[t], x, y, z)) <= near
            for side in range(3):
                is_near &= _height(sides[t, side], x, y, z) >= -near
            if is_near:
                for k in range(beside.shape[1]):
                    dx, dy, dz = beside[i, k, 0], beside[i, k, 1], beside[i, k, 2]
                    found[i, k] += _half_angle(x + dx, y + dy, z + dz, triangles[t])
            else:
                far += _half_angle(x, y, z, triangles[t])
        for k in range(beside.shape[1]):
            found[i, k] = (found[i, k] + far) / (2.0 * math.pi)
    return found


@kernel
def _planes(triangles):
    """Planes of triangles (m, 4), and the planes through their edges square to them, inwards (m, 3, 4)."""
    planes, sides = np.empty((triangles.shape[0], 4)), np.empty((triangles.shape[0], 3, 4))
    for t in range(triangles.shape[0]):
        a, b, c = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        _set_plane(planes[t], b - a, c - b, a)
        for side in range(3):
            edge = triangles[t, (side + 1) % 3] - triangles[t, side]
            _set_plane(sides[t, side], planes[t, :3], edge, triangles[t, side])
    return planes, sides


@kernel
def _set_plane(plane, u, v, point):
    """Plane (4,) along u and v (3,) through a point (3,): its normal, and the height of the origin."""
    plane[0], plane[1], plane[2] = (
        u[1] * v[2] - u[2] * v[1],
        u[2] * v[0] - u[0] * v[2],
        u[0] * v[1] - u[1] * v[0],
    )
    length = max(math.sqrt(plane[0] ** 2 + plane[1] ** 2 + plane[2] ** 2), _NONE)
    for axis in range(3):
        plane[axis] /= length
    plane[3] = -(plane[0] * point[0] + plane[1] * point[1] + plane[2] * point[2])


@kernel
def _height(plane, x, y, z):
    """Of a point over a plane (4,). [m]"""
    return plane[0] * x + plane[1] * y + plane[2] * z + plane[3]


@kernel
def _half_angle(x, y, z, triangle):
    """Half the solid angle of a triangle (3, 3) seen from a point. [sr]"""
    ax, ay, az = triangle[0, 0] - x, triangle[0, 1] - y, triangle[0, 2] - z
    bx, by, bz = triangle[1, 0] - x, triangle[1, 1] - y, triangle[1, 2] - z
    cx, cy, cz = triangle[2, 0] - x, triangle[2, 1] - y, triangle[2, 2] - z
    la = math.sqrt(ax * ax + ay * ay + az * az)
    lb = math.sqrt(bx * bx + by * by + bz * bz)
    lc = math.sqrt(cx * cx + cy * cy + cz * cz)
    above = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx)
    below = (
        la * lb * lc
        + (ax * bx + ay * by + az * bz) * lc
        + (bx * cx + by * cy + bz * cz) * la
        + (cx * ax + cy * ay + cz * az) * lb
    )
    return math.atan2(above, below)
