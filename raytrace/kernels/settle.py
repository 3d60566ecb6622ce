"""From what float32 proposes to what float64 says."""

import numpy as np
from numba import njit

from raytrace.kernels.hits import closest_hit
from raytrace.kernels.legs import leg_is_clear


@njit(cache=True, nogil=True, error_model="numpy")
def settle_hits(facets, origins, directions, which, margin, slack, tolerance, rounding, distance):
    """Exact distances (n,) [m] of proposed facets `which` (n,), in place; -1 and inf where there is none.

    A hit that lies within float32's error of its facet's edge, or a start within it of the plane, is
    decided anew among all facets; `margin` (n,) [m] says how far inside the outline float32 found it.
    """
    for ray in range(which.size):
        facet = which[ray]
        if facet < 0:
            distance[ray] = np.inf
            continue
        slant, height = 0.0, -facets.offsets[facet]
        for axis in range(3):
            slant += facets.normals[facet, axis] * directions[ray, axis]
            height += facets.normals[facet, axis] * origins[ray, axis]
        if abs(height) <= 2.0 * slack or margin[ray] * abs(slant) <= slack:
            distance[ray], which[ray] = closest_hit(
                facets, origins[ray], directions[ray], tolerance, rounding
            )
        else:
            distance[ray] = -height / slant


@njit(cache=True, nogil=True, error_model="numpy")
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
