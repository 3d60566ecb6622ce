"""Played by one device and recorded by another: two clocks stretch a sweep, and what it finds is smeared."""

import numpy as np
from numpy.typing import NDArray

from raytrace.reflections import band_window

Floats = NDArray[np.float64]

FARTHEST = 3e-3  # two clocks are never so far apart (common practice: 1e-5 to 2e-4)
_BAND_HZ = (3000.0, 16_000.0)  # above crossovers, where a loudspeaker sends all at one moment
_HIGHEST = 0.4  # of the rate: converters' filters delay what is higher
_STEP_S = 0.02e-3  # of smear over the band: a sixth of the pulse that it holds
# By so much the top must rise: made recordings by one clock, noise and hum among them, rise by 0.9 % at most,
# one of 5 s that is 100 millionths off by 8 %.
_SHARPER = 1.05
_FINE = 2
_BEFORE_S, _AFTER_S = 0.10, 0.15


def straightened(response: Floats, played: Floats, rate_hz: int) -> tuple[Floats, float]:
    """A response without the smear of two clocks, and by how much the recorder's runs fast (0: no smear).

    Each frequency comes late by the drift times the moment at which the sweep passes it, which is known of
    any reference; the drift is the one that makes the strongest sound sharpest. Delays stay in the
    recorder's time: of 15 ms a thousandth is a sample.

    Parameters
    ----------
    response, played : (n,), (m,) float
        Out of the recording as it is; what was played.
    rate_hz : int
    """
    from scipy.fft import irfft, next_fast_len, rfft

    top = int(np.argmax(np.abs(response)))
    first, last = top - round(_BEFORE_S * rate_hz), top + round(_AFTER_S * rate_hz)
    piece = response[max(first, 0) : last]
    drift = _drift(piece, played, rate_hz)
    if drift == 0.0:
        return response, 0.0
    n = next_fast_len(2 * len(response), real=True)
    turn = _turn(played, rate_hz, np.fft.rfftfreq(n, 1.0 / rate_hz).astype(np.float64))
    straight: Floats = irfft(rfft(response, n) * np.exp(1j * drift * turn), n)[: len(response)]
    return straight, drift


def _drift(piece: Floats, played: Floats, rate_hz: int) -> float:
    """By how much one clock is faster, of the part of a response about its top; 0 where nothing is gained."""
    n = 2 * len(piece)
    frequency_hz = np.fft.fftfreq(n, 1.0 / rate_hz).astype(np.float64)
    window = band_window(frequency_hz, _BAND_HZ[0], min(_BAND_HZ[1], _HIGHEST * rate_hz))
    lines = np.flatnonzero(window)  # of frequencies above 0: the first ones, at any length
    turn = _turn(played, rate_hz, frequency_hz[lines])
    spectrum = np.fft.fft(piece, n)[lines] * window[lines]
    # How long the sweep takes over the band says how fine the search must be.
    slope = np.abs(np.diff(turn) / np.diff(frequency_hz[lines])) / (2.0 * np.pi)
    takes_s = float(np.ptp(slope))
    if takes_s <= 0.0:
        return 0.0

    def top(drift: float) -> float:
        whole = np.zeros(_FINE * n, np.complex128)  # a top between two samples counts as high as on one
        whole[lines] = spectrum * np.exp(1j * drift * turn)
        return float(np.abs(np.fft.ifft(whole)).max())

    n_steps = int(FARTHEST * takes_s / _STEP_S)
    tried = np.arange(-n_steps, n_steps + 1) * (_STEP_S / takes_s)
    heights = [top(drift) for drift in tried.tolist()]
    k = int(np.argmax(heights))
    if not 0 < k < len(tried) - 1 or heights[k] < _SHARPER * top(0.0):
        return 0.0
    below, at, above = heights[k - 1 : k + 2]
    bend = below - 2.0 * at + above
    return float(tried[k] + 0.5 * (below - above) / bend * (tried[1] - tried[0]))


def _turn(played: Floats, rate_hz: int, frequency_hz: Floats) -> Floats:
    """Phase at some frequencies by which a clock that is twice as fast would turn them, (n,). [rad]

    The integral of the moments at which what was played passes each frequency: its group delay.
    """
    from scipy.fft import next_fast_len, rfft

    start = int(np.flatnonzero(np.abs(played) > 0.0)[0])
    sound = played[start:]
    n = next_fast_len(len(sound), real=True)
    spectrum = rfft(sound, n)
    moments = rfft(sound * (np.arange(len(sound)) / rate_hz), n)
    power = np.abs(spectrum) ** 2
    passed_s = np.real(moments * np.conj(spectrum)) / np.maximum(power, 1e-9 * power.max())
    passed_s = np.clip(passed_s, 0.0, len(sound) / rate_hz)
    turned = 2.0 * np.pi * np.cumsum(passed_s) * (rate_hz / n)
    return np.asarray(np.interp(frequency_hz, np.arange(len(turned)) * (rate_hz / n), turned), np.float64)
