"""Choosing panels by verdicts: the levels of the search held against those of peaks, until both agree."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from raytrace.proposing.choice import Chosen, Problem
from raytrace.proposing.ladder import choose, predicted
from raytrace.reflections import Arrivals
from raytrace.scene import Scene
from raytrace.study import Study
from raytrace.verdicts import Peak, find_peaks

Floats = NDArray[np.float64]

_MOST_SLACK_DB = 8.0  # a reflection that makes no peak may be so much over the limit in the search
_MOST_ROUNDS = 2


def choose_by_verdict(scene: Scene, before: Study, problem: Problem) -> tuple[Problem, Chosen]:
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
    tuple of Problem and tuple of int
        The problem with its goals in levels of the search, and the chosen units.
    """
    posed = replace(problem, slack_db=find_slack_db(problem, before.arrivals, before.peaks, ()))
    chosen = choose(posed)
    best = (*_worth(scene, before, posed, chosen), posed, chosen)
    for _ in range(_MOST_ROUNDS):
        if best[0] == 0.0 or not best[-1]:
            break
        arrivals = predicted(scene, before, posed, chosen)
        slack_db = find_slack_db(problem, arrivals, find_peaks(scene, arrivals), chosen)
        posed = replace(problem, slack_db=np.minimum(slack_db, posed.goals_db))
        chosen = choose(posed)
        found = (*_worth(scene, before, posed, chosen), posed, chosen)
        if found[:2] >= best[:2]:
            break
        best = found
    return best[2], best[3]


def _worth(scene: Scene, before: Study, problem: Problem, chosen: Chosen) -> tuple[float, int]:
    """By how much peaks stay over the limit at the seats that count, and how many panels it takes."""
    peaks = find_peaks(scene, predicted(scene, before, problem, chosen))
    short_db = [short_of_goal_db(problem, p) for p in peaks if p.seat in problem.seats]
    return round(sum(max(short, 0.0) for short in short_db), 2), problem.n_panels(chosen)


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
