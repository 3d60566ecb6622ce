import numpy as np

from raytrace.kernels.patterns import add_pattern


def test_a_table_gives_its_own_rows_and_any_cubic_between_them():
    # Lagrange's form through four points reproduces every polynomial of third degree.
    n_steps = 12
    steps = np.arange(-1, n_steps + 2) * np.pi / n_steps
    angles = np.append(steps[1:-1], np.random.default_rng(1).uniform(0.0, np.pi, 50))
    cubics = np.array([[1.0, -2.0, 0.5, 0.3], [2j, 1.0, -1j, 0.1]])
    table = np.stack([np.polyval(cubic[::-1], steps) for cubic in cubics], axis=1).astype(np.complex128)
    total = np.ones((len(angles), 2), np.complex128)
    add_pattern(table, angles, total)
    expected = np.stack([1.0 + np.polyval(cubic[::-1], angles) for cubic in cubics], axis=1)
    np.testing.assert_allclose(total, expected, atol=1e-12)  # rounding only
