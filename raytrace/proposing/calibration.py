"""Choosing panels by verdicts: the levels of the search held against those of peaks, until both agree."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from raytrace.proposing.choice import LEAST_GAIN_DB, Chosen, Problem
from raytrace.proposing.ladder import choose, predicted
from raytrace.reflections import Arrivals
from raytrace.scene import Scene
from raytrace.study import Study
from raytrace.verdicts import Peak, find_peaks

Floats = NDArray[np.float64]

_MOST_SLACK_DB = 8.0  # a reflection that makes no peak may be so much over the limit in the search
_MOST_ROUNDS = 2


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
        Of these arrivals.
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
        if best.short_db == 0.0 or not best.chosen:
            break
        slack_db = find_slack_db(problem, best.arrivals, best.peaks, best.chosen)
        found = _planned(scene, problem, np.minimum(slack_db, best.problem.goals_db))
        if found.worth >= best.worth:
            break
        best = found
    return best if problem.is_shared else _spared(scene, best)


def _spared(scene: Scene, planned: Planned) -> Planned:
    """The same plan without units that no verdict needs: the search may see a peak where no curve has one."""
    for unit in sorted(planned.chosen, key=lambda k: -k):
        chosen = tuple(k for k in planned.chosen if k != unit)
        less = _predicted(scene, planned.problem, chosen)
        added_db = sum(less.missed_db) - sum(planned.missed_db)
        is_needed = len(less.missed_db) > len(planned.missed_db)
        if not is_needed and added_db < LEAST_GAIN_DB * planned.problem.n_panels((unit,)):
            planned = less
    return planned


def _planned(scene: Scene, problem: Problem, slack_db: Floats) -> Planned:
    """The best set for one relation of the search to the verdicts."""
    posed = replace(problem, slack_db=slack_db)
    return _predicted(scene, posed, choose(posed))


def _predicted(scene: Scene, problem: Problem, chosen: Chosen) -> Planned:
    arrivals = predicted(problem, chosen)
    return Planned(problem, chosen, arrivals, find_peaks(scene, arrivals))


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
        assert arrivals.near_misses is not None
        ways = [peak.facets, *(tuple(arrivals.path_facets[row].tolist()) for row in peak.arrivals)]
        ways += [tuple(arrivals.near_misses.path_facets[row].tolist()) for row in peak.near_misses]
        for way in ways:
            name = (peak.speaker, peak.seat, *(facet for facet in way if facet >= 0))
            level_db[name] = max(short_of_goal_db(problem, peak), level_db.get(name, -np.inf))
    names = [tuple(k for i, k in enumerate(name) if i < 2 or k >= 0) for name in problem.surrogate.names]
    judged_db = np.array([level_db.get(name, -np.inf) for name in names])
    searched_db = problem.levels_db(chosen)
    slack_db = np.zeros(len(names))
    heard = np.isfinite(searched_db)
    slack_db[heard] = searched_db[heard] - judged_db[heard]
    return np.clip(slack_db, -_MOST_SLACK_DB, _MOST_SLACK_DB)
