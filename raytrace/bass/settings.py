"""What can be set where a sub joins others: delay, level, polarity, crossover."""

import numpy as np
from numpy.typing import NDArray

from raytrace.bass.records import Crossover

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

_DELAYS_MS: Floats = np.arange(-10.0, 10.25, 0.5)
_LEVELS_DB: Floats = np.arange(-6.0, 6.5, 1.0)
_CROSSOVERS_HZ = (
    60.0,
    70.0,
    80.0,
    90.0,
    100.0,
)  # higher ones tell where the sub is (common practice, no source)
CROSSING_HZ = (30.0, 160.0)
"""Over which range a crossover is judged."""


def _spread_db(pressure: Complexes) -> Floats:
    """Standard deviation of the level over the last two axes, frequencies and places."""
    return np.asarray((20.0 * np.log10(np.maximum(np.abs(pressure), 1e-12))).std(axis=(-2, -1)))


def tune(first: Complexes, second: Complexes, frequencies_hz: Floats) -> tuple[float, float, float]:
    """Delay [ms] and level [dB] of the second of two sources that make both together most even, and how even.

    Parameters
    ----------
    first, second : (n_frequencies, n_places) complex
        Pressure of each alone.
    frequencies_hz : (n_frequencies,) float
    """
    turn = np.exp(-2j * np.pi * frequencies_hz * 1e-3 * _DELAYS_MS[:, None])
    best = (0.0, 0.0, float(_spread_db(first + second)))
    for level in _LEVELS_DB:
        spread = _spread_db(first + 10.0 ** (level / 20.0) * turn[..., None] * second)
        k = int(np.argmin(spread))
        # Settings are told where they bring something: more than rounding.
        if spread[k] < best[2] - 1e-9:
            best = (float(_DELAYS_MS[k]), float(level), float(spread[k]))
    return best


def _filters(frequencies_hz: Floats, crossover_hz: float) -> tuple[Complexes, Complexes]:
    """Low and high pass of a fourth-order Linkwitz-Riley crossover: a Butterworth of second order, twice."""
    s = 1j * frequencies_hz / crossover_hz
    second_order = s * s + np.sqrt(2.0) * s + 1.0
    return np.asarray(1.0 / second_order**2), np.asarray(s**4 / second_order**2)


def cross_over(sub: Complexes, mains: Complexes, frequencies_hz: Floats) -> Crossover:
    """The setting of a crossover at which sub and speakers together are most even.

    Parameters
    ----------
    sub, mains : (n_frequencies, n_places) complex
        Pressure of the subwoofers and of all speakers, each driven alike.
    frequencies_hz : (n_frequencies,) float
    """
    low, high = CROSSING_HZ
    kept = (frequencies_hz >= low) & (frequencies_hz <= high)
    f, sub, mains = frequencies_hz[kept], sub[kept], mains[kept]
    plain_low, plain_high = _filters(f, 80.0)
    plain = float(_spread_db(plain_low[:, None] * sub + plain_high[:, None] * mains))
    best = Crossover(80.0, 0.0, False, 0.0, plain, plain)
    for hz in _CROSSOVERS_HZ:
        passed_low, passed_high = _filters(f, hz)
        above = passed_high[:, None] * mains
        for sign in (1.0, -1.0):
            delay, level, spread = tune(above, sign * passed_low[:, None] * sub, f)
            if spread < best.evenness_db:
                best = Crossover(hz, delay, sign < 0.0, level, spread, plain)
    return best
