"""How far reflections are searched: bounces and time, and up to when none is missing."""

from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.reflections.beamtree import MOST_NODES, TooManyBeams
from raytrace.reflections.paths import ListeningPoint, Paths
from raytrace.room import Room

Floats = NDArray[np.float64]

USUAL_ORDER = 4
# Where the search for early paths of more bounces ends: furnished rooms need 5 for 15 ms.
DEEPEST_ORDER = 8
# A reflection may come so much later at one node of a head zone than at a place beside it.
ZONE_SLACK_S = 0.001
MOST_BEAMS = 30_000  # about 0.04 s per search
_SOON_S = 0.0005  # nobody asks for what comes within a shorter time


# Paths of all speakers and seats together: 0.08 MB and 2 ms each, measured in a box of 30 m3.
MOST_PATHS = 20_000


def expected_paths(room: Room, n_pairs: int, *, up_to_order: int, within_s: float) -> float:
    """About how many reflections a search will find, from the images of a box of the same volume.

    Parameters
    ----------
    room : Room
    n_pairs : int
        Speakers times seats.
    up_to_order : int
        Largest number of bounces.
    within_s : float
        Latest arrival after the direct sound, which is taken to cross the room. [s]

    Notes
    -----
    Images within a radius r: 4 pi r^3/3 V (Kuttruff, Room Acoustics, from memory); of at most n bounces:
    whole numbers with |i| + |j| + |k| <= n, (2n + 1)(2n^2 + 2n + 3)/3.
    """
    radius_m = room.size_m + room.speed_of_sound_m_s * within_s
    within_time = 4.0 * np.pi * radius_m**3 / (3.0 * room.volume_m3)
    within_order = (2 * up_to_order + 1) * (2 * up_to_order**2 + 2 * up_to_order + 3) / 3
    return n_pairs * float(min(within_time, within_order))


@dataclass(frozen=True)
class Reach:
    """Limits of a search for reflections.

    Attributes
    ----------
    up_to_order, within_s : int, float
        Bounces and time after the direct sound of every reflection.
    early_order, early_s : int, float
        The same for the early ones: as many bounces or more, no later. They are looked for a little longer,
        as far as what comes so early somewhere in a head zone.
    complete_to_s : float
        No reflection earlier than this is missing.
    """

    up_to_order: int
    within_s: float
    early_order: int
    early_s: float
    complete_to_s: float

    @property
    def early(self) -> "Reach":
        """The same for the early ones alone."""
        return replace(self, within_s=self._early_to_s)

    @property
    def _early_to_s(self) -> float:
        return min(self.early_s + ZONE_SLACK_S, self.within_s)

    @property
    def longest_s(self) -> Floats:
        """Latest arrival by number of bounces, (early_order,). [s]"""
        return np.repeat(
            [self.within_s, self._early_to_s], [self.up_to_order, self.early_order - self.up_to_order]
        )


def choose_reach(
    points: Iterable[ListeningPoint],
    sources: Iterable[ArrayLike],
    *,
    up_to_order: int | None,
    within_s: float,
    early_s: float,
) -> Reach:
    """How far to search between some points and some sources.

    Parameters
    ----------
    points : iterable of ListeningPoint
        Ears, made for the sources.
    sources : iterable of (3,) array_like
        [m]
    up_to_order : int, optional
        Largest number of bounces. Without it 4, and among the early reflections as many more as it takes
        to miss none, as long as the search stays quick.
    within_s : float
        Latest arrival after the direct sound. [s]
    early_s : float
        What counts as early. [s]
    """
    early_s = min(early_s, within_s)
    pairs = [(point, source) for point in points for source in sources]
    usual, complete_s = _usual_order(pairs, up_to_order, within_s)
    if up_to_order is not None or complete_s >= early_s:
        return Reach(usual, within_s, usual, early_s, complete_s)
    found = [order_to_cover(*pair, Reach(usual, within_s, usual, early_s, complete_s)) for pair in pairs]
    deepest, complete_s = max(order for order, _ in found), min(s for _, s in found)
    return Reach(usual, within_s, deepest, early_s, complete_s)


def _usual_order(
    pairs: Sequence[tuple[ListeningPoint, ArrayLike]], up_to_order: int | None, within_s: float
) -> tuple[int, float]:
    """Bounces to search for in the whole time, fewer where 4 are too many; up to when none is missing."""
    usual = USUAL_ORDER if up_to_order is None else up_to_order
    while True:
        try:
            return usual, min(complete_to_s(*pair, up_to_order=usual, within_s=within_s) for pair in pairs)
        except TooManyBeams:
            if up_to_order is not None or usual == 1:
                raise
            usual -= 1


def complete_to_s(point: ListeningPoint, source: ArrayLike, *, up_to_order: int, within_s: float) -> float:
    """No path that arrives earlier is missing where a search ends at a number of bounces. [s]

    The delay of the first path with one bounce more, or `within_s` where there is none. Where to search for
    those takes too long, they are looked for in a shorter time, and none later is promised.

    Raises
    ------
    TooManyBeams
        If the paths with so many bounces are too many themselves.
    """
    try:
        return min(point.first_after_s(source, order=up_to_order + 1, within_s=within_s), within_s)
    except TooManyBeams:
        point.cover(np.full(up_to_order, within_s))
        # Points beside the ears may have some more of them.
        if point.n_beams > MOST_NODES // 2:
            raise
    while (within_s := within_s / 2.0) > _SOON_S:
        with suppress(TooManyBeams):
            return min(point.first_after_s(source, order=up_to_order + 1, within_s=within_s), within_s)
    return 0.0


def order_to_cover(point: ListeningPoint, source: ArrayLike, reach: Reach) -> tuple[int, float]:
    """Bounces it takes to miss no early path, and up to when none is missing.

    Parameters
    ----------
    point : ListeningPoint
        Made for the source.
    source : (3,) array_like
        [m]
    reach : Reach
        Its early bounces are the fewest that are looked at.

    Returns
    -------
    order : int
        At most `DEEPEST_ORDER`, less where a search takes more than `MOST_BEAMS`.
    complete_s : float
        Delay of the first path with one more bounce, or the time where there is none.
    """
    order, first_s = reach.early_order, reach.complete_to_s
    while True:
        try:
            point.cover(replace(reach, early_order=order + 1).longest_s)
        except TooManyBeams:
            return order, first_s
        first_s = point.first_after_s(source, order=order + 1, within_s=reach.early_s)
        if first_s == np.inf:
            return order, reach.early_s
        if order >= DEEPEST_ORDER or point.n_beams > MOST_BEAMS:
            return order, first_s
        order += 1


def reached_paths(point: ListeningPoint, source: ArrayLike, reach: Reach) -> Paths:
    """Every path within reach, in arrays as wide as its bounces where it goes farthest."""
    point.cover(reach.longest_s)
    paths = point.paths(source, up_to_order=reach.up_to_order, within_s=reach.within_s)
    if reach.early_order == reach.up_to_order:
        return paths
    early = point.paths(source, up_to_order=reach.early_order, within_s=reach.longest_s[-1])
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
