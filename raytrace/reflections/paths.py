"""Exact specular paths from a source to a listener."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.reflections.beamtree import beam_paths, shortest_of_order_m
from raytrace.room import PlacedPanel, Room

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Paths:
    """Specular paths of one source and one listener, shortest first.

    Attributes
    ----------
    source, listener : (3,) float
        End points. [m]
    points : (n_paths, up_to_order + 2, 3) float
        Source, bounce points, listener; unused rows NaN. [m]
    facets : (n_paths, up_to_order) int
        Facets in bounce order; unused -1.
    order : (n_paths,) int
        Number of bounces, 1 or more.
    length_m : (n_paths,) float
        Length of the whole path.
    direct_m : float
        Straight distance between the two ends.
    direct_visible : bool
        Whether nothing stands in the direct sound's way.
    """

    source: Floats
    listener: Floats
    points: Floats
    facets: Ints
    order: Ints
    length_m: Floats
    direct_m: float
    direct_visible: bool


def first_rows(paths: Paths, count: int) -> Paths:
    """The shortest so many of some paths."""
    return replace(
        paths,
        points=paths.points[:count],
        facets=paths.facets[:count],
        order=paths.order[:count],
        length_m=paths.length_m[:count],
    )


def find_paths(
    room: Room, source: ArrayLike, listener: ArrayLike, *, up_to_order: int = 4, within_s: float = 0.030
) -> Paths:
    """Every specular path up to an order and a delay, none missed and none invented.

    Parameters
    ----------
    room : Room
        Flat facets, normals into the air.
    source, listener : (3,) array_like
        Positions inside the room. [m]
    up_to_order : int
        Largest number of bounces, 0 or more.
    within_s : float
        Latest arrival after the direct sound. [s]

    Returns
    -------
    Paths
        Sorted by length; equal lengths by facets, so that the result does not depend on the search.

    Raises
    ------
    ValueError
        If the two positions coincide or `up_to_order` is negative.

    Notes
    -----
    Panels that hang free reflect and let pass: they are in no path's way.
    Image sources in rooms of any shape: J. Borish, J. Acoust. Soc. Am. 75 (1984) 1827 (from memory).
    Facets are closed: a spot on an edge counts. Where two sequences give the same bounce points (a path
    through an edge or corner), one is kept, the same from both ends.
    """
    source = np.ascontiguousarray(source, np.float64)
    listener = np.ascontiguousarray(listener, np.float64)
    direct_m = float(np.linalg.norm(listener - source))
    if direct_m <= room.tolerance_m:
        raise ValueError("source and listener coincide")
    if up_to_order < 0:
        raise ValueError(f"up_to_order must be 0 or more, not {up_to_order}")
    within_m = direct_m + within_s * room.speed_of_sound_m_s
    arrays, tolerance_m = room.facet_arrays, room.tolerance_m
    found = beam_paths(
        arrays,
        source,
        listener,
        up_to_order=up_to_order,
        within_m=within_m,
        tolerance_m=tolerance_m,
        n_solid=room.n_solid_facets,
    )
    return Paths(
        source=source,
        listener=listener,
        points=found.points,
        facets=found.facets,
        order=found.order,
        length_m=found.length_m,
        direct_m=direct_m,
        direct_visible=bool(room.is_clear(source[None], listener[None])[0])
        and not any(_crosses(panel, source, listener) for panel in room.panels if panel.acts_as == "free"),
    )


def _crosses(panel: PlacedPanel, start: Floats, end: Floats) -> bool:
    """Whether a straight line goes through a panel's face."""
    ahead, behind = (float((p - panel.centre) @ panel.normal) for p in (start, end))
    if (ahead > 0.0) == (behind > 0.0):
        return False
    spot = start + ahead / (ahead - behind) * (end - start) - panel.corners[0]
    right = (panel.corners[1] - panel.corners[0]) / panel.width_m
    up = (panel.corners[2] - panel.corners[1]) / panel.height_m
    across, along = float(spot @ right), float(spot @ up)
    return 0.0 <= across <= panel.width_m and 0.0 <= along <= panel.height_m


def complete_to_s(
    room: Room, source: ArrayLike, listener: ArrayLike, *, up_to_order: int, within_s: float
) -> float:
    """Delay of the first path that a search left out for its bounces, searched for. [s]

    Parameters
    ----------
    room, source, listener, up_to_order, within_s
        What `find_paths` was asked for.

    Returns
    -------
    float
        No path that arrives earlier after the direct sound is missing: the first with one more bounce, or
        the limit of the search where there is none.
    """
    direct_m = float(np.linalg.norm(np.subtract(listener, source, dtype=np.float64)))
    next_order_m = shortest_of_order_m(
        room.facet_arrays,
        source,
        listener,
        order=up_to_order + 1,
        within_m=direct_m + within_s * room.speed_of_sound_m_s,
        tolerance_m=room.tolerance_m,
        n_solid=room.n_solid_facets,
    )
    return min((next_order_m - direct_m) / room.speed_of_sound_m_s, within_s)
