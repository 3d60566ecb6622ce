import numpy as np
import pytest

from raytrace.proposing import mixedinteger
from raytrace.proposing.choice import SPARE_DB, excess_db
from raytrace.proposing.mixedinteger import best_set


def test_energy_of_peaks_with_one_changing_bounce_is_exact(small):
    _, problem = small
    targets = np.full(problem.surrogate.n_names, -SPARE_DB)
    share = problem.surrogate.share / problem.surrogate.limit
    bounces = np.diff(problem.surrogate.spot_start)
    for about in ((), (2, 7)):
        rows = mixedinteger._rows(problem, about, targets)
        constant, linear, pairs = mixedinteger._energies(problem, about, rows)
        for chosen in ((), (0,), (0, 5), (1, 5, 11), (2, 7)):
            if not problem.may(chosen):
                continue
            x = np.isin(np.arange(12), chosen).astype(float)
            state = problem.state(chosen)
            for r, row in enumerate(rows):
                if (bounces[row.members] <= 1).all():
                    energy = (np.abs(state.pressure[row.members].sum(axis=0)) ** 2) @ share
                    ours = constant[r] + linear[r] @ x + x @ pairs[r] @ x
                    # Of 3 pairs at most the programme leaves out what is below 2e-3 of the limit each.
                    assert ours == pytest.approx(energy, abs=3 * 2e-3)


def test_the_programme_finds_a_set_that_keeps_every_target(small):
    _, problem = small
    targets = np.full(problem.surrogate.n_names, -SPARE_DB)
    found = best_set(problem, (), targets)
    assert found is not None
    assert problem.may(found)
    assert excess_db(problem.levels_db(found), targets) < 0.3  # several bounces are linearised
    again = best_set(problem, found, targets)
    assert again is not None
    assert excess_db(problem.levels_db(again), targets) < 0.1  # about what is nearly the answer


def test_nothing_is_put_up_where_nothing_is_over(small):
    _, problem = small
    assert best_set(problem, (), np.full(problem.surrogate.n_names, 40.0)) == ()
