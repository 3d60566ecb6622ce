"""Decay parameters of a measured response per octave, noise and filters allowed for as ISO 3382 has it."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import BANDS_HZ, RoomParameters, room_parameters
from raytrace.measured.responses import Response

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

BACKWARDS_BELOW_HZ = 250.0
# Bandwidth times decay time below which the filter rings longer than the room: forwards, and backwards
# (ISO 3382-2; F. Jacobsen, J. H. Rindel, J. Sound Vib. 117 (1987) 187; both from memory).
LEAST_BT = (16.0, 4.0)
_BIN_S = 0.001
_NOISE_SHARE = 0.1  # the end of a record, where nothing but noise is left
_START = 0.01  # a response begins 20 dB below its top (ISO 3382-1 A.2, from memory)
_ABOVE_NOISE_DB = 8.0
_LINE_FROM_DB = -5.0
_TAIL_DB = 70.0
_LEAST_FALL_DB = 20.0
_STILL_FALLS = 0.5
# Fall down to the noise that each figure asks for: the end of its range and 10 dB.
_NEEDS_DB = {
    "edt_s": 20.0,
    "t20_s": 35.0,
    "t30_s": 45.0,
    "c50_db": 15.0,
    "c80_db": 15.0,
    "d50": 15.0,
    "ts_s": 15.0,
}


@dataclass(frozen=True)
class MeasuredDecay:
    """How sound dies away in a response.

    Attributes
    ----------
    parameters : RoomParameters
        Each (8,), NaN where the record does not hold what it needs.
    range_db : (8,) float
        From the start down to where noise, or the end of the record, takes over.
    is_cut : (8,) bool
        Whether the record ends before noise is reached.
    is_ringing : (8,) bool
        Whether the octave filter rings longer than a decay time can be told.
    """

    parameters: RoomParameters
    range_db: Floats
    is_cut: Bools
    is_ringing: Bools


@dataclass(frozen=True)
class Compensated:
    """Energies per millisecond with the noise taken out and the rest of the decay added, (n,)."""

    energy: Floats
    range_db: float
    is_cut: bool


def measured_decay(response: Response) -> MeasuredDecay:
    """Decay parameters of a response in the eight octaves.

    Notes
    -----
    ISO 3382-1:2009 (from memory): backward integration; the mean of the noise is subtracted up to where the
    decay meets it (W. T. Chu, J. Acoust. Soc. Am. 63 (1978) 1444, from memory) and a straight decay carries
    on from there. Octaves up to 125 Hz are filtered backwards in time.
    """
    bands = [_band(response, float(centre_hz)) for centre_hz in BANDS_HZ]
    longest = max(len(band.energy) for band in bands)
    energy = np.array([np.pad(band.energy, (0, longest - len(band.energy))) for band in bands]).T
    range_db = np.array([band.range_db for band in bands])
    found = room_parameters(np.zeros(len(bands)), energy, _BIN_S)
    held = {
        name: np.where(range_db >= needs_db, getattr(found, name), np.nan)
        for name, needs_db in _NEEDS_DB.items()
    }
    time_s = np.where(np.isfinite(held["t20_s"]), held["t20_s"], held["edt_s"])
    least = np.where(BANDS_HZ < BACKWARDS_BELOW_HZ, LEAST_BT[1], LEAST_BT[0])
    is_ringing = np.nan_to_num(time_s, nan=np.inf) * BANDS_HZ * (np.sqrt(2.0) - np.sqrt(0.5)) < least
    for name in ("edt_s", "t20_s", "t30_s"):
        held[name] = np.where(is_ringing, np.nan, held[name])
    return MeasuredDecay(
        RoomParameters(**held), range_db, np.array([band.is_cut for band in bands]), is_ringing
    )


def _band(response: Response, centre_hz: float) -> Compensated:
    """One octave from its own start on."""
    from scipy.signal import sosfilt

    rate_hz, samples = response.recording.rate_hz, response.recording.samples
    if centre_hz * np.sqrt(2.0) >= 0.49 * rate_hz:
        return Compensated(np.zeros(2), 0.0, False)
    step = -1 if centre_hz < BACKWARDS_BELOW_HZ else 1
    energy = sosfilt(_octave(centre_hz, rate_hz), samples[::step])[::step] ** 2
    # The filter rings so long; the octave's own top lies no farther from the direct sound.
    rings, direct = round(3.0 * rate_hz / centre_hz), round(response.direct_s * rate_hz)
    about = slice(max(0, direct - rings), direct + rings)
    first = about.start + int(np.argmax(energy[about] >= _START * energy[about].max()))
    return compensated(energy[first:], rate_hz, smooth_s=max(0.005, 2.0 / centre_hz))


@cache
def _octave(centre_hz: float, rate_hz: int) -> Floats:
    """Second-order sections of an octave filter."""
    from scipy.signal import butter

    edges_hz = centre_hz * np.sqrt([0.5, 2.0])
    return np.asarray(butter(3, edges_hz, "bandpass", fs=rate_hz, output="sos"), np.float64)


def compensated(energy: Floats, rate_hz: int, *, smooth_s: float = 0.005) -> Compensated:
    """Energies of a decay from its start on, per millisecond, without noise and with its tail.

    Parameters
    ----------
    energy : (n,) float
        Squared pressure.
    rate_hz : int
    smooth_s : float
        Over which levels are averaged to find the noise.
    """
    bins = _binned(energy, rate_hz)
    wide = max(1, round(smooth_s / _BIN_S))
    n_blocks = len(bins) // wide
    if n_blocks < 4 or not bins.any():
        return Compensated(bins, 0.0, True)
    blocks = bins[: n_blocks * wide].reshape(n_blocks, wide).mean(axis=1)
    top = int(np.argmax(blocks))
    with np.errstate(divide="ignore"):
        level_db = 10.0 * np.log10(blocks / blocks[top])
    n_last = max(1, round(_NOISE_SHARE * n_blocks))
    noise_db = float(10.0 * np.log10(max(10.0 ** (level_db[-n_last:] / 10.0).mean(), 1e-30)))
    slope, offset = _line(level_db, top, noise_db + _ABOVE_NOISE_DB)
    # What has hardly fallen may still be sound; nothing tells it from noise then.
    is_cut = noise_db > -_LEAST_FALL_DB or _still_falls(level_db, slope, n_last)
    if is_cut:
        slope, offset = _line(level_db, top, -np.inf)
    if not slope < 0.0:
        return Compensated(bins, 0.0, True)
    knee = n_blocks - 1 if is_cut else int(np.clip((noise_db - offset) / slope, top + 1, n_blocks - 1))
    noise = 0.0 if is_cut else blocks[top] * 10.0 ** (noise_db / 10.0)
    held = _with_tail(bins[: knee * wide] - noise, slope / wide, is_cut)
    return replace(held, range_db=min(held.range_db, -noise_db))


def _binned(energy: Floats, rate_hz: int) -> Floats:
    """Energy per millisecond, samples shared out between the two in which they lie."""
    whole = np.concatenate([[0.0], np.cumsum(energy)])
    edges = np.arange(0.0, len(energy) / rate_hz, _BIN_S) * rate_hz
    return np.diff(np.interp(edges, np.arange(len(whole)), whole))


def _line(level_db: Floats, top: int, down_to_db: float) -> tuple[float, float]:
    """Slope per block and offset of the decay by least squares; a slope of 0 where there is too little."""
    rows = np.arange(len(level_db))
    below = np.flatnonzero((rows > top) & (level_db <= down_to_db))
    last = int(below[0]) if len(below) else len(level_db)
    own = (rows >= top) & (rows < last) & (level_db <= _LINE_FROM_DB) & np.isfinite(level_db)
    if own.sum() < 2:
        own = (rows >= top) & (rows < last) & np.isfinite(level_db)
    if own.sum() < 2:
        return 0.0, 0.0
    slope, offset = np.polyfit(rows[own], level_db[own], 1)
    return float(slope), float(offset)


def _still_falls(level_db: Floats, slope: float, n_last: int) -> bool:
    """Whether a record ends while its sound still dies away: its end is as steep as the rest."""
    n = max(3 * n_last, 4)
    end = level_db[-n:]
    if not np.isfinite(end).all():
        return False
    steep = float(np.polyfit(np.arange(len(end)), end, 1)[0])
    return slope < 0.0 and steep < _STILL_FALLS * slope


def _with_tail(bins: Floats, slope_db: float, is_cut: bool) -> Compensated:
    """Bins with the decay that noise covers carried on, and the fall down to there."""
    near = bins[-min(len(bins), 20) :]
    # The line through the last bins at the known slope, so that the tail joins them.
    fall = 10.0 ** (slope_db / 10.0)
    back = fall ** -np.arange(len(near) - 1, -1, -1.0)
    level = max(float(near.sum() / back.sum()), 0.0)
    tail = level * fall ** np.arange(1.0, min(_TAIL_DB / -slope_db, 20_000.0))
    energy = np.concatenate([bins, tail])
    whole, rest = float(energy.sum()), float(tail.sum())
    if whole <= 0.0:
        return Compensated(bins, 0.0, is_cut)
    range_db = -10.0 * np.log10(max(rest / whole, 1e-12)) if rest > 0.0 else 120.0
    # Noise less its mean may dip below nothing; what is still to come may not.
    to_come = np.maximum.accumulate(np.cumsum(energy[::-1]))[::-1]
    falling = np.maximum(to_come, 0.0)
    return Compensated(np.append(-np.diff(falling), falling[-1]), float(range_db), is_cut)
