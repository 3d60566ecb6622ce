"""Choosing panels by verdicts: the levels of the search held against those of peaks, until both agree."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from raytrace.proposing.choice import LEAST_GAIN_DB, Chosen, Problem, newly_over, score
from raytrace.proposing.ladder import choose, predicted
from raytrace.reflections import Arrivals
from raytrace.scene import Scene
from raytrace.study import Study
from raytrace.verdicts import Peak, find_peaks

Floats = NDArray[np.float64]

_MOST_SLACK_DB = 8.0  # a reflection that makes no peak may be so much over the limit in the search
_MOST_ROUNDS = 2
_MIRROR_DB = 0.3  # of each peak: for less than that a panel is moved to where a mirror shows the speaker
_MOST_TRIED = 3
_SURE_DB = 3.0  # a peak that the search has so much over its goal misses it by any verdict


@dataclass(frozen=True, eq=False)
class Planned:
    """A set of panels and what it is predicted to do.

    Attributes
    ----------
    problem : Problem
        With its goals in levels of the search.
    chosen : tuple of int
        Units.
    arrivals : Arrivals
        As they are predicted, at every node of the head zones.
    peaks : tuple of Peak
        Of these arrivals, in the limit's window.
    """

    problem: Problem
    chosen: Chosen
    arrivals: Arrivals
    peaks: tuple[Peak, ...]

    @cached_property
    def missed_db(self) -> tuple[float, ...]:
        """By how much each peak misses its goal at the seats that count, where it does. [dB]"""
        short = (short_of_goal_db(self.problem, p) for p in self.peaks if p.seat in self.problem.seats)
        return tuple(db for db in short if db > 0.0)

    @property
    def may_gain(self) -> bool:
        """Whether any panel changes part of a peak that misses its goal."""
        surrogate, leader = self.problem.surrogate, self.problem.state(self.chosen).leader
        touched = np.flatnonzero(np.diff(surrogate.spot_start) > 0)
        in_reach = np.isin(leader, leader[touched[leader[touched] >= 0]])
        in_reach[touched] = True
        names = {_facets_alone(surrogate.names[k]) for k in np.unique(surrogate.name[in_reach])}
        own = [peak for peak in self.peaks if peak.seat in self.problem.seats]
        missed = [peak for peak in own if short_of_goal_db(self.problem, peak) > 0.0]
        return any(not names.isdisjoint(_names_of(self.arrivals, peak)) for peak in missed)

    @property
    def short_db(self) -> float:
        """The same, all together. [dB]"""
        return round(sum(self.missed_db), 2)

    @property
    def worth(self) -> tuple[float, int]:
        """That, and how many panels it takes: smaller is better."""
        return self.short_db, self.problem.n_panels(self.chosen)


def choose_by_verdict(scene: Scene, before: Study, problem: Problem) -> Planned:
    """The best set of panels by verdicts on what they are predicted to leave.

    The search adds up reflections that arrive together at a few places of the head zone; a verdict reads
    the curve all over it. What lies between the two is found for the room as it is, and again for what is
    chosen where a peak stays over the limit.

    Parameters
    ----------
    scene, before : Scene, Study
        The room as it is.
    problem : Problem

    Returns
    -------
    Planned
    """
    best = _planned(scene, problem, find_slack_db(problem, before.arrivals, before.peaks, ()))
    for _ in range(_MOST_ROUNDS):
        if best.short_db == 0.0 or not best.chosen or not best.may_gain:
            break
        slack_db = find_slack_db(problem, best.arrivals, best.peaks, best.chosen)
        found = _planned(scene, problem, np.minimum(slack_db, best.problem.goals_db))
        if found.worth >= best.worth:
            break
        best = found
    return best if problem.is_shared else _on_mirror_points(scene, _spared(scene, best))


def _spared(scene: Scene, planned: Planned) -> Planned:
    """The same plan without units that no verdict needs: the search may see a peak where no curve has one."""
    for unit in sorted(planned.chosen, key=lambda k: -k):
        chosen = tuple(k for k in planned.chosen if k != unit)
        surely_db = planned.problem.goals_db + _SURE_DB
        if newly_over(planned.problem, planned.chosen, chosen, surely_db):
            continue
        less = _predicted(scene, planned.problem, chosen)
        added_db = sum(less.missed_db) - sum(planned.missed_db)
        is_needed = len(less.missed_db) > len(planned.missed_db)
        if not is_needed and added_db < LEAST_GAIN_DB * planned.problem.n_panels((unit,)):
            planned = less
    return planned


def _on_mirror_points(scene: Scene, planned: Planned) -> Planned:
    """The same plan with units moved along their surfaces to mirror points, where that costs little."""
    problem = planned.problem
    for unit in planned.chosen:
        chosen = planned.chosen
        rest, missed = tuple(k for k in chosen if k != unit), problem.unheld(chosen)
        others = [k for k, kind in enumerate(problem.kinds) if k != unit and kind == problem.kinds[unit]]
        sets = [tuple(sorted((*rest, k))) for k in others if k not in rest]
        sets = [own for own in sets if problem.unheld(own) < missed and problem.may(own)]
        sets.sort(key=lambda own: (problem.unheld(own), score(problem, own, problem.goals_db)))
        tried = (_predicted(scene, problem, own) for own in sets[:_MOST_TRIED])
        planned = next((found for found in tried if _does_as_well(found, planned)), planned)
    return planned


def _does_as_well(found: Planned, planned: Planned) -> bool:
    """Whether a plan leaves no more peaks too strong than another, nor any of them much stronger."""
    n_over = [sum(peak.over_limit for peak in own.peaks) for own in (found, planned)]
    ours, theirs = (sorted(own.missed_db, reverse=True) for own in (found, planned))
    near = all(a <= b + _MIRROR_DB for a, b in zip(ours, theirs, strict=False))
    return near and len(ours) <= len(theirs) and n_over[0] <= n_over[1]


def _planned(scene: Scene, problem: Problem, slack_db: Floats) -> Planned:
    """The best set for one relation of the search to the verdicts."""
    posed = replace(problem, slack_db=slack_db)
    return _predicted(scene, posed, choose(posed))


def _predicted(scene: Scene, problem: Problem, chosen: Chosen) -> Planned:
    arrivals = predicted(problem, chosen)
    return Planned(problem, chosen, arrivals, find_peaks(scene, arrivals, until_s=scene.limits.within_s))


def short_of_goal_db(problem: Problem, peak: Peak) -> float:
    """By how much a peak misses the margin that it is to keep, negative where it keeps more. [dB]"""
    if peak.verdict == "not judged":
        return -np.inf
    wanted_db = peak.uncertainty_db if problem.margin_db is None else problem.margin_db
    return wanted_db - peak.margin_db


def find_slack_db(problem: Problem, arrivals: Arrivals, peaks: Iterable[Peak], chosen: Chosen) -> Floats:
    """Level of each reflection in the search less what its peak misses its goal by, (n_names,). [dB]

    Parameters
    ----------
    problem : Problem
    arrivals : Arrivals
        What some units make of the room.
    peaks : iterable of Peak
        Those of these arrivals.
    chosen : tuple of int
        The units.
    """
    level_db: dict[tuple[int, ...], float] = {}
    for peak in peaks:
        if peak.verdict == "not judged":
            continue
        for name in _names_of(arrivals, peak):
            level_db[name] = max(short_of_goal_db(problem, peak), level_db.get(name, -np.inf))
    names = [_facets_alone(name) for name in problem.surrogate.names]
    judged_db = np.array([level_db.get(name, -np.inf) for name in names])
    searched_db = problem.levels_db(chosen)
    slack_db = np.zeros(len(names))
    heard = np.isfinite(searched_db)
    slack_db[heard] = searched_db[heard] - judged_db[heard]
    return np.clip(slack_db, -_MOST_SLACK_DB, _MOST_SLACK_DB)


def _names_of(arrivals: Arrivals, peak: Peak) -> list[tuple[int, ...]]:
    """Speaker, seat and facets of all reflections that make a peak."""
    assert arrivals.near_misses is not None
    ways = [peak.facets, *(tuple(arrivals.path_facets[row].tolist()) for row in peak.arrivals)]
    ways += [tuple(arrivals.near_misses.path_facets[row].tolist()) for row in peak.near_misses]
    return [(peak.speaker, peak.seat, *(facet for facet in way if facet >= 0)) for way in ways]


def _facets_alone(name: tuple[int, ...]) -> tuple[int, ...]:
    """The name of a reflection in the search as `_names_of` has it."""
    return tuple(k for i, k in enumerate(name) if i < 2 or k >= 0)
