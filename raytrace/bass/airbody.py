"""What bounds the air of a room for long waves: walls and large objects, cut to the cells of a grid."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from raytrace.bass.grid import DEGREE, Grid
from raytrace.room import Room, volume_m3

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

SMALLEST_OBJECT_M = 0.5
"""Edge of the cube whose volume an object must have to be part of the room: a sixth of a wave at 110 Hz."""
_STEP = 1e-8  # of the room's size: how far before and behind a piece of a face is looked at
_LEAST_SHARE = 1e-9  # of a cell in the air: below that it holds none


@dataclass(frozen=True)
class Pieces:
    """Flat convex pieces, each within one cell.

    Attributes
    ----------
    points, start : (n, 3) float, (n_pieces + 1,) int
        Corners of one piece after the other. [m]
    parent : (n_pieces,) int
        What each was cut from.
    """

    points: Floats
    start: Ints
    parent: Ints

    def __len__(self) -> int:
        """How many there are."""
        return len(self.parent)

    @cached_property
    def centres(self) -> Floats:
        """A point inside each, the mean of its corners, (n_pieces, 3). [m]"""
        total = np.add.reduceat(self.points, self.start[:-1], axis=0)
        return np.asarray(total / np.diff(self.start)[:, None])

    @cached_property
    def box(self) -> tuple[Floats, Floats]:
        """Smallest and largest coordinates of each, (n_pieces, 3). [m]"""
        first = self.start[:-1]
        return np.minimum.reduceat(self.points, first, axis=0), np.maximum.reduceat(
            self.points, first, axis=0
        )

    def only(self, kept: Bools) -> "Pieces":
        """Some of them."""
        sizes = np.diff(self.start)
        return Pieces(
            self.points[np.repeat(kept, sizes)],
            np.concatenate([[0], np.cumsum(sizes[kept])]),
            self.parent[kept],
        )

    def cut(self, planes: Floats, plane_start: Ints, slack_m: float) -> "Pieces":
        """Parts of them on the sides of planes of their own (n, 4), (n_pieces + 1,)."""
        from raytrace.kernels.pieces import split

        points, start, parent = split(self.points, self.start, planes, plane_start, slack_m)
        return Pieces(points, start, self.parent[parent])


@dataclass(frozen=True)
class AirBody:
    """Walls of a room and its large objects, as far as long waves are concerned.

    Attributes
    ----------
    triangles : (n_triangles, 3, 3) float
        Of their faces, anticlockwise as seen from the air. [m]
    normals : (n_triangles, 3) float
        Unit normals into the air.
    facet, surface, solid : (n_triangles,) int
        Indices of facet and surface in the room; which of `skins` each belongs to.
    skins : tuple of (n, 3, 3) float
        Of the room itself and of each large object. [m]
    left_out : tuple of str
        Objects that are too small to matter.
    """

    triangles: Floats
    normals: Floats
    facet: Ints
    surface: Ints
    solid: Ints
    skins: tuple[Floats, ...]
    left_out: tuple[str, ...]

    @property
    def size_m(self) -> float:
        """Diagonal of the box around it."""
        return float(np.linalg.norm(np.ptp(self.triangles.reshape(-1, 3), axis=0)))

    def holder(self, points: Floats) -> Ints:
        """What is at points (n, 3): -1 air, 0 what lies outside the room, else the last object there. (n,)"""
        from raytrace.kernels.skins import turns

        points = np.ascontiguousarray(points)
        held = np.where(np.abs(turns(points, self.skins[0])) > 0.5, -1, 0)
        for solid, skin in enumerate(self.skins[1:], 1):
            held[np.abs(turns(points, skin)) > 0.5] = solid
        return np.asarray(held, np.int64)


def air_body(room: Room) -> AirBody:
    """The walls and large objects of a room; cabinets of speakers move and are no part of it."""
    cabinets = {cabinet.owner for cabinet in room.cabinets}
    owners: list[str | None] = [None]
    left_out = []
    for owner, skin in room.skins.items():
        if owner is None or owner in cabinets:
            continue
        if abs(volume_m3(skin)) >= SMALLEST_OBJECT_M**3:
            owners.append(owner)
        else:
            left_out.append(owner)
    solid_of = {owner: k for k, owner in enumerate(owners)}
    own = np.array([solid_of.get(surface.owner, -1) for surface in room.surfaces])
    kept = (room.facet_of_triangle < room.n_solid_facets) & (own[room.surface_of_triangle] >= 0)
    return AirBody(
        triangles=room.triangles[kept],
        normals=np.array([room.facets[k].normal for k in room.facet_of_triangle[kept]]),
        facet=room.facet_of_triangle[kept],
        surface=room.surface_of_triangle[kept],
        solid=own[room.surface_of_triangle[kept]],
        skins=tuple(np.ascontiguousarray(room.skins[owner]) for owner in owners),
        left_out=tuple(left_out),
    )


@dataclass(frozen=True)
class CutAir:
    """The air of a room within the cells of a grid.

    Attributes
    ----------
    grid : Grid
    faces : Pieces
        What the air shows of walls and objects; `parent` is the triangle of the body.
    normals : (n_faces, 3) float
        Unit normals into the air.
    full : (n_full,) int
        Cells that hold nothing but air.
    cut : (n_cut,) int
        Cells that walls or objects cut.
    moments : (n_cut, 9, 9, 9) float
        Integrals over the air in them of x^a y^b z^c, counted from the cell's middle in half sizes.
    """

    grid: Grid
    faces: Pieces
    normals: Floats
    full: Ints
    cut: Ints
    moments: Floats

    @property
    def volume_m3(self) -> float:
        """Of the air."""
        total = 0.0
        for cells, share in ((self.full, 1.0), (self.cut, self.moments[:, 0, 0, 0] / 8.0)):
            low, high = self.grid.bounds(cells)
            total += float(np.sum(np.prod(high - low, axis=1) * share))
        return total


def cut_air(body: AirBody, grid: Grid) -> CutAir:
    """The air of a body cut to the cells of a grid, by clipping every face against cells and other faces."""
    step_m, slack_m = _STEP * body.size_m, 1e-2 * _STEP * body.size_m
    n = len(body.triangles)
    faces = Pieces(body.triangles.reshape(-1, 3), 3 * np.arange(n + 1), np.arange(n))
    faces = faces.cut(*_grid_planes(body, grid, slack_m), slack_m)
    faces = faces.cut(*_face_planes(body, faces, body.facet[faces.parent], slack_m), slack_m)
    normals = body.normals[faces.parent]
    front, back = faces.centres + step_m * normals, faces.centres - step_m * normals
    shown = (body.holder(front) < 0) & (body.holder(back) == body.solid[faces.parent])
    faces, normals, cells = faces.only(shown), normals[shown], grid.cells_at(front[shown])
    low, high = grid.bounds(cells)
    inside = (faces.centres > low + slack_m) & (faces.centres < high - slack_m)
    cut = np.unique(cells[inside.all(axis=1)])
    moments = _cell_moments(body, grid, (faces, cells), cut, (step_m, slack_m))
    holds = moments[:, 0, 0, 0] > 8.0 * _LEAST_SHARE
    whole = np.setdiff1d(np.arange(grid.n_cells), cut)
    full = whole[body.holder(0.5 * np.sum(grid.bounds(whole), axis=0)) < 0]
    return CutAir(grid, faces, normals, full, cut[holds], moments[holds])


def _grid_planes(body: AirBody, grid: Grid, slack_m: float) -> tuple[Floats, Ints]:
    """Planes of a grid that go through each triangle."""
    planes, counts = [], np.zeros(len(body.triangles), np.int64)
    low, high = body.triangles.min(axis=1), body.triangles.max(axis=1)
    for k in range(len(body.triangles)):
        for axis, line in enumerate(grid.lines):
            through = line[(line > low[k, axis] + slack_m) & (line < high[k, axis] - slack_m)]
            counts[k] += len(through)
            planes.append(np.column_stack([np.tile(np.eye(3)[axis], (len(through), 1)), through]))
    return np.concatenate(planes), np.concatenate([[0], np.cumsum(counts)])


def _face_planes(body: AirBody, pieces: Pieces, own: Ints, slack_m: float) -> tuple[Floats, Ints]:
    """Planes of faces of the body that come near each piece; `own` is the facet it lies on, -1 for none."""
    low, high = pieces.box
    low, high = low - slack_m, high + slack_m
    facets, first = np.unique(body.facet, return_index=True)
    planes = np.column_stack([body.normals[first], np.sum(body.normals[first] * body.triangles[first, 0], 1)])
    near = np.zeros((len(pieces), len(facets)), np.bool_)
    for k, triangle in enumerate(body.triangles):
        met = ((triangle.min(axis=0) <= high) & (triangle.max(axis=0) >= low)).all(axis=1)
        near[:, np.searchsorted(facets, body.facet[k])] |= met
    near &= facets[None] != own[:, None]
    piece, facet = np.nonzero(near)
    return planes[facet], np.searchsorted(piece, np.arange(len(pieces) + 1))


def _cell_moments(
    body: AirBody, grid: Grid, shown: tuple[Pieces, Ints], cut: Ints, reach_m: tuple[float, float]
) -> Floats:
    """Integrals over the air of cut cells, from the faces that they show and the open parts of their own."""
    from raytrace.kernels.pieces import moments

    low, high = grid.bounds(cut)
    centre, half = 0.5 * (low + high), 0.5 * (high - low)
    result = np.zeros((len(cut), *[2 * DEGREE + 1] * 3))
    # Exact for three factors of degree 8 each, and one of the corner of a triangle.
    nodes, weights = np.polynomial.legendre.leggauss(3 * DEGREE + 1)
    rule = (0.5 * (nodes + 1.0), 0.5 * weights)
    faces, cells = shown
    own = np.flatnonzero(np.isin(cells, cut))
    target = np.searchsorted(cut, cells[own])
    # Their corners run anticlockwise as seen from the air.
    moments(faces.points, faces.start, own, target, np.full(len(own), -1.0), centre, half, *rule, result)
    sides, below, above = _open_sides(body, grid, cut, reach_m)
    for cell, sign in ((below, 1.0), (above, -1.0)):
        bounded = np.flatnonzero(np.isin(cell, cut))
        target = np.searchsorted(cut, cell[bounded])
        signs = np.full(len(bounded), sign)
        moments(sides.points, sides.start, bounded, target, signs, centre, half, *rule, result)
    return result


def _open_sides(
    body: AirBody, grid: Grid, cut: Ints, reach_m: tuple[float, float]
) -> tuple[Pieces, Ints, Ints]:
    """What of the sides of cut cells lies in the air, anticlockwise from above; cells below and above it."""
    step_m, slack_m = reach_m
    index = np.stack(np.unravel_index(cut, grid.shape), axis=-1)
    corners, axes = [], []
    for axis in range(3):
        upper = index + np.eye(3, dtype=np.int64)[axis]
        # Each side once; those at the ends of the grid have no air beyond them.
        ends = np.unique(np.concatenate([index, upper]), axis=0)
        ends = ends[(ends[:, axis] > 0) & (ends[:, axis] < grid.shape[axis])]
        u, v = (axis + 1) % 3, (axis + 2) % 3
        square = np.zeros((len(ends), 4, 3))
        for k, (du, dv) in enumerate(((0, 0), (1, 0), (1, 1), (0, 1))):
            square[:, k, axis] = grid.lines[axis][ends[:, axis]]
            square[:, k, u] = grid.lines[u][ends[:, u] + du]
            square[:, k, v] = grid.lines[v][ends[:, v] + dv]
        corners.append(square)
        axes.append(np.full(len(ends), axis))
    squares, axis_of = np.concatenate(corners), np.concatenate(axes)
    n = len(squares)
    sides = Pieces(squares.reshape(-1, 3), 4 * np.arange(n + 1), np.arange(n))
    sides = sides.cut(*_face_planes(body, sides, np.full(n, -1), slack_m), slack_m)
    across = np.eye(3)[axis_of[sides.parent]]
    lower, upper_side = sides.centres - step_m * across, sides.centres + step_m * across
    kept = (body.holder(lower) < 0) & (body.holder(upper_side) < 0)
    return sides.only(kept), grid.cells_at(lower[kept]), grid.cells_at(upper_side[kept])
