"""What a measurement at the seat would show of direct sound and reflections."""

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import band_frequencies_hz
from raytrace.reflections.arrivals import HIDDEN_DB, Arrivals, PointArrivals, decibels
from raytrace.scene import Scene

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SAMPLE_RATE_HZ = 96_000
EDGE_OCTAVES = 0.5  # width of the edges of a band's filter
RESPONSE_HZ = (200.0, 8000.0)
SMOOTHING_OCTAVES = 1.0 / 12.0
LINE_STEP_HZ = 5.0  # a comb of 30 ms repeats every 33 Hz
DRAWN_FROM_DB = -15.0  # a reflection this strong makes a comb 3 dB deep
AT_ONCE = 64  # arrivals whose pressure is worked out together
RECORD_S = 0.064  # twice the usual 30 ms window: what wraps round falls behind it


@dataclass(frozen=True)
class Curve:
    """Energy-time curve of one speaker at one seat.

    Attributes
    ----------
    speaker, seat : int
        Indices into the scene's lists.
    time_s : (n,) float
        After the direct sound, from 1 ms before it.
    level_db : (n,) float
        0 dB = peak of the direct sound, see `direct_peaks`.
    """

    speaker: int
    seat: int
    time_s: Floats
    level_db: Floats


def energy_time_curves(scene: Scene, arrivals: Arrivals, *, until_s: float = 0.030) -> tuple[Curve, ...]:
    """Energy-time curves at the ears in the limit's band, one per speaker and seat.

    Near misses count: what a measurement picks up does not end sharply at an edge.
    The envelope of the analytic pulse response, band-limited with half-octave raised-cosine edges
    (band-limiting and envelope: common practice of time-domain measurement, from memory: Heyser).
    """
    record_s = max(RECORD_S, 2.0 * until_s)
    return tuple(_curve(scene, *pair, until_s, record_s) for pair in _at_ears(arrivals))


def energy_time_curve(
    scene: Scene, at_point: PointArrivals, missed: PointArrivals, *, until_s: float
) -> Curve:
    """One of them, from what the ears hear until then and its near misses; quick for a short window."""
    return _curve(scene, at_point, missed, until_s, max(0.5 * RECORD_S, 2.0 * until_s))


def _at_ears(arrivals: Arrivals) -> list[tuple[PointArrivals, PointArrivals]]:
    """What the ears hear of each speaker at each seat, and its near misses."""
    assert arrivals.near_misses is not None
    return list(zip(arrivals.at_ears, arrivals.near_misses.at_ears, strict=True))


def _curve(
    scene: Scene, at_point: PointArrivals, missed: PointArrivals, until_s: float, record_s: float
) -> Curve:
    n = round(record_s * SAMPLE_RATE_HZ)
    band = band_lines(n, scene.limits.from_hz, scene.limits.to_hz)
    spectrum = np.zeros(n, np.complex128)
    spectrum[band.lines] = transfer(at_point, missed, band.frequency_hz) * band.window
    lead = round(0.001 * SAMPLE_RATE_HZ)
    envelope = np.roll(np.abs(np.fft.ifft(spectrum)), lead)
    direct_peak = direct_peaks(pressure_at(at_point.direct[None], band.frequency_hz), band.window, n)[0]
    shown = slice(0, lead + round(until_s * SAMPLE_RATE_HZ) + 1)
    time_s = (np.arange(n) - lead) / SAMPLE_RATE_HZ
    return Curve(
        at_point.speaker, at_point.seat, time_s[shown], decibels((envelope[shown] / direct_peak) ** 2)
    )


def direct_peaks(direct: NDArray[np.complex128], window: Floats, n: int) -> Floats:
    """Peaks of the envelope of direct sounds, to which curves refer, (n_points,).

    Where one is hidden (`HIDDEN_DB`) that of a sound which is just not: nothing is judged against it.

    Parameters
    ----------
    direct : (n_points, n_lines) complex
        Re a free field, at lines in a row.
    window : (n_lines,) float
        Of the band.
    n : int
        Length of the transform.
    """
    spectrum = np.zeros((len(direct), n), np.complex128)
    spectrum[:, : len(window)] = direct * window
    peaks = np.abs(np.fft.ifft(spectrum, axis=1)).max(axis=1)
    at_least: Floats = np.maximum(peaks, 10.0 ** (HIDDEN_DB / 20.0) * np.sum(window) / n)
    return at_least


def transfer(at_point: PointArrivals, missed: PointArrivals, frequency_hz: Floats) -> NDArray[np.complex128]:
    """Pressure at the seat re direct at many frequencies, (n_frequencies,): direct, arrivals, near misses.

    Each arrival's pressure is known at 24 frequencies per octave: see `pressure_at` for others.
    """
    total: NDArray[np.complex128] = pressure_at(at_point.direct[None], frequency_hz)[0]
    pressure = np.concatenate([at_point.pressure, missed.pressure])
    delay_s = np.concatenate([at_point.delay_s, missed.delay_s])
    for start in range(0, len(delay_s), AT_ONCE):
        rows = slice(start, start + AT_ONCE)
        turned = np.exp(-2j * np.pi * delay_s[rows, None] * frequency_hz)
        total += np.sum(pressure_at(pressure[rows], frequency_hz) * turned, axis=0)
    return total


def pressure_at(pressure: NDArray[np.complex128], frequency_hz: Floats) -> NDArray[np.complex128]:
    """Pressures (n, n_bands, 24) at other frequencies (n_frequencies,), (n, n_frequencies).

    Between the known ones magnitude and phase are carried on linearly over the logarithm of frequency.
    """
    from raytrace.kernels.zone import carry_on

    below, share = _between_known(frequency_hz.tobytes())
    carried = np.empty((len(pressure), len(frequency_hz)), np.complex128)
    flat = np.ascontiguousarray(pressure).reshape(-1, band_frequencies_hz().size)
    carry_on(flat, below, share, carried)
    return carried


@lru_cache(maxsize=32)
def _between_known(frequencies: bytes) -> tuple[Ints, Floats]:
    """Which known frequency each of some [Hz] lies above, and how far towards the next, both (n,)."""
    known, wanted = np.log(band_frequencies_hz().ravel()), np.log(np.frombuffer(frequencies))
    below = np.clip(np.searchsorted(known, wanted) - 1, 0, len(known) - 2)
    return below, np.clip((wanted - known[below]) / np.diff(known)[below], 0.0, 1.0)


class BandLines(NamedTuple):
    """Lines of a transform in a band."""

    lines: slice
    frequency_hz: Floats
    window: Floats
    """What the band's edges leave of them, see `band_window`."""


@lru_cache(maxsize=32)
def band_lines(n: int, from_hz: float, to_hz: float) -> BandLines:
    """Lines of a transform of `n` samples at `SAMPLE_RATE_HZ` that lie in a band."""
    frequency_hz = np.arange(n // 2, dtype=np.float64) * (SAMPLE_RATE_HZ / n)
    window = band_window(frequency_hz, from_hz, to_hz)
    lines = slice(int(np.argmax(window > 0.0)), int(len(window) - np.argmax(window[::-1] > 0.0)))
    return BandLines(lines, frequency_hz[lines], window[lines])


def band_window(frequency_hz: Floats, from_hz: float, to_hz: float) -> Floats:
    """1 inside the band, raised-cosine edges a half-octave wide centred on its ends (in energy)."""
    octaves = np.log2(np.maximum(frequency_hz, 1e-6))
    rise = np.clip((octaves - np.log2(from_hz)) / EDGE_OCTAVES + 0.5, 0.0, 1.0)
    fall = np.clip((np.log2(to_hz) - octaves) / EDGE_OCTAVES + 0.5, 0.0, 1.0)
    window: Floats = np.sin(0.5 * np.pi * rise) * np.sin(0.5 * np.pi * fall)
    return np.where(frequency_hz > 0.0, window, 0.0)


@dataclass(frozen=True)
class EarlyResponse:
    """Level over frequency at one seat of one speaker's direct sound and reflections together.

    Attributes
    ----------
    speaker, seat : int
        Indices into the scene's lists.
    frequency_hz : (n,) float
        200 Hz to 8 kHz, 48 to the octave.
    level_db : (n,) float
        Re the direct sound alone, averaged in energy over a twelfth of an octave.
    strongest : int
        Row of `Arrivals` that comes in strongest within the limit's window, -1 without one.
    dips_hz : (n,) float
        Where that arrival alone would cancel direct sound, as far as the averaging lets it be seen; empty
        where the arrival is too weak to draw a comb or the direct sound is hidden.
    """

    speaker: int
    seat: int
    frequency_hz: Floats
    level_db: Floats
    strongest: int
    dips_hz: Floats

    def unevenness_db(self, from_hz: float) -> float:
        """How far levels from a frequency on lie from their mean: standard deviation over pitch. [dB]"""
        return float(np.std(self.level_db[self.frequency_hz >= from_hz]))


def early_responses(arrivals: Arrivals) -> tuple[EarlyResponse, ...]:
    """Combs that the early reflections draw into the direct sound at the ears, one per speaker and seat.

    The complex sum of direct sound, all arrivals found and near misses, so below about 1 / (the last
    arrival's delay) and where the room's later sound rules it tells nothing.
    """
    n_steps = 48 * np.log2(RESPONSE_HZ[1] / RESPONSE_HZ[0])
    centres = RESPONSE_HZ[0] * 2.0 ** (np.arange(int(n_steps) + 1) / 48.0)
    edge = 2.0 ** (SMOOTHING_OCTAVES / 2.0)
    lines = np.arange(centres[0] / edge, centres[-1] * edge + LINE_STEP_HZ, LINE_STEP_HZ)
    first = np.searchsorted(lines, centres / edge)
    last = np.maximum(np.searchsorted(lines, centres * edge), first + 1)
    responses = []
    for at_point, missed in _at_ears(arrivals):
        energy = np.concatenate([[0.0], np.cumsum(np.abs(transfer(at_point, missed, lines)) ** 2)])
        mean = (energy[last] - energy[first]) / (last - first)
        rows = arrivals.at(at_point.speaker, at_point.seat)
        rows = rows[arrivals.delay_s[rows] <= arrivals.reach.early_s]
        strongest = int(rows[np.argmax(arrivals.band_level_db[rows])]) if rows.size else -1
        dips_hz = _dips_hz(arrivals, strongest) if at_point.paths.direct_visible else np.zeros(0)
        responses.append(
            EarlyResponse(at_point.speaker, at_point.seat, centres, decibels(mean), strongest, dips_hz)
        )
    return tuple(responses)


def _dips_hz(arrivals: Arrivals, row: int) -> Floats:
    """Dips (2n + 1)/(2t) of the comb that one arrival draws (textbook), those the averaging leaves apart."""
    if row < 0 or arrivals.band_level_db[row] < DRAWN_FROM_DB or arrivals.delay_s[row] <= 0.0:
        return np.zeros(0)
    n_apart = int(1.0 / (2.0**SMOOTHING_OCTAVES - 1.0))
    dips_hz = (np.arange(n_apart) + 0.5) / float(arrivals.delay_s[row])
    return np.asarray(dips_hz[(dips_hz >= RESPONSE_HZ[0]) & (dips_hz <= RESPONSE_HZ[1])], np.float64)
