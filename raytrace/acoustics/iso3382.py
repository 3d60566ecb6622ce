"""Parameters of an energy decay as ISO 3382-1 defines them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

# Below the lower end of a fitted range the record must fall on by this much: what is cut off after its
# end would bend the curve (the distance that ISO 3382 asks of the noise floor, from memory).
CLEARANCE_DB = 10.0
NO_REFLECTIONS = (np.zeros(0), np.zeros((0, 1)))


@dataclass(frozen=True)
class RoomParameters:
    """Decay times and energy ratios, each (..., n_bands); NaN where the record does not hold the range.

    Attributes
    ----------
    edt_s, t20_s, t30_s : float
        Decay times for 60 dB from the falls 0 to -10, -5 to -25 and -5 to -35 dB.
    c50_db, c80_db : float
        Energy before 50 and 80 ms against what comes later.
    d50 : float
        Share of the energy before 50 ms.
    ts_s : float
        Centre of gravity of the energy in time.
    """

    edt_s: Floats
    t20_s: Floats
    t30_s: Floats
    c50_db: Floats
    c80_db: Floats
    d50: Floats
    ts_s: Floats


def decay_curve(direct: ArrayLike, energy: ArrayLike) -> Floats:
    """Energy still to come, by backward integration: (..., n_bins + 1, n_bands), first all of it, last 0.

    Parameters
    ----------
    direct : (..., n_bands) array_like
        Energy of the direct sound, at time 0.
    energy : (..., n_bins, n_bands) array_like
        Energy in equal time bins from time 0 on.

    Notes
    -----
    M. R. Schroeder, J. Acoust. Soc. Am. 37 (1965) 409 (from memory).
    """
    energy = np.asarray(energy, np.float64)
    rest = np.flip(np.cumsum(np.flip(energy, axis=-2), axis=-2), axis=-2)
    curve = np.concatenate([rest, np.zeros_like(energy.sum(axis=-2, keepdims=True))], axis=-2)
    curve[..., 0, :] += direct
    return curve


def room_parameters(
    direct: ArrayLike,
    energy: ArrayLike,
    step_s: float,
    *,
    reflections: tuple[ArrayLike, ArrayLike] = NO_REFLECTIONS,
) -> RoomParameters:
    """Decay times and energy ratios of an energy decay.

    Parameters
    ----------
    direct : (..., n_bands) array_like
        Energy of the direct sound, at time 0.
    energy : (..., n_bins, n_bands) array_like
        Energy in equal time bins from time 0 on, spread evenly within a bin.
    step_s : float
        Width of a bin. [s]
    reflections : ((n,), (n, n_bands)) array_like
        Delays [s] and energies of single reflections within the record, besides what the bins hold.

    Notes
    -----
    ISO 3382-1:2009 (from memory): times by least squares on the level of the backward-integrated curve, in
    the limit of fine sampling. The steps of the direct sound and of single reflections take no time.

    Examples
    --------
    >>> time = np.arange(0.0, 0.6, 0.001)
    >>> fall = np.exp(-time * 6 * np.log(10) / 0.3)[:, None]
    >>> room_parameters([0.0], fall, 0.001).t20_s.round(3).tolist()
    [0.3]
    """
    delay_s, single = (np.asarray(values, np.float64) for values in reflections)
    energy = np.asarray(energy, np.float64)
    curve = _curve(energy, step_s, delay_s, single)
    total = curve.whole + np.asarray(direct, np.float64)
    centre_s = (np.arange(energy.shape[-2]) + 0.5) * step_s
    first_moment = np.einsum("t,...tb->...b", centre_s, energy) + delay_s @ single
    with np.errstate(divide="ignore", invalid="ignore"):
        early_50, early_80 = (1.0 - curve.at(end_s) / total for end_s in (0.05, 0.08))
        level = curve.re(total)
        return RoomParameters(
            edt_s=_decay_time_s(level, 0.0, -10.0),
            t20_s=_decay_time_s(level, -5.0, -25.0),
            t30_s=_decay_time_s(level, -5.0, -35.0),
            c50_db=10.0 * np.log10(early_50 / (1.0 - early_50)),
            c80_db=10.0 * np.log10(early_80 / (1.0 - early_80)),
            d50=early_50,
            ts_s=first_moment / total,
        )


@dataclass(frozen=True)
class _Pieces:
    """A falling curve in pieces of time (n_pieces + 1,): a straight line in each, steps between them.

    `start` and `end` (..., n_pieces, n_bands) are its values in the piece; `whole` (..., n_bands) is what it
    has before a step at time 0.
    """

    time_s: Floats
    start: Floats
    end: Floats
    whole: Floats

    def at(self, time_s: float) -> Floats:
        """Its value at a time, (..., n_bands); the last one after the end."""
        piece = int(np.searchsorted(self.time_s[1:-1], time_s, side="right"))
        begin_s, end_s = self.time_s[piece], self.time_s[piece + 1]
        share = min((time_s - begin_s) / (end_s - begin_s), 1.0)
        value: Floats = (1.0 - share) * self.start[..., piece, :] + share * self.end[..., piece, :]
        return value

    def re(self, total: Floats) -> "_Pieces":
        """The same in decibels re a total (..., n_bands)."""
        parts = (self.start, self.end, self.whole[..., None, :])
        start, end, whole = (10.0 * np.log10(part / total[..., None, :]) for part in parts)
        return _Pieces(self.time_s, start, end, whole[..., 0, :])


def _curve(energy: Floats, step_s: float, delay_s: Floats, single: Floats) -> _Pieces:
    """Energy still to come of bins and single reflections, without the direct sound."""
    spread = decay_curve(0.0, energy)
    n_bins = energy.shape[-2]
    time_s = np.union1d(step_s * np.arange(n_bins + 1), delay_s)
    place = time_s / step_s
    edge = np.minimum(place.astype(np.int64), n_bins - 1)
    share = (place - edge)[:, None]
    spread = (1.0 - share) * spread[..., edge, :] + share * spread[..., edge + 1, :]
    order = np.argsort(delay_s)
    rest = decay_curve(0.0, single[order])
    to_come = rest[np.searchsorted(delay_s[order], time_s[:-1], side="right")]
    return _Pieces(
        time_s, spread[..., :-1, :] + to_come, spread[..., 1:, :] + to_come, spread[..., 0, :] + rest[0]
    )


def _decay_time_s(level_db: _Pieces, from_db: float, to_db: float) -> Floats:
    """Time for 60 dB by the line of least squares through a range of levels; NaN where it is not held."""
    # The level nine tenths down the record: above it, what was cut off at the end matters.
    late = int(np.searchsorted(level_db.time_s, 0.9 * level_db.time_s[-1]))
    reached = level_db.start[..., late, :] <= to_db - CLEARANCE_DB
    held = (level_db.start > to_db) & (level_db.end <= from_db)
    held_by_any = np.flatnonzero(held.any(axis=(*range(held.ndim - 2), -1)))
    pieces = slice(held_by_any.min(initial=held.shape[-2]), held_by_any.max(initial=-1) + 1)
    start, end = level_db.start[..., pieces, :], level_db.end[..., pieces, :]
    begin_s, lasts_s = (part[pieces, None] for part in (level_db.time_s[:-1], np.diff(level_db.time_s)))
    fall = start - end
    # Shares of each piece after which the level reaches the ends of the range; a fall to nothing takes none.
    enters, leaves = (np.clip(np.nan_to_num((start - limit) / fall), 0.0, 1.0) for limit in (from_db, to_db))
    middle, width = 0.5 * (enters + leaves), (leaves - enters) * lasts_s
    fall = np.where(width > 0.0, fall, 0.0)
    level = np.where(width > 0.0, start - middle * fall, 0.0)
    time_s = begin_s + middle * lasts_s
    away_s = time_s - ((width * time_s).sum(axis=-2) / width.sum(axis=-2))[..., None, :]
    turned = width**2 / 12.0  # each piece turns about its own middle as well
    slope = (width * (away_s * level - turned * fall / lasts_s)).sum(axis=-2)
    slope /= (width * (away_s**2 + turned)).sum(axis=-2)
    # A line through less than a tenth of the range is no decay: single steps make the rest of the fall.
    highest = np.where(width > 0.0, start - enters * fall, to_db).max(axis=-2, initial=to_db)
    lowest = np.where(width > 0.0, start - leaves * fall, from_db).min(axis=-2, initial=from_db)
    known = reached & (highest - lowest > 0.1 * (from_db - to_db))
    seconds: Floats = np.where(known, -60.0 / slope, np.nan)
    return seconds
