"""The lowest eigenvectors of stiffness against mass, from few solves with one factor."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy.linalg as linalg
import scipy.sparse as sparse
from numpy.typing import NDArray
from scipy.sparse.linalg import splu

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Solve = Callable[[Floats], Floats]

_SETTLED = (
    1e-8  # largest change of an eigenvalue between two looks, re the bound: its vector is right to 1e-4
)
_MOST_STEPS = 120
_LOOKED_AFTER = 1.15  # times as many columns as at the last look
_LEAST_PART = 60  # unknowns: smaller parts are not parted any more
_DEPENDENT = 1e-12  # of the largest: what of a block lies in the others
_EVEN = 1e-8  # of the largest, squared: where no column is shorter, rounding grows by 1e4 at most


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
    from raytrace.kernels.triangular import COLUMNS, solve_in_place

    n = stiffness.shape[0]
    shifted = (stiffness - shift * mass).tocsc()[sequence][:, sequence].tocsc()
    # Symmetric: no pivot leaves the diagonal. Where the shift is not negative one is small only by chance.
    options = {"SymmetricMode": True}
    halves = splu(shifted, permc_spec="NATURAL", diag_pivot_thresh=0.0, options=options)
    if not np.array_equal(halves.perm_r, halves.perm_c):
        raise NoConvergence("a pivot left the diagonal")
    lower = halves.L.tocsc()
    lower.sort_indices()
    pivots = halves.U.diagonal()
    at = np.empty(n, np.int64)
    at[halves.perm_c] = sequence

    def solve(b: Floats) -> Floats:
        columns = b.reshape(n, -1)
        x = np.empty_like(columns)
        for first in range(0, columns.shape[1], COLUMNS):
            part = columns[at, first : first + COLUMNS]
            padded = np.zeros((n, COLUMNS))
            padded[:, : part.shape[1]] = part
            solve_in_place(lower.indptr, lower.indices, lower.data, pivots, padded)
            x[at, first : first + COLUMNS] = padded[:, : part.shape[1]]
        return x.reshape(b.shape)

    return Factor(shift, int((pivots < 0.0).sum()), solve)


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


def lowest(
    mass: sparse.csc_array, about: Factor, start: Floats, bounds: tuple[float, float]
) -> tuple[Floats, Floats]:
    """Eigenvalues up to a bound and their eigenvectors.

    Parameters
    ----------
    mass : (n, n) sparse
        Symmetric, positive semi-definite.
    about : Factor
        Its shift between 0 and the first bound: eigenvalues around it are found first.
    start : (n, m) float
        Columns that each hold something of every eigenvector.
    bounds : (settled, up_to) float
        Below the first the values are settled; those up to the second are taken along as they are then.

    Returns
    -------
    values : (k,) float
        Ascending.
    vectors : (n, k) float
        x' mass x = 1.

    Raises
    ------
    NoConvergence
        If the values go on changing.

    Notes
    -----
    A block Krylov space of the shifted inverse, kept at right angles in full, and the Ritz values in it
    (Parlett, The Symmetric Eigenvalue Problem, ch. 11 and 13; from memory): some columns take hardly longer
    in one solve than one does.
    """
    columns = start.shape[1]
    basis = np.empty((len(start), columns * (_MOST_STEPS + 1)), order="F")
    weighed = np.empty_like(basis)  # mass @ basis: kept, as products with the mass take long
    within = np.zeros((columns * _MOST_STEPS,) * 2)
    block, heavy, _ = _orthonormal(start, mass, basis[:, :0], weighed[:, :0])
    known = np.empty(0)
    size, looked_at = 0, 0
    for _ in range(_MOST_STEPS):
        last, size = size, size + block.shape[1]
        basis[:, last:size], weighed[:, last:size] = block, heavy
        block, heavy, across = _orthonormal(about.solve(heavy), mass, basis[:, :size], weighed[:, :size])
        within[:size, last:size] = across
        within[last:size, :size] = across.T
        if size < _LOOKED_AFTER * looked_at:
            continue
        looked_at = size
        found = np.sort(_between(about, linalg.eigvalsh(within[:size, :size]), bounds[0])[1])
        is_complete = (found < about.shift).sum() == about.n_below and len(found) == len(known)
        if is_complete and (np.abs(found - known) <= _SETTLED * bounds[0]).all():
            inverse, axes = linalg.eigh(within[:size, :size])
            kept, values = _between(about, inverse, bounds[1])
            order = np.argsort(values)
            return values[order], np.ascontiguousarray(basis[:, :size] @ axes[:, kept[order]])
        known = found
    raise NoConvergence(f"{len(known)} eigenvalues still change after {_MOST_STEPS} steps")


def _between(about: Factor, inverse: Floats, bound: float) -> tuple[Ints, Floats]:
    """Which eigenvalues of the shifted inverse are of eigenvalues up to a bound, and those."""
    values = about.shift + 1.0 / inverse
    # The lowest is 0; what has a Ritz value far below it is not found yet.
    kept = np.flatnonzero((values > -bound) & (values <= bound))
    return kept, values[kept]


def _orthonormal(
    block: Floats, mass: sparse.csc_array, basis: Floats, weighed: Floats
) -> tuple[Floats, Floats, Floats]:
    """What a block adds to a basis, the mass times that, and what of the block lies in the basis already.

    The first as columns of length 1 at right angles to the basis and to each other, the last as
    coefficients, (n_basis, n_columns). `weighed` is mass @ basis.

    Notes
    -----
    Nearly all of what lies in the basis lies in its last two blocks (Lanczos): those are taken off first, so
    that what is left of the others is taken off well at once. Reading the whole basis is what takes long.
    """
    across = np.zeros((basis.shape[1], block.shape[1]))
    last = slice(max(basis.shape[1] - 3 * block.shape[1], 0), None)  # one more, as blocks may shrink
    across[last] = weighed[:, last].T @ block
    block = block - basis[:, last] @ across[last]
    for again in (False, True):
        rest = weighed.T @ block
        if not again:
            across += rest
        block = block - basis @ rest
        heavy = mass @ block
        lengths, axes = linalg.eigh(block.T @ heavy)
        kept = lengths > _DEPENDENT * lengths[-1]
        axes = axes[:, kept] / np.sqrt(lengths[kept])
        block, heavy = block @ axes, heavy @ axes
        if kept.all() and lengths[0] > _EVEN * lengths[-1]:
            break
    return np.asarray(block), np.asarray(heavy), across
