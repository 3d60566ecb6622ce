"""Exact specular paths by a stored tree of beams, grown at the listener."""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class BeamPaths(NamedTuple):
    """Specular paths, shortest first; equal lengths by order, then by facets read from the smaller end."""

    points: Floats
    """(n, up_to_order + 2, 3) source, bounce points, listener; unused rows NaN [m]"""
    facets: Ints
    """(n, up_to_order) facets in bounce order; unused -1"""
    order: Ints
    """(n,) number of bounces"""
    length_m: Floats
    """(n,) length of the whole path"""


class BeamTree:
    """Beams from one listener through every sequence of facets, kept to be asked about many sources.

    A sequence is stored as what the listener sees in its mirrors. Whether a source is heard by it is one
    look at a few planes, and for a source that moves a little mostly at one: the plane that kept it out
    the last time. Growing takes about ten times as long as asking.

    Parameters
    ----------
    facet_arrays : FacetArrays
        Flat facets, normals into the air.
    tolerance_m : float
        How near an edge a spot counts as on it.

    Notes
    -----
    Beams: P. S. Heckbert, P. Hanrahan, SIGGRAPH 1984 (from memory). Stored planes: S. Laine, S. Siltanen,
    T. Lokki, L. Savioja, Applied Acoustics 70 (2009) 172 (from memory).
    """

    def __init__(self, facet_arrays: Any, tolerance_m: float) -> None:
        from raytrace.kernels.beams import prepare_facets

        self._arrays = facet_arrays
        self._tolerance_m = tolerance_m
        self._facets = prepare_facets(facet_arrays, np.full(len(facet_arrays.offsets), 4 * tolerance_m))
        self._nodes = _empty_nodes(4096, 24576)
        self._n_nodes = 0
        self._up_to_order = 0
        self._centre = np.zeros(3)
        self._moves_m = 0.0
        self._reach_m = 0.0

    def grow(
        self,
        listener: ArrayLike,
        *,
        up_to_order: int,
        within_m: float,
        source: ArrayLike,
        moves_m: float = 0.0,
    ) -> None:
        """Store every beam that a source near a place may need.

        Parameters
        ----------
        listener : (3,) array_like
            [m]
        up_to_order : int
            Largest number of bounces.
        within_m : float
            Longest path from `source`; sources beside it get `moves_m` more.
        source : (3,) array_like
            Place around which sources will be. [m]
        moves_m : float
            How far from it; inf for anywhere. 0 is the fastest for a single question.
        """
        nodes = self._nodes
        nodes.parent[0], nodes.facet[0], nodes.depth[0] = -1, -1, 0
        nodes.apex[0] = listener
        nodes.side_start[:2] = 0
        self._up_to_order = up_to_order
        self._grow_around(np.array(source, np.float64), within_m, moves_m)

    def _grow_around(self, centre: Floats, within_m: float, moves_m: float) -> None:
        from raytrace.kernels.beams import Region, grow_beams

        self._centre, self._moves_m = centre, moves_m
        # A source in the room is nowhere farther than the room is long.
        size_m = np.linalg.norm(self._arrays.high.max(axis=0) - self._arrays.low.min(axis=0))
        self._reach_m = within_m + min(moves_m, float(size_m))
        region = Region(centre, float(moves_m), self._reach_m)
        node, n_nodes = 0, 1
        while node < n_nodes:
            node, n_nodes = grow_beams(
                self._up_to_order, region, self._facets, self._tolerance_m, self._nodes, node, n_nodes
            )
            if node < n_nodes:
                self._nodes = _twice_as_many(self._nodes)
        self._n_nodes = n_nodes

    @property
    def n_beams(self) -> int:
        """Number of stored sequences."""
        return self._n_nodes - 1

    def paths(self, source: ArrayLike, within_m: float) -> BeamPaths:
        """All specular paths from a source; the tree is grown anew where the source is beyond its reach.

        Parameters
        ----------
        source : (3,) array_like
            [m]
        within_m : float
            Longest path.
        """
        from raytrace.kernels.beamquery import exact_paths, sources_inside

        source = np.array(source, np.float64)
        if within_m > self._reach_m or np.linalg.norm(source - self._centre) > self._moves_m:
            self._grow_around(source, within_m, self._moves_m)
        found = np.empty(self._n_nodes, np.int64)
        rows, tolerance_m = self._facets.rows, self._tolerance_m
        n = sources_inside(
            source, within_m, self._reach_m, self._nodes, self._n_nodes, rows, tolerance_m, found
        )
        points = np.empty((n, self._up_to_order + 2, 3))
        facets = np.empty((n, self._up_to_order), np.int64)
        length_m = np.empty(n)
        n = exact_paths(
            source, found[:n], self._nodes, rows, self._arrays, tolerance_m, points, facets, length_m
        )
        return _sorted_paths(points[:n], facets[:n], length_m[:n], tolerance_m)


def beam_paths(
    facet_arrays: Any,
    source: ArrayLike,
    listener: ArrayLike,
    *,
    up_to_order: int,
    within_m: float,
    tolerance_m: float,
) -> BeamPaths:
    """Every specular path between two points up to an order and a length.

    Parameters
    ----------
    facet_arrays : FacetArrays
        Flat facets, normals into the air.
    source, listener : (3,) array_like
        [m]
    up_to_order : int
        Largest number of bounces.
    within_m : float
        Longest path.
    tolerance_m : float
        How near an edge a spot counts as on it.
    """
    tree = BeamTree(facet_arrays, tolerance_m)
    tree.grow(listener, up_to_order=up_to_order, within_m=within_m, source=source)
    return tree.paths(source, within_m)


def shortest_of_order_m(
    facet_arrays: Any,
    source: ArrayLike,
    listener: ArrayLike,
    *,
    order: int,
    within_m: float,
    tolerance_m: float,
) -> float:
    """Length of the shortest path with exactly `order` bounces, inf if none is within `within_m`. [m]

    Looks at short paths first: the tree of a short reach is small.
    """
    direct_m = float(np.linalg.norm(np.subtract(source, listener)))
    tree = BeamTree(facet_arrays, tolerance_m)
    for share in (0.4, 0.6, 0.8, 1.0):
        reach_m = direct_m + share * (within_m - direct_m)
        tree.grow(listener, up_to_order=order, within_m=reach_m, source=source)
        found = tree.paths(source, reach_m)
        lengths_m = found.length_m[found.order == order]
        if lengths_m.size:
            return float(lengths_m[0])
    return float(np.inf)


def _sorted_paths(points: Floats, facets: Ints, length_m: Floats, tolerance_m: float) -> BeamPaths:
    """Paths in their final sequence; of those with the same bounce points only the first."""
    from raytrace.kernels.beamquery import repeats

    n, up_to_order = facets.shape
    order = np.count_nonzero(facets >= 0, axis=1)
    rows = np.argsort(length_m, kind="stable")
    group = np.empty(n, np.int64)
    group[rows] = np.cumsum(np.diff(length_m[rows], prepend=-np.inf) > 100 * tolerance_m)
    reading = facets
    if n and points[0, 0].tolist() > points[0, order[0] + 1].tolist():
        place = order[:, None] - 1 - np.arange(up_to_order)
        reading = np.where(place >= 0, np.take_along_axis(facets, np.maximum(place, 0), axis=1), -1)
    rows = np.lexsort((*reading.T[::-1], order, group))
    points, order, reading, group = points[rows], order[rows], reading[rows], group[rows]
    keep = ~repeats(points, order, group, tolerance_m)
    return BeamPaths(points[keep], facets[rows][keep], order[keep], length_m[rows][keep])


def _empty_nodes(capacity: int, n_sides: int) -> Any:
    from raytrace.kernels.beams import BeamNodes

    return BeamNodes(
        parent=np.empty(capacity, np.int32),
        facet=np.empty(capacity, np.int32),
        depth=np.empty(capacity, np.int32),
        apex=np.empty((capacity, 3)),
        side_start=np.empty(capacity + 1, np.int64),
        sides=np.empty((n_sides, 4)),
        guard=np.empty((4, capacity)),
    )


def _twice_as_many(nodes: Any) -> Any:
    wider = _empty_nodes(2 * len(nodes.parent), 2 * len(nodes.sides))
    for name in ("parent", "facet", "depth", "apex", "side_start", "sides"):
        old = getattr(nodes, name)
        getattr(wider, name)[: len(old)] = old
    wider.guard[:, : nodes.guard.shape[1]] = nodes.guard
    return wider
