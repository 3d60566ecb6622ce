"""Flat faces and lines of a room as meshes: cut to the air, with the edges between them."""

from collections.abc import Sequence
from functools import cache
from itertools import pairwise
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from raytrace import Orientation, Room, orientation

if TYPE_CHECKING:
    from viewer.pictures.mesh import Mesh

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# What a face is, or a line runs round: cell array `part` holds places in this list.
PARTS = (
    "wall", "floor", "furniture", "pane", "panel", "cord",
    "speaker", "speaker front", "driver", "head", "zone", "area", "leg", "frame",
)  # fmt: skip
_CIRCLE = np.stack([np.cos(a := np.linspace(0, 2 * np.pi, 33)[:-1]), np.sin(a)], axis=1)


def polygons(loops: Sequence[Floats], **arrays: Any) -> "Mesh":
    """Flat faces from outlines (k, 3), one cell and one row of every array each."""
    points, ends = _joined(loops)
    return _mesh(points, ends, arrays, are_faces=True)


def polylines(lines: Sequence[Floats], **arrays: Any) -> "Mesh":
    """Open lines through points (k, 3), one cell and one row of every array each."""
    points, ends = _joined(lines)
    return _mesh(points, ends, arrays, are_faces=False)


def _joined(loops: Sequence[Floats]) -> tuple[Floats, Ints]:
    points = np.concatenate(loops) if len(loops) else np.empty((0, 3))
    return points, np.cumsum([0, *map(len, loops)])


def _mesh(points: Floats, ends: Ints, arrays: dict[str, Any], *, are_faces: bool) -> "Mesh":
    """Cells through points that belong to one cell each: cell i has those from ends[i] to ends[i + 1].

    With VTK's own setters: a room is rebuilt at every move of a hand, and pyvista's take ten times as long.
    """
    vtk = _vtk()
    mesh: Mesh = vtk.Mesh()
    if len(ends) == 1:
        return mesh
    places, cells, data = vtk.Points(), vtk.CellArray(), mesh.GetCellData()
    places.SetData(vtk_array(points))
    cells.SetData(vtk_array(ends), vtk_array(np.arange(len(points))))
    mesh.SetPoints(places)
    (mesh.SetPolys if are_faces else mesh.SetLines)(cells)
    for name, values in arrays.items():
        array = vtk_array(np.asarray(values))
        array.SetName(name)
        data.AddArray(array)
    return mesh


@cache
def _vtk() -> SimpleNamespace:
    """Classes of VTK, looked up once: an import inside a function takes longer than what it is used for."""
    from vtkmodules.vtkCommonCore import vtkDoubleArray, vtkPoints, vtkTypeInt64Array, vtkUnsignedCharArray
    from vtkmodules.vtkCommonDataModel import vtkCellArray

    from viewer.pictures.mesh import Mesh

    arrays = {
        "b": vtkUnsignedCharArray,
        "u": vtkUnsignedCharArray,
        "i": vtkTypeInt64Array,
        "f": vtkDoubleArray,
    }
    return SimpleNamespace(Mesh=Mesh, Points=vtkPoints, CellArray=vtkCellArray, arrays=arrays)


def vtk_array(values: NDArray[Any]) -> Any:
    """The same numbers (n,) or (n, width) for VTK: bytes (of truth values too), whole numbers or float64."""
    array = _vtk().arrays[values.dtype.kind]()
    if values.ndim > 1:
        array.SetNumberOfComponents(values.shape[1])
    array.SetNumberOfTuples(len(values))
    np.asarray(memoryview(array))[:] = values
    return array


def column(mesh: "Mesh", name: str, width: int = 0) -> NDArray[Any]:
    """A cell array, (n_cells,) or (n_cells, width); without rows if the mesh has no cells."""
    if mesh.GetNumberOfCells():
        return np.asarray(memoryview(mesh.GetCellData().GetArray(name)))
    return np.empty((0, width) if width else 0)


def all_of(name: str, count: int) -> Ints:
    """Values of the cell array `part` for cells that are all the same, (count,)."""
    return np.full(count, PARTS.index(name), np.int64)


def is_part(mesh: "Mesh", *names: str) -> NDArray[np.bool_]:
    """Which cells are one of these parts, (n_cells,)."""
    return np.isin(column(mesh, "part"), [PARTS.index(name) for name in names])


def _columns(mesh: "Mesh") -> dict[str, NDArray[Any]]:
    """All cell arrays."""
    data = mesh.GetCellData()
    names = [data.GetArrayName(i) for i in range(data.GetNumberOfArrays())]
    return {name: column(mesh, name) for name in names}


def picked(mesh: "Mesh", rows: NDArray[np.bool_]) -> "Mesh":
    """The chosen cells with their arrays."""
    loops = [loop for loop, kept in zip(loops_of(mesh), rows, strict=True) if kept]
    return _like(mesh, loops, {name: values[rows] for name, values in _columns(mesh).items()})


def _like(mesh: "Mesh", loops: Sequence[Floats], arrays: dict[str, NDArray[Any]]) -> "Mesh":
    """Other cells of the same kind."""
    build = polygons if mesh.GetNumberOfPolys() else polylines
    return build(loops, **arrays)


def loops_of(mesh: "Mesh") -> list[Floats]:
    """Corner points (k, 3) of every cell, faces or lines."""
    if not mesh.GetNumberOfCells():
        return []
    cells = mesh.GetPolys() if mesh.GetNumberOfPolys() else mesh.GetLines()
    points = np.asarray(memoryview(mesh.GetPoints().GetData()), np.float64)
    corners = points[np.asarray(memoryview(cells.GetConnectivityArray()))]
    ends = memoryview(cells.GetOffsetsArray()).tolist()
    return [corners[start:end] for start, end in pairwise(ends)]


_AT_ONCE = 200_000  # distances: 2 MB for each array of them
# A hundredth of a millimetre decides between touching a wall and leaving the room.
_SLACK_M = 1e-5


def room_faces(room: Room) -> "Mesh":
    """Every face in the air, cut off where an object leaves the room.

    Returns
    -------
    Mesh
        Convex polygons; cell arrays `facet`, `surface`, `part`, `normal` (into the air).
    """
    surface_of = np.array([facet.surface for facet in room.facets])
    # Panels that hang free are drawn as blocks, cabinets as the speakers that they are.
    is_drawn = (np.arange(len(surface_of)) < room.n_solid_facets) & ~room.is_cabinet[surface_of]
    rows = np.flatnonzero(is_drawn[room.facet_of_triangle])
    own = room.facet_of_triangle[rows]
    is_wall = room.is_room_surface[surface_of[own]]
    normals = room.facet_arrays.normals[own]
    cut = iter(_cut_all(room, room.triangles[rows[~is_wall]], normals[~is_wall]))
    pieces = [
        [triangle] if wall else next(cut)
        for triangle, wall in zip(room.triangles[rows], is_wall, strict=True)
    ]
    loops = [loop for some in pieces for loop in some]
    facets = np.repeat(own, [len(some) for some in pieces]).tolist()
    surfaces = [room.facets[facet].surface for facet in facets]
    return polygons(
        loops,
        facet=facets,
        surface=surfaces,
        part=[_part_of(room, facet) for facet in facets],
        normal=[room.facets[facet].normal for facet in facets],
    )


def _part_of(room: Room, facet: int) -> int:
    if not room.is_room_surface[room.facets[facet].surface]:
        return PARTS.index("furniture")
    is_floor = orientation(room.facets[facet].normal) is Orientation.LEVEL_UP
    return PARTS.index("floor" if is_floor else "wall")


def cut_to_room(room: Room, outline: Floats, normal: Floats) -> list[Floats]:
    """What stands in the air of a flat convex outline, split at the planes of the room.

    Parameters
    ----------
    room : Room
        Where.
    outline : (k, 3) float
        Corners. [m]
    normal : (3,) float
        The side on which air is looked for.

    Returns
    -------
    list of (k, 3) float
        Convex pieces; neighbours share a whole edge.
    """
    return _cut_all(room, np.asarray(outline, np.float64)[None], normal[None])[0]


def _cut_all(room: Room, outlines: Floats, normals: Floats) -> list[list[Floats]]:
    """The same of several outlines (n, k, 3) with their normals (n, 3)."""
    surface_of = np.array([facet.surface for facet in room.facets])
    walls = np.flatnonzero(room.is_room_surface[surface_of])
    low, high = room.facet_arrays.low[walls] - _SLACK_M, room.facet_arrays.high[walls] + _SLACK_M
    cut: list[list[Floats]] = []
    for outline in outlines:
        near = ((outline.max(axis=0) >= low) & (outline.min(axis=0) <= high)).all(axis=1)
        pieces = [outline]
        for facet in (room.facets[k] for k in walls[near]):
            pieces = [part for piece in pieces for part in split(piece, facet.normal, facet.offset, _SLACK_M)]
        cut.append(pieces)
    beside = [
        piece.mean(axis=0) + 10 * _SLACK_M * normal
        for pieces, normal in zip(cut, normals, strict=True)
        for piece in pieces
    ]
    kept = iter(room.contains(np.reshape(beside, (-1, 3))))
    return [[piece for piece in pieces if next(kept)] for pieces in cut]


def split(piece: Floats, normal: Floats, offset: float, slack: float) -> list[Floats]:
    """Both parts of a convex polygon cut by a plane normal . x = offset, or the polygon itself."""
    side = piece @ normal - offset
    if (side > -slack).all() or (side < slack).all():
        return [piece]
    following = np.roll(piece, -1, axis=0)
    side_following = np.roll(side, -1)
    crossed = side * side_following < 0
    share = side / np.where(crossed, side - side_following, 1.0)
    parts = []
    for sign in (1.0, -1.0):
        corners: list[Floats] = []
        for i in range(len(piece)):
            if side[i] * sign >= 0:
                corners.append(piece[i])
            if crossed[i]:
                corners.append(piece[i] + share[i] * (following[i] - piece[i]))
        parts.append(np.array(corners))
    return parts


def edges(mesh: "Mesh", *, size_m: float, by: str = "facet") -> "Mesh":
    """Edges of faces, each with the facets that meet there.

    Parameters
    ----------
    mesh : Mesh
        Faces with an integer cell array, and `part`.
    size_m : float
        Diagonal of the room; corners closer than a millionth of it are one.
    by : str
        The cell array that says which faces belong together.

    Returns
    -------
    Mesh
        Lines of two points; cell arrays `facets` (n, 4), -1 where fewer meet, and `part`: of those that
        meet, the one later in PARTS. Edges between two faces of one facet are left out.
    """
    grain = 1e-6 * size_m
    loops = loops_of(mesh)
    if not loops:
        return polylines([])
    points = np.concatenate(loops)
    corner = _first_alike(points, grain)
    following = corner[next_corners(loops)]
    facets = np.repeat(column(mesh, by), [len(loop) for loop in loops])
    real = corner != following
    ends, known = np.stack([corner, following], axis=1)[real], np.unique(corner)
    # A neighbour may end in the middle of an edge: cut it there, so that the parts pair up.
    stops = _stops(points[ends], points[known], grain)
    around: dict[tuple[int, int], list[int]] = {}
    for row, ((start, end), facet) in enumerate(zip(ends.tolist(), facets[real].tolist(), strict=True)):
        chain = [start, *known[stops[row]].tolist(), end] if row in stops else [start, end]
        for one, other in pairwise(chain):
            around.setdefault((min(one, other), max(one, other)), []).append(facet)
    kept = {pair: met for pair, met in around.items() if len(met) == 1 or len(set(met)) > 1}
    table = [(sorted(set(met)) + [-1] * 4)[:4] for met in kept.values()]
    part_of = dict(zip(column(mesh, by).tolist(), column(mesh, "part").tolist(), strict=True))
    parts = [max(part_of[facet] for facet in met) for met in kept.values()]
    return polylines([points[list(pair)] for pair in kept], facets=np.reshape(table, (-1, 4)), part=parts)


def _first_alike(points: Floats, grain: float) -> Ints:
    """Row of the first point (n, 3) that lies within a grain of each, (n,)."""
    # Along a way that no room has a face across, few points are neighbours that are not alike.
    along = points @ np.array([0.5568, 0.6831, 0.4726])
    order, first = np.argsort(along), np.arange(len(points))
    for step in range(1, len(points)):
        one, other = order[:-step], order[step:]
        near = np.flatnonzero(along[other] - along[one] <= grain)
        if not len(near):
            break
        one, other = one[near], other[near]
        alike = np.linalg.norm(points[one] - points[other], axis=1) <= grain
        np.minimum.at(first, one[alike], other[alike])
        np.minimum.at(first, other[alike], one[alike])
    return first


def next_corners(loops: Sequence[Floats]) -> Ints:
    """Of every corner of some loops, one loop after the other, the row of the next one in its loop, (n,)."""
    ends = np.cumsum([len(loop) for loop in loops])
    following = np.arange(1, ends[-1] + 1)
    following[ends - 1] = np.concatenate([[0], ends[:-1]])
    return following


def _stops(lines: Floats, points: Floats, grain: float) -> dict[int, Ints]:
    """Which points (n_points, 3) lie on each of some lines (n_lines, 2, 3), in their order; by its row."""
    lengths = np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1)
    ways = (lines[:, 1] - lines[:, 0]) / lengths[:, None]
    middle = points.mean(axis=0)  # counted from there, so that rounding stays far below a grain
    places, starts = points - middle, lines[:, 0] - middle
    near: list[Ints] = []
    step = max(1, _AT_ONCE // len(points))
    for first in range(0, len(lines), step):
        own, way = starts[first : first + step], ways[first : first + step]
        along = way @ places.T - np.sum(own * way, axis=1)[:, None]
        away2 = np.sum(places**2, axis=1) + np.sum(own**2, axis=1)[:, None] - 2.0 * own @ places.T
        inside = (along > grain) & (along < lengths[first : first + step, None] - grain)
        rows = np.flatnonzero((inside & (away2 - along**2 < (10.0 * grain) ** 2)).any(axis=1))
        near.append(first + rows)
    asked = (row for rows in near for row in rows.tolist())
    found = {row: _between(lines[row, 0], lines[row, 1], points, grain) for row in asked}
    return {row: own for row, own in found.items() if len(own)}


def _between(start: Floats, end: Floats, points: Floats, grain: float) -> Ints:
    """Which points lie on the line from start to end, in that order."""
    length = float(np.linalg.norm(end - start))
    way = (end - start) / length
    along = (points - start) @ way
    off = np.linalg.norm(points - start - along[:, None] * way, axis=1)
    found = np.flatnonzero((along > grain) & (along < length - grain) & (off < grain))
    return np.asarray(found[np.argsort(along[found])])


def discs(centres: Floats, normals: Floats, *, radii_m: Floats, **arrays: Any) -> "Mesh":
    """Flat round faces, one per centre (n, 3) with its own normal (n, 3) and radius (n,)."""
    normals = np.asarray(normals, np.float64).reshape(-1, 3)
    helper = np.where(np.abs(normals[:, :1]) < 0.9, [1.0, 0.0, 0.0], [0.0, 1.0, 0.0])
    across = cross(normals, helper)
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    axes = np.stack([across, cross(normals, across)], axis=1)
    centres = np.asarray(centres, np.float64).reshape(-1, 1, 3)
    points = centres + np.asarray(radii_m)[:, None, None] * (_CIRCLE @ axes)
    ends = np.arange(len(points) + 1) * len(_CIRCLE)
    return _mesh(points.reshape(-1, 3), ends, arrays, are_faces=True)


def cross(one: Floats, other: Floats) -> Floats:
    """Vector products of rows (n, 3): for a few rows numpy's own takes three times as long."""
    (a, b, c), (x, y, z) = one.T, other.T
    return np.stack([b * z - c * y, c * x - a * z, a * y - b * x], axis=1)


def outlines(mesh: "Mesh") -> "Mesh":
    """Closed lines round faces, keeping their cell arrays."""
    loops = [np.concatenate([loop, loop[:1]]) for loop in loops_of(mesh)]
    return polylines(loops, **_columns(mesh))


def raised(mesh: "Mesh", normals: Floats, *, by_m: float) -> "Mesh":
    """Copy with every cell moved along its own normal (n, 3)."""
    loops = [loop + by_m * normal for loop, normal in zip(loops_of(mesh), normals, strict=True)]
    return _like(mesh, loops, _columns(mesh))


def box(centre: Floats, size: Sequence[float], axis: Floats) -> list[Floats]:
    """Six outlines of a box whose length lies along `axis` and whose sides stay upright."""
    length = float(np.hypot(axis[0], axis[1]))
    side = np.array([-axis[1], axis[0], 0.0]) / length if length > 1e-9 else np.array([0.0, 1.0, 0.0])
    frame = np.stack([axis, side, np.cross(axis, side)]) * np.asarray(size)[:, None] / 2
    loops = []
    for i in range(3):
        one, other = frame[(i + 1) % 3], frame[(i + 2) % 3]
        for sign in (1.0, -1.0):
            middle = centre + sign * frame[i]
            loop = [middle - one - other, middle + one - other, middle + one + other, middle - one + other]
            loops.append(np.array(loop if sign > 0 else loop[::-1]))
    return loops


def legs(mesh: "Mesh") -> "Mesh":
    """Every straight piece of lines as a line of its own, keeping their arrays.

    A tube round a whole path is squeezed flat where the path turns back on itself.
    """
    lines = loops_of(mesh)
    rows = np.repeat(np.arange(len(lines)), [len(line) - 1 for line in lines])
    pieces = [line[i : i + 2] for line in lines for i in range(len(line) - 1)]
    return polylines(pieces, **{name: values[rows] for name, values in _columns(mesh).items()})


def dashes(mesh: "Mesh", *, dash_m: float) -> "Mesh":
    """The same straight lines broken into dashes, gaps two thirds as long; each keeps its line's arrays."""
    pieces, rows = [], []
    for row, line in enumerate(loops_of(mesh)):
        length = float(np.linalg.norm(line[-1] - line[0]))
        way = (line[-1] - line[0]) / length
        for start in np.arange(0.0, length, dash_m * 5 / 3):
            end = min(start + dash_m, length)
            pieces.append(np.array([line[0] + start * way, line[0] + end * way]))
            rows.append(row)
    return polylines(pieces, **{name: values[rows] for name, values in _columns(mesh).items()})
