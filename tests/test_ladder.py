from dataclasses import replace

import numpy as np
import pytest
from proposals import proposal

from raytrace import Step
from raytrace.ladder import energy_over, find_stop


def step(n_panels, left, worst_margin_db=-1.0):
    return Step(n_panels, (), 3, worst_margin_db, 4.0, left, 0.0, np.nan)


def test_the_stop_is_where_the_next_step_brings_little():
    ladder = [step(0, 1.0), step(2, 0.40), step(4, 0.39), step(6, 0.385)]
    assert find_stop(ladder) == 1
    assert find_stop([*ladder[:2], step(4, 0.39, worst_margin_db=0.1)]) == 2  # the last of it is worth it
    assert find_stop(ladder[:2]) == 1
    assert find_stop(ladder[:1]) is None
    assert find_stop([step(0, 1.0), step(2, 0.99)]) == 0


def test_what_is_over_never_rises_when_sound_is_taken_away(small):
    _, problem = small
    surrogate = problem.surrogate
    before = energy_over(problem, ())
    assert before > 0.0
    rng = np.random.default_rng(7)
    for _ in range(20):
        weaker = replace(surrogate, rest=surrogate.rest * rng.uniform(0.3, 1.0, (len(surrogate.rest), 1)))
        assert energy_over(replace(problem, surrogate=weaker), ()) <= before


def test_nothing_is_over_where_no_peak_is_and_something_where_one_is(small):
    _, problem = small
    surrogate = problem.surrogate
    touched = np.unique(surrogate.name[np.diff(surrogate.spot_start) > 0])  # by some place for a panel
    assert (problem.levels_db(())[touched] > 0.0).any()
    for unit in range(len(problem.units)):
        over = energy_over(problem, (unit,))
        assert (over > 0.0) or (problem.levels_db((unit,))[touched] <= 0.0).all()
    hush = replace(problem.surrogate, rest=0.05 * problem.surrogate.rest)  # 26 dB down
    assert energy_over(replace(problem, surrogate=hush), ()) == 0.0


@pytest.mark.slow
def test_each_step_of_the_ladder_takes_more_off_and_the_last_is_the_proposal():
    found = proposal("box")
    excess = [s.excess_db for s in found.ladder]
    assert excess == sorted(excess, reverse=True)
    left = [s.left for s in found.ladder]
    assert left[0] == 1.0
    assert left == sorted(left, reverse=True)
    assert found.ladder[0].n_panels == 0
    assert found.ladder[0].n_over == sum(v.n_over for v in found.before.verdicts)
    last = found.ladder[-1]
    assert last.n_panels == len(found.panels)
    assert last.n_over == sum(v.n_over for v in found.after.verdicts)
    worst = min(v.worst_margin_db for v in found.after.verdicts)
    assert last.worst_margin_db == pytest.approx(worst, abs=0.05)  # named in another way
    assert last.left_right_db == pytest.approx(found.after.left_right.difference_db, abs=0.05)
