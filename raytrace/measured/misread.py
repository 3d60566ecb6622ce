"""A number that was misread, not taped badly: so far off that peaks lose their names, found by trying."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from raytrace.measured.attribution import UNEXPLAINED, Attribution, attribute, misfit_of
from raytrace.measured.compared import Held, Measurement, survey_m, unheard_peaks
from raytrace.measured.predicted import PredictedPeak
from raytrace.measured.tapednumbers import TapedNumber, concerns, scene_at, stepped, way_delay_s
from raytrace.room import Room, build_room
from raytrace.scene import Scene, SceneError

Floats = NDArray[np.float64]

BLUNDER = 5.0  # a number that is off for sure was misread, not taped badly: it may be off by so much more
_FARTHEST, _STEP = 15.0, 1.5  # standard errors of the tape that are tried; peaks keep their names over a step
# Twice a log-likelihood by which a number must explain peaks better, and better than any other number. In
# made rooms 40 mm of height do by 80 and 100 mm of a seat by 77, 130 mm of one seat of four, heard over six
# walls, by 14 to 40; right drawings stay below 4. In another room, at another seat and in dEchorate numbers
# reach 18 to 44, each at the end of what is tried or with others beside it.
_BETTER, _CLEAR = 20.0, 9.0
_MOST_TRIED = 16  # measurements: the worst explained


def find_misread(states: Sequence[Held], numbers: Sequence[TapedNumber]) -> dict[int, float]:
    """Which number, off alone and by how much, makes far more of what was measured fit; empty if none does.

    Parameters
    ----------
    states : sequence of Held
        Of one drawing.
    numbers : sequence of TapedNumber
    """
    tried = sorted(
        ((held, heard) for held in states for heard in held.heard),
        key=lambda one: one[1].fit.explained / max(one[1].fit.n_peaks, 1),
    )[:_MOST_TRIED]
    as_drawn = np.array([_misfit(*one, 0.0) for one in tried])
    best = [_likeliest(tried, as_drawn, number) for number in numbers]
    gains = np.array([gain for gain, _ in best])
    if not len(gains):
        return {}
    first, second = int(np.argmax(gains)), float(np.sort(gains)[-2:][0]) if len(gains) > 1 else 0.0
    at_end = abs(best[first][1]) > (_FARTHEST - _STEP) * numbers[first].error
    # Nobody misreads a thermometer by ten degrees: where that fits best, something else is the matter.
    if gains[first] < max(_BETTER, second + _CLEAR) or at_end or numbers[first].unit != "m":
        return {}
    off = np.zeros(len(numbers))
    off[first] = best[first][1]
    try:
        build_room(scene_at(states[-1].scene, numbers, off))
    except SceneError:
        return {}
    return {first: float(off[first])}


def renamed(held: Held, heard: Measurement, scene: Scene, room: Room) -> tuple[Attribution, ...]:
    """Who made each peak of a measurement if its room were another: predicted delays as that one has them."""
    peaks = heard.predicted.peaks
    shift_s = _delays_s(heard, peaks, scene, room) - _delays_s(heard, peaks, held.scene, held.room)
    return attribute([own.peak for own in heard.peaks], _shifted(peaks, shift_s), **_known(held))


def _likeliest(
    tried: Sequence[tuple[Held, Measurement]], as_drawn: Floats, number: TapedNumber
) -> tuple[float, float]:
    """By how much a number makes the measurements fit better at best, and by how much it is off then."""
    if number.zero_of is not None:
        return 0.0, 0.0
    slopes = [_slope(held, heard, number) for held, heard in tried]
    best = (0.0, 0.0)
    for off in np.arange(-_FARTHEST, _FARTHEST + 0.1 * _STEP, _STEP).tolist():
        value = off * number.error
        gain = -((off / BLUNDER) ** 2)
        for (held, heard), slope, drawn in zip(tried, slopes, as_drawn.tolist(), strict=True):
            if slope is not None:
                gain += drawn - _misfit(held, heard, value * slope)
        best = max(best, (gain, value))
    return best


def _slope(held: Held, heard: Measurement, number: TapedNumber) -> Floats | None:
    """Change of each predicted delay with a number, (n,); None where it moves nothing. [s per its unit]"""
    if not concerns(number, heard.take.speaker, heard.take.seat):
        return None
    other = stepped(held.scene, held.room, number)
    if other is None:
        return None
    peaks = heard.predicted.peaks
    scene, room, step = other
    now_s, then_s = _delays_s(heard, peaks, held.scene, held.room), _delays_s(heard, peaks, scene, room)
    return np.asarray((then_s - now_s) / step, np.float64)


def _misfit(held: Held, heard: Measurement, shift_s: Floats | float) -> float:
    """What the peaks of a measurement cost, and what should have been heard and was not."""
    expected = replace(heard.predicted, peaks=_shifted(heard.predicted.peaks, shift_s))
    cost, named = misfit_of([own.peak for own in heard.peaks], expected.peaks, **_known(held))
    unheard = unheard_peaks(expected, named, heard.curves, heard.lowest_db, heard.until_s)
    return cost + UNEXPLAINED * len(unheard)


def _shifted(peaks: Sequence[PredictedPeak], shift_s: Floats | float) -> tuple[PredictedPeak, ...]:
    late_s = np.broadcast_to(shift_s, len(peaks)).tolist()
    return tuple(replace(peak, delay_s=peak.delay_s + s) for peak, s in zip(peaks, late_s, strict=True))


def _delays_s(heard: Measurement, peaks: Sequence[PredictedPeak], scene: Scene, room: Room) -> Floats:
    speaker, seat = heard.take.speaker, heard.take.seat
    return np.array([way_delay_s(scene, room, speaker, seat, peak.parts) for peak in peaks])


def _known(held: Held) -> dict[str, float]:
    return {"survey_m": survey_m(held.scene), "speed_m_s": held.room.speed_of_sound_m_s}
