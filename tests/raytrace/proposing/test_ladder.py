from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from raytrace import Step
from raytrace.proposing.choice import newly_over
from raytrace.proposing.ladder import STOP_SHARE, energy_over, find_stop, without_idle
from tests.support.proposals import proposal


def step(n_panels, left, worst_margin_db=-1.0):
    return Step(n_panels, (), 3, 0, worst_margin_db, 4.0, left, 0.0, np.nan)


def test_the_stop_is_where_the_next_step_brings_little():
    ladder = [step(0, 1.0), step(2, 0.40), step(4, 0.39), step(6, 0.385)]
    assert find_stop(ladder) == 1
    assert find_stop([*ladder[:2], step(4, 0.39, worst_margin_db=0.1)]) == 2  # the last of it is worth it
    assert find_stop(ladder[:2]) == 1
    assert find_stop(ladder[:1]) is None
    assert find_stop([step(0, 1.0), step(2, 0.99)]) == 0


def test_what_is_over_falls_with_the_sound(small):
    _, problem = small
    surrogate = problem.surrogate
    energy = [
        energy_over(replace(problem, surrogate=replace(surrogate, rest=share * surrogate.rest)), ())
        for share in (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.05)
    ]
    assert energy[0] > 0.0
    assert energy == sorted(energy, reverse=True)
    assert energy[-1] == 0.0  # 26 dB down


def test_a_peak_that_parts_into_two_is_not_more_than_it_was(small):
    # Two arrivals in step, 0.1 ms apart, and then so far apart that a measurement tells them from each other.
    _, problem = small
    surrogate = problem.surrogate
    strong = int(np.argmax(np.where(np.diff(surrogate.spot_start) > 0, problem.state(()).energy, 0.0)))
    start = int(np.searchsorted(surrogate.heard_start, strong, side="right")) - 1
    near = np.array([strong, strong + 1])
    assert surrogate.heard_start[start] <= strong < strong + 1 < surrogate.heard_start[start + 1]
    rest = np.zeros_like(surrogate.rest)
    rest[near] = surrogate.rest[strong] / np.abs(surrogate.rest[strong])
    base = np.ones_like(surrogate.base)
    energies, counts = [], []
    for apart_s in (0.0001, 0.001):
        delay_s = surrogate.delay_s.copy()
        delay_s[strong + 1] = delay_s[strong] + apart_s
        two = replace(surrogate, rest=rest, base=base, delay_s=delay_s, judged=np.ones(len(rest), np.bool_))
        parted = replace(problem, surrogate=two, _seen={})
        counts.append(int((parted.levels_db(()) > 0.0).sum()))
        energies.append(energy_over(parted, ()))
    assert counts[1] > counts[0]
    assert energies[1] < energies[0]


def test_nothing_is_over_where_no_peak_is_and_something_where_one_is(small):
    _, problem = small
    surrogate = problem.surrogate
    touched = np.unique(surrogate.name[np.diff(surrogate.spot_start) > 0])  # by some place for a panel
    assert (problem.levels_db(())[touched] > 0.0).any()
    for unit in range(len(problem.units)):
        over = energy_over(problem, (unit,)) > 0.0
        assert over or (problem.levels_db((unit,))[touched] <= 0.0).all()
        assert not over or (problem.levels_db((unit,)) > 0.0).any()


def test_two_panels_are_not_put_up_where_one_does_nearly_as_much(small):
    _, problem = small
    found = []
    for a, b in combinations(range(len(problem.candidates)), 2):
        units, never_both = ((a, b), (a,), (b,)), ~np.eye(3, dtype=np.bool_)
        posed = replace(problem, units=units, clash=never_both, _seen={})
        least = STOP_SHARE * energy_over(posed, ())
        left = {own: energy_over(posed, own) + least * posed.n_panels(own) for own in ((), (0,), (1,), (2,))}
        may = [own for own in left if not newly_over(posed, (0,), own)]
        found.append(without_idle(posed, (0,)))
        # What differs by a tenth of that share is alike.
        assert left[found[-1]] <= min(left[own] for own in may) + 0.1 * least
    assert {(0,), (1,), (2,)} <= set(found)  # else it shows little


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
