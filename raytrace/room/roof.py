"""The roof over an upright room: the lowest of several planes, cut into pieces that fit without gaps."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.room.polygons import Loop, clip_convex, is_convex, join, triangulate, with_touching_corners

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class RoofPlane:
    """The plane z = rise . (x, y) + height; `height` is over x = y = 0. [m]"""

    name: str
    rise: tuple[float, float]
    height: float


@dataclass(frozen=True)
class RoofPiece:
    """What one plane covers: rows of `Roof.corners`, anticlockwise as seen from above."""

    name: str
    outline: Loop
    holes: tuple[Loop, ...]


@dataclass(frozen=True)
class Roof:
    """Pieces that tile the plan and share every corner.

    Attributes
    ----------
    corners : (n, 2) float
        In plan; those of the walls come first. [m]
    heights : (n,) float
        Of the roof at each corner. [m]
    pieces : tuple of RoofPiece
    wall_tops : tuple of list of int
        For each wall the corners along its top, from its start to its end.
    """

    corners: Floats
    heights: Floats
    pieces: tuple[RoofPiece, ...]
    wall_tops: tuple[Loop, ...]


def roof_pieces(plan: Floats, planes: Sequence[RoofPlane]) -> Roof:
    """The roof that the lowest of `planes` makes over an anticlockwise plan.

    Parameters
    ----------
    plan : (n, 2) float
        Corners of the walls. [m]
    planes : sequence of RoofPlane
        The first of two equal planes counts.
    """
    rises = np.array([plane.rise for plane in planes])
    offsets = np.array([plane.height for plane in planes])
    tolerance_m = 1e-9 * float(np.ptp(plan, axis=0).max())
    corners, loops = _cut(plan, rises, offsets, tolerance_m)
    pieces = []
    for plane, own in zip(planes, loops, strict=True):
        fitted = [with_touching_corners(loop, corners, tolerance_m) for loop in own]
        pieces += [RoofPiece(plane.name, outline, tuple(holes)) for outline, holes in join(fitted, corners)]
    needed = _needed(pieces, corners, len(plan))
    pieces = [
        RoofPiece(
            piece.name,
            [k for k in piece.outline if k in needed],
            tuple([k for k in hole if k in needed] for hole in piece.holes),
        )
        for piece in pieces
    ]
    walls = with_touching_corners(list(range(len(plan))), corners, tolerance_m)
    walls = [k for k in walls if k in needed]
    starts = [walls.index(k) for k in range(len(plan))] + [len(walls)]
    tops = [(walls + walls[:1])[starts[k] : starts[k + 1] + 1] for k in range(len(plan))]
    heights = (corners @ rises.T + offsets).min(axis=1)
    heights[np.abs(heights) <= tolerance_m] = 0.0
    return Roof(corners, heights, tuple(pieces), tuple(tops))


def _cut(plan: Floats, rises: Floats, offsets: Floats, tolerance_m: float) -> tuple[Floats, list[list[Loop]]]:
    """Convex parts of the plan under each plane, as rows of one table of corners."""
    parts = [plan]
    if len(rises) == 1:
        return plan, [[list(range(len(plan)))]]
    if not is_convex(plan):
        parts = list(triangulate(np.column_stack([plan, np.zeros(len(plan))]))[:, :, :2])
    corners = list(plan)
    loops: list[list[Loop]] = []
    for i in range(len(rises)):
        own: list[Loop] = []
        for part in parts:
            points, labels = part, [""] * len(part)
            for j in range(len(rises)):
                same = (
                    np.allclose(rises[i], rises[j], rtol=0, atol=1e-12)
                    and abs(offsets[i] - offsets[j]) < 1e-12
                )
                if len(points) and not (same and i <= j):
                    points, labels = _lower_half(points, labels, rises[i] - rises[j], offsets[j] - offsets[i])
            if len(points):
                loop = [_number(point, corners, tolerance_m) for point in points]
                loop = [k for k, before in zip(loop, loop[-1:] + loop[:-1], strict=True) if k != before]
                if len(loop) >= 3:
                    own.append(loop)
        loops.append(own)
    return np.array(corners), loops


def _lower_half(points: Floats, labels: list[str], rise: Floats, offset: float) -> tuple[Floats, list[str]]:
    """Where one plane is no higher than another."""
    steepness = float(np.linalg.norm(rise))
    if steepness < 1e-12:
        return (points, labels) if offset > 0 else (np.empty((0, 2)), [])
    return clip_convex(points, labels, rise / steepness, offset / steepness, "")


def _number(point: Floats, corners: list[Floats], tolerance_m: float) -> int:
    """Row of a corner, made where it is new."""
    away = np.abs(np.array(corners) - point).max(axis=1)
    nearest = int(away.argmin())
    if away[nearest] <= tolerance_m:
        return nearest
    corners.append(point)
    return len(corners) - 1


def _needed(pieces: Sequence[RoofPiece], corners: Floats, walls: int) -> set[int]:
    """Corners of walls and those where some outline turns; the rest only mark where the plan was cut."""
    needed = set(range(walls))
    for piece in pieces:
        for loop in (piece.outline, *piece.holes):
            points = corners[loop]
            before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
            turn = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
            size = np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1)
            needed.update(k for k, t in zip(loop, np.abs(turn) > 1e-9 * size, strict=True) if t)
    return needed
