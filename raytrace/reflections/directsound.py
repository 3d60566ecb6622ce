"""What of the direct sound gets past free-hung panels and the edges of what stands in its way."""

import numpy as np
from numpy.typing import NDArray

from raytrace.reflections.freecrossings import pass_free_group
from raytrace.reflections.passing import left_by_objects
from raytrace.reflections.paths import Paths, crosses
from raytrace.reflections.reflection_factors import path_ends
from raytrace.reflections.reflectors import Reflectors
from raytrace.room import Room

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]


def direct_pressure(room: Room, reflectors: Reflectors, source: Floats, points: Floats) -> Complexes:
    """Pressure of the direct sound re that of a free field, (n_points, n_bands, 24).

    Parameters
    ----------
    room, reflectors : Room, Reflectors
    source : (3,) float
        The speaker. [m]
    points : (n_points, 3) float
        [m]

    Notes
    -----
    Each object leaves 1 - K (`left_by_objects`), each group of free panels 1 + sum (T - 1) K. Behind a wall
    of the room nothing is left.
    """
    straight = _straight(source, points)
    factor = left_by_objects(room, reflectors, straight, fades=False)
    for group in room.free_groups:
        pass_free_group(room, group, straight, path_ends(room, straight), factor)
    factor[~room.no_wall_between(source, points)] = 0.0
    return factor


def what_hides(room: Room, direct: Paths) -> str | None:
    """Name of the object, panel or wall that stands in the way of a direct sound; None where nothing does."""
    if direct.direct_visible:
        return None
    facet = room.first_between(direct.source, direct.listener)
    if facet >= 0:
        surface = room.surfaces[room.facets[facet].surface]
        return surface.owner or surface.name
    return next((panel.name for panel in room.panels if crosses(panel, direct.source, direct.listener)), None)


def _straight(source: Floats, points: Floats) -> Paths:
    """The straight lines from a speaker to some points as paths without a bounce."""
    length_m = np.linalg.norm(points - source, axis=1)
    return Paths(
        source=source,
        listener=points,
        points=np.stack([np.broadcast_to(source, points.shape), points], axis=1),
        facets=np.empty((len(points), 0), np.int64),
        order=np.zeros(len(points), np.int64),
        length_m=length_m,
        direct_m=float(length_m[0]),
        direct_visible=True,
    )
