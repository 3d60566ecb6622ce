"""Closest hit among few flat facets: every facet against a packet of rays, many rays in one instruction.

Rays stand as a structure of arrays in float32, measured from the room's middle. Each facet is cut into
convex pieces of three or four sides; testing a piece has no branch. Pieces that few rays can meet (those
of a small object) form a group, tested only for the rays that meet the group's box.
"""

from typing import NamedTuple

import numpy as np
from numba import njit

from raytrace.kernels.fused import lowest_bit, multiply_add

BLOCK = 4096  # rays in a packet: enough for each group to find some, few enough to stay near
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


class Packet(NamedTuple):
    """Rays side by side, what they met, and room to work in; made once, for many packets.

    rays : (12, BLOCK) float32 origin from `middle` [m], direction, and what boxes need
    best : (BLOCK,) float32 reach of each ray, then the distance of its hit [m]
    edge : (BLOCK,) float32 how far inside the outline of its piece the hit lies [m]
    which : (BLOCK,) int32 piece met, -1 for none
    lanes, best_of_list, edge_of_list, which_of_list : the same for the rays that meet one box
    marks : (BLOCK,) uint32 boxes met, one bit each
    lists : (MOST_BOXES, BLOCK) int32 rays that meet each box
    listed : (MOST_BOXES,) their number
    """

    rays: np.ndarray
    best: np.ndarray
    edge: np.ndarray
    which: np.ndarray
    lanes: np.ndarray
    best_of_list: np.ndarray
    edge_of_list: np.ndarray
    which_of_list: np.ndarray
    marks: np.ndarray
    lists: np.ndarray
    listed: np.ndarray


@njit(cache=True, nogil=True, error_model="numpy")
def new_packet():
    """An empty Packet."""
    return Packet(
        np.zeros((12, BLOCK), np.float32),
        np.zeros(BLOCK, np.float32),
        np.zeros(BLOCK, np.float32),
        np.zeros(BLOCK, np.int32),
        np.zeros((6, BLOCK), np.float32),
        np.zeros(BLOCK, np.float32),
        np.zeros(BLOCK, np.float32),
        np.zeros(BLOCK, np.int32),
        np.zeros(BLOCK, np.uint32),
        np.zeros((MOST_BOXES, BLOCK), np.int32),
        np.zeros(MOST_BOXES, np.int64),
    )


@njit(cache=True, nogil=True, error_model="numpy")
def closest_in_packets(origins, directions, reach, pieces, slack, packet, piece, margin):
    """First piece on each ray (n, 3) within `reach` (n,) [m], into `piece` (n,), -1 where there is none.

    `slack` [m] is how far outside its outline, over the slant, a piece still counts as met, and how far
    behind it a ray may start; `margin` (n,) [m] receives how far inside the outline the hit lies.
    """
    best, edge, which = packet.best, packet.edge, packet.which
    for first in range(0, reach.size, BLOCK):
        n = min(BLOCK, reach.size - first)
        put_side_by_side(
            origins[first : first + n], directions[first : first + n], pieces.middle, packet.rays
        )
        for i in range(n):
            best[i] = reach[first + i]
        meet_pieces(packet, n, pieces, slack)
        for i in range(n):
            piece[first + i] = which[i]
            margin[first + i] = edge[i]


@njit(cache=True, nogil=True, error_model="numpy")
def put_side_by_side(origins, directions, middle, rays):
    """Rays (n, 3) of rows into rays (6 or more, n or more) of columns."""
    _turn(origins.reshape(-1), middle[0], middle[1], middle[2], rays[0], rays[1], rays[2])
    _turn(directions.reshape(-1), 0.0, 0.0, 0.0, rays[DX], rays[DY], rays[DZ])


@njit(cache=True, nogil=True, error_model="numpy")
def _turn(triples, x0, y0, z0, x, y, z):
    """Points x, y, z, x, y, z, ... less (x0, y0, z0), each coordinate in a row of its own."""
    for i in range(triples.size // 3):
        x[i], y[i], z[i] = triples[3 * i] - x0, triples[3 * i + 1] - y0, triples[3 * i + 2] - z0


@njit(cache=True, nogil=True, error_model="numpy")
def meet_pieces(packet, n, pieces, slack):
    """First piece on each of the `n` rays of a packet, into its `which`, `best` and `edge`."""
    rays, best, edge, which, marks = packet.rays, packet.best, packet.edge, packet.which, packet.marks
    lanes, best_of_list, edge_of_list = packet.lanes, packet.best_of_list, packet.edge_of_list
    which_of_list, lists, listed = packet.which_of_list, packet.lists, packet.listed
    group_start, n_boxes = pieces.group_start, pieces.boxes.shape[0]
    padded = (n + 15) // 16 * 16
    which[:padded] = -1
    _test_pieces(rays, padded, 0, group_start[1], pieces, slack, best, edge, which)
    if n_boxes == 0:
        return
    invert_directions(rays, padded)
    mark_boxes(rays, padded, pieces.boxes, best, marks)
    _list_rays(marks, n, lists, listed)
    for box in range(n_boxes):
        m = listed[box]
        _pick_out(rays, best, lists[box], m, lanes, best_of_list)
        padded = (m + 15) // 16 * 16
        which_of_list[:padded] = -1
        _test_pieces(
            lanes, padded, group_start[box + 1], group_start[box + 2], pieces, slack,
            best_of_list, edge_of_list, which_of_list,
        )  # fmt: skip
        for j in range(m):
            if which_of_list[j] >= 0:
                i = lists[box, j]
                best[i], edge[i], which[i] = best_of_list[j], edge_of_list[j], which_of_list[j]


@njit(cache=True, nogil=True, error_model="numpy")
def _list_rays(marks, n, lists, listed):
    """Which of `n` rays meet each box, from their marks."""
    listed[:] = 0
    for i in range(n):
        bits = marks[i]
        while bits != 0:
            box = lowest_bit(bits)
            bits = np.uint32(bits & np.uint32(bits - np.uint32(1)))
            lists[box, listed[box]] = i
            listed[box] += 1


@njit(cache=True, nogil=True, error_model="numpy")
def _pick_out(rays, best, chosen, n, lanes, best_of_list):
    """Put the first `n` chosen rays side by side."""
    for row in range(6):
        values, picked = rays[row], lanes[row]
        for j in range(n):
            picked[j] = values[chosen[j]]
    for j in range(n):
        best_of_list[j] = best[chosen[j]]


@njit(cache=True, nogil=True, error_model="numpy")
def _test_pieces(rays, n, start, end, pieces, slack, best, edge, which):
    """Pieces from `start` to `end` against `n` rays; nearer hits go into best, edge, which."""
    ox, oy, oz, dx, dy, dz = rays[0], rays[1], rays[2], rays[DX], rays[DY], rays[DZ]
    flat, width = rays.reshape(-1), np.uint64(rays.shape[1])
    one, zero, tiny = np.float32(1.0), np.float32(0.0), np.float32(1e-20)
    for piece in range(start, end):
        nx, ny, nz, offset = (
            pieces.planes[piece, 0],
            pieces.planes[piece, 1],
            pieces.planes[piece, 2],
            pieces.planes[piece, 3],
        )
        u, v = (
            width * np.uint64((pieces.axis[piece] + 1) % 3),
            width * np.uint64((pieces.axis[piece] + 2) % 3),
        )
        p, q = u + width * np.uint64(DX), v + width * np.uint64(DX)
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
            k = np.uint64(i)
            x, y = multiply_add(t, flat[p + k], flat[u + k]), multiply_add(t, flat[q + k], flat[v + k])
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
