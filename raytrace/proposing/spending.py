"""Spending what the fewest panels leave over: goal after goal, each step with what it brings."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Sentence, sentence
from raytrace.proposing.choice import Chosen, Problem, excess_by_rank_db
from raytrace.proposing.goals import LEAST, ORDER, TARGETS, Goal, Outlook

Floats = NDArray[np.float64]

# What later panels may take back of a goal that earlier ones are for: as coarse as figures are told.
_GIVEN_BACK = {
    Goal.LEFT_RIGHT: 0.1,
    Goal.MARGIN: 0.1,
    Goal.DECAY: 0.001,
    Goal.FLUTTER: 0.01,
    Goal.BACK_WALL: 0.1,
}
_MOST_SWEEPS = 4


@dataclass(frozen=True)
class SpentStep:
    """What panels that are put up for one goal bring.

    Attributes
    ----------
    goal : Goal
    n_panels : int
        Put up for it, 0 for none.
    where : tuple of str
        Surfaces they are on, each with how many.
    cost : float
        Price of what must be bought for it; NaN without a price.
    before, after : float
        The goal's figure with all panels of the steps before, and as predicted with those of this step
        too; smaller is better, NaN where it has none. Early reflections: by how much peaks miss what is
        planned for, all together [dB]; left against right [dB]; room below the limit: by how much peaks are
        nearer than they need be [dB]; decay outside its range, mean of 250 Hz to 4 kHz [s]; flutter: pairs
        of surfaces, each by how far it is from not doing so; back wall: its strongest reflection re direct
        [dB].
    proven : float
        The same figure by the full run with all panels up.
    target : float
        From which figure on no more panels are put up for it.
    reason : Sentence
        Why no more of them are.
    """

    goal: Goal
    n_panels: int
    where: tuple[str, ...]
    cost: float
    before: float
    after: float
    proven: float
    target: float
    reason: Sentence


@dataclass(frozen=True, eq=False)
class Spending:
    """What became of a budget or a number of panels that was to be spent well.

    Attributes
    ----------
    steps : tuple of SpentStep
        In the order of practice, the fewest panels first.
    money_left : float
        NaN where no budget was given.
    panels_left : int or None
        None where no number of panels was given.
    reason : Sentence
        Why no more is spent.
    decay_s : tuple of (8,) float
        Per octave band, traced, the mean over the main speakers: with the fewest panels, with all. [s]
    target_s : tuple of (8,) float
        The least and the most that is tolerated. [s]
    """

    steps: tuple[SpentStep, ...]
    money_left: float
    panels_left: int | None
    reason: Sentence
    decay_s: tuple[Floats, Floats]
    target_s: tuple[Floats, Floats]


@dataclass(frozen=True)
class Taken:
    """Units that are put up for one goal, the figure before and after, and why no more are."""

    goal: Goal
    units: Chosen
    before: float
    after: float
    reason: Sentence


Worth = tuple[float, float, int, float, float]


def spend(outlook: Outlook) -> tuple[Taken, ...]:
    """Units for each goal in turn, until nothing is left to gain, to pay or to put up.

    Parameters
    ----------
    outlook : Outlook
        Its problem is bounded by what the fewest panels left over.
    """
    chosen: Chosen = ()
    steps: list[Taken] = []
    for goal in ORDER:
        before = outlook.figure(goal, chosen)
        found = spend_on(outlook, goal, chosen)
        after = outlook.figure(goal, found)
        units = tuple(k for k in found if k not in chosen)
        steps.append(Taken(goal, units, before, after, _why_enough(outlook, goal, found)))
        chosen = found
    return tuple(steps)


def spend_on(outlook: Outlook, goal: Goal, chosen: Chosen) -> Chosen:
    """The same units and those that are worth putting up for one goal.

    Each takes at least `LEAST` of the goal's figure off, panel by panel, and neither brings early
    reflections over the limit again nor takes back what was done for earlier goals: of all sets that do,
    the one that leaves the least, a panel weighing as much as it must bring; then the cheapest.

    Parameters
    ----------
    outlook : Outlook
    goal : Goal
    chosen : tuple of int
        Units that are up already and stay.
    """
    if outlook.miss(goal, chosen) == 0.0:
        return chosen
    keep = _Kept.of(outlook, goal, chosen)
    starts = [_improved(outlook, goal, keep, by_price=by_price) for by_price in (False, True)]
    return min(starts, key=lambda own: (worth(outlook, goal, own), own))


def _improved(outlook: Outlook, goal: Goal, keep: "_Kept", *, by_price: bool) -> Chosen:
    """Units added by what they bring per panel, or per price, and exchanged as long as that helps."""
    best, best_worth = keep.chosen, worth(outlook, goal, keep.chosen)
    for _ in range(_MOST_SWEEPS):
        before = best_worth
        best, best_worth = _grown(outlook, goal, keep, best, by_price=by_price)
        for changed in _exchanges(outlook.problem, best, keep.chosen):
            added = tuple(k for k in changed if k not in keep.chosen)
            fits = outlook.suits(goal, added) and outlook.problem.may(changed)
            found = worth(outlook, goal, changed) if fits else best_worth
            if found < best_worth and keep.by(changed):
                best, best_worth = changed, found
        if best_worth == before:
            break
    return best


def worth(outlook: Outlook, goal: Goal, chosen: Chosen) -> Worth:
    """What a set is worth for a goal, smaller is better: what it misses and takes, price, spots, effort."""
    problem = outlook.problem
    taken = outlook.miss(goal, chosen) + LEAST[goal] * problem.n_panels(chosen)
    return (
        round(taken, 6),
        round(problem.cost(chosen), 2),
        problem.unheld(chosen),
        problem.missed(chosen),
        round(float(problem.effort_db[list(chosen)].sum()), 3),
    )


def _grown(
    outlook: Outlook, goal: Goal, keep: "_Kept", chosen: Chosen, *, by_price: bool
) -> tuple[Chosen, Worth]:
    """Units added one by one, each the one that gains most per panel or per price."""
    problem, best_worth = outlook.problem, worth(outlook, goal, chosen)
    while True:
        now, found = outlook.miss(goal, chosen), []
        for unit in range(len(problem.units)):
            more = tuple(sorted({*chosen, unit}))
            if unit in chosen or not outlook.suits(goal, (unit,)) or not problem.may(more):
                continue
            own = worth(outlook, goal, more)
            if own < best_worth:
                price = problem.cost(more) - problem.cost(chosen) if by_price else 0.0
                gain = (now - outlook.miss(goal, more)) / (price or float(problem.sizes[unit]))
                found.append((-round(gain, 6), own, more))
        added = next((entry for entry in sorted(found) if keep.by(entry[2])), None)
        if added is None:
            return chosen, best_worth
        _, best_worth, chosen = added


def _exchanges(problem: Problem, chosen: Chosen, kept: Chosen) -> Iterable[Chosen]:
    """Sets with one unit less, with another in its place, with two others, or with one for two."""
    own = [k for k in chosen if k not in kept]
    every = [k for k in range(len(problem.units)) if k not in chosen]
    for unit in own:
        rest = [k for k in chosen if k != unit]
        yield tuple(rest)
        yield from (tuple(sorted((*rest, other))) for other in every)
        if len(every) <= _FEW:
            yield from (tuple(sorted((*rest, a, b))) for i, a in enumerate(every) for b in every[i + 1 :])
    for i, unit in enumerate(own):
        for second in own[i + 1 :]:
            rest = [k for k in chosen if k not in (unit, second)]
            yield from (tuple(sorted((*rest, other))) for other in every)


_FEW = 40  # units up to which two are tried for one: more take minutes


@dataclass(frozen=True)
class _Kept:
    """What later panels must not undo."""

    outlook: Outlook
    chosen: Chosen
    excess_db: tuple[float, ...]
    misses: dict[Goal, float]

    @classmethod
    def of(cls, outlook: Outlook, goal: Goal, chosen: Chosen) -> "_Kept":
        """What there is before anything is put up for a goal."""
        earlier = ORDER[: ORDER.index(goal)]
        excess = excess_by_rank_db(outlook.problem, chosen, outlook.problem.goals_db)
        return cls(outlook, chosen, excess, {own: outlook.miss(own, chosen) for own in earlier})

    def by(self, changed: Chosen) -> bool:
        """Whether a set keeps all of it."""
        problem = self.outlook.problem
        excess = excess_by_rank_db(problem, changed, problem.goals_db)
        is_over = any(new > old + 0.05 for new, old in zip(excess, self.excess_db, strict=True))
        return not is_over and all(
            self.outlook.miss(goal, changed) <= old + _GIVEN_BACK[goal] for goal, old in self.misses.items()
        )


def _why_enough(outlook: Outlook, goal: Goal, chosen: Chosen) -> Sentence:
    """Why no more panels are put up for a goal."""
    figure = outlook.figure(goal, chosen)
    if not np.isfinite(figure):
        return sentence("there is nothing of it in this room")
    if figure <= TARGETS[goal]:
        return sentence("nothing is left to gain")
    end = why_no_more(outlook.problem, chosen, outlook.lone)
    return end or sentence("no panel that could still be put up brings enough")


def why_no_more(problem: Problem, chosen: Chosen, lone: Collection[int] = ()) -> Sentence | None:
    """Why no further panels can be taken whatever they bring; None where some can.

    Parameters
    ----------
    problem : Problem
    chosen : tuple of int
        Units that are put up.
    lone : collection of int
        Units that are not looked at.
    """
    rest = [k for k in range(len(problem.units)) if k not in chosen and k not in lone]
    if not problem.units or any(problem.may((*chosen, unit)) for unit in rest):
        return None
    most, n_panels = problem.most_panels, problem.n_panels(chosen)
    if most is not None and n_panels >= most:
        return sentence("no more than {most} panels were asked for", most=most + problem.n_before)
    fits = [k for k in rest if not problem.clash[k, list(chosen)].any()]
    if not fits:
        return sentence("no place is left for another panel")
    had = [k for k in fits if problem.is_had((*chosen, k))]
    if not had:
        return sentence("the stock is used up")
    counted = [k for k in had if most is None or n_panels + int(problem.sizes[k]) <= most]
    if not counted:
        return sentence(
            "one panel is left of {most}, and only pairs have a place", most=(most or 0) + problem.n_before
        )
    return _unpaid(problem, chosen, counted)


def _unpaid(problem: Problem, chosen: Chosen, units: list[int]) -> Sentence:
    """How much is left of a budget, and what the cheapest that would fit costs."""
    budget = problem.budget or 0.0
    left = budget - problem.cost(chosen)
    cheapest = min(units, key=lambda k: (round(problem.cost((*chosen, k)), 2), k))
    price = problem.cost((*chosen, cheapest)) - problem.cost(chosen)
    what = "panel" if problem.sizes[cheapest] == 1 else "pair" if problem.sizes[cheapest] == 2 else "set"
    if not chosen and problem.spent == 0.0:
        told = "the budget of {budget} buys no {what} that fits: the cheapest costs {price}"
        return sentence(told, budget=f"{budget:.2f}", what=what, price=f"{price:.2f}")
    told = "the budget is spent but for {left}, and the next {what} costs {price}"
    if left < 0.005:
        return sentence("the budget is spent")
    return sentence(told, left=f"{left:.2f}", what=what, price=f"{price:.2f}")


def why_unspent(outlook: Outlook, chosen: Chosen) -> Sentence:
    """Why nothing more is spent after the last goal: the true reason, whichever it is."""
    end = why_no_more(outlook.problem, chosen, outlook.lone)
    if end is not None:
        return end
    missed = [goal.value for goal in ORDER if outlook.miss(goal, chosen) > 0.0]
    if not missed:
        return sentence("nothing is left to gain")
    brings = "no panel at any place that is left brings enough for what is left: {missed}"
    return sentence(brings, missed=", ".join(missed))
