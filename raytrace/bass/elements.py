"""Cells of the fourth degree: their shape functions, and mass and stiffness of the air in a grid of them."""

from dataclasses import dataclass
from functools import cache

import numpy as np
import scipy.sparse as sparse
from numpy.typing import NDArray

from raytrace.bass.airbody import CutAir
from raytrace.bass.grid import DEGREE, NODES, Grid

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_PER_CELL = (DEGREE + 1) ** 3  # nodes
_SHAPES: Floats = np.asarray(np.linalg.inv(np.vander(NODES, increasing=True)).T, np.float64)
"""Coefficients of 1, x, x^2, ... of the shape functions on -1 to 1: each is 1 at its own node only."""
_SLOPES: Floats = _SHAPES[:, 1:] * np.arange(1, DEGREE + 1)
_OUTSIDE = 1e-8
"""Stiffness of what lies outside the air in a cut cell, re that of air: it has no mass, so it holds no sound,
and ties down functions of which hardly anything lies in the air."""
_FULL = np.array([0.0 if a % 2 else 2.0 / (a + 1) for a in range(2 * DEGREE + 1)])
"""Integrals of x^a over -1 to 1."""


@dataclass(frozen=True)
class Space:
    """Continuous fields on the cells of a grid that hold air, of degree 4 along each axis in each of them.

    Attributes
    ----------
    grid : Grid
    unknown : (n_nodes,) int
        Row of each node of the grid; -1 where none of its cells holds air.
    n_unknowns : int
    """

    grid: Grid
    unknown: Ints
    n_unknowns: int

    @property
    def node_index(self) -> Ints:
        """Place of each unknown, counted in nodes along each axis, (n_unknowns, 3)."""
        shape = tuple(DEGREE * n + 1 for n in self.grid.shape)
        return np.stack(np.unravel_index(np.flatnonzero(self.unknown >= 0), shape), axis=-1)

    def nodes(self, cells: Ints) -> Ints:
        """Rows of the nodes of cells (n,), (n, 125), z fastest."""
        return np.asarray(self.unknown[_cell_nodes(self.grid, cells)])

    def values_at(self, points: Floats, cells: Ints | None = None) -> sparse.csr_array:
        """What takes the values at nodes to those at points, (n, n_unknowns).

        Parameters
        ----------
        points : (n, 3) float
            In the air. [m]
        cells : (n,) int, optional
            The cells they lie in, where that is known: points of a wall lie in those of its air side.
        """
        cells = self.grid.cells_at(points) if cells is None else cells
        low, high = self.grid.bounds(cells)
        local = np.clip((2.0 * points - low - high) / (high - low), -1.0, 1.0)
        x, y, z = np.moveaxis(local[..., None] ** np.arange(DEGREE + 1) @ _SHAPES.T, 1, 0)
        weights = np.einsum("ni,nj,nk->nijk", x, y, z).reshape(len(points), _PER_CELL)
        columns = self.nodes(cells)
        weights = np.where(columns < 0, 0.0, weights)
        start = _PER_CELL * np.arange(len(points) + 1)
        shape = (len(points), self.n_unknowns)
        return sparse.csr_array((weights.ravel(), np.maximum(columns, 0).ravel(), start), shape=shape)


def _cell_nodes(grid: Grid, cells: Ints) -> Ints:
    """Nodes of cells (n,) in the whole grid, (n, 125)."""
    _, ny, nz = (DEGREE * n + 1 for n in grid.shape)
    i, j, k = (DEGREE * np.asarray(index) for index in np.unravel_index(cells, grid.shape))
    step = np.arange(DEGREE + 1)
    first = (i * ny + j) * nz + k
    offset = (step[:, None, None] * ny + step[None, :, None]) * nz + step[None, None, :]
    return np.asarray(first[:, None] + offset.reshape(1, _PER_CELL))


@cache
def _products() -> tuple[Floats, Floats]:
    """Coefficients of x^0 to x^8 in products of shape functions and of their slopes, (5, 5, 9) each."""
    values, slopes = np.zeros((2, DEGREE + 1, DEGREE + 1, 2 * DEGREE + 1))
    for i in range(DEGREE + 1):
        for j in range(DEGREE + 1):
            values[i, j] = np.convolve(_SHAPES[i], _SHAPES[j])
            slopes[i, j, : 2 * DEGREE - 1] = np.convolve(_SLOPES[i], _SLOPES[j])
    return values, slopes


def _element_tables(moments: Floats) -> Floats:
    """Mass and stiffness along x, y, z of cells of half size 1, (4, n, 15625); moments (n, 9, 9, 9)."""
    values, slopes = _products()
    tables = []
    for factors in (
        (values, values, values),
        (slopes, values, values),
        (values, slopes, values),
        (values, values, slopes),
    ):
        x, y, z = factors
        table = np.einsum("nabc,dga->ngdbc", moments, x, optimize=True)
        table = np.einsum("ngdbc,ehb->ngdehc", table, y, optimize=True)
        table = np.einsum("ngdehc,fic->ndefghi", table, z, optimize=True)
        tables.append(table.reshape(len(moments), _PER_CELL**2))
    return np.array(tables)


def assemble(air: CutAir) -> tuple[Space, sparse.csc_array, sparse.csc_array]:
    """Space, stiffness and mass of the air: integrals of grad p . grad q and of p q over it.

    Rigid walls are what happens where nothing is said of them.
    """
    cells = np.concatenate([air.full, air.cut])
    nodes = _cell_nodes(air.grid, cells)
    used, inverse = np.unique(nodes, return_inverse=True)
    unknown = np.full(int(np.prod([DEGREE * n + 1 for n in air.grid.shape])), -1, np.int64)
    unknown[used] = np.arange(len(used))
    local = inverse.reshape(-1, _PER_CELL)
    whole = _element_tables((_FULL[:, None, None] * _FULL[:, None] * _FULL)[None])
    tables = _element_tables(air.moments)
    tables[1:] += _OUTSIDE * (whole[1:] - tables[1:])
    low, high = air.grid.bounds(cells)
    half = 0.5 * (high - low)
    sizes = np.prod(half, axis=1)[:, None] / np.insert(half**2, 0, 1.0, axis=1)  # of each of the four tables
    n_full = len(air.full)
    mass, stiffness = (
        np.concatenate(
            [sizes[:n_full, own] @ whole[own, 0], np.einsum("na,anp->np", sizes[n_full:, own], tables[own])]
        )
        for own in (slice(0, 1), slice(1, 4))
    )
    rows, columns = np.repeat(local, _PER_CELL, axis=1).ravel(), np.tile(local, (1, _PER_CELL)).ravel()
    shape = (len(used), len(used))
    # Both at once, as real and imaginary part: to sort the places of the entries is what takes long.
    both = sparse.coo_array(((stiffness + 1j * mass).ravel(), (rows, columns)), shape=shape).tocsc()
    # Copies: parts of complex numbers lie apart in memory, and every product would copy them anew.
    return Space(air.grid, unknown, len(used)), both.real.copy(), both.imag.copy()
