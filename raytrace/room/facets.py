"""Flat pieces with their planes, and the same as arrays for the kernels."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from raytrace.room.polygons import is_convex, locate, plane_axes, triangulate

if TYPE_CHECKING:
    from raytrace.kernels.facets import FacetArrays

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Facet:
    """One connected flat piece of a surface.

    Attributes
    ----------
    surface : int
        Index of the surface it belongs to.
    outline : (n, 3) float
        Corners, anticlockwise as seen from the air. [m]
    holes : tuple of (k, 3) float
        Outlines of holes, clockwise as seen from the air. [m]
    normal : (3,) float
        Unit normal into the air, the same for all pieces of a surface.
    offset : float
        normal . x of its points. [m]
    """

    surface: int
    outline: Floats
    holes: tuple[Floats, ...]
    normal: Floats
    offset: float

    @cached_property
    def triangles(self) -> Floats:
        """What tiles it, seen anticlockwise from the air, (n_triangles, 3, 3). [m]"""
        return triangulate(self.outline, self.holes)

    @cached_property
    def convex_pieces(self) -> tuple[Floats, ...]:
        """Convex polygons (k, 3) that tile it: itself, where it is one. [m]"""
        flat = self.outline[:, plane_axes(self.normal)]
        return tuple(self.triangles) if self.holes or not is_convex(flat) else (self.outline,)


def facet_arrays(facets: Sequence[Facet]) -> "FacetArrays":
    """The arrays of some facets."""
    from raytrace.kernels.facets import FacetArrays

    loops = [loop for facet in facets for loop in (facet.outline, *facet.holes)]
    n_loops = [1 + len(facet.holes) for facet in facets]
    normals = np.array([facet.normal for facet in facets])
    return FacetArrays(
        normals=normals,
        offsets=np.array([facet.offset for facet in facets]),
        points=np.ascontiguousarray(np.concatenate(loops)),
        loop_start=np.cumsum([0, *(len(loop) for loop in loops)], dtype=np.int64),
        facet_loops=np.cumsum([0, *n_loops], dtype=np.int64),
        axis=np.argmax(np.abs(normals), axis=1).astype(np.int64),
        low=np.array([facet.outline.min(axis=0) for facet in facets]),
        high=np.array([facet.outline.max(axis=0) for facet in facets]),
    )


_AT_ONCE = 100_000  # points times triangles: 1 MB for each array of them
_NEAR_M = 0.05


def turns_around(points: Floats, triangles: Floats) -> Floats:
    """How many times triangles surround points: +-1 inside a closed skin, 0 outside. (n,)

    Parameters
    ----------
    points : (n, 3) float
        [m]
    triangles : (n_triangles, 3, 3) float
        Skin, all seen anticlockwise from one side. [m]

    Notes
    -----
    Sum of solid angles; A. van Oosterom, J. Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125 (from
    memory). A small hole in the skin changes the sum by its own solid angle only.
    """
    turns = np.empty(len(points))
    for first in range(0, len(points), step := max(_AT_ONCE // max(len(triangles), 1), 1)):
        turns[first : first + step] = _solid_angles(points[first : first + step], triangles).sum(axis=1)
    return turns / (4.0 * np.pi)


def turns_beside(middles: Floats, beside: Floats, triangles: Floats) -> Floats:
    """How many times triangles surround points that lie within 1 mm of others: as `turns_around`. (n, k)

    Parameters
    ----------
    middles : (n, 3) float
        [m]
    beside : (n, k, 3) float
        From each of them to k points. [m]
    triangles : (n_triangles, 3, 3) float
        Skin, all seen anticlockwise from one side. [m]

    Notes
    -----
    Triangles farther than 50 mm from a middle are counted from there for all points beside it. A sheet
    with a hole of that radius turns by 0.01 more or less over 1 mm, where insides and outsides differ by 1.
    """
    from raytrace.kernels import skins

    places, away, skin = (np.ascontiguousarray(values) for values in (middles, beside, triangles))
    turned: Floats = skins.turns_beside(places, away, skin, _NEAR_M)
    return turned


def _solid_angles(points: Floats, triangles: Floats) -> Floats:
    """Solid angle of each triangle seen from each point, (n, n_triangles). [sr]"""
    ax, ay, az, bx, by, bz, cx, cy, cz = (
        triangles[:, corner, axis] - points[:, axis, None] for corner in range(3) for axis in range(3)
    )
    la, lb, lc = (np.sqrt(x * x + y * y + z * z) for x, y, z in ((ax, ay, az), (bx, by, bz), (cx, cy, cz)))
    above = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx)
    below = (
        la * lb * lc
        + (ax * bx + ay * by + az * bz) * lc
        + (bx * cx + by * cy + bz * cz) * la
        + (cx * ax + cy * ay + cz * az) * lb
    )
    angles: Floats = 2.0 * np.arctan2(above, below)
    return angles


def facet_distance_m(point: Floats, facet: Facet) -> float:
    """Distance of a point (3,) from the nearest point of a facet. [m]"""
    axes = list(plane_axes(facet.normal))
    loops = [facet.outline, *facet.holes]
    height = float(facet.normal @ point - facet.offset)
    foot = point - height * facet.normal
    if locate(foot[None, axes], [loop[:, axes] for loop in loops], 0.0)[0] >= 0:
        return abs(height)
    start = np.concatenate(loops)
    edge = np.concatenate([np.roll(loop, -1, axis=0) for loop in loops]) - start
    along = np.clip(np.sum((point - start) * edge, -1) / np.sum(edge * edge, -1), 0.0, 1.0)
    return float(np.linalg.norm(point - start - along[:, None] * edge, axis=1).min())
