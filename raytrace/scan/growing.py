"""Planes out of noise: regions grown from the smoothest points outwards, refitted, and merged."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.scan.surfels import Surfels

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_REFITS = 6
_LAST_TURNS = 2.5  # times the angle, for the points that a finished plane takes up at last
_SMALLEST_M2, _FEWEST_POINTS = 0.02, 12  # what is smaller has no plane of its own
_ROUND = 7  # a point and the next ones
_NARROW_DEG = 0.25  # a plane of which the points inside tell less of its direction than this is a narrow one
_BESIDE = 9  # the next ones all round; farther ones would leap over gaps
_MOST_PLANES = 400
_SEAM = 0.75  # share of a plane's points that could be of others, where it is none
_ONE_DEG, _MOST_DEG, _ONE_GAP_M = 4.0, 15.0, 0.35  # pieces that turn by less and lie nearer may be one plane


@dataclass(frozen=True)
class Plane:
    """Points that lie in one plane: normal . x = offset.

    Attributes
    ----------
    normal : (3,) float
    offset : float
        [m]
    members : (n,) int
        Points of the scan.
    """

    normal: Floats
    offset: float
    members: Ints

    def off_m(self, points: Floats) -> Floats:
        """How far points lie before the plane (n,). [m]"""
        off: Floats = points @ self.normal - self.offset
        return off


def grow_planes(scan: Surfels, *, angle_deg: float = 10.0, distance_m: float = 0.03) -> list[Plane]:
    """The planes of a scan, the largest first.

    Parameters
    ----------
    scan : Surfels
    angle_deg : float
        How far the surface round a point may turn from the plane. [deg]
    distance_m : float
        How far a point may lie off it; three times the noise where that is more. [m]
    """
    reach_m = reach_of(scan, distance_m)
    same = np.cos(np.radians(angle_deg))
    free = np.ones(len(scan.points), bool)
    planes: list[Plane] = []
    walks = _Walks(scan, free)
    for seed in np.argsort(scan.rough_m, kind="stable"):
        if not free[seed]:
            continue
        plane = _grown(scan, int(seed), walks, reach_m=reach_m, same=same)
        if plane is None:
            free[seed] = False  # as a seed only: it may still join a plane at the end
            continue
        free[plane.members] = False
        planes.append(plane)
        if len(planes) >= _MOST_PLANES:
            break
    planes = _merged(scan, planes, reach_m)
    planes = _without_seams(scan, planes, reach_m)
    planes = _joined_by(scan, planes, reach_m)
    return sorted(planes, key=lambda plane: -float(scan.weights[plane.members].sum()))


def reach_of(scan: Surfels, distance_m: float) -> float:
    """How far a point may lie off its plane. [m]"""
    return max(distance_m, 3.0 * scan.noise_m)


def fit_plane(points: Floats, weights: Floats) -> tuple[Floats, float]:
    """Normal and offset of the plane through points, strays weighed down.

    Notes
    -----
    Least squares with Tukey's biweight at 4.685 standard deviations, those from the median: J. W. Tukey,
    A. E. Beaton, Technometrics 16 (1974) 147 (from memory).
    """
    robust = weights
    normal, offset = np.zeros(3), 0.0
    for _ in range(4):
        centre = robust @ points / robust.sum()
        around = points - centre
        normal = np.linalg.eigh((around * robust[:, None]).T @ around)[1][:, 0]
        offset = float(normal @ centre)
        off = np.abs(around @ normal)
        scale = 4.685 * 1.4826 * float(np.median(off)) + 1e-9
        robust = weights * np.maximum(1.0 - (off / scale) ** 2, 0.0) ** 2
    return normal, offset


class _Walks:
    """Regions of a scan, each grown from a point through neighbours that are free and lie in a plane."""

    def __init__(self, scan: Surfels, free: Bools) -> None:
        n = len(scan.points)
        self._scan, self._free, self._number = scan, free, 0
        self._neighbours = np.ascontiguousarray(scan.neighbours[:, :_BESIDE])
        self._passed, self._reached = np.zeros(n, np.int64), np.empty(n, np.int64)

    def reached(self, seed: int, plane: Floats, *, off_m: float, same: float) -> Ints:
        """Points of the region round a seed in a plane (4,), the seed among them, in their order."""
        from raytrace.kernels.regions import reach_in_plane

        scan = self._scan
        self._number += 1
        walk = self._passed, self._number, self._reached
        given = scan.points, scan.normals, self._neighbours, self._free
        return np.sort(self._reached[: reach_in_plane(*given, seed, plane, off_m, same, walk)])


def _grown(scan: Surfels, seed: int, walks: _Walks, *, reach_m: float, same: float) -> Plane | None:
    """The plane round one point, None where it is too small."""
    from raytrace.kernels.regions import lies_in, offset_round

    normal = scan.normals[seed]
    offset = offset_round(scan.points, normal, scan.neighbours[seed])
    before = -1
    for _ in range(_REFITS):
        plane = np.append(normal, offset)
        if not lies_in(scan.points[seed], scan.normals[seed], plane, reach_m, same):
            return None
        members = walks.reached(seed, plane, off_m=reach_m, same=same)
        if len(members) < _FEWEST_POINTS or scan.weights[members].sum() < _SMALLEST_M2:
            return None
        if len(members) == before:
            break
        before = len(members)
        normal, offset = fit_plane(scan.points[members], scan.weights[members])
    # Points in the middle of it whose own normals are off by noise alone would grow planes of their own.
    turned = float(np.cos(_LAST_TURNS * np.arccos(same)))
    members = walks.reached(seed, np.append(normal, offset), off_m=reach_m, same=turned)
    return Plane(normal, offset, members)


def _merged(scan: Surfels, planes: list[Plane], reach_m: float) -> list[Plane]:
    """Planes with those made one that differ by noise alone and lie beside each other."""
    from scipy.spatial import cKDTree

    merged = [_Piece.of(scan, plane) for plane in sorted(planes, key=lambda plane: -len(plane.members))]
    k = 0
    while k < len(merged):
        piece = merged[k]
        tree = cKDTree(piece.points)
        for other in merged[k + 1 :]:
            # The dear questions last: most pairs are turned, or far apart.
            if piece.is_turned_from(other, scan.noise_m) or not piece.is_near(other):
                continue
            off_m = np.abs(piece.plane.off_m(other.points))
            if 2 * np.count_nonzero(off_m > reach_m / 2) > len(off_m):
                continue
            if tree.query(other.points, distance_upper_bound=_ONE_GAP_M)[0].min() <= _ONE_GAP_M:
                members = np.concatenate([piece.plane.members, other.plane.members])
                fitted = fit_plane(scan.points[members], scan.weights[members])
                piece = _Piece.of(scan, Plane(*fitted, members))
                merged = [p for p in merged if p is not other]
        merged[k] = piece
        k += 1
    return [piece.plane for piece in merged]


@dataclass(frozen=True, eq=False)
class _Piece:
    """A plane with its points, the box round them, and half its width."""

    plane: Plane
    points: Floats
    low: Floats
    high: Floats
    half_width_m: float

    @classmethod
    def of(cls, scan: Surfels, plane: Plane) -> "_Piece":
        points = scan.points[plane.members]
        return cls(plane, points, points.min(axis=0), points.max(axis=0), _half_width_m(points))

    def is_turned_from(self, other: "_Piece", noise_m: float) -> bool:
        """Whether another piece is of another plane by its normal; noise turns a small one more."""
        turn = np.radians(_ONE_DEG) + 3.0 * noise_m / max(other.half_width_m, 0.02)
        most = np.cos(min(turn, np.radians(_MOST_DEG)))
        return bool(abs(self.plane.normal @ other.plane.normal) < most)

    def is_near(self, other: "_Piece") -> bool:
        """Whether the boxes round both are near enough for points of one to be beside points of the other."""
        apart = np.maximum(np.maximum(self.low - other.high, other.low - self.high), 0.0)
        return bool(np.linalg.norm(apart) <= _ONE_GAP_M)


def _half_width_m(points: Floats) -> float:
    """Half the width of flat points, across where they are longest. [m]"""
    around = points - points.mean(axis=0)
    return float(np.sqrt(3.0 * np.linalg.eigvalsh(around.T @ around / len(points))[1]))


def _without_seams(scan: Surfels, planes: list[Plane], reach_m: float) -> list[Plane]:
    """Planes without those along an edge between two others, whose points could as well be of these."""
    kept = sorted(planes, key=lambda plane: -float(scan.weights[plane.members].sum()))
    normals, offsets = np.array([p.normal for p in kept]), np.array([p.offset for p in kept])
    label = labels_of(kept, len(scan.points))
    for k in range(len(kept) - 1, 0, -1):
        members = kept[k].members
        around = label[scan.neighbours[members]]
        off = np.abs(np.einsum("nkd,nd->nk", normals[around], scan.points[members]) - offsets[around])
        off[(around < 0) | (around >= k)] = np.inf
        if (off.min(axis=1) <= reach_m).mean() >= _SEAM:
            label[members] = -1
            kept[k] = Plane(kept[k].normal, kept[k].offset, members[:0])
    return [plane for plane in kept if len(plane.members)]


def _joined_by(scan: Surfels, planes: list[Plane], reach_m: float) -> list[Plane]:
    """Planes with the points beside them that lie in them, each point in the nearest plane round it."""
    label = np.full(len(scan.points), -1)
    for k, plane in enumerate(planes):
        label[plane.members] = k
    for _ in range(3):
        loose = np.flatnonzero(label < 0)
        if not len(loose) or not planes:
            break
        around = label[scan.neighbours[loose]]
        normals = np.array([plane.normal for plane in planes])
        offsets = np.array([plane.offset for plane in planes])
        off = np.abs(np.einsum("nkd,nd->nk", normals[around], scan.points[loose]) - offsets[around])
        off[around < 0] = np.inf
        best = np.argmin(off, axis=1)
        rows = np.arange(len(loose))
        close = off[rows, best] <= reach_m
        label[loose[close]] = around[rows, best][close]
    return [
        _refitted(scan, Plane(plane.normal, plane.offset, np.flatnonzero(label == k)), reach_m)
        for k, plane in enumerate(planes)
    ]


def _refitted(scan: Surfels, plane: Plane, reach_m: float) -> Plane:
    """A plane refitted to its points inside; a narrow one then to those on its edges too."""
    inner = _inner_points(scan, plane.members)
    if len(inner) >= _FEWEST_POINTS:
        plane = Plane(*fit_plane(scan.points[inner], scan.weights[inner]), plane.members)
    chosen = fitted_points(scan, plane, reach_m)
    if len(chosen) < _FEWEST_POINTS or np.array_equal(chosen, inner):
        return plane
    return Plane(*fit_plane(scan.points[chosen], scan.weights[chosen]), plane.members)


def fitted_points(scan: Surfels, plane: Plane, reach_m: float) -> Ints:
    """Which points a plane is fitted to.

    Those all round which are its own too, since scans round edges off. Of a narrow plane these tell too
    little of its direction: then all that lie in it, also those counted to what is beside its edges.
    """
    inner = _inner_points(scan, plane.members)
    if turn_error_deg(scan.points[inner]) <= _NARROW_DEG:
        return inner
    near = np.flatnonzero(_is_of(scan, plane.members)[scan.neighbours[:, :_ROUND]].any(axis=1))
    wide: Ints = near[np.abs(plane.off_m(scan.points[near])) <= reach_m]
    return wide if len(wide) >= _FEWEST_POINTS else plane.members


def _inner_points(scan: Surfels, members: Ints) -> Ints:
    inner: Ints = members[_is_of(scan, members)[scan.neighbours[members][:, :_ROUND]].all(axis=1)]
    return inner


def _is_of(scan: Surfels, members: Ints) -> Bools:
    """Of each point of a scan whether it is one of these."""
    mask = np.zeros(len(scan.points), bool)
    mask[members] = True
    return mask


def turn_error_deg(points: Floats) -> float:
    """One standard error of the direction of a plane fitted to points (n, 3), about their longer side. [deg]

    Least squares: that of a slope is the spread off the plane over the root of the sum of squares along the
    shorter side.
    """
    if len(points) < 4:  # through three points any plane goes
        return 90.0
    spread = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    return float(np.degrees(np.arctan2(spread[2] / np.sqrt(len(points) - 3), spread[1])))


def labels_of(planes: list[Plane], n_points: int) -> Ints:
    """Which plane each point is of, -1 for none. (n_points,)"""
    label = np.full(n_points, -1)
    for k, plane in enumerate(planes):
        label[plane.members] = k
    return label


def label_triangles(scan: Surfels, planes: list[Plane]) -> Ints:
    """Which plane each triangle is of, -1 for none: of those of its corners, the one it lies nearest to."""
    label = labels_of(planes, len(scan.points))[scan.triangles]
    if not planes:
        return label[:, 0]
    normals = np.array([plane.normal for plane in planes])
    offsets = np.array([plane.offset for plane in planes])
    corners = scan.points[scan.triangles]
    off = np.abs(np.einsum("tkd,tcd->tkc", normals[label], corners) - offsets[label][..., None]).max(axis=2)
    off[label < 0] = np.inf
    best = np.argmin(off, axis=1)
    chosen: Ints = np.take_along_axis(label, best[:, None], axis=1)[:, 0]
    return chosen
