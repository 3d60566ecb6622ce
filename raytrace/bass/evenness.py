"""How even the bass is at some places, and where a curve has its dips and peaks."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

CURVE_HZ: Floats = np.asarray(20.0 * 2.0 ** (np.arange(80) / 24.0), np.float64)
"""Where curves are drawn: 20 to 196 Hz in steps of 1/24 octave, (80,)."""
JUDGED_HZ: Floats = np.asarray(30.0 * 2.0 ** ((np.arange(48) + 0.5) / 24.0), np.float64)
"""Where evenness is judged: two frequencies in each twelfth of an octave from 30 to 120 Hz, (48,)."""
_MARKED_DB = 5.0  # what a dip or peak stands out by against both sides; common practice, no source


@dataclass(frozen=True)
class Evenness:
    """How even the level from 30 to 120 Hz is over some places.

    Attributes
    ----------
    deviation_db : float
        Standard deviation of the levels of twelfths of an octave, all places together.
    dip_db : float
        The lowest twelfth of an octave of the mean over the places, against the mean of all. Negative.
    dip_hz : float
        Its middle.
    """

    deviation_db: float
    dip_db: float
    dip_hz: float


def twelfths_db(energy: Floats) -> Floats:
    """Levels of twelfths of an octave from energies at `JUDGED_HZ`, (48, ...) -> (24, ...). [dB]"""
    pairs = energy.reshape(24, 2, *energy.shape[1:]).mean(axis=1)
    with np.errstate(divide="ignore"):
        return np.asarray(10.0 * np.log10(pairs))


def deviation_db(energy: Floats) -> Floats:
    """Standard deviation over twelfths and places (last axis), (48, n_sources, n_places) -> (n_sources,)."""
    return np.asarray(twelfths_db(energy).std(axis=(0, 2)))


def judge(energy: Floats) -> Evenness:
    """Evenness of energies (48, n_places) at `JUDGED_HZ`."""
    level = twelfths_db(energy)
    mean = twelfths_db(energy.mean(axis=1))
    lowest = int(np.argmin(mean))
    middle = 30.0 * 2.0 ** ((lowest + 0.5) / 12.0)
    return Evenness(float(level.std()), float(mean[lowest] - mean.mean()), float(middle))


def extremes(level_db: Floats) -> tuple[Ints, Ints]:
    """Rows of the dips and of the peaks of a curve that stand out on both sides, ascending."""
    return _peaks(-level_db), _peaks(level_db)


def _peaks(level_db: Floats) -> Ints:
    """Rows above which the curve does not rise before it has fallen by what marks a peak, on either side."""
    inside = np.arange(1, len(level_db) - 1)
    tops = inside[(level_db[inside] > level_db[inside - 1]) & (level_db[inside] >= level_db[inside + 1])]
    marked = [
        row
        for row in tops
        if all(_falls(level_db[side], level_db[row]) for side in (slice(row, None), slice(row, None, -1)))
    ]
    return np.array(marked, np.int64)


def _falls(onwards_db: Floats, top_db: float) -> bool:
    """Whether a curve falls by what marks a peak before it rises above its start."""
    higher = np.flatnonzero(onwards_db > top_db)
    reach = onwards_db[: higher[0]] if len(higher) else onwards_db
    return bool(reach.min() <= top_db - _MARKED_DB)
