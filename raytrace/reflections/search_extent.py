"""How far reflections are searched: bounces and time, and up to when none is missing."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from raytrace.reflections.beamtree import BeamTree
from raytrace.reflections.paths import Paths, complete_to_s, find_paths
from raytrace.room import Room

Ends = tuple[ArrayLike, ArrayLike]

USUAL_ORDER = 4
# Where the search for early paths of more bounces ends: furnished rooms need 5 for 15 ms.
DEEPEST_ORDER = 8
MOST_BEAMS = 30_000  # about 0.04 s per search


@dataclass(frozen=True)
class Reach:
    """Limits of a search for reflections.

    Attributes
    ----------
    up_to_order, within_s : int, float
        Bounces and time after the direct sound of every reflection.
    early_order, early_s : int, float
        The same for the early ones: as many bounces or more, no later.
    complete_to_s : float
        No reflection earlier than this is missing.
    """

    up_to_order: int
    within_s: float
    early_order: int
    early_s: float
    complete_to_s: float


def choose_reach(
    room: Room, ends: Iterable[Ends], *, up_to_order: int | None, within_s: float, early_s: float
) -> Reach:
    """How far to search between some pairs of points.

    Parameters
    ----------
    room : Room
        Flat facets, normals into the air.
    ends : iterable of (source, listener)
        [m]
    up_to_order : int, optional
        Largest number of bounces. Without it 4, and among the early reflections as many more as it takes
        to miss none, as long as the search stays quick.
    within_s : float
        Latest arrival after the direct sound. [s]
    early_s : float
        What counts as early. [s]
    """
    usual = USUAL_ORDER if up_to_order is None else up_to_order
    early_s = min(early_s, within_s)
    pairs = list(ends)
    complete_s = min(complete_to_s(room, *pair, up_to_order=usual, within_s=within_s) for pair in pairs)
    if up_to_order is not None or complete_s >= early_s:
        return Reach(usual, within_s, usual, early_s, complete_s)
    found = [order_to_cover(room, *pair, from_order=usual, within_s=early_s) for pair in pairs]
    deepest, complete_s = max(order for order, _ in found), min(s for _, s in found)
    return Reach(usual, within_s, deepest, early_s, complete_s)


def order_to_cover(
    room: Room, source: ArrayLike, listener: ArrayLike, *, from_order: int, within_s: float
) -> tuple[int, float]:
    """Bounces it takes to miss no path within a time, and up to when none is missing.

    Parameters
    ----------
    room : Room
        Flat facets, normals into the air.
    source, listener : (3,) array_like
        [m]
    from_order : int
        Fewest bounces that are looked at.
    within_s : float
        After the direct sound. [s]

    Returns
    -------
    order : int
        At most `DEEPEST_ORDER`, less where a search takes more than `MOST_BEAMS`.
    complete_s : float
        Delay of the first path with one more bounce, or the time where there is none.
    """
    direct_m = float(np.linalg.norm(np.subtract(listener, source, dtype=np.float64)))
    within_m = direct_m + within_s * room.speed_of_sound_m_s
    tree = BeamTree(room.facet_arrays, room.tolerance_m, n_solid=room.n_solid_facets)
    order = from_order
    while True:
        tree.grow(listener, up_to_order=order + 1, within_m=within_m, source=source)
        found = tree.paths(source, within_m)
        lengths_m = found.length_m[found.order == order + 1]
        if not lengths_m.size:
            return order, within_s
        if order >= DEEPEST_ORDER or tree.n_beams > MOST_BEAMS:
            return order, float(lengths_m[0] - direct_m) / room.speed_of_sound_m_s
        order += 1


def reached_paths(room: Room, source: ArrayLike, listener: ArrayLike, reach: Reach) -> Paths:
    """Every path within reach, in arrays as wide as its bounces where it goes farthest."""
    paths = find_paths(room, source, listener, up_to_order=reach.up_to_order, within_s=reach.within_s)
    if reach.early_order == reach.up_to_order:
        return paths
    early = find_paths(room, source, listener, up_to_order=reach.early_order, within_s=reach.early_s)
    added = early.order > reach.up_to_order
    paths = widened(paths, reach.early_order)
    places = np.searchsorted(paths.length_m, early.length_m[added], side="right")
    return replace(
        paths,
        points=np.insert(paths.points, places, early.points[added], axis=0),
        facets=np.insert(paths.facets, places, early.facets[added], axis=0),
        order=np.insert(paths.order, places, early.order[added]),
        length_m=np.insert(paths.length_m, places, early.length_m[added]),
    )


def widened(paths: Paths, most_bounces: int) -> Paths:
    """The same paths in arrays that have room for more bounces."""
    more = most_bounces - paths.facets.shape[1]
    points, last = paths.points, np.full((len(paths.order), more, 3), np.nan)
    return replace(
        paths,
        points=np.concatenate([points, last], axis=1),
        facets=np.pad(paths.facets, ((0, 0), (0, more)), constant_values=-1),
    )
