"""Where a reflection that nothing drawn explains can have met something: all points with its extra path."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.room import Room

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_STEP = np.radians(3.0)  # chords stay within 1 mm of a curve 2.5 m across
_UPRIGHT = 0.999  # a way so near the vertical has no most upright direction across it
_LEAST_EXTRA_M = 1e-3  # less is no way round anything: the shell is a line


@dataclass(frozen=True)
class SurfaceCurve:
    """A piece of a curve on one face.

    Attributes
    ----------
    surface, facet : int
        Of the room.
    points : (n, 3) float
        In order; the last is the first again where the curve closes. [m]
    """

    surface: int
    facet: int
    points: Floats


@dataclass(frozen=True)
class PointSet:
    """All points over which a path from a speaker to a seat is longer than the direct one by some length.

    They make an ellipsoid of revolution whose foci are the two; something that is not drawn may stand
    anywhere on it, or it is a drawn face that does what the drawing does not have.

    Attributes
    ----------
    source, listener : (3,) float
        [m]
    extra_m : float
    centre : (3,) float
        [m]
    axes : (3, 3) float
        Half axes as rows: the long one through both foci, the most upright one across it, the level one. [m]
    curves : tuple of SurfaceCurve
        Where it cuts faces of the room that both ends see, face by face.
    """

    source: Floats
    listener: Floats
    extra_m: float
    centre: Floats
    axes: Floats
    curves: tuple[SurfaceCurve, ...]

    @property
    def surfaces(self) -> tuple[int, ...]:
        """Surfaces that it cuts, the longest cut first."""
        longest: dict[int, float] = {}
        for curve in self.curves:
            length_m = float(np.linalg.norm(np.diff(curve.points, axis=0), axis=1).sum())
            longest[curve.surface] = longest.get(curve.surface, 0.0) + length_m
        return tuple(sorted(longest, key=lambda surface: -longest[surface]))

    def is_beyond(self, room: Room) -> bool:
        """Whether the whole room lies inside it: no one place of the room is so far round."""
        # How far round is a convex function of the place: its greatest value lies at a corner.
        corners = np.concatenate([facet.outline for facet in room.facets])
        ways_m = sum(np.linalg.norm(corners - end, axis=1) for end in (self.source, self.listener))
        apart_m = np.linalg.norm(self.listener - self.source)
        return bool(np.max(ways_m) - apart_m < self.extra_m)

    def on_shell(self, directions: ArrayLike) -> Floats:
        """Points (n, 3) of the ellipsoid in some directions (n, 3) of its own stretched axes. [m]"""
        return np.asarray(self.centre + np.asarray(directions, np.float64) @ self.axes)


def points_with_extra(room: Room, source: ArrayLike, listener: ArrayLike, *, extra_m: float) -> PointSet:
    """The set of points with a given extra path, and its cut with each face of a room.

    Parameters
    ----------
    room : Room
    source, listener : (3,) array_like
        [m]
    extra_m : float
        Above 0. [m]

    Raises
    ------
    ValueError
        If the extra path is too short for a shell.

    Notes
    -----
    Stretched along its axes to a sphere of radius 1, the ellipsoid is cut by a plane in a circle: exact.
    """
    source, listener = np.asarray(source, np.float64), np.asarray(listener, np.float64)
    apart_m = float(np.linalg.norm(listener - source))
    if not extra_m >= _LEAST_EXTRA_M:
        raise ValueError(f"extra_m must be {_LEAST_EXTRA_M} or more, not {extra_m}")
    centre, axes = 0.5 * (source + listener), _axes(listener - source, apart_m + extra_m)
    found = PointSet(source, listener, extra_m, centre, axes, ())
    own = set(room.own_facets(source).tolist())
    curves = [
        curve for k in range(len(room.facets)) if k not in own for curve in _facet_curves(room, k, found)
    ]
    return PointSet(source, listener, extra_m, centre, axes, tuple(curves))


def _axes(way: Floats, length_m: float) -> Floats:
    """Half axes (3, 3) of the ellipsoid about two foci, by the whole length of its paths."""
    apart_m = float(np.linalg.norm(way))
    along = way / apart_m if apart_m > 0.0 else np.array([1.0, 0.0, 0.0])
    upright = np.array([0.0, 0.0, 1.0]) if abs(along[2]) < _UPRIGHT else np.array([1.0, 0.0, 0.0])
    level = np.cross(along, upright)
    level /= np.linalg.norm(level)
    short_m = 0.5 * float(np.sqrt(length_m**2 - apart_m**2))
    return np.array([0.5 * length_m * along, short_m * np.cross(level, along), short_m * level])


def _facet_curves(room: Room, index: int, shell: PointSet) -> list[SurfaceCurve]:
    """Pieces of the cut with one facet that speaker and seat both see."""
    facet = room.facets[index]
    across = shell.axes @ facet.normal  # the plane's normal where the ellipsoid is a sphere
    steep = float(np.linalg.norm(across))
    off = (facet.offset - float(facet.normal @ shell.centre)) / steep
    if abs(off) >= 1.0 - 1e-12:
        return []
    normal = across / steep
    first = np.cross(normal, np.eye(3)[np.argmin(np.abs(normal))])
    first /= np.linalg.norm(first)
    circle = np.sqrt(1.0 - off * off) * np.array([first, np.cross(normal, first)])
    loops = [_on_circle(shell, circle, loop) for loop in (facet.outline, *facet.holes)]

    def points(angle: Floats) -> Floats:
        return shell.on_shell(
            off * normal + np.column_stack([np.cos(angle), np.sin(angle)]) @ circle,
        )

    angles = np.unique(np.concatenate([np.arange(0.0, 2.0 * np.pi, _STEP), *map(_crossings, loops)]))
    nexts = np.append(angles[1:], angles[0] + 2.0 * np.pi)
    middles = 0.5 * (angles + nexts)
    kept = _is_inside(np.column_stack([np.cos(middles), np.sin(middles)]), loops)
    if kept.any():
        kept[kept] = _is_seen(room, shell, points(middles[kept]))
    return [SurfaceCurve(facet.surface, index, points(run)) for run in _runs(angles, kept)]


def _on_circle(shell: PointSet, circle: Floats, loop: Floats) -> Floats:
    """Corners (n, 2) in the plane of the cut, in which that is the circle of radius 1 about 0."""
    stretched = (loop - shell.centre) @ np.linalg.inv(shell.axes)
    return np.asarray(stretched @ circle.T / np.sum(circle**2, axis=1))


def _crossings(loop: Floats) -> Floats:
    """Angles, 0 to 2 pi, at which the edges of a loop (n, 2) cross the circle of radius 1."""
    start, edge = loop, np.roll(loop, -1, axis=0) - loop
    a, b = (edge**2).sum(axis=1), (start * edge).sum(axis=1)
    under = b * b - a * ((start**2).sum(axis=1) - 1.0)
    met = (under >= 0.0) & (a > 0.0)
    found = []
    for sign in (-1.0, 1.0):
        along = (-b[met] + sign * np.sqrt(under[met])) / a[met]
        on = (along >= 0.0) & (along <= 1.0)
        place = (start[met] + along[:, None] * edge[met])[on]
        found.append(np.arctan2(place[:, 1], place[:, 0]) % (2.0 * np.pi))
    return np.concatenate(found)


def _is_inside(points: Floats, loops: list[Floats]) -> Bools:
    """Whether points (n, 2) lie in a polygon with holes: its edges cross a ray an odd number of times."""
    inside = np.zeros(len(points), bool)
    for loop in loops:
        (x0, y0), (x1, y1) = loop.T, np.roll(loop, -1, axis=0).T
        straddles = (y0 > points[:, 1:]) != (y1 > points[:, 1:])
        at = x0 + (points[:, 1:] - y0) * (x1 - x0) / np.where(y1 == y0, 1.0, y1 - y0)
        inside ^= (straddles & (points[:, :1] < at)).sum(axis=1) % 2 == 1
    return inside


def _is_seen(room: Room, shell: PointSet, points: Floats) -> Bools:
    """Whether nothing stands between points and speaker, points and seat."""
    to_seat = np.broadcast_to(shell.listener, points.shape)
    return room.is_heard(shell.source, points) & room.is_clear(points, to_seat)


def _runs(angles: Floats, kept: Bools) -> list[Floats]:
    """Angles of each piece that is kept, in order; `kept` is of the steps from each angle to the next."""
    n = len(angles)
    if kept.all():
        return [np.append(angles, angles[0] + 2.0 * np.pi)]
    first = int(np.flatnonzero(~kept)[0]) + 1
    order = (first + np.arange(n)) % n
    runs: list[list[float]] = []
    was_kept = False
    for k in order.tolist():
        if kept[k]:
            begin, end = float(angles[k]), float(angles[(k + 1) % n])
            runs[-1].append(end) if was_kept else runs.append([begin, end])
        was_kept = bool(kept[k])
    return [np.array(run) for run in runs]
