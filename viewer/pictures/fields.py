"""Fields on a level plane of a room as bands and lines: how even the bass is, the pressure of a mode."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from viewer.pictures.faces import polygons, polylines, vtk_array

if TYPE_CHECKING:
    from viewer.pictures.mesh import Mesh

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

N_BANDS = 7
_STEP_DB = 0.5
_SEEN = 95.0  # percentile of a floor that the bands tell apart: beside walls single places run away


@dataclass(frozen=True)
class Bands:
    """A field on a plane between levels.

    Attributes
    ----------
    faces, lines : Mesh
        Faces with the cell array `band`, from 0; lines between two bands.
    levels : (n_bands + 1,) float
        Lowest and highest of each band; what lies beyond is in the first and the last.
    """

    faces: "Mesh"
    lines: "Mesh"
    levels: Floats


def even_levels_db(floor_db: Floats) -> Floats:
    """Levels between which the bands of a floor lie, in halves of a decibel, (8,). [dB]"""
    if not len(floor_db):
        return np.arange(N_BANDS + 1, dtype=np.float64) * _STEP_DB
    low = np.floor(float(floor_db.min()) / _STEP_DB) * _STEP_DB
    reach = float(np.percentile(floor_db, _SEEN)) - low
    step = max(np.ceil(reach / N_BANDS / _STEP_DB), 1.0) * _STEP_DB
    return np.asarray(low + step * np.arange(N_BANDS + 1), np.float64)


def bands(points: Floats, values: Floats, levels: Floats, *, height_m: float) -> Bands:
    """A field known at points of a grid with parallel lines, drawn at a height.

    Parameters
    ----------
    points : (n, 3) float
        Where grid lines along x and y cross; some may be missing. [m]
    values : (n,) float
    levels : (n_bands + 1,) float
        Ascending.
    height_m : float
        Of the plane above z = 0. [m]
    """
    cells, places = _quads(points), np.column_stack([points[:, :2], np.full(len(points), height_m)])
    if not len(cells):
        return Bands(polygons([], band=np.empty(0, np.int64)), polylines([]), levels)
    from vtkmodules.vtkFiltersModeling import vtkBandedPolyDataContourFilter

    mesh = polygons([places[cell] for cell in cells])
    mesh.GetPointData().SetScalars(vtk_array(np.ascontiguousarray(values[cells.ravel()], np.float64)))
    cutter = vtkBandedPolyDataContourFilter()
    cutter.SetInputData(mesh)
    for k, level in enumerate(levels[1:-1]):
        cutter.SetValue(k, level)
    cutter.SetScalarModeToIndex()
    cutter.GenerateContourEdgesOn()
    cutter.Update()
    faces, lines = cutter.GetOutput(0), cutter.GetOutput(1)
    band = np.asarray(memoryview(faces.GetCellData().GetScalars())).astype(np.int64)
    band = np.minimum(band, len(levels) - 2)  # the highest point of all would have one of its own
    return Bands(
        polygons(_loops(faces, faces.GetPolys()), band=band),
        polylines(_loops(lines, lines.GetLines())),
        levels,
    )


def _quads(points: Floats) -> Ints:
    """Squares of a grid of which all four corners are there, rows of points (n, 4)."""
    x, i = np.unique(np.round(points[:, 0], 6), return_inverse=True)
    y, j = np.unique(np.round(points[:, 1], 6), return_inverse=True)
    row = np.full((len(x), len(y)), -1, np.int64)
    row[i, j] = np.arange(len(points))
    corners = np.stack([row[:-1, :-1], row[1:, :-1], row[1:, 1:], row[:-1, 1:]], axis=-1).reshape(-1, 4)
    return np.asarray(corners[(corners >= 0).all(axis=1)])


def _loops(mesh: "Mesh", cells: object) -> list[Floats]:
    """Corners of each of the cells of a VTK mesh."""
    if mesh.GetNumberOfCells() == 0:
        return []
    points = np.asarray(memoryview(mesh.GetPoints().GetData()), np.float64)
    ends = np.asarray(memoryview(cells.GetOffsetsArray()))  # type: ignore[attr-defined]  # of VTK
    corner = np.asarray(memoryview(cells.GetConnectivityArray()))  # type: ignore[attr-defined]  # of VTK
    return [points[corner[a:b]] for a, b in pairwise(ends)]


def lobes(points: Floats, values: Floats, least: float) -> list[tuple[Floats, float]]:
    """Where a field on a grid is strongest, place by place of one sign, with its value there."""
    from scipy.ndimage import label, maximum_position

    x, i = np.unique(np.round(points[:, 0], 6), return_inverse=True)
    y, j = np.unique(np.round(points[:, 1], 6), return_inverse=True)
    field, row = np.zeros((len(x), len(y))), np.zeros((len(x), len(y)), np.int64)
    field[i, j], row[i, j] = values, np.arange(len(points))
    found = []
    for sign in (1.0, -1.0):
        parts, n = label(sign * field > least)
        for at in maximum_position(sign * field, parts, range(1, n + 1)) if n else ():
            found.append((points[row[at]], float(field[at])))
    return found


def hatching(points: Floats, values: Floats, *, step_m: float, height_m: float) -> "Mesh":
    """Slanting strokes over where a field on a grid is negative."""
    x, i = np.unique(np.round(points[:, 0], 6), return_inverse=True)
    y, j = np.unique(np.round(points[:, 1], 6), return_inverse=True)
    if min(len(x), len(y)) < 2:
        return polylines([])
    field = np.full((len(x), len(y)), np.nan)
    field[i, j] = values
    lines: list[Floats] = []
    along = np.linspace(0.0, 1.0, 16 * max(len(x), len(y)) + 1)
    width, depth = x[-1] - x[0], y[-1] - y[0]
    for offset in np.arange(-depth + 0.5 * step_m, width, step_m):
        # Strokes run to the back and to the right, 45 degrees off the walls.
        place = np.column_stack([x[0] + offset + along * depth, y[0] + along * depth])
        place = place[(place[:, 0] >= x[0]) & (place[:, 0] <= x[-1])]
        lines += _runs(place, _sampled(place, (x, y), field) < 0.0, height_m)
    return polylines(lines)


def _sampled(place: Floats, axes: Sequence[Floats], field: Floats) -> Floats:
    """A field between the crossings of a grid, linear along each line, (n,)."""
    at, share = [], []
    for axis, line in enumerate(axes):
        k = np.clip(np.searchsorted(line, place[:, axis], side="right") - 1, 0, len(line) - 2)
        at.append(k)
        share.append((place[:, axis] - line[k]) / (line[k + 1] - line[k]))
    (i, j), (s, t) = at, share
    low = (1 - t) * field[i, j] + t * field[i, j + 1]
    high = (1 - t) * field[i + 1, j] + t * field[i + 1, j + 1]
    return np.asarray((1 - s) * low + s * high)


def _runs(place: Floats, kept: NDArray[np.bool_], height_m: float) -> list[Floats]:
    """First and last place of every stretch that is kept, (2, 3) each."""
    change = np.diff(np.concatenate([[0], kept.astype(np.int64), [0]]))
    starts, ends = np.flatnonzero(change > 0), np.flatnonzero(change < 0) - 1
    level = np.array([height_m])
    return [
        np.array([[*place[a], *level], [*place[b], *level]])
        for a, b in zip(starts, ends, strict=True)
        if b > a
    ]
