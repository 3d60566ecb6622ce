"""How far margins move when measured lengths are off: the whole run again with each of them off."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.reflections import ZONE_SLACK_S, Arrivals, Progress, find_arrivals
from raytrace.room import build_room
from raytrace.scene import Scene, SceneError
from raytrace.study import Study
from raytrace.surveying.numbers import SurveyNumber, with_numbers
from raytrace.verdicts import Peak, find_peaks, verdict_on

Floats = NDArray[np.float64]

NEAR_DB = 6.0
"""A larger margin keeps its verdict: it moves with what appears at some places, not across the limit."""
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
        peak or room then.
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
    study: Study, numbers: Sequence[SurveyNumber], *, progress: Progress | None = None
) -> tuple[PeakErrors, ...]:
    """Errors of the margins of all peaks that are judged, in their order.

    Each number is taken one standard error less and more, and everything in the limit's window is found
    and judged anew.

    Parameters
    ----------
    study : Study
    numbers : sequence of SurveyNumber
        From `survey_numbers`.
    progress : callable, optional
        Called with a text and the share done (0 to 1).
    """
    judged = [k for k, peak in enumerate(study.peaks) if peak.verdict != "not judged"]
    changes_db = np.full((len(judged), len(numbers), 2), np.nan)
    for j, number in enumerate(numbers):
        if progress:
            progress(f"with another {number.what}", j / len(numbers))
        for side, step_m in enumerate((-number.error_m, number.error_m)):
            scene = with_numbers(study.scene, {number.key: number.value_m + step_m})
            found = _judged(scene)
            if found is None:
                continue
            for i, k in enumerate(judged):
                own = study.peaks[k]
                other = _same_peak(own, *found)
                if other is not None:
                    changes_db[i, j, side] = other.margin_db - own.margin_db
    return tuple(_errors(study, k, own) for k, own in zip(judged, changes_db, strict=True))


def _errors(study: Study, k: int, changes_db: Floats) -> PeakErrors:
    peak = study.peaks[k]
    survey_db = float(np.linalg.norm(number_errors_db(changes_db)))
    other_db = float(np.sqrt(max(peak.uncertainty_db**2 - peak.survey_db**2, 0.0)))
    verdict = peak.verdict
    if abs(peak.margin_db) <= NEAR_DB:
        verdict = verdict_on(peak.margin_db, float(np.hypot(survey_db, other_db)))
    return PeakErrors(k, changes_db, survey_db, other_db, verdict)


def _judged(scene: Scene) -> tuple[Arrivals, tuple[Peak, ...]] | None:
    """What is heard and judged of a scene in the limit's window; None where it cannot be."""
    try:
        room = build_room(scene)
    except SceneError:
        return None
    within_s = scene.limits.within_s
    arrivals = find_arrivals(scene, room, within_s=within_s + ZONE_SLACK_S)
    peaks = find_peaks(scene, arrivals, until_s=within_s)
    return arrivals, tuple(peak for peak in peaks if peak.verdict != "not judged")


def _same_peak(own: Peak, arrivals: Arrivals, peaks: Sequence[Peak]) -> Peak | None:
    """The peak that a reflection makes in another run: by the faces it meets, else by its delay."""
    there = [peak for peak in peaks if (peak.speaker, peak.seat) == (own.speaker, own.seat)]
    for peak in there:
        if peak.facets == own.facets:
            return peak
    for peak in there:
        ways = (tuple(f for f in arrivals.path_facets[row].tolist() if f >= 0) for row in peak.arrivals)
        if own.facets in ways:
            return peak
    nearest = min(there, key=lambda peak: abs(peak.delay_s - own.delay_s), default=None)
    return None if nearest is None or abs(nearest.delay_s - own.delay_s) > _SAME_S else nearest
