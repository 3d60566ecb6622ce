"""Near misses: paths that are none because a spot lies just beyond a free edge."""

from dataclasses import replace

import numpy as np

from raytrace.reflections.beamtree import BeamTree, FreeEdges
from raytrace.reflections.paths import Paths
from raytrace.reflections.reflection_factors import Reflectors
from raytrace.reflections.search_extent import Reach, widened
from raytrace.room import Room

# A spot may miss by the radius of the first Fresnel zone at this frequency.
FRESNEL_HZ = 1000.0


def find_near_misses(room: Room, reflectors: Reflectors, paths: Paths, reach: Reach) -> Paths:
    """Near misses between the same two points as some paths.

    Sound does not end sharply at an edge: beside a desk its bounce grows weaker by and by. A path of which
    a spot misses its facet by a free edge, but by less than the radius of the first Fresnel zone at 1 kHz,
    is worth its level, which `weights.returned_pressure` gives for a spot anywhere.

    Parameters
    ----------
    room : Room
        Flat facets, normals into the air.
    reflectors : Reflectors
        Its free edges.
    paths : Paths
        What was found between the two points; none of it is found again.
    reach : Reach
        Near misses go up to its usual number of bounces.

    Returns
    -------
    Paths
        Shortest first, in arrays as wide as those of `paths`. Spots that miss lie in the planes of their
        facets, beyond the edge.
    """
    free_edges = FreeEdges(np.concatenate(reflectors.open_edges), room.speed_of_sound_m_s / FRESNEL_HZ)
    within_m = paths.direct_m + reach.within_s * room.speed_of_sound_m_s
    tree = BeamTree(room.facet_arrays, room.tolerance_m, free_edges=free_edges, n_solid=room.n_solid_facets)
    tree.grow(paths.listener, up_to_order=reach.up_to_order, within_m=within_m, source=paths.source)
    found = tree.near_misses(paths.source, within_m)
    missed = replace(
        paths, points=found.points, facets=found.facets, order=found.order, length_m=found.length_m
    )
    return widened(missed, reach.early_order)
