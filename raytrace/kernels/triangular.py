"""Both halves of a solve with a symmetric sparse factor, eight columns at once."""

import numpy as np

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
    own = np.empty(COLUMNS)  # a row apart from the others: the compiler keeps it at hand
    for j in range(n):
        own[:] = x[j]
        for k in range(start[j] + 1, start[j + 1]):
            other, share = x[row[k]], value[k]
            for q in range(COLUMNS):
                other[q] -= share * own[q]
    for j in range(n - 1, -1, -1):
        for q in range(COLUMNS):
            own[q] = x[j, q] / pivot[j]
        for k in range(start[j] + 1, start[j + 1]):
            other, share = x[row[k]], value[k]
            for q in range(COLUMNS):
                own[q] -= share * other[q]
        x[j] = own
