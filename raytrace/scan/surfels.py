"""A scan as points that stand for pieces of its surface: welded, repeats dropped, long triangles cut."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_SAME_M = 1e-4  # corners as near as this are one
_FARTHEST_M = 1e12  # what lies beyond is a stray; its place as a whole number still fits one
LONGEST_M = 0.12  # edges are cut until none is longer: a plane is found by points all over it
_LOOK_M = 0.15  # how far a point looks round for its normal
_FAR_LOOK_M, _ROUGH_M = 0.20, 0.01  # and where it is rougher than this, farther
_FEWEST, _MOST = 12, 60  # neighbours it looks at
_MOST_CUTS, _MOST_PIECES = 12, 100_000  # those of a hall; more come of corners that lie far off
_FINE_POINTS = 1500  # fewer are a drawing, whose corners all stand out
_STRAY_M, _STRAY_TIMES = 0.12, 4.0
_BEYOND = 1.5  # times the spread of its neighbours; at the corner of a sheet it is once


@dataclass(frozen=True)
class Surfels:
    """Points of a scan and what lies round each.

    Attributes
    ----------
    points : (n, 3) float
        [m]
    triangles : (n_triangles, 3) int
        Rows of `points`.
    face : (n_triangles,) int
        Face of the file that each triangle is of.
    weights : (n,) float
        Area that each point stands for. [m2]
    neighbours : (n, k) int
        The points nearest to each.
    normals : (n, 3) float
        Of the surface round each point, of either sign.
    rough_m : (n,) float
        How far the points round each lie off one plane, root mean square. [m]
    """

    points: Floats
    triangles: Ints
    face: Ints
    weights: Floats
    neighbours: Ints
    normals: Floats
    rough_m: Floats

    @cached_property
    def noise_m(self) -> float:
        """How far points lie off the surface they are of, one standard deviation. [m]"""
        return float(np.median(self.rough_m))

    @cached_property
    def apart_m(self) -> float:
        """How far apart points lie: nine in ten have four others as near as this. [m]"""
        fourth = self.points[self.neighbours[:, min(4, self.neighbours.shape[1] - 1)]]
        return float(np.percentile(np.linalg.norm(fourth - self.points, axis=1), 90))


@dataclass(frozen=True)
class Welded:
    """Triangles with shared corners, and what was dropped.

    Attributes
    ----------
    points, triangles, face
        As those of `Surfels`.
    repeated, degenerate, strays : int
        Faces that stood there twice, and those without area; points far from all that lies round them.
    """

    points: Floats
    triangles: Ints
    face: Ints
    repeated: int
    degenerate: int
    strays: int = 0


def weld(points: Floats, triangles: Ints, face: Ints) -> Welded:
    """Triangles whose corners are shared, without repeats and without any that has no area."""
    cells = np.round(np.clip(points, -_FARTHEST_M, _FARTHEST_M) / _SAME_M).astype(np.int64)
    _, first, number = np.unique(cells, axis=0, return_index=True, return_inverse=True)
    shared = points[first]
    triangles = number.reshape(-1)[triangles]
    sides = shared[triangles[:, 1:]] - shared[triangles[:, :1]]
    height = np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1)
    longest = np.linalg.norm(shared[triangles] - shared[np.roll(triangles, 1, axis=1)], axis=2).max(axis=1)
    flat = height <= _SAME_M * longest
    n_empty = len(np.setdiff1d(face[flat], face[~flat]))
    triangles, face = triangles[~flat], face[~flat]
    _, kept = np.unique(np.sort(triangles, axis=1), axis=0, return_index=True)
    kept.sort()
    n_repeated = len(np.setdiff1d(face, face[kept]))
    return Welded(shared, triangles[kept], face[kept], n_repeated, n_empty)


def without_strays(mesh: Welded) -> Welded:
    """A scan without what lies far outside it and, where it is fine, without points that stand out far."""
    low, high = np.percentile(mesh.points[mesh.triangles].reshape(-1, 3), (1, 99), axis=0)
    outside = ((mesh.points < low - (high - low)) | (mesh.points > high + (high - low))).any(axis=1)
    kept = ~outside[mesh.triangles].any(axis=1)
    mesh = replace(mesh, triangles=mesh.triangles[kept], face=mesh.face[kept], strays=int(outside.sum()))
    ends = np.concatenate([mesh.triangles[:, [0, 1]], mesh.triangles[:, [1, 2]], mesh.triangles[:, [2, 0]]])
    ends = np.concatenate([ends, ends[:, ::-1]])
    if len(mesh.points) < _FINE_POINTS:
        return mesh
    n_around = np.maximum(np.bincount(ends[:, 0], minlength=len(mesh.points)), 1)

    def mean_of(own: Floats) -> Floats:
        return np.bincount(ends[:, 0], own, len(mesh.points)) / n_around

    mean = np.stack([mean_of(mesh.points[ends[:, 1], axis]) for axis in range(3)], axis=1)
    out_m = np.linalg.norm(mesh.points - mean, axis=1)
    stray = out_m > max(_STRAY_M, _STRAY_TIMES * float(np.median(out_m)))
    # At an open edge all neighbours lie to one side: there it is far out only beside how far they spread,
    # and beside how long edges are.
    spread_m = np.sqrt(mean_of(((mesh.points[ends[:, 1]] - mean[ends[:, 0]]) ** 2).sum(axis=1)))
    long_m = np.percentile(np.linalg.norm(mesh.points[ends[:, 0]] - mesh.points[ends[:, 1]], axis=1), 75)
    stray &= ~_on_open_edges(mesh) | (out_m > _BEYOND * np.maximum(spread_m, long_m))
    kept = ~stray[mesh.triangles].any(axis=1)
    return replace(
        mesh, triangles=mesh.triangles[kept], face=mesh.face[kept], strays=mesh.strays + int(stray.sum())
    )


def _on_open_edges(mesh: Welded) -> Bools:
    """Which points lie on edges that only one triangle has."""
    ends = np.concatenate([mesh.triangles[:, [0, 1]], mesh.triangles[:, [1, 2]], mesh.triangles[:, [2, 0]]])
    edges, count = np.unique(np.sort(ends, axis=1), axis=0, return_counts=True)
    on = np.zeros(len(mesh.points), bool)
    on[edges[count == 1]] = True
    return on


def surfels(mesh: Welded) -> Surfels:
    """The points of a welded scan, each with its neighbours, weight and normal."""
    from scipy.spatial import cKDTree

    points, triangles, parent = cut_long(mesh.points, mesh.triangles, LONGEST_M)
    used, rows = np.unique(triangles, return_inverse=True)
    points, triangles = points[used], rows.reshape(-1, 3)
    sides = points[triangles[:, 1:]] - points[triangles[:, :1]]
    areas = 0.5 * np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1)
    shares = np.repeat(areas / 3.0, 3)
    weights = np.bincount(triangles.reshape(-1), shares, len(points)).astype(np.float64)
    mean_m2 = max(float(areas.sum()) / len(points), 1e-9)
    tree = cKDTree(points)
    neighbours, normals, rough_m = np.empty((0, 0), np.int64), np.empty((0, 3)), np.empty(0)
    for look_m in (_LOOK_M, _FAR_LOOK_M):
        n_around = min(int(np.clip(np.pi * look_m**2 / mean_m2, _FEWEST, _MOST)), len(points) - 1)
        neighbours = np.asarray(tree.query(points, n_around + 1)[1], np.int64)
        normals, rough_m = _normals(points, neighbours)
        if float(np.median(rough_m)) <= _ROUGH_M:
            break
    return Surfels(points, triangles, mesh.face[parent], weights, neighbours, normals, rough_m)


def cut_long(
    points: Floats, triangles: Ints, longest_m: float, *, most: int = _MOST_PIECES
) -> tuple[Floats, Ints, Ints]:
    """Triangles cut until no edge is longer; neighbours are cut alike, so that they go on sharing edges.

    Where more than `most` pieces, or twice the given triangles, are there by then, edges stay longer.

    Returns
    -------
    points, triangles
        As given, with more of both.
    parent : (n,) int
        Which of the given triangles each is a piece of.
    """
    parent = np.arange(len(triangles))
    most = max(most, 2 * len(triangles))
    for _ in range(_MOST_CUTS):
        ends = np.sort(np.stack([triangles, np.roll(triangles, -1, axis=1)], axis=2), axis=2)
        long = np.linalg.norm(points[ends[..., 0]] - points[ends[..., 1]], axis=2) > longest_m
        if not long.any() or len(triangles) > most:
            break
        edges, number = np.unique(ends[long], axis=0, return_inverse=True)
        middle = np.full(triangles.shape, -1)
        middle[long] = len(points) + number.reshape(-1)
        points = np.concatenate([points, points[edges].mean(axis=1)])
        triangles, parent = _cut(triangles, parent, middle)
    return points, triangles, parent


def _cut(triangles: Ints, parent: Ints, middle: Ints) -> tuple[Ints, Ints]:
    """Each triangle cut at the middles of its edges; `middle[:, k]` of edge k to k + 1, -1 for none."""
    counts = (middle >= 0).sum(axis=1)
    pieces, parents = [triangles[counts == 0]], [parent[counts == 0]]
    turn = np.where(counts == 1, np.argmax(middle >= 0, axis=1), (np.argmax(middle < 0, axis=1) + 1) % 3)
    order = (turn[:, None] + np.arange(3)) % 3
    a, b, c = np.take_along_axis(triangles, order, axis=1).T
    ab, bc, ca = np.take_along_axis(middle, order, axis=1).T
    for count, corners in (
        (1, ((a, ab, c), (ab, b, c))),
        (2, ((ab, b, bc), (a, ab, bc), (a, bc, c))),
        (3, ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))),
    ):
        chosen = counts == count
        for corner in corners:
            pieces.append(np.stack(corner, axis=1)[chosen])
            parents.append(parent[chosen])
    return np.concatenate(pieces), np.concatenate(parents)


def _normals(points: Floats, neighbours: Ints) -> tuple[Floats, Floats]:
    """Normal of the plane through the points round each, strays left out, and how rough it is there. [m]"""
    weights = np.ones(neighbours.shape)
    for _ in range(2):
        total = weights.sum(axis=1)
        around = points[neighbours]
        around -= (np.einsum("nk,nkd->nd", weights, around) / total[:, None])[:, None]
        moments = np.einsum("nk,nkd,nke->nde", weights, around, around, optimize=True) / total[:, None, None]
        values, axes = np.linalg.eigh(moments)
        normals = axes[:, :, 0]
        off = np.abs(np.einsum("nkd,nd->nk", around, normals))
        weights = (off <= 3.0 * np.median(off, axis=1, keepdims=True) + 1e-9).astype(np.float64)
    return np.ascontiguousarray(normals), np.sqrt(np.maximum(values[:, 0], 0.0))
