"""Parameters of an energy decay as ISO 3382-1 defines them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

# Below the lower end of a fitted range the record must fall on by this much: what is cut off after its
# end would bend the curve (the distance that ISO 3382 asks of the noise floor, from memory).
CLEARANCE_DB = 10.0


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
    curve = np.concatenate([rest, np.zeros_like(rest[..., :1, :])], axis=-2)
    curve[..., 0, :] += direct
    return curve


def room_parameters(direct: ArrayLike, energy: ArrayLike, step_s: float) -> RoomParameters:
    """Decay times and energy ratios of an energy decay.

    Parameters
    ----------
    direct : (..., n_bands) array_like
        Energy of the direct sound, at time 0.
    energy : (..., n_bins, n_bands) array_like
        Energy in equal time bins from time 0 on.
    step_s : float
        Width of a bin. [s]

    Notes
    -----
    ISO 3382-1:2009 (from memory): times by least squares on the level of `decay_curve` at the edges of
    the bins.

    Examples
    --------
    >>> time = np.arange(0.0, 0.6, 0.001)
    >>> fall = np.exp(-time * 6 * np.log(10) / 0.3)[:, None]
    >>> room_parameters([0.0], fall, 0.001).t20_s.round(3).tolist()
    [0.3]
    """
    curve = decay_curve(direct, energy)
    total = curve[..., 0, :]
    with np.errstate(divide="ignore", invalid="ignore"):
        level_db = 10.0 * np.log10(curve / total[..., None, :])
        early_50, early_80 = (1.0 - _rest(curve, end_s / step_s) / total for end_s in (0.05, 0.08))
        centre_s = (np.arange(np.shape(energy)[-2]) + 0.5) * step_s
        return RoomParameters(
            edt_s=_decay_time_s(level_db, step_s, 0.0, -10.0),
            t20_s=_decay_time_s(level_db, step_s, -5.0, -25.0),
            t30_s=_decay_time_s(level_db, step_s, -5.0, -35.0),
            c50_db=10.0 * np.log10(early_50 / (1.0 - early_50)),
            c80_db=10.0 * np.log10(early_80 / (1.0 - early_80)),
            d50=early_50,
            ts_s=np.einsum("t,...tb->...b", centre_s, np.asarray(energy, np.float64)) / total,
        )


def _rest(curve: Floats, place: float) -> Floats:
    """Value of a curve between its samples, (..., n_samples, n_bands) -> (..., n_bands)."""
    last = curve.shape[-2] - 1
    place = min(place, float(last))
    before = min(int(place + 1e-9), last)
    after = min(before + 1, last)
    share = max(0.0, place - before)
    rest: Floats = (1.0 - share) * curve[..., before, :] + share * curve[..., after, :]
    return rest


def _decay_time_s(level_db: Floats, step_s: float, from_db: float, to_db: float) -> Floats:
    """Time for 60 dB by the line of least squares through a range of levels; NaN where it is not held."""
    time_s = step_s * np.arange(level_db.shape[-2])[:, None]
    used = (level_db <= from_db) & (level_db >= to_db)
    count = used.sum(axis=-2)
    level = np.where(used, level_db, 0.0)
    mean_time = np.where(used, time_s, 0.0).sum(axis=-2) / count
    away = np.where(used, time_s - mean_time[..., None, :], 0.0)
    slope = (away * level).sum(axis=-2) / (away**2).sum(axis=-2)
    # The level nine tenths down the record: above it, what was cut off at the end matters.
    reached = level_db[..., int(0.9 * (level_db.shape[-2] - 1)), :] <= to_db - CLEARANCE_DB
    seconds: Floats = np.where((count >= 3) & reached & (slope < 0.0), -60.0 / slope, np.nan)
    return seconds
