"""The bass as measured beside what the modes of the room predict, where a record reaches so low."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.bass import CURVE_HZ, reachable_hz, seat_curves
from raytrace.facts import Sentence, sentence
from raytrace.measured.compared import Held
from raytrace.measured.responses import Response

Floats = NDArray[np.float64]

LONGEST_S, SHORTEST_S = 0.6, 0.2  # of the record that counts: 0.2 s tell tones 5 Hz apart
_BEFORE_S, _FADE = 0.005, 0.25
_ABOVE_NOISE_DB = 6.0
_ALIGNED_HZ = (40.0, 160.0)


@dataclass(frozen=True)
class MeasuredBass:
    """Level over pitch of one measurement, 20-200 Hz.

    Attributes
    ----------
    speaker, seat : int
    frequencies_hz : (n,) float
    measured_db, predicted_db : (n,) float
        Each re its own mean from 40 to 160 Hz: recordings know no absolute level. Measured NaN where noise
        is as strong.
    """

    speaker: int
    seat: int
    frequencies_hz: Floats
    measured_db: Floats
    predicted_db: Floats

    @property
    def apart_db(self) -> float:
        """Standard deviation of measured less predicted level over 40-160 Hz."""
        return float(np.nanstd((self.measured_db - self.predicted_db)[_aligned(self.frequencies_hz)]))


def find_measured_bass(held: Held) -> tuple[MeasuredBass, ...]:
    """The bass of every measurement that is long enough, beside the modal prediction; empty without any.

    Nothing is told of a room so large that it holds too many modes.
    """
    long_enough = [heard for heard in held.heard if heard.response.until_s >= SHORTEST_S]
    levels = [(heard, bass_level_db(heard.response, CURVE_HZ)) for heard in long_enough]
    told = [(heard, level) for heard, level in levels if _is_told(level)]
    if not told:
        return ()
    if reachable_hz(held.room) < _ALIGNED_HZ[1]:
        return ()
    pairs = [(heard.take.speaker, heard.take.seat) for heard, _ in told]
    frequencies_hz, predicted = seat_curves(held.scene, held.room, pairs)
    return tuple(
        MeasuredBass(
            *pair,
            frequencies_hz,
            _re_mean(level[: len(frequencies_hz)], frequencies_hz),
            _re_mean(own, frequencies_hz),
        )
        for pair, (_, level), own in zip(pairs, told, predicted, strict=True)
    )


def bass_notes(held: Held, own: MeasuredBass) -> tuple[Sentence, ...]:
    """How near the measured bass comes to the prediction, in words."""
    text = (
        "{speaker} at {seat}: from 40 to 160 Hz the measured bass differs from what the modes of the drawn "
        "room predict by {apart} dB (standard deviation). The speaker's own roll-off is in the measured one."
    )
    names = {
        "speaker": held.scene.speakers[own.speaker].name,
        "seat": held.scene.seats[own.seat].name,
    }
    return (sentence(text, **names, apart=f"{own.apart_db:.1f}"),)


def bass_level_db(response: Response, frequencies_hz: Floats) -> Floats:
    """Level of a response at some frequencies, NaN where what comes long after is nearly as strong. [dB]"""
    rate_hz, samples = response.recording.rate_hz, response.recording.samples
    length_s = min(LONGEST_S, response.until_s)
    first, n = max(0, round((response.direct_s - _BEFORE_S) * rate_hz)), round(length_s * rate_hz)
    level_db = _level_db(samples[first : first + n], rate_hz, frequencies_hz)
    rest = samples[first + n :][-n:]
    if len(rest) == n and rest.any():
        noise_db = _level_db(rest, rate_hz, frequencies_hz)
        level_db = np.where(level_db > noise_db + _ABOVE_NOISE_DB, level_db, np.nan)
    return level_db


def _level_db(samples: Floats, rate_hz: int, frequencies_hz: Floats) -> Floats:
    """Level of a piece that fades out over its last quarter."""
    fade = np.ones(len(samples))
    n = round(_FADE * len(samples))
    fade[len(samples) - n :] = 0.5 + 0.5 * np.cos(np.pi * (np.arange(n) + 0.5) / n)
    time_s = np.arange(len(samples)) / rate_hz
    turned = np.exp(-2j * np.pi * np.outer(frequencies_hz, time_s))
    with np.errstate(divide="ignore"):
        return np.asarray(20.0 * np.log10(np.abs(turned @ (samples * fade))))


def _is_told(level_db: Floats) -> bool:
    """Whether a whole octave and more stands above the noise."""
    return bool(np.isfinite(level_db[_aligned(CURVE_HZ)]).mean() > 0.5)


def _aligned(frequencies_hz: Floats) -> NDArray[np.bool_]:
    low, high = _ALIGNED_HZ
    return (frequencies_hz >= low) & (frequencies_hz <= high)


def _re_mean(level_db: Floats, frequencies_hz: Floats) -> Floats:
    return level_db - float(np.nanmean(level_db[_aligned(frequencies_hz)]))
