"""The grid of cells over a room: its lines fall on walls that are parallel to the axes where they can."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

DEGREE = 4
"""Of the functions along each axis of a cell: lower takes more unknowns, higher more work for each."""
NODES: Floats = np.array([-1.0, -np.sqrt(3.0 / 7.0), 0.0, np.sqrt(3.0 / 7.0), 1.0])
"""Places along a cell from -1 to 1 at which they are 1 or 0: Gauss and Lobatto's."""
_APART = 0.013  # of a cell: a wall nearer to a line than that gets none of its own
_NARROW = 0.3  # of a cell: how wide cells beside an edge are
_LARGE = 0.05  # of the section through the room: smaller faces get no line, and cells are cut along them


@dataclass(frozen=True)
class Grid:
    """Cells between lines along three axes, numbered with z fastest.

    Attributes
    ----------
    lines : three (n + 1,) float
        Ascending. [m]
    """

    lines: tuple[Floats, Floats, Floats]

    @property
    def shape(self) -> tuple[int, int, int]:
        """Cells along each axis."""
        nx, ny, nz = (len(line) - 1 for line in self.lines)
        return nx, ny, nz

    @property
    def n_cells(self) -> int:
        """All of them."""
        return int(np.prod(self.shape))

    @property
    def nodes(self) -> tuple[Floats, Floats, Floats]:
        """Places of the nodes along each axis. [m]"""
        x, y, z = (
            np.append((line[:-1, None] + 0.5 * np.diff(line)[:, None] * (1.0 + NODES[:-1])).ravel(), line[-1])
            for line in self.lines
        )
        return x, y, z

    def bounds(self, cells: Ints) -> tuple[Floats, Floats]:
        """Smallest and largest corners of cells (n,), (n, 3) each. [m]"""
        index = np.unravel_index(cells, self.shape)
        low = np.stack([line[i] for line, i in zip(self.lines, index, strict=True)], axis=-1)
        high = np.stack([line[i + 1] for line, i in zip(self.lines, index, strict=True)], axis=-1)
        return low, high

    def cells_at(self, points: Floats) -> Ints:
        """The cell of each of some points (n, 3); the nearest one for a point outside. (n,)"""
        index = [
            np.clip(np.searchsorted(line, x, side="right") - 1, 0, len(line) - 2)
            for line, x in zip(self.lines, points.T, strict=True)
        ]
        cells: Ints = np.ravel_multi_index(tuple(index), self.shape)
        return cells


def make_grid(triangles: Floats, cell_m: float) -> Grid:
    """Lines over all that some triangles (n, 3, 3) span, none farther apart than `cell_m`. [m]"""
    area = 0.5 * np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    sides = np.ptp(triangles.reshape(-1, 3), axis=0)
    share = np.abs(area) * sides / np.prod(sides)
    lines = [_lines(triangles[..., axis], share[:, axis], cell_m) for axis in range(3)]
    return Grid((lines[0], lines[1], lines[2]))


def _lines(x: Floats, share: Floats, cell_m: float) -> Floats:
    """Lines along one axis from the corners (n, 3) of triangles and their areas across it re the section."""
    low, high = float(x.min()), float(x.max())
    flat = np.flatnonzero((x[:, 0] == x[:, 1]) & (x[:, 0] == x[:, 2]))
    places, which = np.unique(x[flat, 0], return_inverse=True)
    size = np.bincount(which, share[flat], len(places))
    places, size = places[size > _LARGE], size[size > _LARGE]
    kept = [low, high]
    # The largest walls choose first.
    for place in places[np.argsort(-size, kind="stable")]:
        if min(abs(place - other) for other in kept) > _APART * cell_m:
            kept.append(float(place))
    kept.sort()
    inner = set(places.tolist()) - {low, high}
    parts = [_steps(a, b, cell_m, (a in inner, b in inner)) for a, b in pairwise(kept)]
    return np.concatenate([*parts, [high]])


def _steps(low: float, high: float, cell_m: float, edges: tuple[bool, bool]) -> Floats:
    """Lines from one wall up to the next; cells beside edges, round which sound bends, are narrow."""
    narrow_m = _NARROW * cell_m
    ends = [low, high]
    if high - low > 2.0 * narrow_m:
        ends[1:1] = [low + narrow_m] * edges[0] + [high - narrow_m] * (
            edges[1] and high - low > 3.0 * narrow_m
        )
    steps = [max(int(np.ceil((b - a) / cell_m - 1e-9)), 1) for a, b in pairwise(ends)]
    parts = [np.linspace(a, b, n + 1)[:-1] for a, b, n in zip(ends, ends[1:], steps, strict=False)]
    return np.concatenate(parts)
