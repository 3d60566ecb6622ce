"""Near misses: paths that are none because a spot lies just beyond a free edge, or an edge cuts a leg."""

from dataclasses import replace

import numpy as np

from raytrace.reflections.beamtree import FreeEdges
from raytrace.reflections.paths import ListeningPoint, Paths
from raytrace.reflections.reflectors import Reflectors
from raytrace.reflections.search_extent import Reach, widened
from raytrace.room import Room

# A spot may miss by the radius of the first Fresnel zone at this frequency.
FRESNEL_HZ = 1000.0


def free_edges(room: Room, reflectors: Reflectors) -> FreeEdges:
    """The edges of a room round which the air goes, and how far beyond them a spot may lie."""
    owned = np.array([room.surfaces[facet.surface].owner is not None for facet in room.facets])
    solid = np.arange(len(owned)) < room.n_solid_facets
    wavelength_m = room.speed_of_sound_m_s / FRESNEL_HZ
    return FreeEdges(np.concatenate(reflectors.open_edges), owned & solid, wavelength_m)


def find_near_misses(point: ListeningPoint, paths: Paths, reach: Reach) -> Paths:
    """Near misses between the same two points as some paths.

    Sound does not end sharply at an edge: beside a desk its bounce grows weaker by and by. A path of which
    a spot misses its facet by a free edge, or a leg goes through an object beside one, but by less than the
    radius of the first Fresnel zone at 1 kHz, is worth its level, which `returned_pressure` gives for a spot
    anywhere and `pass_objects` for a leg.

    Parameters
    ----------
    point : ListeningPoint
        Where the paths end, made with the free edges of its room.
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
    found = point.near_misses(paths.source, up_to_order=reach.up_to_order, within_s=reach.within_s)
    missed = replace(
        paths, points=found.points, facets=found.facets, order=found.order, length_m=found.length_m
    )
    return widened(missed, reach.early_order)
