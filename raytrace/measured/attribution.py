"""Which predicted arrivals made each measured peak: one assignment by delay, level and band shape."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from raytrace.measured.predicted import PredictedPeak
from raytrace.measured.responses import CurvePeak

Floats = NDArray[np.float64]

# Standard errors. Picking a top: a sample or two of what a sound file has, and the loudspeaker's own pulse.
PICK_S = 0.025e-3
# Levels: what tables of materials and a speaker's directivity are worth for one arrival (own choice; measured
# single arrivals of alike walls differed by 10 dB). Wide tails, so that a panel that does not work as drawn
# is still named by its delay.
LEVEL_DB = 4.0
SHAPE_DB = 6.0
_TAIL = 2.0
# An arrival that costs more than this explains nothing: three standard errors of delay alone.
UNEXPLAINED = 9.0
# What the predicted curve shows as a shoulder is seldom a peak of its own, least of all between arrivals.
SHOULDER, BETWEEN = 2.0, 5.0
# Twice a log-likelihood by which another speaker or seat must fit better, and the most it may leave of the
# misfit of the given one. In made rooms the right one fits 26 to 270 better than a wrong one, and leaves half
# of it; of six microphones of dEchorate one 4 cm off fits 16 better than its own, and leaves 0.9.
_BETTER, _LEFT, _ENOUGH_PEAKS = 20.0, 0.67, 5
_SHIFTS_S = np.arange(0.5e-3, 4.1e-3, 0.5e-3)  # beyond all errors of a survey, within the window


@dataclass(frozen=True)
class Attribution:
    """One measured peak and what is said to have made it.

    Attributes
    ----------
    peak : CurvePeak
    made_by, runner_up : int or None
        Which predicted peaks, of those of its speaker and seat.
    is_speakers_own : bool
        Whether nothing drawn explains it but the loudspeaker does: it follows its direct sound at every seat.
    is_of_edges : bool
        Whether no one arrival explains it but the drawing does: the predicted curve rises there as high, by
        what bends round edges.
    confidence : float
        How likely the first is against all others and against none, 0 to 1; of an unexplained peak how
        likely it is that nothing drawn explains it.
    """

    peak: CurvePeak
    made_by: int | None
    runner_up: int | None
    confidence: float
    is_speakers_own: bool = False
    is_of_edges: bool = False

    @property
    def is_unexplained(self) -> bool:
        """Whether nothing drawn explains it."""
        return self.made_by is None and not (self.is_speakers_own or self.is_of_edges)


def attribute(
    heard: Sequence[CurvePeak], expected: Sequence[PredictedPeak], *, survey_m: float, speed_m_s: float
) -> tuple[Attribution, ...]:
    """The likeliest assignment of all measured peaks of one speaker at one seat to predicted ones.

    Each predicted peak explains one measured peak at most, each measured one may stay unexplained. Peaks of
    different speakers and seats cannot be confused, so one assignment over all of them is this one for each.

    Parameters
    ----------
    heard, expected : sequence of CurvePeak, of PredictedPeak
    survey_m : float
        Standard error of a taped length.
    speed_m_s : float
        Of sound.
    """
    m = len(expected)
    cost = _costs(heard, expected, survey_m, speed_m_s)
    rows, columns = _assigned(cost)
    likely = np.exp(-0.5 * cost)
    unlikely = float(np.exp(-0.5 * UNEXPLAINED))
    found = []
    for row, column in zip(rows.tolist(), columns.tolist(), strict=True):
        made_by = column if column < m and cost[row, column] < UNEXPLAINED else None
        own = unlikely if made_by is None else float(likely[row, made_by])
        others = [k for k in np.argsort(cost[row]).tolist() if k != made_by and cost[row, k] < UNEXPLAINED]
        confidence = own / (float(likely[row].sum()) + unlikely)
        found.append(Attribution(heard[row], made_by, others[0] if others else None, confidence))
    return tuple(found)


def misfit_of(
    heard: Sequence[CurvePeak], expected: Sequence[PredictedPeak], *, survey_m: float, speed_m_s: float
) -> tuple[float, frozenset[int]]:
    """Twice the negative log-likelihood of the likeliest assignment, and which of `expected` it names."""
    cost = _costs(heard, expected, survey_m, speed_m_s)
    rows, columns = _assigned(cost)
    named = columns < len(expected)
    taken = cost[rows[named], columns[named]]
    return float(taken.sum() + UNEXPLAINED * (~named).sum()), frozenset(columns[named].tolist())


def fits_better(misfits: Sequence[float], given: float, n_peaks: int) -> int | None:
    """Which of several predictions fits far better than the one of the speaker and seat that were given.

    Parameters
    ----------
    misfits : sequence of float
        Of the others, what their peaks cost and what should have been heard of them and was not.
    given : float
    n_peaks : int
        That were measured.
    """
    if not misfits or n_peaks < _ENOUGH_PEAKS:
        return None
    least = min(misfits)
    return misfits.index(least) if least < min(given - _BETTER, _LEFT * given) else None


def _assigned(cost: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows and columns of the cheapest assignment; columns behind the last: staying unexplained."""
    from scipy.optimize import linear_sum_assignment

    n = len(cost)
    # A column of its own for each measured peak.
    none = np.where(np.eye(n, dtype=bool), UNEXPLAINED, 1e6)
    rows, columns = linear_sum_assignment(np.hstack([cost, none]))
    return rows, columns


@dataclass(frozen=True)
class Fit:
    """How well predicted peaks explain measured ones, against what they would explain by chance.

    Attributes
    ----------
    n_peaks : int
    explained, by_chance : float
        How many of them are explained, each counted by how surely it is; and the mean of that with all
        measured delays shifted.
    chance_spread : float
        Standard deviation of it from shift to shift.
    """

    n_peaks: int
    explained: float
    by_chance: float
    chance_spread: float


def fit_of(
    heard: Sequence[CurvePeak],
    expected: Sequence[PredictedPeak],
    *,
    survey_m: float,
    speed_m_s: float,
    until_s: float,
) -> Fit:
    """How well peaks are explained, arguments as in `attribute`; nothing counts past `until_s`."""

    def explained(shift_s: float) -> float:
        shifted = [replace(peak, delay_s=peak.delay_s + shift_s) for peak in heard]
        kept = [peak for peak in shifted if 0.0 < peak.delay_s <= until_s]
        found = attribute(kept, expected, survey_m=survey_m, speed_m_s=speed_m_s)
        sure = sum(own.confidence for own in found if own.made_by is not None)
        return sure * len(heard) / max(len(kept), 1)

    shifted = np.array([explained(sign * shift_s) for shift_s in _SHIFTS_S for sign in (-1.0, 1.0)])
    return Fit(len(heard), explained(0.0), float(shifted.mean()), float(shifted.std()))


def delay_errors_s(expected: Sequence[PredictedPeak], survey_m: float, speed_m_s: float) -> Floats:
    """Standard error of each predicted delay against a measured one, (n,). [s]

    A mirror moves its image by twice its own error, and there is one for each bounce; both ends add theirs.
    """
    order = np.array([len(peak.parts[0].surfaces) for peak in expected], np.float64)
    return np.asarray(np.hypot(PICK_S, survey_m * np.sqrt(4.0 * order + 2.0) / speed_m_s))


def _costs(
    heard: Sequence[CurvePeak], expected: Sequence[PredictedPeak], survey_m: float, speed_m_s: float
) -> Floats:
    """Twice the negative log-likelihood of each pair, (n_heard, n_expected)."""
    if not (heard and expected):
        return np.zeros((len(heard), len(expected)))
    late_s = _pairs(heard, expected, lambda peak: peak.delay_s)
    louder_db = _pairs(heard, expected, lambda peak: peak.level_db)
    shape = _pairs(heard, expected, lambda peak: peak.octaves_db - peak.level_db)
    delay = (late_s / delay_errors_s(expected, survey_m, speed_m_s)) ** 2
    covered = np.array(
        [0.0 if peak.is_top else SHOULDER if peak.is_arrival else BETWEEN for peak in expected]
    )
    cost: Floats = delay + covered + _tailed(louder_db / LEVEL_DB) + _tailed(shape / SHAPE_DB).mean(axis=-1)
    return cost


def _pairs(
    heard: Sequence[CurvePeak],
    expected: Sequence[PredictedPeak],
    of: Callable[[CurvePeak | PredictedPeak], float | Floats],
) -> Floats:
    """Measured less predicted value of every pair."""
    measured = np.array([of(peak) for peak in heard], np.float64)
    predicted = np.array([of(peak) for peak in expected], np.float64)
    return np.asarray(measured[:, None] - predicted, np.float64)


def _tailed(deviation: Floats) -> Floats:
    """Squared deviations near 0, growing slowly far from it (Student's distribution of two degrees)."""
    grown: Floats = _TAIL * np.log1p(deviation**2 / _TAIL)
    return grown
