"""Quadratic cells: their shape functions, and mass and stiffness of the air in a grid of them."""

from dataclasses import dataclass
from functools import cache

import numpy as np
import scipy.sparse as sparse
from numpy.typing import NDArray

from raytrace.bass.airbody import CutAir
from raytrace.bass.grid import Grid

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_SHAPES = np.array([[0.0, -0.5, 0.5], [1.0, 0.0, -1.0], [0.0, 0.5, 0.5]])
"""Coefficients of 1, x, x^2 of the three quadratic shape functions on -1 to 1, (3, 3)."""
_SLOPES = np.array([[-0.5, 1.0, 0.0], [0.0, -2.0, 0.0], [0.5, 1.0, 0.0]])
_OUTSIDE = 1e-8
"""Stiffness of what lies outside the air in a cut cell, re that of air: it has no mass, so it holds no sound,
and ties down functions of which hardly anything lies in the air."""
_FULL = np.array([2.0, 0.0, 2.0 / 3.0, 0.0, 2.0 / 5.0])  # integrals of x^a over -1 to 1


@dataclass(frozen=True)
class Space:
    """Continuous fields on the cells of a grid that hold air, quadratic along each axis in each of them.

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
        shape = tuple(2 * n + 1 for n in self.grid.shape)
        return np.stack(np.unravel_index(np.flatnonzero(self.unknown >= 0), shape), axis=-1)

    def nodes(self, cells: Ints) -> Ints:
        """Rows of the nodes of cells (n,), (n, 27), z fastest."""
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
        powers = np.stack([np.ones_like(local), local, local * local], axis=-1)
        x, y, z = np.moveaxis(powers @ _SHAPES.T, 1, 0)
        weights = np.einsum("ni,nj,nk->nijk", x, y, z).reshape(len(points), 27)
        columns = self.nodes(cells)
        weights = np.where(columns < 0, 0.0, weights)
        start = 27 * np.arange(len(points) + 1)
        shape = (len(points), self.n_unknowns)
        return sparse.csr_array((weights.ravel(), np.maximum(columns, 0).ravel(), start), shape=shape)


def _cell_nodes(grid: Grid, cells: Ints) -> Ints:
    """Nodes of cells (n,) in the whole grid, (n, 27)."""
    _, ny, nz = (2 * n + 1 for n in grid.shape)
    i, j, k = (2 * np.asarray(index) for index in np.unravel_index(cells, grid.shape))
    step = np.arange(3)
    first = (i * ny + j) * nz + k
    offset = (step[:, None, None] * ny + step[None, :, None]) * nz + step[None, None, :]
    return np.asarray(first[:, None] + offset.reshape(1, 27))


@cache
def _products() -> tuple[Floats, Floats]:
    """Coefficients of x^0 to x^4 in products of shape functions and of their slopes, (3, 3, 5) each."""
    values, slopes = np.zeros((3, 3, 5)), np.zeros((3, 3, 5))
    for i in range(3):
        for j in range(3):
            values[i, j] = np.convolve(_SHAPES[i], _SHAPES[j])
            slopes[i, j] = np.convolve(_SLOPES[i], _SLOPES[j])
    return values, slopes


def _element_tables(moments: Floats) -> Floats:
    """Mass, stiffness along x, y, z of cells of half size 1 from their moments (n, 5, 5, 5), (4, n, 729)."""
    values, slopes = _products()
    tables = []
    for factors in (
        (values, values, values),
        (slopes, values, values),
        (values, slopes, values),
        (values, values, slopes),
    ):
        x, y, z = factors
        table = np.einsum("nabc,adg->ngdbc", moments, x.transpose(2, 0, 1))
        table = np.einsum("ngdbc,beh->ngdehc", table, y.transpose(2, 0, 1))
        table = np.einsum("ngdehc,cfi->ndefghi", table, z.transpose(2, 0, 1))
        tables.append(table.reshape(len(moments), 729))
    return np.array(tables)


def assemble(air: CutAir) -> tuple[Space, sparse.csc_array, sparse.csc_array]:
    """Space, stiffness and mass of the air: integrals of grad p . grad q and of p q over it.

    Rigid walls are what happens where nothing is said of them.
    """
    cells = np.concatenate([air.full, air.cut])
    nodes = _cell_nodes(air.grid, cells)
    used, inverse = np.unique(nodes, return_inverse=True)
    unknown = np.full(int(np.prod([2 * n + 1 for n in air.grid.shape])), -1, np.int64)
    unknown[used] = np.arange(len(used))
    local = inverse.reshape(-1, 27)
    whole = _element_tables((_FULL[:, None, None] * _FULL[:, None] * _FULL)[None])
    tables = _element_tables(air.moments)
    tables[1:] += _OUTSIDE * (whole[1:] - tables[1:])
    tables = np.concatenate([np.repeat(whole, len(air.full), axis=1), tables], axis=1)
    low, high = air.grid.bounds(cells)
    half = 0.5 * (high - low)
    volume = np.prod(half, axis=1)
    mass = tables[0] * volume[:, None]
    stiffness = sum(tables[1 + axis] * (volume / half[:, axis] ** 2)[:, None] for axis in range(3))
    rows, columns = np.repeat(local, 27, axis=1).ravel(), np.tile(local, (1, 27)).ravel()
    shape = (len(used), len(used))
    matrices = [
        sparse.coo_array((np.asarray(values).ravel(), (rows, columns)), shape=shape).tocsc()
        for values in (stiffness, mass)
    ]
    return Space(air.grid, unknown, len(used)), matrices[0], matrices[1]
