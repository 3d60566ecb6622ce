"""Exponential sweeps: one to play, and the impulse response out of what comes back."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Sentence, sentence
from raytrace.measured.clocks import straightened
from raytrace.measured.recordings import Recording, read_recording
from raytrace.reflections import band_window

Floats = NDArray[np.float64]

SWEEP_HZ = (20.0, 20_000.0)
SWEEP_RATE_HZ = 48_000
SWEEP_LEVEL_DB = -12.0  # re full scale: room for a recording chain, and for ears
_FADES_S = (0.050, 0.010)  # in and out
_BEFORE_S, _AFTER_S = 0.5, 2.0  # silence: players swallow the beginning, rooms ring on
_NOISE = 1e-5  # of the strongest line's power: what the reference does not hold is not asked of the recording
_KEPT_BEFORE_S = 0.050  # of the response before the direct sound; distortion arrives earlier
_KEPT_AFTER_S = 8.0
# Tried with sweeps of 1 to 10 s read at rates wrong by 8 % and by two, in rooms of 0.2 to 1.5 s, and with the
# responses of two measured rooms.
_SHARP_DB = 10.0  # the highest sample re the mean of the 0.2 s about it
_BEFORE_DB = -15.0  # the 0.2 s before the start re the 6 ms about it
_APART_S = 0.008  # octaves of a sweep of 2 s that is read 8 % wrong are 18 ms apart
# Own choice: a sweep of 10 s leaves -71 dB beside itself there, the driest room sends back far more than -50.
_PULSE_S, _LEAST_ROOM_DB = 0.020, -50.0
_SHORTEST_S = 0.5
_SECOND_DB = -10.0
_WRONG_RATES = (Fraction(160, 147), Fraction(147, 160), Fraction(2), Fraction(1, 2))
_LOST = 32  # samples that do not move while there is sound: more than a slow beginning has


@dataclass(frozen=True)
class Sweep:
    """An exponential sweep.

    Attributes
    ----------
    seconds : float
        From its first to its last frequency.
    from_hz, to_hz : float
    rate_hz : int
    """

    seconds: float = 10.0
    from_hz: float = SWEEP_HZ[0]
    to_hz: float = SWEEP_HZ[1]
    rate_hz: int = SWEEP_RATE_HZ

    @property
    def samples(self) -> Floats:
        """The bare sweep at full scale, (n,).

        A. Farina, AES 108 (2000), preprint 5093: sin(2 pi f1 T/R (e^(tR/T) - 1)), R = ln(f2/f1).
        """
        time_s = np.arange(round(self.seconds * self.rate_hz)) / self.rate_hz
        swell = self.seconds / self._rise
        wave: Floats = np.sin(2.0 * np.pi * self.from_hz * swell * np.expm1(time_s / swell))
        return wave

    @property
    def inverse(self) -> Floats:
        """Farina's inverse filter: the sweep backwards, 6 dB less an octave along it."""
        swell = self.seconds / self._rise
        time_s = np.arange(round(self.seconds * self.rate_hz)) / self.rate_hz
        backwards: Floats = self.samples[::-1] * np.exp(-time_s / swell)
        return backwards

    @property
    def _rise(self) -> float:
        return math.log(self.to_hz / self.from_hz)

    def to_play(self) -> Floats:
        """The sweep as it is played, (n,): faded, at `SWEEP_LEVEL_DB`, silence on both sides."""
        wave = 10.0 ** (SWEEP_LEVEL_DB / 20.0) * self.samples
        for fade_s, side in zip(_FADES_S, (1, -1), strict=True):
            n = round(fade_s * self.rate_hz)
            wave[::side][:n] *= 0.5 - 0.5 * np.cos(np.pi * np.arange(n) / n)
        silence = [np.zeros(round(seconds * self.rate_hz)) for seconds in (_BEFORE_S, _AFTER_S)]
        return np.concatenate([silence[0], wave, silence[1]])


def sweep_file(sweep: Sweep) -> bytes:
    """The sweep as it is played, as a WAV file of 24 bits."""
    from io import BytesIO

    import soundfile

    file: Any = BytesIO()
    soundfile.write(file, sweep.to_play(), sweep.rate_hz, format="WAV", subtype="PCM_24")
    return bytes(file.getvalue())


def deconvolve(recording: Recording, reference: Recording) -> Recording:
    """The impulse response out of a recorded sweep.

    Parameters
    ----------
    recording, reference : Recording
        All of what was recorded, and of what was played.

    Returns
    -------
    Recording
        From shortly before the direct sound on: what the loudspeaker distorts arrives before that and is
        left out. Its notes say what is odd.

    Raises
    ------
    RecordingError
        Where the recording does not hold the whole sweep, has lost samples, or runs at another rate than it
        says.

    Notes
    -----
    A. Farina, AES 108 (2000), preprint 5093; his inverse filter is the conjugate of the sweep's spectrum over
    its power, which serves any reference that is known as it was played.
    """
    _check_lost(recording)
    played = _at_rate(reference, recording.rate_hz)
    sound_s = _sounding_s(played, recording.rate_hz)
    if sound_s < _SHORTEST_S:
        raise reference.refuse("holds no sweep: nothing in it sounds for half a second")
    if recording.lasts_s < sound_s:
        raise recording.refuse(
            f"is cut off: lasts {recording.lasts_s:.2f} s, the sweep {sound_s:.2f} s. Record until the room "
            "is quiet again"
        )
    response, drift = straightened(_divided(recording.samples, played), played, recording.rate_hz)
    if not _is_response(response, recording.rate_hz):
        raise recording.refuse(_smeared(recording, reference))
    if _holds_no_room(response, recording.rate_hz):
        raise recording.refuse(
            "holds the sweep as it was played and no room: nothing follows it. Give what the microphone "
            "recorded"
        )
    notes = [*recording.notes, *([_two_clocks(recording, drift)] if drift else [])]
    if reference.rate_hz != recording.rate_hz:
        text = "{file}: recorded at {own} Hz, the sweep has {other} Hz; it was converted."
        rates = {"own": recording.rate_hz, "other": reference.rate_hz}
        notes.append(sentence(text, file=recording.file, **rates))
    first, again = _starts(response, recording.rate_hz, 0.5 * sound_s)
    notes += [_several(recording, again)] if again else []
    low, high = _kept(recording, sound_s, first, again)
    return replace(
        recording,
        samples=response[low:high],
        start_s=low / recording.rate_hz,
        lasts_s=len(response[low:high]) / recording.rate_hz,
        notes=tuple(notes),
    )


def _kept(recording: Recording, sound_s: float, first: int, again: Sequence[int]) -> tuple[int, int]:
    """First and last sample that are kept of a response with direct sounds at `first` and `again`."""
    before, rate_hz = round(_KEPT_BEFORE_S * recording.rate_hz), recording.rate_hz
    low, high = max(0, first - before), first + round(_KEPT_AFTER_S * rate_hz)
    if again:
        high = min(high, again[0] - before - round(sound_s * 0.3 * rate_hz))
    # Where the recording ends, so does what is known of the response.
    held = len(recording.samples) - round(sound_s * rate_hz)
    return low, max(min(high, max(held, first + round(0.2 * rate_hz))), low + 1)


def read_response(
    path: str | Path, *, channel: int | None = None, sweep: Recording | None = None
) -> Recording:
    """An impulse response from a file that holds one, or a recorded sweep where one is given.

    Raises
    ------
    RecordingError
    """
    if sweep is None:
        return read_recording(path, channel=channel)
    return deconvolve(read_recording(path, channel=channel, whole=True), sweep)


def _two_clocks(recording: Recording, drift: float) -> Sentence:
    text = (
        "{file}: the clocks that played and recorded it are {apart} millionths apart; that was allowed for. "
        "With one device for both it does not arise."
    )
    return sentence(text, file=recording.file, apart=f"{1e6 * abs(drift):.0f}")


def _several(recording: Recording, again: list[int]) -> Sentence:
    return sentence("{file}: holds {n} sweeps; the first is taken.", file=recording.file, n=len(again) + 1)


def _at_rate(reference: Recording, rate_hz: int) -> Floats:
    return (
        reference.samples
        if reference.rate_hz == rate_hz
        else _resampled(reference.samples, Fraction(rate_hz, reference.rate_hz))
    )


def _resampled(samples: Floats, ratio: Fraction) -> Floats:
    from scipy.signal import resample_poly

    ratio = ratio.limit_denominator(1000)
    made: Floats = resample_poly(samples, ratio.numerator, ratio.denominator)
    return made


def _sounding_s(samples: Floats, rate_hz: int) -> float:
    """How long a sweep sounds, without the silence on both sides. [s]"""
    loud = np.flatnonzero(np.abs(samples) > 1e-3 * np.abs(samples).max())
    return float(loud[-1] - loud[0] + 1) / rate_hz


def _divided(recorded: Floats, played: Floats) -> Floats:
    """Response of what lies between: from the moment at which both begin on, (n,).

    Responses before that moment, those of distortion among them, wrap round to the end and are cut off.
    """
    from scipy.fft import irfft, next_fast_len, rfft

    first = int(np.flatnonzero(np.abs(played) > 0.0)[0])
    n = next_fast_len(len(recorded) + len(played), real=True)
    reference = rfft(played[first:], n)
    power = np.abs(reference) ** 2
    spectrum = rfft(recorded, n)
    spectrum *= np.conj(reference)
    spectrum /= power + _NOISE * power.max()
    response: Floats = irfft(spectrum, n)[: len(recorded)]
    return response


def _is_response(response: Floats, rate_hz: int) -> bool:
    """Whether it begins at once and has a sharp top; what a wrong rate smears out has neither."""
    energy = response**2
    top, tenth = int(np.argmax(energy)), rate_hz // 10
    mean = np.mean(energy[max(0, top - tenth) : top + tenth])
    first = max(0, top - rate_hz // 33)
    start = first + int(np.argmax(energy[first : top + 1] >= 0.1 * energy[top]))
    near = rate_hz * 3 // 1000
    before, at = (
        energy[max(0, start - rate_hz // 5) : max(0, start - near)],
        energy[max(0, start - near) : start + near],
    )
    is_sharp = energy[top] >= 10.0 ** (_SHARP_DB / 10.0) * mean
    is_sudden = before.sum() <= 10.0 ** (_BEFORE_DB / 10.0) * at.sum()
    return bool(is_sharp and is_sudden and _octaves_apart_s(response, rate_hz, top) <= _APART_S)


def _holds_no_room(response: Floats, rate_hz: int) -> bool:
    """Whether next to nothing is left beside the one pulse: a file that was played, or a cable."""
    top, near = int(np.argmax(np.abs(response))), round(_PULSE_S * rate_hz)
    energy = response**2
    beside = energy.sum() - energy[max(0, top - near) : top + near].sum()
    return bool(beside < 10.0 ** (_LEAST_ROOM_DB / 10.0) * energy.sum())


def _octaves_apart_s(response: Floats, rate_hz: int, top: int) -> float:
    """By how much the top of each octave is later, or earlier, than the last: a wrong rate delays all. [s]"""
    piece = response[max(0, top - rate_hz) : top + rate_hz]
    spectrum, frequency_hz = np.fft.fft(piece), np.fft.fftfreq(len(piece), 1.0 / rate_hz).astype(np.float64)
    edges = (np.sqrt(0.5) * centre_hz for centre_hz in (500.0, 1000.0, 2000.0, 4000.0, 8000.0))
    windows = (band_window(frequency_hz, edge_hz, 2.0 * edge_hz) for edge_hz in edges)
    tops = [int(np.argmax(np.abs(np.fft.ifft(spectrum * window)))) for window in windows]
    later = np.diff(tops)
    return abs(float(np.median(later))) / rate_hz


def _smeared(recording: Recording, reference: Recording) -> str:
    """What is the matter where the sweep is not in the recording as it was played."""
    for ratio in _WRONG_RATES:
        stretched = _resampled(reference.samples, ratio * Fraction(recording.rate_hz, reference.rate_hz))
        if _is_response(_divided(recording.samples, stretched), recording.rate_hz):
            rate = float(recording.rate_hz / ratio)
            return (
                f"says {recording.rate_hz} samples a second, but the sweep in it fits {rate:.0f}: one of the "
                "two files is labelled wrongly"
            )
    return (
        f"does not hold the sweep of {reference.file}, or noise hides it: record it again, louder or "
        "longer, without resampling or effects"
    )


def _check_lost(recording: Recording) -> None:
    """Refuse a recording in which samples were lost: the sound stands still in the middle of it."""
    samples = recording.samples
    still = np.flatnonzero(np.diff(samples) != 0.0)
    gaps = np.diff(still)
    loud = 0.01 * float(np.abs(samples).max())
    for k in np.flatnonzero(gaps > _LOST).tolist():
        first, last = int(still[k]) + 1, int(still[k + 1]) + 1
        beside = np.concatenate([samples[max(0, first - 100) : first], samples[last : last + 100]])
        if np.abs(beside[:100]).max() > loud and np.abs(beside[-100:]).max() > loud:
            raise recording.refuse(
                f"has a dropout of {1e3 * (last - first) / recording.rate_hz:.0f} ms at "
                f"{first / recording.rate_hz:.2f} s. Give the recorder a larger buffer and measure again"
            )


def _starts(response: Floats, rate_hz: int, apart_s: float) -> tuple[int, list[int]]:
    """Where the first response begins, and any others so far apart from it."""
    size, apart = np.abs(response), round(apart_s * rate_hz)
    tops = []
    left = size.copy()
    for _ in range(8):
        top = int(np.argmax(left))
        if left[top] < 10.0 ** (_SECOND_DB / 20.0) * size.max():
            break
        tops.append(top)
        left[max(0, top - apart) : top + apart] = 0.0
    tops.sort()
    return tops[0], tops[1:]
