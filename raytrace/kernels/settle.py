"""From what float32 proposes to what float64 says."""

import numpy as np

from raytrace.kernels.jit import kernel
from raytrace.kernels.legs import closest_hit, leg_is_clear
from raytrace.kernels.packets import BLOCK, meet_pieces, new_packet, put_side_by_side


@kernel
def settle_hits(facets, origins, directions, which, margin, slack, tolerance, rounding, planes, distance):
    """Exact distances (n,) [m] of proposed facets `which` (n,), in place; -1 and inf where there is none.

    A hit that lies within float32's error of its facet's edge, or a start within it of the plane, is
    decided anew among all facets; `margin` (n,) [m] says how far inside the outline float32 found it.
    `planes` (4, n or more) receives normals and offsets of the facets.
    """
    nx, ny, nz, offset = planes[0], planes[1], planes[2], planes[3]
    _pick_planes(facets, which, nx, ny, nz, offset)
    # A loop without branches and look-ups, which runs in SIMD, and then one for what is rare.
    for ray in range(which.size):
        x, y, z = directions[ray, 0], directions[ray, 1], directions[ray, 2]
        slant = nx[ray] * x + ny[ray] * y + nz[ray] * z
        x, y, z = origins[ray, 0], origins[ray, 1], origins[ray, 2]
        height = nx[ray] * x + ny[ray] * y + nz[ray] * z - offset[ray]
        doubtful = (abs(height) <= 2.0 * slack) | (margin[ray] * abs(slant) <= slack)
        distance[ray] = np.nan if doubtful else -height / slant
    for ray in range(which.size):
        if which[ray] < 0:
            distance[ray] = np.inf
        elif np.isnan(distance[ray]):
            distance[ray], facet = closest_hit(facets, origins[ray], directions[ray], tolerance, rounding)
            which[ray] = facet
            normal = facets.normals[facet]
            nx[ray], ny[ray], nz[ray] = normal[0], normal[1], normal[2]


@kernel
def _pick_planes(facets, which, nx, ny, nz, offset):
    """Normals and offsets of facets `which` (n,), of any where there is none."""
    normals, offsets = facets.normals, facets.offsets
    for ray in range(which.size):
        facet = max(which[ray], 0)
        nx[ray], ny[ray], nz[ray] = normals[facet, 0], normals[facet, 1], normals[facet, 2]
        offset[ray] = offsets[facet]


@kernel
def first_in_packets(facets, origins, directions, pieces, slack, tolerance, rounding, distance, which):
    """First facets `which` (n,) on rays (n, 3) and exact distances (n,) [m], a packet at a time.

    `slack` as in closest_in_packets, `tolerance` and `rounding` as in closest_hit; -1 and inf for nothing.
    """
    packet, planes, facet_of_piece = new_packet(), np.empty((4, BLOCK)), pieces.facet
    best, met = packet.best, packet.which
    for first in range(0, which.size, BLOCK):
        last = min(first + BLOCK, which.size)
        n, facet = last - first, which[first:last]
        starts, ways = origins[first:last], directions[first:last]
        put_side_by_side(starts, ways, pieces.middle, packet.rays)
        best[:n] = np.inf
        meet_pieces(packet, n, pieces, np.float32(slack))
        for ray in range(n):
            facet[ray] = facet_of_piece[int(met[ray])] if met[ray] >= 0 else -1
        settle_hits(
            facets, starts, ways, facet, packet.edge, slack, tolerance, rounding, planes, distance[first:last]
        )


@kernel
def settle_legs(facets, rows, starts, ends, which, margin, slack, tolerance, clear):
    """Whether legs (n, 3) to (n, 3) are clear, from the facet `which` (n,) proposed in the way of each.

    No proposal is an answer: float32 meets too much rather than too little. A proposal near an edge or an
    end of the leg is decided anew among all facets; `rows` as in BeamFacets.
    """
    met = np.empty(rows.shape[1], np.bool_)
    path = np.empty((2, 3))
    for leg in range(which.size):
        facet = which[leg]
        clear[leg] = facet < 0
        if facet < 0:
            continue
        before, after = -facets.offsets[facet], -facets.offsets[facet]
        length = 0.0
        for axis in range(3):
            path[0, axis], path[1, axis] = starts[leg, axis], ends[leg, axis]
            before += facets.normals[facet, axis] * starts[leg, axis]
            after += facets.normals[facet, axis] * ends[leg, axis]
            length += (ends[leg, axis] - starts[leg, axis]) ** 2
        slant = abs(before - after) / np.sqrt(length)
        if min(abs(before), abs(after)) <= 2.0 * slack or margin[leg] * slant <= slack:
            clear[leg] = leg_is_clear(path, 0, rows, facets, tolerance, met)
