"""The lowest eigenvectors of stiffness against mass, from few solves with one factor."""

from collections.abc import Callable

import numpy as np
import scipy.linalg as linalg
import scipy.sparse as sparse
from numpy.typing import NDArray
from scipy.sparse.linalg import splu

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Solve = Callable[[Floats], Floats]

_SETTLED = 1e-6  # largest change of an eigenvalue from one step to the next, re the bound: 0.1 mHz of 200 Hz
_MOST_STEPS = 400
_LOOKED_AFTER = 1.08  # times as many columns as at the last look
_LEAST_PART = 60  # unknowns: smaller parts are not parted any more
_DEPENDENT = 1e-12  # of the largest: what of a block lies in the others


class NoConvergence(RuntimeError):
    """Eigenvectors that went on changing."""


def factor(
    stiffness: sparse.csc_array, mass: sparse.csc_array, shift: float, sequence: Ints | None = None
) -> Solve:
    """What solves (stiffness - shift mass) x = b for one column or several; `shift` is negative. [1/m2]

    `sequence` is that in which the unknowns are taken, of `dissected`; without it one is looked for.
    """
    shifted = (stiffness - shift * mass).tocsc()
    if sequence is not None:
        shifted = shifted[sequence][:, sequence].tocsc()
    # Symmetric and positive definite: no pivot leaves the diagonal.
    ordering = "MMD_AT_PLUS_A" if sequence is None else "NATURAL"
    lower_upper = splu(shifted, permc_spec=ordering, diag_pivot_thresh=0.0, options={"SymmetricMode": True})

    def solve(b: Floats) -> Floats:
        if sequence is None:
            return np.asarray(lower_upper.solve(np.ascontiguousarray(b)))
        x = np.empty_like(b)
        x[sequence] = lower_upper.solve(np.ascontiguousarray(b[sequence]))
        return x

    return solve


def dissected(nodes: Ints) -> Ints:
    """Unknowns in a sequence in which a factor stays sparse: halves first, what parts them last.

    Parameters
    ----------
    nodes : (n, 3) int
        Place of each unknown, counted in nodes along each axis. Even planes lie between cells: across them
        unknowns know nothing of each other.

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
        middle = 2 * int(np.round(np.median(place) / 2))
        is_parted = len(own) > _LEAST_PART and low[axis] < middle < high[axis]
        parts.append(own[place == middle] if is_parted else own)
        if is_parted:
            waiting += [own[place < middle], own[place > middle]]
    return np.concatenate(parts[::-1])


def lowest(
    stiffness: sparse.csc_array,
    mass: sparse.csc_array,
    solve: Solve,
    start: Floats,
    bounds: tuple[float, float],
) -> tuple[Floats, Floats]:
    """Eigenvalues up to a bound and their eigenvectors.

    Parameters
    ----------
    stiffness, mass : (n, n) sparse
        Symmetric, positive semi-definite.
    solve : callable
        From `factor`.
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
    A block Krylov space of the inverse, kept at right angles in full, and the Ritz values in it (Parlett,
    The Symmetric Eigenvalue Problem, ch. 11 and 13; from memory): some columns take hardly longer in one
    solve than one does.
    """
    block = _orthonormal(start, mass, np.empty((len(start), 0)))
    basis, within = block, block.T @ (stiffness @ block)
    known = np.empty(0)
    looked_at = 0
    for _ in range(_MOST_STEPS):
        block = _orthonormal(solve(mass @ block), mass, basis)
        pulled = stiffness @ block
        across = basis.T @ pulled
        within = np.block([[within, across], [across.T, block.T @ pulled]])
        basis = np.concatenate([basis, block], axis=1)
        if len(within) < _LOOKED_AFTER * looked_at:
            continue
        looked_at = len(within)
        values = linalg.eigvalsh(within)
        found = values[: np.searchsorted(values, bounds[0], side="right")]
        if len(found) == len(known) > 0 and (np.abs(found - known) <= _SETTLED * bounds[0]).all():
            values, axes = linalg.eigh(within)
            n = int(np.searchsorted(values, bounds[1], side="right"))
            return values[:n], np.ascontiguousarray(basis @ axes[:, :n])
        known = found
    raise NoConvergence(f"{len(known)} eigenvalues still change after {_MOST_STEPS} steps")


def _orthonormal(block: Floats, mass: sparse.csc_array, basis: Floats) -> Floats:
    """What a block adds to a basis, as columns of length 1 at right angles to it and to each other."""
    # Twice is enough (Parlett, The Symmetric Eigenvalue Problem; from memory).
    for _ in range(2):
        block = block - basis @ (basis.T @ (mass @ block))
        lengths, axes = linalg.eigh(block.T @ (mass @ block))
        kept = lengths > _DEPENDENT * lengths[-1]
        block = block @ (axes[:, kept] / np.sqrt(lengths[kept]))
    return np.asarray(block)
