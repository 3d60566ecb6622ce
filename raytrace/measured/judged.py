"""What a measurement amounts to: its peaks against the limit, and left against right, as measured."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from raytrace.measured.compared import Held, Measurement
from raytrace.measured.responses import Curves
from raytrace.reflections import decibels
from raytrace.verdicts import LEFT_RIGHT_WINDOW_S, LOBE_S, speaker_pair

Verdict = Literal["over", "below", "undecided", "not judged"]

LEVEL_DB = 1.0  # standard error of a measured peak re direct (common practice, no source)


@dataclass(frozen=True)
class MeasuredVerdict:
    """One measurement against the limit.

    Attributes
    ----------
    verdict : str
        "over", "below", "undecided" where the strongest lies within the error of a level, "not judged" where
        noise reaches up to the limit or the file ends in the window.
    n_peaks, n_over : int
        In the limit's window.
    worst_db, worst_s : float
        The strongest and its delay; NaN without any.
    """

    verdict: Verdict
    n_peaks: int
    n_over: int
    worst_db: float
    worst_s: float


@dataclass(frozen=True)
class MeasuredLeftRight:
    """Reflected energy 0.3-15 ms after the direct sound of the two speakers either side of a seat.

    Attributes
    ----------
    left, right, seat : int
        Indices into the scene's lists.
    left_db, right_db, predicted_left_db, predicted_right_db : float
        Re the direct sound's own energy, in the limit's band, of measured and predicted curves alike.
    """

    left: int
    right: int
    seat: int
    left_db: float
    right_db: float
    predicted_left_db: float
    predicted_right_db: float

    @property
    def difference_db(self) -> float:
        """Left less right, as measured."""
        return self.left_db - self.right_db

    @property
    def predicted_difference_db(self) -> float:
        """Left less right, as predicted."""
        return self.predicted_left_db - self.predicted_right_db


def judge_measured(held: Held, heard: Measurement) -> MeasuredVerdict:
    """A measurement's peaks against the scene's limit: what the curve shows at the microphone's place."""
    limits = held.scene.limits
    peaks = [own.peak for own in heard.peaks if own.peak.delay_s <= limits.within_s]
    worst = max(peaks, key=lambda peak: peak.level_db, default=None)
    worst_db = -np.inf if worst is None else worst.level_db
    verdict: Verdict = "over" if worst_db > limits.level_db + LEVEL_DB else "undecided"
    if worst_db < limits.level_db - LEVEL_DB:
        too_short = heard.response.until_s < limits.within_s
        verdict = "not judged" if too_short or heard.lowest_db > limits.level_db else "below"
    return MeasuredVerdict(
        verdict,
        len(peaks),
        sum(peak.level_db > limits.level_db for peak in peaks),
        np.nan if worst is None else worst.level_db,
        np.nan if worst is None else worst.delay_s,
    )


def measured_left_right(held: Held) -> tuple[MeasuredLeftRight, ...]:
    """Left against right at every seat at which both speakers of its pair were measured."""
    found = []
    for seat in range(len(held.scene.seats)):
        pair = speaker_pair(held.scene, seat=seat)
        sides = [] if pair is None else [held.at(speaker, seat) for speaker in pair]
        if pair is None or None in sides:
            continue
        both = [side for side in sides if side is not None]
        levels = [early_energy_db(side.curves) for side in both]
        levels += [early_energy_db(side.predicted.curves) for side in both]
        found.append(MeasuredLeftRight(*pair, seat, *levels))
    return tuple(found)


def early_energy_db(curves: Curves) -> float:
    """Energy of a curve 0.3-15 ms after the direct sound, re that of the direct sound's own pulse. [dB]"""
    energy = 10.0 ** (curves.level_db / 10.0)
    start_s, end_s = LEFT_RIGHT_WINDOW_S
    early = energy[(curves.time_s >= start_s) & (curves.time_s <= end_s)].sum()
    direct = energy[np.abs(curves.time_s) <= LOBE_S].sum()
    return float(decibels(early / direct))
