"""Patterns of speakers between the angles of their tables."""

import numpy as np

from raytrace.kernels.jit import kernel


@kernel
def add_pattern(table, angles_rad, total):
    """Add a table's rows (n_steps + 3, m) complex at angles (n,) [rad] to `total` (n, m) complex.

    Lagrange's cubic between equal steps from 0 to pi; the table begins one step before 0 and ends one
    beyond pi.
    """
    n_steps = table.shape[0] - 3
    for i in range(angles_rad.size):
        place = min(max(angles_rad[i] / np.pi, 0.0), 1.0) * n_steps
        low = min(int(place), n_steps - 1)
        t = place - low
        before = -t * (t - 1.0) * (t - 2.0) / 6.0
        here = (t + 1.0) * (t - 1.0) * (t - 2.0) / 2.0
        after = -(t + 1.0) * t * (t - 2.0) / 2.0
        beyond = (t + 1.0) * t * (t - 1.0) / 6.0
        for k in range(table.shape[1]):
            total[i, k] += (
                before * table[low, k]
                + here * table[low + 1, k]
                + after * table[low + 2, k]
                + beyond * table[low + 3, k]
            )
