"""Exact specular paths from a source to a listener."""

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.reflections.beamtree import BeamPaths, BeamTree, FreeEdges, TooManyBeams
from raytrace.room import PlacedPanel, Room

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Paths:
    """Specular paths of one source and one listener, shortest first.

    Attributes
    ----------
    source, listener : (3,) float
        End points; one listening point for each path where several are taken `together`. [m]
    points : (n_paths, up_to_order + 2, 3) float
        Source, bounce points, listener; unused rows NaN. [m]
    facets : (n_paths, up_to_order) int
        Facets in bounce order; unused -1.
    order : (n_paths,) int
        Number of bounces, 1 or more.
    length_m : (n_paths,) float
        Length of the whole path.
    direct_m : float
        Straight distance between the two ends; NaN for several listening points.
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


def some_rows(paths: Paths, rows: Ints | slice) -> Paths:
    """Some of the paths between two points."""
    return replace(
        paths,
        points=paths.points[rows],
        facets=paths.facets[rows],
        order=paths.order[rows],
        length_m=paths.length_m[rows],
    )


def first_rows(paths: Paths, count: int) -> Paths:
    """The shortest so many of some paths."""
    return some_rows(paths, slice(count))


def together(some: Sequence[Paths]) -> Paths:
    """Paths from one source to several listening points as one, one after the other; same bounces at most."""
    return replace(
        some[0],
        listener=np.repeat([own.listener for own in some], [len(own.order) for own in some], axis=0),
        points=np.concatenate([own.points for own in some]),
        facets=np.concatenate([own.facets for own in some]),
        order=np.concatenate([own.order for own in some]),
        length_m=np.concatenate([own.length_m for own in some]),
        direct_m=np.nan,
        direct_visible=False,
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
    point = ListeningPoint(room, listener, source)
    return point.paths(source, up_to_order=up_to_order, within_s=within_s)


class ListeningPoint:
    """A point of a room with one tree of beams, which is asked for the paths from every source.

    Parameters
    ----------
    room : Room
        Flat facets, normals into the air.
    position : (3,) array_like
        [m]
    sources : (n_sources, 3) array_like
        Places that it will be asked for. [m]
    free_edges : FreeEdges, optional
        With them it is asked for near misses too.
    """

    def __init__(
        self, room: Room, position: ArrayLike, sources: ArrayLike, *, free_edges: FreeEdges | None = None
    ) -> None:
        self.room = room
        self.position = np.ascontiguousarray(position, np.float64)
        self._sources = np.array(sources, np.float64).reshape(-1, 3)
        self._tree = BeamTree(
            room.facet_arrays, room.tolerance_m, free_edges=free_edges, n_solid=room.n_solid_facets
        )
        self._within_s: Floats | None = None
        self._too_many: tuple[Floats, TooManyBeams] | None = None  # the last that was asked for in vain

    def another(self, position: Floats) -> "ListeningPoint":
        """A point of the same room at another place (3,), for the same sources. [m]"""
        point = copy(self)
        point.position, point._tree = position, self._tree.another()
        point._within_s = point._too_many = None
        return point

    @property
    def n_beams(self) -> int:
        """Number of stored sequences of facets."""
        return self._tree.n_beams

    def direct_m(self, source: ArrayLike) -> float:
        """Straight distance to a source. [m]"""
        return float(np.linalg.norm(self.position - np.asarray(source, np.float64)))

    def cover(self, within_s: ArrayLike) -> None:
        """Grow the tree unless it reaches as far already.

        Parameters
        ----------
        within_s : (up_to_order,) array_like
            Latest arrival after the direct sound of paths with one bounce, with two and so on. [s]

        Raises
        ------
        TooManyBeams
            If that takes more than memory and patience are for.
        """
        asked = np.asarray(within_s, np.float64)
        grown = self._within_s
        if grown is not None and len(asked) <= len(grown) and np.all(asked <= grown[: len(asked)]):
            return
        if self._too_many is not None:
            in_vain, problem = self._too_many
            if len(asked) >= len(in_vain) and np.all(asked[: len(in_vain)] >= in_vain):
                raise TooManyBeams(str(problem))  # each source asks the same, and growing them takes a second
        direct_m = np.array([[self.direct_m(source)] for source in self._sources])
        self._within_s = None
        try:
            self._tree.grow(
                self.position,
                up_to_order=len(asked),
                within_m=direct_m + asked * self.room.speed_of_sound_m_s,
                source=self._sources,
            )
        except TooManyBeams as problem:
            self._too_many = asked, problem
            raise
        self._within_s = asked

    def forget(self) -> None:
        """Let go of the tree; it is grown anew when it is asked next."""
        self._tree.forget()
        self._within_s = None

    def paths(self, source: ArrayLike, *, up_to_order: int, within_s: float) -> Paths:
        """Every path from one of the sources, as `find_paths` gives it."""
        source = np.ascontiguousarray(source, np.float64)
        direct_m, room = self.direct_m(source), self.room
        if direct_m <= room.tolerance_m:
            raise ValueError("source and listener coincide")
        if up_to_order < 0:
            raise ValueError(f"up_to_order must be 0 or more, not {up_to_order}")
        self.cover(np.full(up_to_order, within_s))
        own, within_m = room.own_facets(source), direct_m + within_s * room.speed_of_sound_m_s
        found = self._tree.paths(source, within_m, up_to_order, passes=own)
        return Paths(
            source=source,
            listener=self.position,
            points=found.points,
            facets=found.facets,
            order=found.order,
            length_m=found.length_m,
            direct_m=direct_m,
            direct_visible=bool(room.is_heard(source, self.position[None])[0])
            and not any(crosses(panel, source, self.position) for panel in room.panels),
        )

    def near_misses(self, source: Floats, *, up_to_order: int, within_s: float) -> BeamPaths:
        """Paths from one of the sources that miss a free edge by little."""
        self.cover(np.full(up_to_order, within_s))
        within_m = self.direct_m(source) + within_s * self.room.speed_of_sound_m_s
        return self._tree.near_misses(source, within_m, up_to_order, passes=self.room.own_facets(source))

    def first_after_s(self, source: ArrayLike, *, order: int, within_s: float) -> float:
        """Delay of the first path with so many bounces after the direct sound, inf if it is later. [s]"""
        self.cover(np.full(order, within_s))
        direct_m, speed_m_s = self.direct_m(source), self.room.speed_of_sound_m_s
        own = self.room.own_facets(source)
        found = self._tree.paths(source, direct_m + within_s * speed_m_s, order, passes=own)
        lengths_m = found.length_m[found.order == order]
        return float(lengths_m[0] - direct_m) / speed_m_s if lengths_m.size else np.inf


def crosses(panel: PlacedPanel, start: Floats, end: Floats) -> bool:
    """Whether a straight line goes through a panel that hangs or stands free."""
    if panel.acts_as != "free":
        return False
    ahead, behind = (float((p - panel.centre) @ panel.normal) for p in (start, end))
    if (ahead > 0.0) == (behind > 0.0):
        return False
    spot = start + ahead / (ahead - behind) * (end - start) - panel.corners[0]
    across, along = float(spot @ panel.right), float(spot @ panel.up)
    return 0.0 <= across <= panel.width_m and 0.0 <= along <= panel.height_m
