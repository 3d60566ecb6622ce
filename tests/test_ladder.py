import numpy as np
import pytest
from proposals import proposal

from raytrace import Step
from raytrace.ladder import find_stop


def step(n_panels, n_over, excess_db):
    return Step(n_panels, (), n_over, -1.0, excess_db, 0.0, np.nan)


def test_the_stop_is_where_the_next_step_brings_little():
    ladder = [step(0, 6, 12.0), step(2, 4, 5.0), step(4, 4, 4.8), step(6, 4, 4.7)]
    assert find_stop(ladder) == 1
    assert find_stop([*ladder[:2], step(4, 3, 4.8)]) == 2  # a peak fewer is worth it
    assert find_stop(ladder[:2]) == 1
    assert find_stop(ladder[:1]) is None
    assert find_stop([step(0, 2, 6.0), step(2, 2, 5.9)]) == 0


@pytest.mark.slow
def test_each_step_of_the_ladder_takes_more_off_and_the_last_is_the_proposal():
    found = proposal("box")
    excess = [s.excess_db for s in found.ladder]
    assert excess == sorted(excess, reverse=True)
    assert found.ladder[0].n_panels == 0
    assert found.ladder[0].n_over == sum(v.n_over for v in found.before.verdicts)
    last = found.ladder[-1]
    assert last.n_panels == len(found.panels)
    assert last.n_over == sum(v.n_over for v in found.after.verdicts)
    worst = min(v.worst_margin_db for v in found.after.verdicts)
    assert last.worst_margin_db == pytest.approx(worst, abs=0.05)  # named in another way
    assert last.left_right_db == pytest.approx(found.after.left_right.difference_db, abs=0.05)
