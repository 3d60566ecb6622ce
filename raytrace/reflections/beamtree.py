"""Exact specular paths by a stored tree of beams, grown at the listener."""

from copy import copy
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_NONE: Ints = np.zeros(0, np.int64)
MOST_NODES = 2**18  # 70 MB and about a second; rooms as they are furnished take a tenth of that at most
_FEW = 64  # facets that are looked at in one go: their sequence does not matter


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
    missed: Bools
    """(n, up_to_order) spots that miss their facet by a free edge; none but in near misses"""


class FreeEdges(NamedTuple):
    """Edges round which the air goes, for near misses."""

    is_free: Bools
    """(n_points,) whether the edge from each corner of FacetArrays to the next one is free"""
    is_body: Bools
    """(n_facets,) faces of objects, past whose free edges a leg may be bent"""
    wavelength_m: float
    """a spot or leg may miss by the radius of the first Fresnel zone at this wavelength"""


class TooManyBeams(ValueError):
    """More sequences of facets may reflect than memory and patience are for."""


class BeamTree:
    """Beams from one listener through every sequence of facets, kept to be asked about many sources.

    A sequence is stored as what the listener sees in its mirrors. Whether a source is heard by it is one
    look at a few planes.

    Parameters
    ----------
    facet_arrays : FacetArrays
        Flat facets, normals into the air.
    tolerance_m : float
        How near an edge a spot counts as on it.
    free_edges : FreeEdges, optional
        With them the tree answers for near misses too, and takes longer to grow.
    n_solid : int, optional
        Facets that stand in a path's way, the first of all; those behind them reflect and let pass.

    Notes
    -----
    Beams: P. S. Heckbert, P. Hanrahan, SIGGRAPH 1984 (from memory). Stored planes: S. Laine, S. Siltanen,
    T. Lokki, L. Savioja, Applied Acoustics 70 (2009) 172 (from memory).
    """

    def __init__(
        self,
        facet_arrays: Any,
        tolerance_m: float,
        *,
        free_edges: FreeEdges | None = None,
        n_solid: int | None = None,
    ) -> None:
        from raytrace.kernels.hulls import prepare_facets

        # Kernels know facets by their place in a sequence that keeps neighbours together.
        self._sequence = _along_a_curve(facet_arrays)
        self._arrays, corners = _taken(facet_arrays, self._sequence)
        self._tolerance_m = tolerance_m
        self._facets = prepare_facets(self._arrays, np.full(len(self._sequence), 4 * tolerance_m))
        self._rows = _obstacles(self._facets.rows, self._sequence, n_solid)
        self._free_edges = free_edges and free_edges._replace(
            is_free=free_edges.is_free[corners], is_body=free_edges.is_body[self._sequence]
        )
        self._nodes = empty_nodes(4096, 24576)
        self._n_nodes = 0
        self._up_to_order = 0
        self._centres = np.zeros((0, 3))
        self._reach_m = np.zeros((0, 1))

    def another(self) -> "BeamTree":
        """A tree among the same facets, in which nothing has grown yet."""
        tree = copy(self)
        tree.forget()
        return tree

    def grow(
        self,
        listener: ArrayLike,
        *,
        up_to_order: int,
        within_m: ArrayLike,
        source: ArrayLike,
    ) -> None:
        """Store every beam that some sources may need.

        Parameters
        ----------
        listener : (3,) array_like
            [m]
        up_to_order : int
            Largest number of bounces.
        within_m : float or (n_sources, up_to_order) array_like
            Longest path from each source, of one bounce, of two and so on, never longer for more of them.
        source : (3,) or (n_sources, 3) array_like
            [m]
        """
        nodes = self._nodes
        nodes.parent[0], nodes.facet[0], nodes.depth[0] = -1, -1, 0
        nodes.apex[0] = listener
        nodes.side_start[:2] = 0
        self._up_to_order = up_to_order
        centres = np.array(source, np.float64).reshape(-1, 3)
        self._grow_around(centres, np.broadcast_to(within_m, (len(centres), up_to_order)))

    def _grow_around(self, centres: Floats, within_m: Floats) -> None:
        from raytrace.kernels.beams import Region, grow_beams

        self._centres = centres
        longest_m = within_m.max(axis=1, initial=0.0, keepdims=True)
        self._reach_m = np.hstack([longest_m, within_m])
        if self._free_edges is not None:
            self._facets = self._widened(self._free_edges)
        region = Region(centres, self._reach_m)
        node, n_nodes = 0, 1
        while node < n_nodes:
            node, n_nodes = grow_beams(region, self._facets, self._tolerance_m, self._nodes, node, n_nodes)
            if node < n_nodes:
                if len(self._nodes.parent) >= MOST_NODES:
                    self.forget()
                    raise TooManyBeams(f"more than {MOST_NODES} sequences of facets may reflect")
                self._nodes = _twice_as_many(self._nodes)
        self._n_nodes = n_nodes

    def forget(self) -> None:
        """Let go of all beams; the tree is grown anew when it is asked next."""
        self._nodes, self._n_nodes = empty_nodes(4096, 24576), 0
        self._centres, self._reach_m = np.zeros((0, 3)), np.zeros((0, 1))

    def _widened(self, free_edges: FreeEdges) -> Any:
        """Facets with a free edge as large as any spot may miss them."""
        from raytrace.kernels.hulls import prepare_facets

        # The Fresnel zone is widest half way.
        most_m = 0.5 * np.sqrt(free_edges.wavelength_m * self._reach_m.max())
        first_corner = self._arrays.loop_start[self._arrays.facet_loops[:-1]]
        has_free_edge = np.logical_or.reduceat(free_edges.is_free, first_corner)
        return prepare_facets(self._arrays, np.where(has_free_edge, most_m, 4 * self._tolerance_m))

    @property
    def n_beams(self) -> int:
        """Number of stored sequences."""
        return self._n_nodes - 1

    def paths(
        self, source: ArrayLike, within_m: float, up_to_order: int | None = None, *, passes: Ints = _NONE
    ) -> BeamPaths:
        """All specular paths from a source; the tree is grown anew where the source is beyond its reach.

        Parameters
        ----------
        source : (3,) array_like
            [m]
        within_m : float
            Longest path.
        up_to_order : int, optional
            Largest number of bounces; without it that of the tree.
        passes : (n,) int, optional
            Facets that are not there for this source.
        """
        from raytrace.kernels.beamquery import exact_paths

        source = np.array(source, np.float64)
        found, paths = self._candidates(source, within_m, up_to_order)
        n = exact_paths(
            source,
            found,
            self._nodes,
            self._rows_without(passes),
            self._arrays,
            self._tolerance_m,
            paths.points,
            paths.facets,
            paths.length_m,
        )
        return self._finished(paths, n)

    def near_misses(
        self, source: ArrayLike, within_m: float, up_to_order: int | None = None, *, passes: Ints = _NONE
    ) -> BeamPaths:
        """Paths that are none because a spot misses its facet by a free edge, or a leg meets one, by little.

        Parameters
        ----------
        source : (3,) array_like
            [m]
        within_m : float
            Longest path.
        up_to_order : int, optional
            Largest number of bounces; without it that of the tree.
        passes : (n,) int, optional
            Facets that are not there for this source.

        Raises
        ------
        ValueError
            If the tree was made without free edges.
        """
        from raytrace.kernels.beamquery import NearEdges, near_misses

        if self._free_edges is None:
            raise ValueError("near misses need a tree made with free_edges")
        source = np.array(source, np.float64)
        found, paths = self._candidates(source, within_m, up_to_order)
        n = near_misses(
            source,
            found,
            self._nodes,
            self._rows_without(passes),
            self._arrays,
            NearEdges(*self._free_edges),
            self._tolerance_m,
            paths.points,
            paths.facets,
            paths.missed,
            paths.length_m,
        )
        return self._finished(paths, n)

    def _rows_without(self, passes: Ints) -> Floats:
        """Rows of the facets for a source that some of them neither reflect nor hide."""
        if not len(passes):
            return self._rows
        own = np.flatnonzero(np.isin(self._sequence, passes))
        rows: Floats = self._rows.copy()
        rows[3, own] = np.inf  # everything lies behind such a plane
        rows[7:, own] = -1.0
        return rows

    def _candidates(self, source: Floats, within_m: float, up_to_order: int | None) -> tuple[Ints, BeamPaths]:
        """Nodes whose beams hold a source, and room for their paths."""
        from raytrace.kernels.beamquery import sources_inside

        order = self._up_to_order if up_to_order is None else up_to_order
        is_served = (self._centres == source).all(axis=1)
        if not np.any(is_served & (self._reach_m[:, order] >= within_m)):
            self._grow_around(source[None], np.full((1, self._up_to_order), within_m))
        # Nodes stand by their depth.
        n_nodes = np.searchsorted(self._nodes.depth[: self._n_nodes], order, side="right")
        found = np.empty(n_nodes, np.int64)
        n = sources_inside(source, within_m, self._nodes, n_nodes, self._rows, self._tolerance_m, found)
        paths = BeamPaths(
            points=np.empty((n, order + 2, 3)),
            facets=np.empty((n, order), np.int64),
            order=np.empty(n, np.int64),
            length_m=np.empty(n),
            missed=np.zeros((n, order), np.bool_),
        )
        return found[:n], paths

    def _finished(self, paths: BeamPaths, n: int) -> BeamPaths:
        """The first `n` paths with the facets' own numbers, sorted."""
        paths = _rows(paths, np.arange(n))
        facets = np.where(paths.facets >= 0, self._sequence[paths.facets], -1)
        order = np.count_nonzero(facets >= 0, axis=1)
        return _sorted_paths(paths._replace(facets=facets, order=order), self._tolerance_m)


def _sorted_paths(paths: BeamPaths, tolerance_m: float) -> BeamPaths:
    """Paths in their final sequence; of those with the same bounce points only the first."""
    from raytrace.kernels.beamquery import repeats

    rows = np.argsort(paths.length_m)
    apart = np.diff(paths.length_m[rows], prepend=-np.inf) > 100 * tolerance_m
    if apart.all():
        return _rows(paths, rows)
    group = np.empty(len(rows), np.int64)
    group[rows] = np.cumsum(apart)
    points, facets, order = paths.points, paths.facets, paths.order
    reading = facets
    if points[0, 0].tolist() > points[0, order[0] + 1].tolist():
        place = order[:, None] - 1 - np.arange(facets.shape[1])
        reading = np.where(place >= 0, np.take_along_axis(facets, np.maximum(place, 0), axis=1), -1)
    rows = np.lexsort((*reading.T[::-1], order, group))
    paths = _rows(paths, rows)
    repeated = repeats(paths.points, paths.facets, paths.missed, paths.order, group[rows], tolerance_m)
    return _rows(paths, np.flatnonzero(~repeated))


def _rows(paths: BeamPaths, rows: Ints) -> BeamPaths:
    return BeamPaths(
        points=paths.points[rows],
        facets=paths.facets[rows],
        order=paths.order[rows],
        length_m=paths.length_m[rows],
        missed=paths.missed[rows],
    )


def _obstacles(rows: Floats, sequence: Ints, n_solid: int | None) -> Floats:
    """Rows of the facets as legs meet them: those that let sound pass have a box that holds nothing."""
    if n_solid is None:
        return rows
    rows = rows.copy()
    rows[7:, np.flatnonzero(sequence >= n_solid)] = -1.0
    return rows


def _along_a_curve(facet_arrays: Any) -> Ints:
    """Facets in a sequence in which neighbours are near each other, large ones first.

    G. M. Morton's curve through the middles of their boxes (1966, from memory).
    """
    low, high = facet_arrays.low, facet_arrays.high
    if len(low) <= _FEW:
        return np.arange(len(low))
    size = np.linalg.norm(high - low, axis=1)
    whole_low, whole = low.min(axis=0), high.max(axis=0) - low.min(axis=0)
    cells = ((low + high) / 2 - whole_low) / np.maximum(whole, np.finfo(np.float64).tiny) * 1023
    key = np.zeros(len(low), np.int64)
    for bit in range(10):
        for axis in range(3):
            key |= ((cells[:, axis].astype(np.int64) >> bit) & 1) << (3 * bit + axis)
    return np.lexsort((key, size < 0.25 * np.linalg.norm(whole)))


def _taken(facet_arrays: Any, sequence: Ints) -> tuple[Any, Ints]:
    """FacetArrays with its facets in another sequence, and the corners of the old one in the new."""
    if len(sequence) <= _FEW:
        return facet_arrays, np.arange(len(facet_arrays.points))
    first, last = facet_arrays.facet_loops[sequence], facet_arrays.facet_loops[sequence + 1]
    loops = np.concatenate([np.arange(a, b) for a, b in zip(first, last, strict=True)])
    starts, ends = facet_arrays.loop_start[loops], facet_arrays.loop_start[loops + 1]
    corners = np.concatenate([np.arange(a, b) for a, b in zip(starts, ends, strict=True)])
    taken = facet_arrays._replace(
        normals=facet_arrays.normals[sequence],
        offsets=facet_arrays.offsets[sequence],
        points=facet_arrays.points[corners],
        loop_start=np.concatenate([[0], np.cumsum(ends - starts)]),
        facet_loops=np.concatenate([[0], np.cumsum(last - first)]),
        axis=facet_arrays.axis[sequence],
        low=facet_arrays.low[sequence],
        high=facet_arrays.high[sequence],
    )
    return taken, corners


def empty_nodes(capacity: int, n_sides: int) -> Any:
    """Room for so many beams, with so many sides of all of them together."""
    from raytrace.kernels.beams import BeamNodes

    return BeamNodes(
        parent=np.empty(capacity, np.int32),
        facet=np.empty(capacity, np.int32),
        depth=np.empty(capacity, np.int32),
        apex=np.empty((capacity, 3)),
        side_start=np.empty(capacity + 1, np.int64),
        sides=np.empty((n_sides, 4)),
    )


def _twice_as_many(nodes: Any) -> Any:
    wider = empty_nodes(2 * len(nodes.parent), 2 * len(nodes.sides))
    for name in ("parent", "facet", "depth", "apex", "side_start", "sides"):
        old = getattr(nodes, name)
        getattr(wider, name)[: len(old)] = old
    return wider
