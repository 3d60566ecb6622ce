from itertools import combinations

import numpy as np
import pytest

from raytrace.proposing.choice import SPARE_DB, excess_db
from raytrace.proposing.mixedinteger import best_set


@pytest.mark.parametrize("spare_db", [SPARE_DB, -0.5, -1.0, -2.0])
def test_no_set_with_fewer_panels_keeps_the_targets(small, spare_db):
    _, problem = small
    targets = np.full(problem.surrogate.n_names, -spare_db)
    fewest = next(
        count
        for count in range(13)
        for units in combinations(range(12), count)
        if problem.may(units) and excess_db(problem.levels_db(units), targets) == 0.0
    )
    assert fewest > 0
    found = best_set(problem, (), targets)
    for _ in range(2):  # about what is nearly the answer little is linearised
        found = best_set(problem, found, targets)
    assert problem.n_panels(found) <= fewest
    assert excess_db(problem.levels_db(found), targets) < 0.1  # several bounces are linearised


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
