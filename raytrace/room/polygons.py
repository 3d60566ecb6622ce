"""Flat polygons: area, triangles, clipping, joining, and whether a point lies in them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Loop = list[int]


@dataclass(frozen=True)
class NamedPolygon:
    """One flat piece of a surface.

    Attributes
    ----------
    name : str
        Surface it belongs to.
    owner : str or None
        Name of the object; None for the room itself.
    outline : (n, 3) float
        Corners, anticlockwise as seen from the air. [m]
    holes : tuple of (k, 3) float
        Outlines of holes, clockwise as seen from the air. [m]
    key : tuple
        Key path of the scene that the piece comes from.
    """

    name: str
    owner: str | None
    outline: Floats
    holes: tuple[Floats, ...]
    key: tuple[str | int, ...]


def area_vector(outline: Floats) -> Floats:
    """Normal times area of a closed polygon, towards whoever sees it anticlockwise.

    Parameters
    ----------
    outline : (n, 3) float
        Corners in order. [m]

    Returns
    -------
    (3,) float
        [m2]

    Notes
    -----
    Newell's sum, as fan triangles about the first corner: exact zeros for axis-parallel faces.

    Examples
    --------
    >>> area_vector(np.array([[0.0, 0, 1], [2, 0, 1], [2, 3, 1], [0, 3, 1]])).tolist()
    [0.0, 0.0, 6.0]
    """
    spokes = outline[1:] - outline[0]
    (ax, ay, az), (bx, by, bz) = spokes[:-1].T, spokes[1:].T  # np.cross takes four times as long for so few
    fan = np.stack([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx], axis=1)
    total: Floats = 0.5 * fan.sum(axis=0)
    return total


def signed_area(points: Floats) -> float:
    """Area of a (n, 2) polygon, positive when its corners run anticlockwise. [m2]"""
    x, y = (points - points[0]).T
    return float(0.5 * (x @ np.roll(y, -1) - y @ np.roll(x, -1)))


def plane_axes(normal: Floats) -> tuple[int, int]:
    """Two of the three axes that show a polygon with this normal at its largest, anticlockwise kept."""
    dropped = int(np.argmax(np.abs(normal)))
    first, second = (dropped + 1) % 3, (dropped + 2) % 3
    return (first, second) if normal[dropped] > 0 else (second, first)


def is_convex(points: Floats) -> bool:
    """Whether an anticlockwise (n, 2) polygon goes round once and turns right by no more than rounding."""
    edges = np.concatenate([points[1:], points[:1]]) - points
    following = np.concatenate([edges[1:], edges[:1]])
    turn = edges[:, 0] * following[:, 1] - edges[:, 1] * following[:, 0]
    size = np.ptp(points, axis=0).max()
    if (turn < -1e-12 * size * size).any():
        return False
    ahead = (edges * following).sum(axis=1)
    return bool(np.arctan2(turn, ahead).sum() < 3.0 * np.pi)  # a star turns left everywhere, and round twice


def triangulate(outline: Floats, holes: Sequence[Floats] = ()) -> Floats:
    """Triangles that tile a flat polygon, each seen anticlockwise from where the polygon is.

    Parameters
    ----------
    outline : (n, 3) float
        Corners in order. [m]
    holes : sequence of (k, 3) float
        Outlines of holes, running the other way round. [m]

    Returns
    -------
    (n_triangles, 3, 3) float
        [m]

    Raises
    ------
    ValueError
        If the triangles do not add up to the polygon's area: it crosses itself.
    """
    normal = area_vector(outline)
    axes = plane_axes(normal)
    if not len(holes) and is_convex(outline[:, axes]):
        corner = outline[: len(outline) - 2]
        fan = np.stack([np.broadcast_to(outline[0], corner.shape), outline[1:-1], outline[2:]], axis=1)
        return np.ascontiguousarray(fan)
    import mapbox_earcut

    points = np.concatenate([outline, *holes])
    ends = np.cumsum([len(loop) for loop in (outline, *holes)]).astype(np.uint32)
    corners = mapbox_earcut.triangulate_float64(np.ascontiguousarray(points[:, axes]), ends)
    triangles: Floats = points[np.asarray(corners, np.int64).reshape(-1, 3)]
    vectors = 0.5 * np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    backward = vectors @ normal < 0
    triangles[backward] = triangles[backward][:, ::-1]
    area = np.linalg.norm(normal + sum(area_vector(hole) for hole in holes))
    if abs(np.abs(vectors @ normal).sum() / np.linalg.norm(normal) - area) > 1e-6 * area:
        raise ValueError("the outline crosses itself")
    return triangles


def clip_convex(
    points: Floats, labels: Sequence[str], normal: Floats, offset: float, label: str
) -> tuple[Floats, list[str]]:
    """What a half-plane leaves of a convex polygon.

    Parameters
    ----------
    points : (n, d) float
        Corners in order. [m]
    labels : sequence of str
        Name of the edge that starts at each corner.
    normal, offset : (d,) float, float
        Kept is where normal . x <= offset; a corner on the line to within rounding stays as it is.
    label : str
        Name of the edge made by the cut.

    Returns
    -------
    points, labels
        The same for what is left; no corners where nothing is.
    """
    height = points @ normal - offset
    height[np.abs(height) <= 1e-12 * max(1.0, float(np.abs(points).max()))] = 0.0
    kept: list[Floats] = []
    names: list[str] = []
    for i in range(len(points)):
        j = (i + 1) % len(points)
        if height[i] <= 0:
            kept.append(points[i])
            # An edge that leaves the kept half from a corner on the line is replaced by the cut.
            names.append(label if height[i] == 0 and height[j] > 0 else labels[i])
        if height[i] * height[j] < 0:
            kept.append(points[i] + (points[j] - points[i]) * (height[i] / (height[i] - height[j])))
            names.append(labels[i] if height[i] > 0 else label)
    if len(kept) < 3 or (height >= 0).all():
        return np.empty((0, points.shape[1])), []
    return np.array(kept), names


def with_touching_corners(loop: Loop, corners: Floats, tolerance_m: float) -> Loop:
    """A loop of corner numbers with every other corner that lies on one of its edges put in.

    Parameters
    ----------
    loop : list of int
        Rows of `corners` in order.
    corners : (n, d) float
        All corners. [m]
    tolerance_m : float
        How far off an edge a corner may lie and still be on it.
    """
    result: Loop = []
    for a, b in zip(loop, loop[1:] + loop[:1], strict=True):
        result.append(a)
        edge = corners[b] - corners[a]
        length = float(np.linalg.norm(edge))
        if length <= tolerance_m:
            continue
        along = (corners - corners[a]) @ (edge / length)
        off = np.linalg.norm(corners - corners[a] - along[:, None] * (edge / length), axis=1)
        on = np.flatnonzero((off <= tolerance_m) & (along > tolerance_m) & (along < length - tolerance_m))
        result.extend(int(k) for k in on[np.argsort(along[on])] if k not in (a, b))
    return result


def join(loops: Sequence[Loop], points: Floats) -> list[tuple[Loop, list[Loop]]]:
    """Outlines of what neighbouring polygons cover together.

    Parameters
    ----------
    loops : sequence of list of int
        Polygons as rows of `points`, anticlockwise, sharing corners wherever they touch.
    points : (n, 2) float
        Corners in their plane. [m]

    Returns
    -------
    list of (outline, holes)
        One for each connected piece, largest first; outlines anticlockwise, holes clockwise.
    """
    count: dict[tuple[int, int], int] = {}
    for loop in loops:
        for edge in zip(loop, loop[1:] + loop[:1], strict=True):
            if edge[0] == edge[1]:
                continue
            back = (edge[1], edge[0])
            if count.get(back, 0):
                count[back] -= 1
            else:
                count[edge] = count.get(edge, 0) + 1
    leaving: dict[int, list[int]] = {}
    for (a, b), times in count.items():
        leaving.setdefault(a, []).extend([b] * times)
    traced = []
    for start in list(leaving):
        while leaving[start]:
            traced.append(_trace(start, leaving, points))
    return _nest([loop for loop in traced if len(loop) >= 3], points)


def _trace(start: int, leaving: dict[int, list[int]], points: Floats) -> Loop:
    """One closed loop of the remaining edges; at a corner where two pieces touch it keeps to its own."""
    loop = [start]
    here = leaving[start].pop()
    while here != start:
        arrived = points[here] - points[loop[-1]]
        loop.append(here)
        choices = leaving[here]
        if len(choices) > 1:
            # The leftmost turn stays with the piece on the left.
            away = points[choices] - points[here]
            turn = np.arctan2(arrived[0] * away[:, 1] - arrived[1] * away[:, 0], away @ arrived)
            choices.append(choices.pop(int(np.argmax(turn))))
        here = choices.pop()
    return loop


def _nest(traced: list[Loop], points: Floats) -> list[tuple[Loop, list[Loop]]]:
    """Outer loops with the holes that lie in them."""
    areas = [signed_area(points[loop]) for loop in traced]
    order = sorted(range(len(traced)), key=lambda k: -areas[k])
    pieces: list[tuple[Loop, list[Loop]]] = [(traced[k], []) for k in order if areas[k] > 0]
    for k in order:
        if areas[k] >= 0:
            continue
        # The smallest outline that holds the hole's edges is its own.
        middles = 0.5 * (points[traced[k]] + points[np.roll(traced[k], -1)])
        for outline, holes in reversed(pieces):
            if (locate(middles, [points[outline]], 1e-9) >= 0).all():
                holes.append(traced[k])
                break
    return pieces


def locate(points: Floats, loops: Sequence[Floats], tolerance_m: float) -> Ints:
    """Where points lie with respect to a polygon with holes: 1 inside, 0 on its edge, -1 outside.

    Parameters
    ----------
    points : (n, 2) float
        [m]
    loops : sequence of (k, 2) float
        Outline and holes in any direction. [m]
    tolerance_m : float
        How far from an edge still counts as on it.
    """
    start = np.concatenate(loops)
    end = np.concatenate([part for loop in loops for part in (loop[1:], loop[:1])])
    edge = end - start
    from_start = points[:, None] - start
    straddles = (start[:, 1] > points[:, 1:]) != (end[:, 1] > points[:, 1:])
    rise = np.where(edge[:, 1] == 0, 1.0, edge[:, 1])
    crossing = start[:, 0] + from_start[..., 1] * edge[:, 0] / rise
    inside = (straddles & (points[:, :1] < crossing)).sum(axis=1) % 2 == 1
    along = np.clip((from_start * edge).sum(-1) / np.maximum((edge * edge).sum(-1), 1e-300), 0.0, 1.0)
    off = np.linalg.norm(from_start - along[..., None] * edge, axis=-1).min(axis=1)
    result: Ints = np.where(off <= tolerance_m, 0, np.where(inside, 1, -1))
    return result


def leaves_polygon(corners: Floats, loops: Sequence[Floats], tolerance_m: float) -> bool:
    """Whether a convex polygon reaches out of another one (with holes) by more than a tolerance.

    Parameters
    ----------
    corners : (n, 2) float
        The convex polygon, anticlockwise. [m]
    loops : sequence of (k, 2) float
        Outline and holes of the other one. [m]
    tolerance_m : float
        Overhang that is let pass.
    """
    if (locate(corners, loops, tolerance_m) < 0).any():
        return True
    # Drawn in by the tolerance, it must hold no corner and cross no edge of the other one.
    edge = np.roll(corners, -1, axis=0) - corners
    inward = np.stack([-edge[:, 1], edge[:, 0]], axis=1) / np.linalg.norm(edge, axis=1)[:, None]
    for loop in loops:
        step = np.roll(loop, -1, axis=0) - loop
        enter, leave = np.zeros(len(loop)), np.ones(len(loop))
        for corner, normal in zip(corners, inward, strict=True):
            depth = (loop - corner) @ normal - tolerance_m
            slope = step @ normal
            with np.errstate(divide="ignore", invalid="ignore"):
                at = -depth / slope
            enter = np.where(slope > 0, np.maximum(enter, at), enter)
            leave = np.where(slope < 0, np.minimum(leave, at), leave)
            leave = np.where((slope == 0) & (depth <= 0), -1.0, leave)
        if (leave - enter > 1e-12).any():
            return True
    return False
