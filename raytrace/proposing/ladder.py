"""The best set of panels, and what a few panels bring: the ladder and where to stop on it."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from raytrace.proposing.candidates import Candidate
from raytrace.proposing.choice import (
    Chosen,
    Problem,
    excess_by_rank_db,
    grow,
    newly_over,
    pruned,
    refine,
    score,
)
from raytrace.proposing.mixedinteger import best_set
from raytrace.proposing.surrogate import predict
from raytrace.reflections import Arrivals
from raytrace.room import Room
from raytrace.scene import Scene
from raytrace.study import Study
from raytrace.verdicts import LeftRight, Peak, compare_left_right, find_peaks

LADDER = (2, 4, 6, 8)
STOP_SHARE = 0.03  # a step of the ladder that takes less of what is too strong today brings little
ALLOWANCE_DB = 0.5  # above the least that panels can do for a peak they do not bring below the limit
_MOST_ROUNDS = 3
_ROUNDING = 1e-6


@dataclass(frozen=True)
class Step:
    """What the best set of so many panels brings, as predicted; of the last step as proven.

    Attributes
    ----------
    n_panels : int
    panels : tuple of str
        Surfaces they are there for, each with how many.
    n_over, n_undecided : int
        Peaks over the limit at the seats that count, and those too near it to say.
    worst_margin_db, excess_db : float
        Smallest margin there, inf without a peak; by how much all peaks together exceed the limit.
    left : float
        What is left of today's energy over the limit that panels can reach, 1 for all of it.
    left_right_db : float
        Left less right, 0.3-15 ms; NaN where there are no two sides.
    cost : float
        Price of what must be bought; NaN without a price.
    """

    n_panels: int
    panels: tuple[str, ...]
    n_over: int
    n_undecided: int
    worst_margin_db: float
    excess_db: float
    left: float
    left_right_db: float
    cost: float


def choose(problem: Problem) -> Chosen:
    """The units to put up: fewest panels, every peak below the limit or nearly as low as it can be.

    Where a number of panels or a budget bounds the choice, it is the best that they allow, first for the
    seats that count and then, with what is left, for the others.

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    tuple of int
    """
    if problem.most_panels is not None or problem.budget is not None:
        return _within_bounds(problem)
    goals, lowest = problem.goals_db, _lowest(problem)
    levels = problem.levels_db(lowest)
    targets = np.where(levels > goals, levels + ALLOWANCE_DB, goals)
    best = refine(problem, lowest, targets)
    for _ in range(_MOST_ROUNDS):
        found = best_set(problem, best, targets)
        if found is None or not problem.may(found):
            break
        found = refine(problem, found, targets)
        if score(problem, found, targets) >= score(problem, best, targets):
            break
        best = found
    return without_idle(problem, best)


def _lowest(problem: Problem, start: Chosen = ()) -> Chosen:
    """Units that bring peaks as low as can be, whatever it takes."""
    goals = problem.goals_db
    lowest, about = refine(problem, grow(problem, chosen=start), goals, thorough=False), start
    for _ in range(2):
        found = best_set(problem, about, goals)
        if found is None or not problem.may(found):
            break
        found = refine(problem, found, goals, thorough=False)
        if _rounded(problem, found) >= _rounded(problem, lowest):
            break
        about = lowest = found
    return lowest


def _rounded(problem: Problem, chosen: Chosen) -> tuple[float, ...]:
    """Excess to what is worth another look."""
    return tuple(round(excess, 2) for excess in excess_by_rank_db(problem, chosen, problem.goals_db))


def _within_bounds(problem: Problem) -> Chosen:
    """The best that a number of panels or a budget allow: one seat that counts after the other.

    What serves the seats that count stays; the others get what is left.
    """
    chosen: Chosen = ()
    for part in problem.by_rank():
        alone = replace(part, is_shared=False)
        chosen = pruned(alone, refine(alone, _lowest(alone, chosen), alone.goals_db))
    return grow(problem, problem.asides_db, chosen) if problem.is_shared else chosen


def without_idle(problem: Problem, chosen: Chosen) -> Chosen:
    """The same set without panels that take little of what is too strong and bring no peak below the limit.

    Units are left out, or smaller ones taken in their place, one after the other.

    Parameters
    ----------
    problem : Problem
    chosen : tuple of int
        Units.
    """
    least = STOP_SHARE * energy_over(problem, ())

    def left(own: Chosen) -> float:
        return energy_over(problem, own) + least * problem.n_panels(own)

    while True:
        now = left(chosen)
        problem.about(chosen)
        sets = [less for less in _smaller(problem, chosen) if not newly_over(problem, chosen, less)]
        sets = [less for less in sets if left(less) < now - _ROUNDING * least]
        if not sets:
            return chosen
        chosen = min(sets, key=lambda less: (round(left(less) / least, 1), problem.unheld(less), less))


def _smaller(problem: Problem, chosen: Chosen) -> Iterator[Chosen]:
    """Sets with one unit less, or with a smaller one in its place; none that parts a pair."""
    whole = [
        k
        for k, unit in enumerate(problem.units)
        if not problem.is_symmetric or all(problem.candidates[c].mirror >= 0 for c in unit)
    ]
    for unit in chosen:
        rest = tuple(k for k in chosen if k != unit)
        yield rest
        others = (k for k in whole if problem.sizes[k] < problem.sizes[unit] and k not in rest)
        yield from filter(problem.may, (tuple(sorted((*rest, k))) for k in others))


def find_ladder(scene: Scene, before: Study, problem: Problem, chosen: Chosen) -> tuple[Step, ...]:
    """What no panels and the best two, four, six and eight bring, as predicted; only steps that bring more.

    Parameters
    ----------
    scene, before : Scene, Study
        The room as it is.
    problem : Problem
    chosen : tuple of int
        Units: sets that are as large are not looked at.
    """
    n_chosen, goals = problem.n_panels(chosen), problem.goals_db
    sets: list[Chosen] = [()]
    for count in LADDER:
        if count >= n_chosen:
            break
        fewer = replace(problem, most_panels=count, is_shared=False)
        starts = [grow(fewer), grow(fewer, goals, sets[-1])]
        start = min(starts, key=lambda own: score(fewer, own, goals))
        found = refine(fewer, start, goals, thorough=False)
        if energy_over(problem, found) < energy_over(problem, sets[-1]):
            sets.append(found)
    bare = _step(before, problem, (), before.peaks, before.left_right)
    return bare, *(_predicted_step(scene, before, problem, own) for own in sets[1:])


def predicted(problem: Problem, chosen: Chosen) -> Arrivals:
    """What some units are predicted to make of the arrivals, at every node of the head zone."""
    return predict(problem.surrogate, problem.panels(chosen), () if problem.is_shared else problem.seats)


def energy_over(problem: Problem, chosen: Chosen) -> float:
    """Energy over the limit that panels can reach, at the seats that count, added up over their zone points.

    Parameters
    ----------
    problem : Problem
    chosen : tuple of int
        Units that are put up.

    Notes
    -----
    What each peak of the window exceeds the limit by, as energy re direct: nought where the standard is
    kept. Where sound that is taken away parts one peak into two, there are more peaks than before and more
    decibels of excess, but not more energy over the limit: each part has it taken off once more. What no
    place for a panel touches, a peak of the desk's own reflection say, is left out: it would hide what
    panels do.
    """
    surrogate, state = problem.surrogate, problem.state(chosen)
    within_reach = np.zeros(len(state.leader), np.bool_)
    within_reach[state.leader[(np.diff(surrogate.spot_start) > 0) & (state.leader >= 0)]] = True
    counted = surrogate.judged & problem.counts[surrogate.name] & within_reach
    return float(np.maximum(state.peaks - surrogate.limit, 0.0)[counted].sum())


def _predicted_step(scene: Scene, before: Study, problem: Problem, chosen: Chosen) -> Step:
    arrivals = predicted(problem, chosen)
    peaks = find_peaks(scene, arrivals, until_s=scene.limits.within_s)
    return _step(before, problem, chosen, peaks, compare_left_right(scene, arrivals))


def proven_step(before: Study, problem: Problem, chosen: Chosen, after: Study) -> Step:
    """What some units bring by the full run on the room with them."""
    return _step(before, problem, chosen, after.peaks, after.left_right)


def _step(
    before: Study, problem: Problem, chosen: Chosen, peaks: Iterable[Peak], sides: LeftRight | None
) -> Step:
    today = energy_over(problem, ())
    return Step(
        n_panels=problem.n_panels(chosen),
        panels=where(before.room, [problem.candidates[k] for k in problem.panels(chosen)]),
        left=energy_over(problem, chosen) / today if today > 0.0 else 0.0,
        left_right_db=np.nan if sides is None else sides.difference_db,
        cost=priced_cost(problem, chosen),
        **_counts(problem, peaks),
    )


def where(room: Room, panels: Sequence[Candidate]) -> tuple[str, ...]:
    """Surfaces that some panels are there for, each with how many: "2 x left wall"."""
    counts: Counter[str] = Counter()
    for candidate in panels:
        counts[room.surfaces[candidate.surface].name] += candidate.panel.stacked
    return tuple(f"{count} x {surface}" for surface, count in counts.items())


def _counts(problem: Problem, peaks: Iterable[Peak]) -> dict[str, Any]:
    """What a step says of peaks at the seats that count."""
    own = [p for p in peaks if p.verdict != "not judged" and p.seat in problem.seats]
    return {
        "n_over": sum(p.verdict == "over" for p in own),
        "n_undecided": sum(p.verdict == "undecided" for p in own),
        "worst_margin_db": min((p.margin_db for p in own), default=np.inf),
        "excess_db": sum(max(-p.margin_db, 0.0) for p in own),
    }


def find_stop(ladder: Sequence[Step]) -> int | None:
    """The step after which the next one brings little of what is too strong today below the limit.

    A step that brings the last of it there is worth its panels, however small it is.

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
        arrives = ladder[k - 1].worst_margin_db < 0.0 <= ladder[k].worst_margin_db
        if ladder[k - 1].left - ladder[k].left < STOP_SHARE and not arrives:
            return k - 1
    return len(ladder) - 1


def priced_cost(problem: Problem, chosen: Chosen) -> float:
    """Price of what must be bought; NaN where that has none."""
    priced = all(supply.price is not None for supply in problem.supplies if supply.buyable)
    return problem.cost(chosen) if priced else float("nan")
