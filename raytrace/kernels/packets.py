"""Closest hit among few flat facets: every facet against a packet of rays, many rays in one instruction.

Rays stand as a structure of arrays in float32, measured from the room's middle. Each facet is cut into
convex pieces of three or four sides; testing a piece has no branch. Pieces that few rays can meet (those
of a small object) form a group, tested only for the rays that meet the group's box.
"""

from typing import NamedTuple

import numpy as np

from raytrace.kernels.fused import lowest_bit, multiply_add
from raytrace.kernels.jit import kernel
from raytrace.kernels.sixteens import (
    N,
    bits_below,
    bits_up_to,
    fused,
    greater,
    lesser,
    pick_bits,
    put_row,
    reciprocal,
    row_of,
    spread,
)

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
    which : (BLOCK,) float32 piece met, -1 for none: a whole number, kept like all else beside it
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


@kernel
def new_packet():
    """An empty Packet."""
    return Packet(
        np.zeros((12, BLOCK), np.float32),
        np.zeros(BLOCK, np.float32),
        np.zeros(BLOCK, np.float32),
        np.zeros(BLOCK, np.float32),
        np.zeros((6, BLOCK), np.float32),
        np.zeros(BLOCK, np.float32),
        np.zeros(BLOCK, np.float32),
        np.zeros(BLOCK, np.float32),
        np.zeros(BLOCK, np.uint32),
        np.zeros((MOST_BOXES, BLOCK), np.int32),
        np.zeros(MOST_BOXES, np.int64),
    )


@kernel
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


@kernel
def put_side_by_side(origins, directions, middle, rays):
    """Rays (n, 3) of rows into rays (6 or more, n or more) of columns."""
    _turn(origins.reshape(-1), middle[0], middle[1], middle[2], rays[0], rays[1], rays[2])
    _turn(directions.reshape(-1), 0.0, 0.0, 0.0, rays[DX], rays[DY], rays[DZ])


@kernel
def _turn(triples, x0, y0, z0, x, y, z):
    """Points x, y, z, x, y, z, ... less (x0, y0, z0), each coordinate in a row of its own."""
    for i in range(triples.size // 3):
        x[i], y[i], z[i] = triples[3 * i] - x0, triples[3 * i + 1] - y0, triples[3 * i + 2] - z0


@kernel
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


@kernel
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


@kernel
def _pick_out(rays, best, chosen, n, lanes, best_of_list):
    """Put the first `n` chosen rays side by side."""
    for row in range(6):
        values, picked = rays[row], lanes[row]
        for j in range(n):
            picked[j] = values[chosen[j]]
    for j in range(n):
        best_of_list[j] = best[chosen[j]]


@kernel
def _test_pieces(rays, n, start, end, pieces, slack, best, edge, which):
    """Pieces from `start` to `end` against `n` rays; nearer hits go into best, edge, which."""
    planes, sides, axes = pieces.planes, pieces.sides, pieces.axis
    rays = rays.reshape(rays.shape[0], -1, N)
    best, edge, which = best.reshape(1, -1, N), edge.reshape(1, -1, N), which.reshape(1, -1, N)
    top, zero, loose = np.uint64(0), spread(np.float32(0.0)), spread(slack)
    for sixteen in range((n + N - 1) // N):
        k = np.uint64(sixteen)
        ox, oy, oz = (
            row_of(rays, np.uint64(0), k),
            row_of(rays, np.uint64(1), k),
            row_of(rays, np.uint64(2), k),
        )
        dx, dy, dz = (
            row_of(rays, np.uint64(3), k),
            row_of(rays, np.uint64(4), k),
            row_of(rays, np.uint64(5), k),
        )
        nearest, inside, met = row_of(best, top, k), row_of(edge, top, k), row_of(which, top, k)
        for piece in range(start, end):
            nx, ny, nz = spread(planes[piece, 0]), spread(planes[piece, 1]), spread(planes[piece, 2])
            # Along the plane this is inf or nan, and every comparison with it false: nothing is met.
            inverse = reciprocal(fused(nx, dx, fused(ny, dy, nz * dz)))
            height = fused(nx, ox, fused(ny, oy, fused(nz, oz, spread(-planes[piece, 3]))))
            # From the air a ray may start a little behind the facet, from behind it may not.
            ahead, least = -height * inverse, loose * inverse
            t = greater(ahead, zero)
            u, v = np.uint64((axes[piece] + 1) % 3), np.uint64((axes[piece] + 2) % 3)
            x = fused(t, row_of(rays, np.uint64(DX) + u, k), row_of(rays, u, k))
            y = fused(t, row_of(rays, np.uint64(DX) + v, k), row_of(rays, v, k))
            depth = lesser(
                lesser(_side(sides, piece, 0, x, y), _side(sides, piece, 1, x, y)),
                lesser(_side(sides, piece, 2, x, y), _side(sides, piece, 3, x, y)),
            )
            hits = bits_below(t, nearest) & bits_up_to(least, ahead) & bits_up_to(-abs(least), depth)
            nearest, inside = pick_bits(hits, t, nearest), pick_bits(hits, depth, inside)
            met = pick_bits(hits, spread(np.float32(piece)), met)
        put_row(best, top, k, nearest)
        put_row(edge, top, k, inside)
        put_row(which, top, k, met)


@kernel
def _side(sides, piece, side, x, y):
    """How far inside one side of a piece points lie. [m]"""
    a, b, c = sides[piece, side, 0], sides[piece, side, 1], sides[piece, side, 2]
    return fused(spread(a), x, fused(spread(b), y, spread(c)))


@kernel
def invert_directions(rays, n):
    """Rows IX to IZ, one over the direction, and SX to SZ, minus origin over direction, of rays (12, n)."""
    one, tiny = np.float32(1.0), np.float32(1e-20)
    for axis in range(3):
        o, d, inverse, start = rays[axis], rays[DX + axis], rays[IX + axis], rays[SX + axis]
        for i in range(n):
            inverse[i] = one / (d[i] if abs(d[i]) > tiny else tiny)
            start[i] = -o[i] * inverse[i]


@kernel
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
