"""Closest hit among few flat facets: every facet against a packet of rays, many rays in one instruction.

Rays stand as a structure of arrays in float32, measured from the room's middle. Each facet is cut into
convex pieces of three or four sides; testing a piece has no branch. Pieces that few rays can meet (those
of a small object) form a group, tested only for the rays that meet the group's box.
"""

from typing import NamedTuple

import numpy as np
from numba import njit

from raytrace.kernels.fused import lowest_bit, multiply_add

BLOCK = 1024  # rays in a packet: enough for each group to find some, few enough to stay near
MOST_BOXES = 32  # one bit each; the first group, which all rays test, has none

DX, DY, DZ, IX, IY, IZ, SX, SY, SZ = range(3, 12)


class PacketPieces(NamedTuple):
    """Convex pieces of facets, sorted by group.

    planes : (n_pieces, 4) float32 normal into the air and offset from `middle` [m]
    sides : (n_pieces, 4, 3) float32 half planes a u + b v + c, positive inside; u, v follow `axis`
    axis : (n_pieces,) axis dropped
    facet : (n_pieces,) facet of each piece
    group_start : (n_groups + 1,) first piece of each group
    boxes : (n_groups - 1, 6) float32 low and high corner round each group but the first [m]
    middle : (3,) origin of all float32 coordinates [m]
    """

    planes: np.ndarray
    sides: np.ndarray
    axis: np.ndarray
    facet: np.ndarray
    group_start: np.ndarray
    boxes: np.ndarray
    middle: np.ndarray


@njit(cache=True, nogil=True, error_model="numpy")
def closest_in_packets(origins, directions, reach, pieces, slack, piece, margin):
    """First piece on each ray (n, 3) within `reach` (n,) [m], into `piece` (n,), -1 where there is none.

    `slack` [m] is how far outside its outline, over the slant, a piece still counts as met, and how far
    behind it a ray may start; `margin` (n,) [m] receives how far inside the outline the hit lies.
    """
    rays = np.zeros((12, BLOCK), np.float32)
    lanes = np.empty((6, BLOCK), np.float32)
    best, edge = np.empty(BLOCK, np.float32), np.empty(BLOCK, np.float32)
    best_of_list, edge_of_list = np.empty(BLOCK, np.float32), np.empty(BLOCK, np.float32)
    which, which_of_list = np.empty(BLOCK, np.int32), np.empty(BLOCK, np.int32)
    marks = np.zeros(BLOCK, np.uint32)
    lists = np.empty((MOST_BOXES, BLOCK), np.int32)
    listed = np.empty(MOST_BOXES, np.int64)
    n_boxes = pieces.boxes.shape[0]
    for first in range(0, origins.shape[0], BLOCK):
        n = min(BLOCK, origins.shape[0] - first)
        padded = (n + 15) // 16 * 16
        for i in range(n):
            for axis in range(3):
                rays[axis, i] = origins[first + i, axis] - pieces.middle[axis]
                rays[DX + axis, i] = directions[first + i, axis]
            best[i] = reach[first + i]
            which[i] = -1
        _test_pieces(rays, padded, 0, pieces.group_start[1], pieces, slack, best, edge, which)
        if n_boxes > 0:
            invert_directions(rays, padded)
            mark_boxes(rays, padded, pieces.boxes, best, marks)
            listed[:] = 0
            for i in range(n):
                bits = marks[i]
                while bits != 0:
                    box = lowest_bit(bits)
                    bits = np.uint32(bits & np.uint32(bits - np.uint32(1)))
                    lists[box, listed[box]] = i
                    listed[box] += 1
            for box in range(n_boxes):
                m = listed[box]
                for j in range(m):
                    i = lists[box, j]
                    for row in range(6):
                        lanes[row, j] = rays[row, i]
                    best_of_list[j] = best[i]
                    which_of_list[j] = -1
                start, end = pieces.group_start[box + 1], pieces.group_start[box + 2]
                padded = (m + 15) // 16 * 16
                _test_pieces(
                    lanes, padded, start, end, pieces, slack, best_of_list, edge_of_list, which_of_list
                )
                for j in range(m):
                    if which_of_list[j] >= 0:
                        i = lists[box, j]
                        best[i], edge[i], which[i] = best_of_list[j], edge_of_list[j], which_of_list[j]
        for i in range(n):
            piece[first + i] = which[i]
            margin[first + i] = edge[i]


@njit(cache=True, nogil=True, error_model="numpy")
def _test_pieces(rays, n, start, end, pieces, slack, best, edge, which):
    """Pieces from `start` to `end` against `n` rays; nearer hits go into best, edge, which."""
    ox, oy, oz, dx, dy, dz = rays[0], rays[1], rays[2], rays[DX], rays[DY], rays[DZ]
    one, zero, tiny = np.float32(1.0), np.float32(0.0), np.float32(1e-20)
    for piece in range(start, end):
        nx, ny, nz, offset = (
            pieces.planes[piece, 0],
            pieces.planes[piece, 1],
            pieces.planes[piece, 2],
            pieces.planes[piece, 3],
        )
        u, v = (pieces.axis[piece] + 1) % 3, (pieces.axis[piece] + 2) % 3
        ou, ov, du, dv = rays[u], rays[v], rays[DX + u], rays[DX + v]
        sides = pieces.sides
        a0, b0, c0 = sides[piece, 0, 0], sides[piece, 0, 1], sides[piece, 0, 2]
        a1, b1, c1 = sides[piece, 1, 0], sides[piece, 1, 1], sides[piece, 1, 2]
        a2, b2, c2 = sides[piece, 2, 0], sides[piece, 2, 1], sides[piece, 2, 2]
        a3, b3, c3 = sides[piece, 3, 0], sides[piece, 3, 1], sides[piece, 3, 2]
        number = np.int32(piece)
        for i in range(n):
            slant = multiply_add(nx, dx[i], multiply_add(ny, dy[i], nz * dz[i]))
            height = multiply_add(nx, ox[i], multiply_add(ny, oy[i], multiply_add(nz, oz[i], -offset)))
            slant = slant if abs(slant) > tiny else tiny
            inverse = one / slant
            t = max(-height * inverse, zero)
            # From the air a ray may start a little behind the facet, from behind it may not.
            low = height if slant < zero else -height - slack - slack
            x, y = multiply_add(t, du[i], ou[i]), multiply_add(t, dv[i], ov[i])
            e0, e1 = (
                multiply_add(a0, x, multiply_add(b0, y, c0)),
                multiply_add(a1, x, multiply_add(b1, y, c1)),
            )
            e2, e3 = (
                multiply_add(a2, x, multiply_add(b2, y, c2)),
                multiply_add(a3, x, multiply_add(b3, y, c3)),
            )
            inside = min(min(e0, e1), min(e2, e3))
            hit = (t < best[i]) & (low >= -slack) & (inside >= -slack * abs(inverse))
            best[i] = t if hit else best[i]
            edge[i] = inside if hit else edge[i]
            which[i] = number if hit else which[i]


@njit(cache=True, nogil=True, error_model="numpy")
def invert_directions(rays, n):
    """Rows IX to IZ, one over the direction, and SX to SZ, minus origin over direction, of rays (12, n)."""
    one, tiny = np.float32(1.0), np.float32(1e-20)
    for axis in range(3):
        o, d, inverse, start = rays[axis], rays[DX + axis], rays[IX + axis], rays[SX + axis]
        for i in range(n):
            inverse[i] = one / (d[i] if abs(d[i]) > tiny else tiny)
            start[i] = -o[i] * inverse[i]


@njit(cache=True, nogil=True, error_model="numpy")
def mark_boxes(rays, n, boxes, best, marks):
    """One bit in `marks` (n,) for each of at most 32 boxes (n_boxes, 6) that a ray meets before `best`."""
    ix, iy, iz, sx, sy, sz = rays[IX], rays[IY], rays[IZ], rays[SX], rays[SY], rays[SZ]
    for i in range(n):
        marks[i] = 0
    for box in range(boxes.shape[0]):
        bit = np.uint32(1) << np.uint32(box)
        x0, y0, z0 = boxes[box, 0], boxes[box, 1], boxes[box, 2]
        x1, y1, z1 = boxes[box, 3], boxes[box, 4], boxes[box, 5]
        for i in range(n):
            ax, bx = multiply_add(x0, ix[i], sx[i]), multiply_add(x1, ix[i], sx[i])
            ay, by = multiply_add(y0, iy[i], sy[i]), multiply_add(y1, iy[i], sy[i])
            az, bz = multiply_add(z0, iz[i], sz[i]), multiply_add(z1, iz[i], sz[i])
            enters = max(max(min(ax, bx), min(ay, by)), max(min(az, bz), np.float32(0.0)))
            leaves = min(min(max(ax, bx), max(ay, by)), min(max(az, bz), best[i]))
            marks[i] |= bit if enters <= leaves else np.uint32(0)
