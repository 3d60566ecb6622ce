"""Impulse responses with the direct sound at time zero, their curves by the prediction's own filter."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import BANDS_HZ
from raytrace.facts import Sentence, sentence, whole_decibels
from raytrace.measured.recordings import Recording
from raytrace.reflections import SAMPLE_RATE_HZ, band_window, decibels
from raytrace.scene import Scene
from raytrace.verdicts import LOBE_S, PEAK_WIDTH_S, curve_maxima

Floats = NDArray[np.float64]

OCTAVES_HZ = tuple(float(hz) for hz in BANDS_HZ[4:7])  # 1, 2, 4 kHz: whole within the usual limit's band
PROMINENT_DB = 3.0  # a peak stands so far above both valleys
SIDE_LOBE_DB = 3.0  # and so far above what the side lobes of stronger ones may add up to
ABOVE_NOISE_DB = 10.0  # and so far above the noise
SILENCE_DB = -120.0  # what is quieter is no noise that anybody measured
_LEAD_S = 0.001
_RECORD_S = 0.064
_TAPER_S = 0.002
_MARGIN_S = 0.010  # of the record on both sides of what is shown: the filter rings so long
_DIRECT_DB = -12.0  # the first sound so strong re the strongest is the direct one
_DIRECT_BEFORE_S, _DIRECT_AFTER_S = 0.100, 0.050  # about the loudest sample
_BLOCK_S = 0.005
_STEADY = 10  # blocks over which noise is averaged where a record is quiet so long
_LEAST_BLOCK_DB = 3.0  # so far below the mean the quietest of many single blocks lies
_LOUD_NOISE_DB = -30.0
_AHEAD_DB = 1.0
_LOUD_S = 0.8  # within 10 dB of its loudest: longer where T60 is above 4.8 s, or a sweep sounds on
_OVER_QUIET_DB = 20.0  # noise alone stays as loud for ever
_FADES_DB, _FADES_S = 20.0, 0.001  # so far a record falls in so short a time, for good: rooms take far longer
_FADE_S = 0.005  # and so soon before its end: it was faded out
_HEARD_DB = -40.0  # what is weaker is no peak, and may well end at once


@dataclass(frozen=True)
class Response:
    """What one speaker sends to one seat, as it was measured.

    Attributes
    ----------
    recording : Recording
        The impulse response.
    direct_s : float
        Top of the direct sound, counted from the first sample.
    until_s : float
        How long after the direct sound it goes on: to where it ends, is faded out or falls silent.
    noise_floor_db : float
        Mean energy where the record is quietest, in the limit's band, re the top of the direct sound.
    notes : tuple of Sentence
    """

    recording: Recording
    direct_s: float
    until_s: float
    noise_floor_db: float
    notes: tuple[Sentence, ...]


@dataclass(frozen=True)
class Curves:
    """Energy-time curves from the direct sound on, 0 dB = its top.

    Attributes
    ----------
    time_s : (n,) float
        From 1 ms before the direct sound on.
    level_db : (n,) float
        In the limit's band.
    octaves_db : (3, n) float
        At 1, 2, 4 kHz, each re the direct sound's own.
    """

    time_s: Floats
    level_db: Floats
    octaves_db: Floats

    def at(self, delay_s: float, width_s: float = PEAK_WIDTH_S) -> tuple[float, Floats]:
        """The highest level within a pulse's width of a delay, and that of each octave."""
        near = np.abs(self.time_s - delay_s) <= width_s
        return float(self.level_db[near].max()), self.octaves_db[:, near].max(axis=1)


@dataclass(frozen=True)
class CurvePeak:
    """A peak of a curve.

    Attributes
    ----------
    delay_s, level_db : float
    octaves_db : (3,) float
        At 1, 2, 4 kHz.
    may_ring : bool
        Whether the loudspeaker's own ringing after a stronger peak may be all that it is.
    """

    delay_s: float
    level_db: float
    octaves_db: Floats
    may_ring: bool = False


def bands_of(scene: Scene) -> list[tuple[float, float]]:
    """The limit's band and the octaves of `Curves`, from and to. [Hz]"""
    half = math.sqrt(2.0)
    return [(scene.limits.from_hz, scene.limits.to_hz), *((hz / half, hz * half) for hz in OCTAVES_HZ)]


def find_response(scene: Scene, recording: Recording) -> Response:
    """The direct sound in an impulse response, and the noise under it, in the limit's band.

    Raises
    ------
    RecordingError
        If the band does not fit the file's rate, nothing in it stands out of noise, or it sounds on as a
        sweep does.
    """
    recording = _without_silence(recording)
    band, rate_hz, samples = bands_of(scene)[0], recording.rate_hz, recording.samples
    if band[1] * 2.0**0.25 > 0.5 * rate_hz:
        raise recording.refuse(
            f"{rate_hz} samples a second hold nothing above {rate_hz / 2000:g} kHz; the limit's band goes to "
            f"{band[1] / 1000:g} kHz: measure at 44100 or more"
        )
    peak_s = float(np.argmax(np.abs(samples))) / rate_hz
    start_s = max(0.0, peak_s - _DIRECT_BEFORE_S)
    near = envelopes(samples, rate_hz, start_s, [band], peak_s - start_s + _DIRECT_AFTER_S)[0]
    first_s, top = _direct(near)
    direct_s = start_s + first_s - _LEAD_S
    blocks = _blocks(samples, rate_hz, band)
    _check_length(recording, blocks)
    noise_db = max(SILENCE_DB, _noise_db(blocks) - 20.0 * math.log10(top))
    if noise_db > -ABOVE_NOISE_DB:
        raise recording.refuse(
            "nothing stands out of the noise between "
            f"{band[0] / 1000:g} and {band[1] / 1000:g} kHz: measure again, louder, or longer with a sweep"
        )
    ends_s = len(samples) / rate_hz - start_s
    until_s = _faded_from(near / top, ends_s + _LEAD_S) + start_s - _LEAD_S - direct_s
    notes = [*recording.notes, *_notes(recording, near / top, noise_db)]
    return Response(recording, direct_s, until_s, noise_db, tuple(notes))


def envelopes(
    samples: Floats, rate_hz: int, zero_s: float, bands_hz: Sequence[tuple[float, float]], until_s: float
) -> Floats:
    """Envelopes of a record in some bands, (n_bands, n), from 1 ms before a moment on, `SAMPLE_RATE_HZ`.

    The filter is that of the prediction's curves (`band_window`), of a record cut short by half-cosines
    where nothing of it reaches what is shown. Lines of both rates fall on each other, so that nothing has
    to be converted between them.
    """
    common = math.gcd(rate_hz, SAMPLE_RATE_HZ)
    wanted_s = max(_RECORD_S, _LEAD_S + until_s + 3.0 * _MARGIN_S)
    record_s = math.ceil(wanted_s * common) / common
    first = math.floor((zero_s - _LEAD_S - _MARGIN_S) * rate_hz)
    last = math.ceil((zero_s + until_s + _MARGIN_S) * rate_hz)
    piece = _tapered(samples, first, last, round(_TAPER_S * rate_hz))
    spectrum = np.fft.rfft(piece, round(record_s * rate_hz))
    frequency_hz = np.arange(len(spectrum)) / record_s
    spectrum *= np.exp(2j * np.pi * frequency_hz * (zero_s - _LEAD_S - first / rate_hz))
    n, n_shown = round(record_s * SAMPLE_RATE_HZ), round((_LEAD_S + until_s) * SAMPLE_RATE_HZ) + 1
    shown = np.empty((len(bands_hz), n_shown))
    for k, (from_hz, to_hz) in enumerate(bands_hz):
        window = band_window(frequency_hz, from_hz, to_hz)
        lines = np.flatnonzero(window[: n // 2])
        whole = np.zeros(n, np.complex128)
        whole[lines] = spectrum[lines] * window[lines]
        shown[k] = np.abs(np.fft.ifft(whole))[:n_shown] * (2.0 * SAMPLE_RATE_HZ / rate_hz)
    return shown


def measured_curves(scene: Scene, response: Response, *, until_s: float) -> Curves:
    """Energy-time curves of a response, 0 dB = top of its direct sound."""
    recording = response.recording
    shown = envelopes(
        recording.samples,
        recording.rate_hz,
        response.direct_s,
        bands_of(scene),
        min(until_s, response.until_s),
    )
    time_s = np.arange(shown.shape[1]) / SAMPLE_RATE_HZ - _LEAD_S
    direct = np.abs(time_s) <= PEAK_WIDTH_S
    levels_db = decibels((shown / shown[:, direct].max(axis=1, keepdims=True)) ** 2)
    return Curves(time_s, levels_db[0], levels_db[1:])


def find_curve_peaks(
    scene: Scene,
    curves: Curves,
    *,
    lowest_db: float,
    until_s: float,
    alone_s: float = 0.0,
    noise_db: float = -math.inf,
) -> tuple[CurvePeak, ...]:
    """Peaks of a curve behind the direct sound's own lobe, by delay.

    Maxima as verdicts have them (`curve_maxima`) that stand 3 dB above both valleys; of two within a
    pulse's width the stronger; none that the side lobes of stronger ones make, the direct sound's among
    them, nor these with noise in step with them: its mean energy is at `noise_db`.
    Up to `alone_s` nothing can be but direct sound: what the loudspeaker rings on there it rings on after
    each reflection too: peaks later than `alone_s` that may be no more than that are marked.
    """
    from scipy.signal import peak_prominences

    _, column, level_db = curve_maxima(curves.level_db[None], lowest_db)
    delay_s = column / SAMPLE_RATE_HZ + curves.time_s[0]
    level = np.maximum(curves.level_db, lowest_db - 60.0)
    at = np.floor(column + 0.5).astype(np.int64)
    beside = [np.clip(at + step, 0, len(level) - 1) for step in (-1, 0, 1)]
    at = np.array(beside)[np.argmax(level[beside], axis=0), np.arange(len(at))]
    stands = peak_prominences(level, at)[0] >= PROMINENT_DB
    lobes = side_lobes(scene)
    ringing = _ringing(curves, alone_s)
    kept, ringing_only = list[int](), set[int]()
    made, rung = lobes(curves.time_s), np.zeros(len(curves.time_s))
    noise, lobe = (10.0 ** (db / 20.0) for db in (noise_db + ABOVE_NOISE_DB, SIDE_LOBE_DB))
    for k in np.argsort(-level_db, kind="stable").tolist():
        if not (stands[k] and LOBE_S < delay_s[k] <= until_s + LOBE_S):
            continue
        is_free = all(abs(delay_s[k] - delay_s[other]) > PEAK_WIDTH_S for other in kept)
        if is_free and 10.0 ** (level_db[k] / 20.0) > max(lobe * made[at[k]], made[at[k]] + noise):
            kept.append(k)
            if delay_s[k] > alone_s and level_db[k] <= decibels(rung[at[k]]) + SIDE_LOBE_DB:
                ringing_only.add(k)
                continue
            made += 10.0 ** (level_db[k] / 20.0) * lobes(curves.time_s - delay_s[k])
            rung += 10.0 ** (level_db[k] / 10.0) * ringing(curves.time_s - delay_s[k])
    return tuple(
        CurvePeak(float(delay_s[k]), float(level_db[k]), curves.at(float(delay_s[k]))[1], k in ringing_only)
        for k in sorted(kept, key=lambda k: delay_s[k])
        if delay_s[k] <= until_s
    )


def side_lobes(scene: Scene) -> Callable[[Floats], Floats]:
    """How high the envelope of one pulse in the limit's band still gets, from some time off its top on."""
    n = round(_RECORD_S * SAMPLE_RATE_HZ)
    frequency_hz: Floats = np.maximum(np.fft.fftfreq(n, 1.0 / SAMPLE_RATE_HZ), 0.0).astype(np.float64)
    envelope = np.abs(np.fft.ifft(band_window(frequency_hz, *bands_of(scene)[0])))[: n // 2]
    still = np.maximum.accumulate(envelope[::-1])[::-1] / envelope[0]

    def lobes(off_s: Floats) -> Floats:
        at = np.minimum(np.abs(off_s) * SAMPLE_RATE_HZ, len(still) - 1).astype(np.int64)
        return np.asarray(still[at], np.float64)

    return lobes


def _ringing(curves: Curves, alone_s: float) -> Callable[[Floats], Floats]:
    """Energy that follows a pulse as it follows the direct sound until something else can arrive."""
    from scipy.ndimage import maximum_filter1d

    own = (curves.time_s > LOBE_S) & (curves.time_s < alone_s - PEAK_WIDTH_S)
    energy = np.where(own, 10.0 ** (curves.level_db / 10.0), 0.0)
    energy = maximum_filter1d(energy, 2 * round(PEAK_WIDTH_S * SAMPLE_RATE_HZ) + 1)

    def ringing(off_s: Floats) -> Floats:
        return np.asarray(np.interp(off_s, curves.time_s, energy, left=0.0, right=0.0), np.float64)

    return ringing


def _tapered(samples: Floats, first: int, last: int, taper: int) -> Floats:
    """A piece of a record, nothing where it does not reach, its ends faded where they are cut."""
    piece = np.zeros(last - first)
    low, high = max(first, 0), min(last, len(samples))
    piece[low - first : high - first] = samples[low:high]
    fade = 0.5 - 0.5 * np.cos(np.pi * (np.arange(taper) + 0.5) / taper)
    if first > 0:
        piece[:taper] *= fade
    if last < len(samples):
        piece[-taper:] *= fade[::-1]
    return piece


def _direct(envelope: Floats) -> tuple[float, float]:
    """When the direct sound is at its top, from the first value on, and how high that is. [s]"""
    strongest = float(envelope.max())
    if strongest <= 0.0:
        return 0.0, 1e-300
    level_db = decibels((envelope / strongest) ** 2)
    _, column, height_db = curve_maxima(level_db[None], _DIRECT_DB)
    if len(column) == 0:
        return float(np.argmax(envelope)) / SAMPLE_RATE_HZ, strongest
    lobe = column <= column[0] + LOBE_S * SAMPLE_RATE_HZ
    top = int(np.argmax(np.where(lobe, height_db, -np.inf)))
    return float(column[top]) / SAMPLE_RATE_HZ, strongest * 10.0 ** (float(height_db[top]) / 20.0)


def _without_silence(recording: Recording) -> Recording:
    """A record up to its last sound: zeros behind it fill up a file and were never measured."""
    loud = np.abs(recording.samples)
    sounds = np.flatnonzero(loud > 10.0 ** (SILENCE_DB / 20.0) * loud.max(initial=0.0))
    n = int(sounds[-1]) + 1 if len(sounds) else len(loud)
    return replace(recording, samples=recording.samples[:n])


def _faded_from(envelope: Floats, ends_s: float) -> float:
    """Where a record is faded out shortly before its end, else that end, from the first value on. [s]

    `envelope` re the top of the direct sound.
    """
    step = round(_FADES_S * SAMPLE_RATE_HZ)
    last = min(math.floor(ends_s * SAMPLE_RATE_HZ), len(envelope) - 1) - step
    first = max(math.floor((ends_s - _FADE_S) * SAMPLE_RATE_HZ), 0)
    rest = np.maximum.accumulate(envelope[::-1])[::-1]
    before, after = rest[first:last], rest[first + step : last + step]
    faded = (before > 10.0 ** (_HEARD_DB / 20.0)) & (after < 10.0 ** (-_FADES_DB / 20.0) * before)
    falls = np.flatnonzero(faded)
    return ends_s if len(falls) == 0 else (first + int(falls[-1])) / SAMPLE_RATE_HZ


def _blocks(samples: Floats, rate_hz: int, band: tuple[float, float]) -> Floats:
    """Mean squared envelope of a record in a band, block by block; zeros were never measured."""
    from scipy.fft import fft, ifft, next_fast_len

    n, block = next_fast_len(len(samples) + round(_MARGIN_S * rate_hz)), round(_BLOCK_S * rate_hz)
    spectrum = fft(samples, n)
    spectrum *= band_window(np.fft.fftfreq(n, 1.0 / rate_hz).astype(np.float64), *band)
    energy = np.abs(2.0 * ifft(spectrum)[: len(samples)]) ** 2
    n_blocks = len(samples) // block
    blocks = energy[: n_blocks * block].reshape(n_blocks, block).mean(axis=1)
    sounds = samples[: n_blocks * block].reshape(n_blocks, block).any(axis=1)
    return np.asarray(blocks[sounds], np.float64)


def _check_length(recording: Recording, blocks: Floats) -> None:
    """Refuse what sounds on as a sweep does, well above its noise."""
    most = blocks.max(initial=0.0)
    loud_s = _BLOCK_S * np.count_nonzero(blocks > 0.1 * most)
    if loud_s > _LOUD_S and _noise_db(blocks) < float(decibels(most)) - _OVER_QUIET_DB:
        raise recording.refuse(
            f"stays loud for {loud_s:.1f} s, which no response of a small room does. If it is the recording "
            "of a sweep, name that sweep too (--sweep)"
        )


def _noise_db(quiet: Floats) -> float:
    """Where a record is quietest, of its blocks."""
    if len(quiet) == 0:
        return -np.inf
    least = quiet.min() * 10.0 ** (_LEAST_BLOCK_DB / 10.0)
    if len(quiet) >= _STEADY:
        least = min(least, np.convolve(quiet, np.full(_STEADY, 1.0 / _STEADY), "valid").min())
    return float(decibels(least))


def _notes(recording: Recording, near: Floats, noise_db: float) -> list[Sentence]:
    """What is odd about a response as a whole."""
    notes = []
    name = recording.file
    if noise_db > _LOUD_NOISE_DB:
        text = "{file}: noise only {level} dB below the direct sound: nothing weaker than {limit} is told."
        limit = whole_decibels(noise_db + ABOVE_NOISE_DB)
        notes.append(sentence(text, file=name, level=f"{-noise_db:.0f}", limit=limit))
    ahead_db = float(decibels(near.max() ** 2))
    if ahead_db > _AHEAD_DB:
        text = (
            "{file}: a later sound is {level} dB stronger than the first one. If the first is not the direct "
            "sound, all delays are wrong: look whether something hid the speaker from the microphone."
        )
        notes.append(sentence(text, file=name, level=f"{ahead_db:.0f}"))
    return notes
