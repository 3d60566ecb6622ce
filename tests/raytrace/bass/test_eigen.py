"""Eigenvectors by a shifted inverse: against the closed form of a string, and none is missed in silence."""

import numpy as np
import pytest
import scipy.sparse as sparse

from raytrace.bass.eigen import lowest
from raytrace.bass.factors import NoConvergence, dissected, factor

N = 200
STIFFNESS = sparse.diags_array([-1.0, 2.0, -1.0], offsets=[-1, 0, 1], shape=(N, N)).tocsc()
MASS = sparse.eye_array(N).tocsc()
EXPECTED = (
    4.0 * np.sin(np.arange(1, N + 1) * np.pi / (2 * (N + 1))) ** 2
)  # a string of beads, held at its ends
SEQUENCE = dissected(np.stack([np.arange(N), np.zeros(N, int), np.zeros(N, int)], axis=1), 2)


# At the last the first pivot is 1e-9: a single solve is left with 1e-7.
@pytest.mark.parametrize("shift", [-0.01, 0.03, 0.07, 2.0 + 1e-9])
def test_a_solve_is_a_solve_for_one_column_and_for_many(shift):
    about = factor(STIFFNESS, MASS, shift, SEQUENCE)
    for shape in ((N,), (N, 1), (N, 8), (N, 19)):
        b = np.random.default_rng(0).normal(size=shape)
        x = about.solve(b)
        residual = STIFFNESS @ x - shift * x - b
        # Rounding, by the condition of a shift that is 1e-4 or more from the next eigenvalue.
        assert np.abs(residual).max() < 1e-9
    assert about.n_below == (shift > EXPECTED).sum()


def test_the_values_are_those_of_the_string_and_the_vectors_are_its_vectors():
    about = factor(STIFFNESS, MASS, 0.05, SEQUENCE)
    start = np.random.default_rng(1).normal(size=(N, 4))
    values, vectors = lowest(MASS, about, start, (0.08, 0.1))
    n = int((EXPECTED <= 0.08).sum())
    assert np.abs(values[:n] - EXPECTED[:n]).max() < 1e-7  # residual 1e-6 of the bound, squared by Ritz
    # What is left over grows with the root of a value's error.
    assert np.abs(STIFFNESS @ vectors[:, :n] - vectors[:, :n] * values[:n]).max() < 1e-4
    assert np.abs(vectors.T @ vectors - np.eye(len(values))).max() < 1e-12  # rounding of 200 terms


def test_a_vector_that_the_start_does_not_hold_is_missed_aloud():
    about = factor(STIFFNESS, MASS, 0.05, SEQUENCE)
    third = np.sin(3 * np.arange(1, N + 1) * np.pi / (N + 1))
    start = np.random.default_rng(1).normal(size=(N, 4))
    start -= np.outer(third, third @ start) / (third @ third)

    def without_third(b):
        x = about.solve(b)
        return x - np.outer(third, third @ x) / (third @ third)

    with pytest.raises(NoConvergence):
        lowest(MASS, type(about)(about.shift, about.n_below, without_third), start, (0.08, 0.1))
