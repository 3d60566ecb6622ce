"""Both halves of a solve with a symmetric sparse factor, eight columns at once."""

from raytrace.kernels.jit import kernel

COLUMNS = 8
"""Right-hand sides of a call: side by side, so that the factor is read once for all of them."""


@kernel
def solve_in_place(start, row, value, pivot, x):
    """Solve L D L' y = x in place of x, L of unit diagonal.

    Parameters
    ----------
    start : (n + 1,) int32
    row : (n_entries,) int32
    value : (n_entries,) float64
        Columns of L one after another, the diagonal first in each.
    pivot : (n,) float64
        D.
    x : (n, 8) float64
    """
    n = len(x)
    for j in range(n):
        for k in range(start[j] + 1, start[j + 1]):
            for q in range(COLUMNS):
                x[row[k], q] -= value[k] * x[j, q]
    for j in range(n - 1, -1, -1):
        for q in range(COLUMNS):
            x[j, q] /= pivot[j]
        for k in range(start[j] + 1, start[j + 1]):
            for q in range(COLUMNS):
                x[j, q] -= value[k] * x[row[k], q]
