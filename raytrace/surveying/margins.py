"""How far margins move when measured lengths are off: the run again with each of them off, on all cores."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from raytrace.reflections import Progress
from raytrace.scene import Scene, SceneError, load_scene
from raytrace.spreading import Crew, Hands
from raytrace.study import Follower, Study
from raytrace.surveying.numbers import SurveyNumber, survey_numbers
from raytrace.verdicts import Peak, verdict_on

Floats = NDArray[np.float64]

NEAR_DB = 6.0
"""A larger margin keeps its verdict: it moves with what appears at some places, not across the limit."""
# Margins that move by less with a number do so alike to both sides: in an irregular room of 35 numbers that
# leaves a peak's error right within 0.06 dB, at 0.3 dB it would be 0.18.
_STRAIGHT_DB = 0.2
_SAME_S = 0.0003  # a peak whose strongest reflection has changed is the one that is nearest, within this


@dataclass(frozen=True)
class PeakErrors:
    """How far the margin of one peak may be off.

    Attributes
    ----------
    peak : int
        Row of `Study.peaks`.
    changes_db : (n_numbers, 2) float
        Change of its margin with each number one standard error less and more; NaN where there is no such
        peak or room then. Where more of a number moves no margin near the limit by 0.2 dB, less of it is
        taken to do the opposite.
    survey_db : float
        Standard error of the margin for the survey as a whole.
    other_db : float
        What else it may be off by: the model, the number of places.
    verdict : str
        With both, as `Peak.verdict`.
    """

    peak: int
    changes_db: Floats
    survey_db: float
    other_db: float
    verdict: str

    @property
    def errors_db(self) -> Floats:
        """Part of each number in it, (n_numbers,)."""
        return number_errors_db(self.changes_db)


def number_errors_db(changes_db: Floats) -> Floats:
    """Root mean square of the changes with a number less and more, 0 where neither is known, (n_numbers,)."""
    known = np.isfinite(changes_db)
    total = np.where(known, changes_db, 0.0) ** 2
    errors: Floats = np.sqrt(total.sum(axis=1) / np.maximum(known.sum(axis=1), 1))
    return errors


def find_peak_errors(
    study: Study,
    numbers: Sequence[SurveyNumber],
    *,
    progress: Progress | None = None,
    hands: Hands | None = None,
) -> tuple[PeakErrors, ...]:
    """Errors of the margins of all peaks that are judged, in their order.

    Each number is taken one standard error more, and less where that matters, and everything in the limit's
    window is found and judged anew.

    Parameters
    ----------
    study : Study
    numbers : sequence of SurveyNumber
        From `survey_numbers`.
    progress : callable, optional
        Called with a text and the share done (0 to 1).
    hands : Hands, optional
        Who does it; this process alone where nobody is named.
    """
    judged = [k for k, peak in enumerate(study.peaks) if peak.verdict != "not judged"]
    changes_db = np.full((len(judged), len(numbers), 2), np.nan)
    near = [abs(study.peaks[k].margin_db) <= NEAR_DB for k in judged]
    text, path = study.scene.text, str(study.scene.path)
    task = {"text": text, "path": path, "up_to_order": study.arrivals.reach.early_order}
    tell = progress or (lambda _text, _share: None)
    with Crew(Hands() if hands is None else hands) as crew:

        def run(told: str, asked: Sequence[tuple[int, float]]) -> list[list[float]]:
            tasks = [{**task, "number": j, "by_m": by_m} for j, by_m in asked]
            found = crew.spread(judge_shifted, [{**task, "number": None}, *tasks], progress=tell, told=told)
            return _changes_db([study.peaks[k] for k in judged], found)

        more = run("lengths taken longer", [(j, own.error_m) for j, own in enumerate(numbers)])
        changes_db[:, :, 1] = np.array(more).reshape(len(numbers), len(judged)).T
        changes_db[:, :, 0] = -changes_db[:, :, 1]
        straight = (np.abs(changes_db[near, :, 1]) < _STRAIGHT_DB).all(axis=0)
        bent = [j for j, own in enumerate(straight.tolist()) if not own]
        less = run("lengths taken shorter", [(j, -numbers[j].error_m) for j in bent])
        changes_db[:, bent, 0] = np.array(less).reshape(len(bent), len(judged)).T
    return tuple(_errors(study, k, own) for k, own in zip(judged, changes_db, strict=True))


@lru_cache(maxsize=1)
def _followed(path: str, text: str) -> tuple[Scene, tuple[SurveyNumber, ...], Follower]:
    """A scene with its numbers, and what was heard in it before."""
    scene = load_scene(Path(path), text)
    return scene, survey_numbers(scene), Follower()


def judge_shifted(task: dict[str, Any]) -> dict[str, Any]:
    """Peaks of a scene with one number off, as plain data: what other processes can be asked.

    Parameters
    ----------
    task : dict
        "path" and "text" of the scene; "number", or None for none; "by_m", how far it is off [m];
        "up_to_order", the largest number of bounces.
    """
    scene, numbers, follower = _followed(task["path"], task["text"])
    if task["number"] is not None:
        scene = numbers[task["number"]].shifted(scene, task["by_m"])
    try:
        arrivals, peaks = follower.judged(scene, up_to_order=task["up_to_order"])
    except SceneError:
        return {"peaks": None}
    assert arrivals.near_misses is not None
    ways, missed = (
        [[f for f in own if f >= 0] for own in table.path_facets.tolist()]
        for table in (arrivals, arrivals.near_misses)
    )
    return {
        "peaks": [
            {
                "speaker": peak.speaker,
                "seat": peak.seat,
                "facets": [int(f) for f in peak.facets],
                "ways": [ways[row] for row in peak.arrivals] + [missed[row] for row in peak.near_misses],
                "delay_s": float(peak.delay_s),
                "margin_db": float(peak.margin_db),
            }
            for peak in peaks
            if peak.verdict != "not judged"
        ]
    }


def _changes_db(judged: Sequence[Peak], found: Sequence[dict[str, Any]]) -> list[list[float]]:
    """Change of each judged peak in each run after the first, against that one."""

    def margins_db(run: dict[str, Any]) -> list[float]:
        same = same_peaks(judged, run["peaks"] or ())
        return [math.nan if other is None else other["margin_db"] for other in same]

    drawn = margins_db(found[0])
    return [[b - a for a, b in zip(drawn, margins_db(run), strict=True)] for run in found[1:]]


def _errors(study: Study, k: int, changes_db: Floats) -> PeakErrors:
    peak = study.peaks[k]
    survey_db = float(np.linalg.norm(number_errors_db(changes_db)))
    other_db = float(np.sqrt(max(peak.uncertainty_db**2 - peak.survey_db**2, 0.0)))
    verdict = peak.verdict
    if abs(peak.margin_db) <= NEAR_DB:
        verdict = verdict_on(peak.margin_db, float(np.hypot(survey_db, other_db)))
    return PeakErrors(k, changes_db, survey_db, other_db, verdict)


def same_peaks(judged: Sequence[Peak], peaks: Sequence[dict[str, Any]]) -> list[dict[str, Any] | None]:
    """Each judged peak in another run: by the faces that its reflection meets, else by its delay.

    What one of them has by its faces is not another's because it comes near it in time.
    """
    by_faces = [_by_faces(own, peaks) for own in judged]
    taken = {id(found) for found in by_faces if found is not None}
    rest = [peak for peak in peaks if id(peak) not in taken]
    return [
        _by_delay(own, rest) if found is None else found for own, found in zip(judged, by_faces, strict=True)
    ]


def _by_faces(own: Peak, peaks: Sequence[dict[str, Any]]) -> dict[str, Any] | None:
    there, facets = _of_place(own, peaks), [int(f) for f in own.facets]
    first = (peak for peak in there if peak["facets"] == facets)
    return next(first, next((peak for peak in there if facets in peak["ways"]), None))


def _by_delay(own: Peak, peaks: Sequence[dict[str, Any]]) -> dict[str, Any] | None:
    there = _of_place(own, peaks)
    nearest = min(there, key=lambda peak: abs(peak["delay_s"] - own.delay_s), default=None)
    return None if nearest is None or abs(nearest["delay_s"] - own.delay_s) > _SAME_S else nearest


def _of_place(own: Peak, peaks: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Peaks of the same speaker at the same seat."""
    return [peak for peak in peaks if (peak["speaker"], peak["seat"]) == (own.speaker, own.seat)]
