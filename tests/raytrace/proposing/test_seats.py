"""Several seats in one plan: the first one served first, or all at once with their weights."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from raytrace.proposing.choice import excess_by_rank_db
from raytrace.proposing.ladder import choose
from tests.support.places import twelve_places

SOFA = '\n[[seats]]\nname = "sofa"\nears = [3.0, 1.3, 1.0]\n'


@pytest.fixture
def two_seats():
    """The problem of twelve places that help one seat or the other."""
    return replace(twelve_places(SOFA)[1], margin_db=0.0)


def subsets(problem):
    every = range(len(problem.units))
    return [own for n in range(len(every) + 1) for own in combinations(every, n) if problem.may(own)]


def short_db(problem, chosen):
    return excess_by_rank_db(problem, chosen, problem.goals_db)


@pytest.mark.parametrize("seats", [(0, 1), (1, 0)])
@pytest.mark.parametrize("most", [1, 2, 3])
def test_the_first_seat_named_is_served_first_and_then_the_next(two_seats, seats, most):
    bound = replace(two_seats, seats=seats, most_panels=most)
    found = short_db(bound, choose(bound))
    # The first seat's excess is the least of all sets, to the 0.05 dB a panel that are not worth a panel.
    sets = subsets(bound)
    first = min(short_db(bound, own)[0] for own in sets)
    assert found[0] <= first + 0.05 * most
    second = min(short_db(bound, own)[1] for own in sets if short_db(bound, own)[0] <= first + 1e-3)
    assert found[1] <= second + 0.05 * most


def test_the_order_in_which_seats_are_named_decides(two_seats):
    sums = []
    for seats in ((0, 1), (1, 0)):
        bound = replace(two_seats, seats=seats, most_panels=2)
        by_seat = dict(zip(seats, short_db(bound, choose(bound)), strict=True))
        sums.append((by_seat[0], by_seat[1]))
    assert sums[0][0] < sums[1][0]
    assert sums[0][1] > sums[1][1]


@pytest.mark.parametrize("weights", [(1.0, 1.0), (8.0, 1.0), (1.0, 8.0)])
def test_weighted_seats_are_served_together(two_seats, weights):
    bound = replace(two_seats, seats=(0, 1), weights=weights, most_panels=2)
    (found,) = short_db(bound, choose(bound))
    best = min(short_db(bound, own)[0] for own in subsets(bound))
    assert found <= best + 0.1  # 0.05 dB a panel are not worth a panel
    apart = [short_db(replace(bound, seats=(seat,), weights=()), choose(bound))[0] for seat in (0, 1)]
    assert found == pytest.approx(np.dot(weights, apart), abs=1e-9)  # rounding
