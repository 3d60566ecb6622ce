"""Panels beyond the fewest: what is put up with the rest of a budget, in the room with the fewest."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from raytrace.decay import find_decay
from raytrace.facts import Sentence, sentence
from raytrace.proposing.calibration import find_slack_db, short_of_goal_db
from raytrace.proposing.candidates import Candidate, find_candidates
from raytrace.proposing.choice import Chosen, Problem, hung_depth, pose
from raytrace.proposing.furtherspots import bare_spots, further_spots
from raytrace.proposing.goals import (
    LATEST_S,
    TARGETS,
    Goal,
    Outlook,
    look_ahead,
    mean_decay_s,
    near_limit_db,
    proven_figures,
)
from raytrace.proposing.ladder import predicted, priced_cost, where
from raytrace.proposing.panelgrid import listening_axis, mirror_surfaces
from raytrace.proposing.spending import Spending, SpentStep, Taken, spend, why_unspent
from raytrace.proposing.surrogate import Extent, build_surrogate
from raytrace.proposing.wishes import PanelWish, as_wished, find_supplies, in_pairs
from raytrace.proposing.words import Answer, Purpose, find_answers
from raytrace.reflections import Arrivals
from raytrace.room import Room, may_drill
from raytrace.scene import Scene
from raytrace.study import Study
from raytrace.verdicts import Peak, find_peaks

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Further:
    """What is put up beyond the fewest panels.

    Attributes
    ----------
    outlook : Outlook
        Of the room with the fewest.
    taken : tuple of Taken
        Goal after goal.
    reason : Sentence
        Why no more is.
    """

    outlook: Outlook
    taken: tuple[Taken, ...]
    reason: Sentence

    @property
    def chosen(self) -> Chosen:
        """Units that are put up, of all goals."""
        return tuple(sorted(k for step in self.taken for k in step.units))

    @property
    def panels(self) -> tuple[Candidate, ...]:
        """Candidates that are put up."""
        return tuple(self.problem.candidates[k] for k in self.problem.panels(self.chosen))

    @property
    def problem(self) -> Problem:
        """What could be put up beyond the fewest."""
        return self.outlook.problem

    @property
    def answers(self) -> tuple[Answer | Purpose, ...]:
        """What each of them is there for."""
        study, problem = self.outlook.study, self.problem
        met = find_answers(study.scene, study, problem, self.chosen)
        goals = {k: step.goal for step in self.taken for unit in step.units for k in problem.units[unit]}
        return tuple(
            met[k] if goals[k] is Goal.MARGIN else Purpose(goals[k]) for k in problem.panels(self.chosen)
        )

    def foreseen(self) -> Arrivals:
        """What is predicted of the arrivals with them."""
        return predicted(self.problem, self.chosen)


def find_further(study: Study, wish: PanelWish, first: Problem, chosen: Chosen) -> Further:
    """Panels for all that the fewest leave over of a budget or a number.

    Parameters
    ----------
    study : Study
        Of the room with the fewest.
    wish : PanelWish
    first : Problem
        From which the fewest were chosen.
    chosen : tuple of int
        Its units that are up.
    """
    scene, room, seats = study.scene, study.room, first.seats
    supplies, axis_m = find_supplies(scene, wish), listening_axis(scene, seats[0])
    candidates, _ = find_candidates(
        scene,
        room,
        further_spots(study, seats),
        [supply.build for supply in supplies],
        axis_m=axis_m,
        others=bare_spots(study),
    )
    candidates = _sensible(scene, room, candidates, [first.candidates[k] for k in first.panels(chosen)])
    extent = Extent(until_s=LATEST_S)
    surrogate = build_surrogate(scene, room, study.arrivals, candidates, seats, extent=extent)
    problem = pose(surrogate, candidates, supplies, symmetric=in_pairs(scene, wish, seats))
    problem = _with_rest(as_wished(problem, wish, seats), first, chosen)
    slack_db = find_slack_db(problem, study.arrivals, study.peaks, ())
    paired = mirror_surfaces(room, axis_m) if problem.is_symmetric else ()
    outlook = look_ahead(study, replace(problem, slack_db=slack_db), seats[0], paired=paired)
    taken = spend(outlook)
    every = tuple(sorted(k for step in taken for k in step.units))
    return Further(outlook, taken, why_unspent(outlook, every))


def _sensible(
    scene: Scene, room: Room, candidates: Sequence[Candidate], present: Sequence[Candidate]
) -> tuple[Candidate, ...]:
    """Candidates that hang as deep as what is proposed under the same ceiling already, renumbered.

    Nothing stands on the floor before a wall that may be drilled.
    """
    depths = {depth[0]: depth for c in present if (depth := hung_depth(c)) is not None}
    kept = [
        k
        for k, c in enumerate(candidates)
        if (depth := hung_depth(c)) is None or depths.get(depth[0], depth) == depth
        if c.panel.kind != "stand" or not may_drill(scene, room.surfaces[c.surface])
    ]
    index = {k: i for i, k in enumerate(kept)}
    return tuple(replace(candidates[k], mirror=index.get(candidates[k].mirror, -1)) for k in kept)


def _with_rest(problem: Problem, first: Problem, chosen: Chosen) -> Problem:
    """A problem bounded by what the fewest panels leave over."""
    n_panels, cost = first.n_panels(chosen), first.cost(chosen)
    most, budget = problem.most_panels, problem.budget
    return replace(
        problem,
        most_panels=None if most is None else most - n_panels,
        budget=None if budget is None else budget - cost,
        n_before=n_panels,
        spent=cost,
    )


def find_spending(further: Further, before: Study, after: Study, first: Problem, chosen: Chosen) -> Spending:
    """What became of a budget: each step as predicted, and as the full run proves it.

    Parameters
    ----------
    further : Further
    before, after : Study
        The room as it was, and with all panels.
    first : Problem
        From which the fewest were chosen.
    chosen : tuple of int
        Its units that are up.
    """
    outlook, problem = further.outlook, further.problem
    decays = find_decay(after.scene, after.room, after.arrivals) if further.chosen else None
    decay_s = outlook.decay_s if decays is None else mean_decay_s(decays, outlook.seat)
    proven = proven_figures(outlook, after, decay_s)
    missed_db = [_missed_db(first, study.peaks) for study in (before, outlook.study, after)]
    steps = [
        SpentStep(
            goal=Goal.FEWEST,
            n_panels=first.n_panels(chosen),
            where=where(before.room, [first.candidates[k] for k in first.panels(chosen)]),
            cost=priced_cost(first, chosen),
            before=missed_db[0],
            after=missed_db[1],
            proven=missed_db[2],
            target=0.0,
            reason=_why_fewest(missed_db[1]),
        )
    ]
    up: Chosen = ()
    for taken in further.taken:
        steps.append(_step(further, taken, up, proven[taken.goal]))
        up = tuple(sorted((*up, *taken.units)))
    return Spending(
        steps=tuple(steps),
        money_left=np.nan if problem.budget is None else problem.budget - problem.cost(up),
        panels_left=None if problem.most_panels is None else problem.most_panels - problem.n_panels(up),
        reason=further.reason,
        decay_s=(outlook.decay_s, decay_s),
        target_s=(outlook.low_s, outlook.high_s),
    )


def _step(further: Further, taken: Taken, up: Chosen, proven: float) -> SpentStep:
    """What is put up for one goal beyond some units."""
    problem, more = further.problem, tuple(sorted((*up, *taken.units)))
    own = [problem.candidates[k] for k in problem.panels(taken.units)]
    return SpentStep(
        goal=taken.goal,
        n_panels=problem.n_panels(taken.units),
        where=where(further.outlook.study.room, own),
        cost=priced_cost(problem, more) - priced_cost(problem, up),
        before=_told(further, taken, up, taken.before),
        after=_told(further, taken, more, taken.after),
        proven=proven,
        target=TARGETS[taken.goal],
        reason=taken.reason,
    )


def _told(further: Further, taken: Taken, up: Chosen, figure: float) -> float:
    """A goal's figure as it is told: what peaks keep is read off the curve, not off the search."""
    if taken.goal is not Goal.MARGIN:
        return figure
    study, problem = further.outlook.study, further.problem
    peaks = study.peaks
    if up:
        peaks = find_peaks(study.scene, predicted(problem, up), until_s=study.scene.limits.within_s)
    return near_limit_db(problem, peaks)


def _why_fewest(missed_db: float) -> Sentence:
    if missed_db == 0.0:
        return sentence("every peak keeps what is planned for")
    return sentence("more panels take too little off what is left")


def _missed_db(problem: Problem, peaks: Sequence[Peak]) -> float:
    """By how much peaks miss their goals at the seats that count, all together. [dB]"""
    return float(sum(max(short_of_goal_db(problem, p), 0.0) for p in peaks if p.seat in problem.seats))
