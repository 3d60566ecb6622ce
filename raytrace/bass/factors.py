"""A symmetric sparse factor: the sequence in which it stays sparse, and solves of many columns with it."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import scipy.linalg as linalg
import scipy.sparse as sparse
from numpy.typing import NDArray
from scipy.sparse.linalg import splu

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Solve = Callable[[Floats], Floats]

_EXACT = 1e-8  # of the largest load: eigenvalues come out right to a twentieth of it or better
_LEAST_PART = 60  # unknowns: smaller parts are not parted any more


class NoConvergence(RuntimeError):
    """Eigenvectors that went on changing."""


@dataclass(frozen=True)
class Factor:
    """A factor of (stiffness - shift mass).

    Attributes
    ----------
    shift : float
        [1/m2]
    n_below : int
        How many eigenvalues are below the shift: as many as pivots are negative (Sylvester's law of inertia;
        Parlett, The Symmetric Eigenvalue Problem, section 3.3; from memory).
    solve : callable
        Solves (stiffness - shift mass) x = b for one column or several.
    """

    shift: float
    n_below: int
    solve: Solve


def factor(stiffness: sparse.csc_array, mass: sparse.csc_array, shift: float, sequence: Ints) -> Factor:
    """Factor stiffness - shift mass; `shift` at no eigenvalue. [1/m2]

    `sequence` is that in which the unknowns are taken, of `dissected`.

    Raises
    ------
    NoConvergence
        If the shift is too near an eigenvalue.
    """
    shifted = (stiffness - shift * mass).tocsc()
    # Symmetric: no pivot leaves the diagonal. Where the shift is not negative one is small only by chance.
    options = {"SymmetricMode": True}
    ordered = shifted[sequence][:, sequence].tocsc()
    halves = splu(ordered, permc_spec="NATURAL", diag_pivot_thresh=0.0, options=options)
    if not np.array_equal(halves.perm_r, halves.perm_c):
        raise NoConvergence("a pivot left the diagonal")
    at = np.empty(len(sequence), np.int64)
    at[halves.perm_c] = sequence
    pivots = halves.U.diagonal()
    once = _solver(_panels(halves.L.tocsc()), pivots, at)
    # Small pivots cost digits; what they cost shows on any load, and a second solve brings them back.
    load = mass @ np.cos(np.arange(len(at)) ** 2)
    left_over = np.abs(load - shifted @ once(load)).max()
    is_exact = left_over <= _EXACT * np.abs(load).max()

    def solve(b: Floats) -> Floats:
        x = once(b)
        return x if is_exact else x + once(b - shifted @ x)

    return Factor(shift, int((pivots < 0.0).sum()), solve)


def _solver(panels: "list[_Panel]", pivots: Floats, at: Ints) -> Solve:
    """Solves with the panels of a factor; `at` is which unknown each of its rows is."""

    def solve(b: Floats) -> Floats:
        x = b.reshape(len(at), -1)[at]
        for panel in panels:
            panel.forwards(x)
        x /= pivots[:, None]
        for panel in reversed(panels):
            panel.backwards(x)
        result = np.empty_like(x)
        result[at] = x
        return result.reshape(b.shape)

    return solve


@dataclass(frozen=True)
class _Panel:
    """Columns of a lower triangle, next to each other, that have the same rows below them.

    Attributes
    ----------
    own : slice
        The columns, w.
    below : (m,) int
        Rows below them.
    undone : (w, w) float
        Inverse of the triangle in the columns' own rows.
    rest : (w, m) float
        Values in the rows below, column by column.
    """

    own: slice
    below: Ints
    undone: Floats
    rest: Floats

    def forwards(self, x: Floats) -> None:
        """Take these columns off x (n, m) in place."""
        x[self.own] = self.undone @ x[self.own]
        x[self.below] -= self.rest.T @ x[self.own]

    def backwards(self, x: Floats) -> None:
        """Take these columns, as rows of the upper triangle, off x (n, m) in place."""
        x[self.own] = self.undone.T @ (x[self.own] - self.rest @ x[self.below])


def _panels(lower: sparse.csc_array) -> list[_Panel]:
    """A lower triangle with ones on its diagonal as panels, from left to right.

    Dense products with each of them read the triangle once for all columns of a solve.
    """
    lower.sort_indices()
    start, row, value = lower.indptr, lower.indices.astype(np.int64), lower.data
    n = len(start) - 1
    # The rows below a column are among those of the next that it meets: as many of the same sum are the same.
    count, total = np.diff(start), np.add.reduceat(row, start[:-1])
    is_like = (count[1:] == count[:-1] - 1) & (total[1:] == total[:-1] - np.arange(n - 1))
    panels = []
    for first, end in pairwise([0, *(np.flatnonzero(~is_like) + 1), n]):
        rows, width = row[start[first] : start[first + 1]], int(end - first)
        columns = np.zeros((width, len(rows)))
        columns[np.triu_indices(width, 0, len(rows))] = value[start[first] : start[end]]
        own = columns[:, :width].T
        undone = linalg.solve_triangular(own, np.eye(width), lower=True, unit_diagonal=True)
        panels.append(_Panel(slice(first, end), rows[width:], undone, columns[:, width:].copy()))
    return panels


def dissected(nodes: Ints, per_cell: int) -> Ints:
    """Unknowns in a sequence in which a factor stays sparse: halves first, what parts them last.

    Parameters
    ----------
    nodes : (n, 3) int
        Place of each unknown, counted in nodes along each axis.
    per_cell : int
        Planes at multiples of it lie between cells: across them unknowns know nothing of each other.

    Notes
    -----
    Nested dissection of a grid: A. George, SIAM J. Numer. Anal. 10 (1973) 345 (from memory).
    """
    parts: list[Ints] = []
    waiting = [np.arange(len(nodes))]
    while waiting:  # from the last part to the first
        own = waiting.pop()
        low, high = nodes[own].min(axis=0), nodes[own].max(axis=0)
        axis = int(np.argmax(high - low))
        place = nodes[own, axis]
        middle = per_cell * int(np.round(np.median(place) / per_cell))
        is_parted = len(own) > _LEAST_PART and low[axis] < middle < high[axis]
        parts.append(own[place == middle] if is_parted else own)
        if is_parted:
            waiting += [own[place < middle], own[place > middle]]
    return np.concatenate(parts[::-1])
