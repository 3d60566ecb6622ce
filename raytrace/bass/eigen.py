"""The lowest eigenvectors of stiffness against mass, from few solves with one factor."""

import numpy as np
import scipy.sparse as sparse
from numpy.typing import NDArray

from raytrace.bass.factors import Factor, NoConvergence

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# Residual, of the bound. The values below are right to its square; those that are taken along are as good as
# the space is by then, and what they do at the bound is 0.5 dB off in the classroom at 1e-6, 0.1 dB here.
_SETTLED = 1e-8
_MOST_COLUMNS = 1500
_FIRST_LOOK = 5.0  # columns for each eigenvalue below the shift: rooms take six and more
_LOOKED_AFTER = 1.05  # times as many columns as at the last look
_LOOKS_ALIKE = 3  # that find as many eigenvalues, one after the other
_DEPENDENT = 1e-12  # of the largest: what of a block lies in the others
_EVEN = 1e-8  # of the largest, squared: where no column is shorter, rounding grows by 1e4 at most


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
    most = min(_MOST_COLUMNS, len(start)) // columns
    basis = np.empty((len(start), columns * (most + 1)), order="F")
    weighed = np.empty_like(basis)  # mass @ basis: kept, as products with the mass take long
    within = np.zeros((columns * most,) * 2)
    block, heavy, _ = _orthonormal(start, mass, basis[:, :0], weighed[:, :0])
    found: list[int] = []
    size, looked_at = 0, _FIRST_LOOK * about.n_below / _LOOKED_AFTER
    for _ in range(most):
        last, size = size, size + block.shape[1]
        basis[:, last:size], weighed[:, last:size] = block, heavy
        image = about.solve(heavy)
        block, heavy, across = _orthonormal(image, mass, basis[:, :size], weighed[:, :size])
        within[:size, last:size] = across
        within[last:size, :size] = across.T
        if size < _LOOKED_AFTER * looked_at:
            continue
        looked_at = size
        # Vectors take four times as long as values, and are of use only where those are complete. Not those
        # of scipy, which keep every other thread waiting: the window's, and whoever ends a run.
        values = _between(about, np.linalg.eigvalsh(within[:size, :size]), bounds[0])[1]
        found.append(len(values))
        is_counted = found[-_LOOKS_ALIKE:] == found[-1:] * _LOOKS_ALIKE
        if not is_counted or (values < about.shift).sum() != about.n_below:
            continue
        inverse, axes = np.linalg.eigh(within[:size, :size])
        kept, values = _between(about, inverse, bounds[0])
        # Only the last block's images leave the space.
        left_over = np.linalg.norm(heavy.T @ image @ axes[last:, kept], axis=0) / inverse[kept] ** 2
        if (left_over <= _SETTLED * bounds[0]).all():
            kept, values = _between(about, inverse, bounds[1])
            order = np.argsort(values)
            return values[order], np.ascontiguousarray(basis[:, :size] @ axes[:, kept[order]])
    raise NoConvergence(f"{found[-1:]} eigenvalues are not settled after {most} steps")


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
        lengths, axes = np.linalg.eigh(block.T @ heavy)
        kept = lengths > _DEPENDENT * lengths[-1]
        axes = axes[:, kept] / np.sqrt(lengths[kept])
        block, heavy = block @ axes, heavy @ axes
        if kept.all() and lengths[0] > _EVEN * lengths[-1]:
            break
    return np.asarray(block), np.asarray(heavy), across
