"""The best set of panels, and what a few panels bring: the ladder and where to stop on it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from raytrace.choice import SPARE_DB, Chosen, Problem, excess_db, grow, refine, score
from raytrace.criteria import find_peaks, judge
from raytrace.leftright import compare_left_right
from raytrace.mixedinteger import best_set
from raytrace.scene import Scene
from raytrace.study import Study

LADDER = (2, 4, 6, 8)
STOP_DB = 0.5  # a step of the ladder that takes less off all peaks together brings little
ALLOWANCE_DB = 0.5  # above the least that panels can do for a peak they do not bring below the limit
_MOST_ROUNDS = 3


@dataclass(frozen=True)
class Step:
    """What the best set of so many panels brings, as predicted.

    Attributes
    ----------
    n_panels : int
    panels : tuple of str
        Surfaces they are there for, each with how many.
    n_over : int
        Peaks over the limit at all seats.
    worst_margin_db, excess_db : float
        Smallest margin; by how much all peaks together exceed the limit.
    left_right_db : float
        Left less right, 0.3-15 ms; NaN where there are no two sides.
    cost : float
        Price of what must be bought; NaN without a price.
    """

    n_panels: int
    panels: tuple[str, ...]
    n_over: int
    worst_margin_db: float
    excess_db: float
    left_right_db: float
    cost: float


def choose(problem: Problem) -> Chosen:
    """The units to put up: fewest panels, every peak below the limit or nearly as low as it can be.

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    tuple of int
    """
    limit = np.full(problem.surrogate.n_names, -SPARE_DB)
    lowest = refine(problem, grow(problem), limit, thorough=False)
    about: Chosen = ()
    for _ in range(2):
        found = best_set(problem, about, limit)
        if found is None or not problem.may(found):
            break
        found = refine(problem, found, limit, thorough=False)
        if excess_db(problem.levels_db(found), limit) > excess_db(problem.levels_db(lowest), limit) - 0.01:
            break
        about = lowest = found
    if problem.most_panels is not None or problem.budget is not None:
        return lowest if lowest == () else refine(problem, lowest, limit)
    levels = problem.levels_db(lowest)
    targets = np.where(levels > limit, levels + ALLOWANCE_DB, limit)
    best = refine(problem, lowest, targets)
    for _ in range(_MOST_ROUNDS):
        found = best_set(problem, best, targets)
        if found is None or not problem.may(found):
            break
        found = refine(problem, found, targets)
        if score(problem, found, targets) >= score(problem, best, targets):
            break
        best = found
    return best


def find_ladder(scene: Scene, before: Study, problem: Problem, chosen: Chosen) -> tuple[Step, ...]:
    """What no panels, the best two, four, six and eight, and a chosen set bring.

    Parameters
    ----------
    scene, before : Scene, Study
        The room as it is.
    problem : Problem
    chosen : tuple of int
        Units; nothing larger is looked at.

    Returns
    -------
    tuple of Step
        The chosen set last.
    """
    n_chosen = problem.n_panels(chosen)
    steps = [_step(scene, before, problem, ())]
    for count in LADDER:
        if count >= n_chosen:
            break
        fewer = replace(problem, most_panels=count)
        last = refine(fewer, grow(fewer), -SPARE_DB, thorough=False)
        steps.append(_step(scene, before, problem, last))
    return (*steps, _step(scene, before, problem, chosen)) if n_chosen else tuple(steps)


def _step(scene: Scene, before: Study, problem: Problem, chosen: Chosen) -> Step:
    arrivals = problem.surrogate.predicted(problem.state(chosen))
    verdicts = judge(scene, arrivals, find_peaks(scene, arrivals))
    levels = problem.levels_db(chosen)
    sides = compare_left_right(scene, arrivals)
    counts: dict[str, int] = {}
    for k in problem.panels(chosen):
        surface = before.room.surfaces[problem.candidates[k].surface].name
        counts[surface] = counts.get(surface, 0) + 1
    return Step(
        n_panels=problem.n_panels(chosen),
        panels=tuple(f"{count} x {surface}" for surface, count in counts.items()),
        n_over=sum(verdict.n_over for verdict in verdicts),
        worst_margin_db=-float(levels.max(initial=-np.inf)),
        excess_db=excess_db(levels, 0.0),
        left_right_db=np.nan if sides is None else sides.difference_db,
        cost=priced_cost(problem, chosen),
    )


def find_stop(ladder: Sequence[Step]) -> int | None:
    """The step after which the next one brings little: neither a peak fewer over the limit nor half a dB.

    Parameters
    ----------
    ladder : sequence of Step

    Returns
    -------
    int or None
        None where nothing helps at all.
    """
    if len(ladder) < 2:
        return None
    for k in range(1, len(ladder)):
        gain_db = ladder[k - 1].excess_db - ladder[k].excess_db
        if gain_db < STOP_DB and ladder[k].n_over >= ladder[k - 1].n_over:
            return k - 1
    return len(ladder) - 1


def priced_cost(problem: Problem, chosen: Chosen) -> float:
    """Price of what must be bought; NaN where that has none."""
    priced = all(supply.price is not None for supply in problem.supplies if supply.buyable)
    return problem.cost(chosen) if priced else float("nan")
