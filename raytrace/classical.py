"""Classical formulas of reverberation, and the parameters of a decay curve."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

MOST_SECONDS = 60.0  # stands for "no decay worth the name" where nothing absorbs


def _seconds(volume_m3: float, exponent_m2: ArrayLike, speed_of_sound_m_s: float) -> Floats:
    """T = 24 ln 10 / c V / (a S + 4 m V). [s]"""
    area = np.maximum(np.asarray(exponent_m2, np.float64), 1e-9)
    seconds: Floats = 24.0 * np.log(10.0) / speed_of_sound_m_s * volume_m3 / area
    return np.minimum(seconds, MOST_SECONDS)


def sabine_s(
    volume_m3: float,
    areas_m2: ArrayLike,
    absorption: ArrayLike,
    *,
    air_per_m: ArrayLike = 0.0,
    speed_of_sound_m_s: float = 343.2,
) -> Floats:
    """Reverberation time after Sabine, per band. [s]

    Parameters
    ----------
    volume_m3 : float
        Of the room.
    areas_m2 : (n,) array_like
        Of its surfaces.
    absorption : (n,) or (n, n_bands) array_like
        Coefficient of each.
    air_per_m : float or (n_bands,)
        Energy attenuation of the air. [1/m]
    speed_of_sound_m_s : float
        Of the air.

    Notes
    -----
    W. C. Sabine (1922); ISO 354.
    """
    area = np.asarray(areas_m2, np.float64) @ np.asarray(absorption, np.float64)
    return _seconds(volume_m3, area + 4.0 * np.asarray(air_per_m) * volume_m3, speed_of_sound_m_s)


def eyring_s(
    volume_m3: float,
    areas_m2: ArrayLike,
    absorption: ArrayLike,
    *,
    air_per_m: ArrayLike = 0.0,
    speed_of_sound_m_s: float = 343.2,
) -> Floats:
    """Reverberation time after Eyring, per band; arguments as `sabine_s`. [s]

    Notes
    -----
    C. F. Eyring, J. Acoust. Soc. Am. 1 (1930) 217 (from memory).
    """
    areas = np.asarray(areas_m2, np.float64)
    mean = np.minimum(areas @ np.asarray(absorption, np.float64) / areas.sum(), 1.0 - 1e-12)
    exponent = -areas.sum() * np.log1p(-mean) + 4.0 * np.asarray(air_per_m) * volume_m3
    return _seconds(volume_m3, exponent, speed_of_sound_m_s)


def arau_s(
    volume_m3: float,
    areas_m2: ArrayLike,
    absorption: ArrayLike,
    normals: ArrayLike,
    *,
    air_per_m: ArrayLike = 0.0,
    speed_of_sound_m_s: float = 343.2,
) -> Floats:
    """Reverberation time after Arau-Puchades, per band; arguments as `sabine_s`. [s]

    The three directions are those of x, y and z; a surface at a slant counts to each by the square of
    its normal's component (own extension beyond the cuboid; exact for one).

    Notes
    -----
    H. Arau-Puchades, Acustica 65 (1988) 163 (from memory).
    """
    areas = np.asarray(areas_m2, np.float64)
    alpha = np.asarray(absorption, np.float64)
    shares = np.asarray(normals, np.float64) ** 2
    total = areas.sum()
    log_time: Floats = np.zeros(alpha.shape[1:])
    for axis in range(3):
        area = areas * shares[:, axis]
        if area.sum() > 0.0:
            mean = np.minimum(area @ alpha / area.sum(), 1.0 - 1e-12)
            exponent = -total * np.log1p(-mean) + 4.0 * np.asarray(air_per_m) * volume_m3
            seconds = _seconds(volume_m3, exponent, speed_of_sound_m_s)
            log_time = log_time + area.sum() / total * np.log(seconds)
    result: Floats = np.exp(log_time)
    return result


def kuttruff_s(
    volume_m3: float,
    surface_m2: float,
    absorption: ArrayLike,
    *,
    path_variance: float,
    speed_of_sound_m_s: float = 343.2,
) -> Floats:
    """Reverberation time with the relative variance of the free paths, per band. [s]

    Notes
    -----
    H. Kuttruff, Room Acoustics, ch. 5 (from memory): a'' = -ln(1 - a) (1 + gamma^2/2 ln(1 - a)).
    """
    exponent = -np.log1p(-np.asarray(absorption, np.float64))
    exponent = exponent * (1.0 - 0.5 * path_variance * exponent)
    return _seconds(volume_m3, surface_m2 * exponent, speed_of_sound_m_s)


def target_s(volume_m3: float) -> float:
    """Nominal reverberation time of a listening room, mean of 200 Hz to 4 kHz. [s]

    Notes
    -----
    EBU Tech 3276 and ITU-R BS.1116-3: 0.25 (V / 100 m3)^(1/3); the former keeps to 0.2-0.4 s.
    """
    return 0.25 * float(np.cbrt(volume_m3 / 100.0))


def schroeder_hz(reverberation_s: float, volume_m3: float) -> float:
    """Frequency above which modes overlap three-fold: 2000 sqrt(T / V). [Hz]

    Notes
    -----
    M. R. Schroeder, J. Acoust. Soc. Am. 99 (1996) 3240.
    """
    return 2000.0 * float(np.sqrt(reverberation_s / volume_m3))


@dataclass(frozen=True)
class DecayParameters:
    """Parameters of ISO 3382-1, one value per band; NaN where the curve does not reach far enough.

    edt_s, t20_s, t30_s [s]; c50_db, c80_db [dB]; d50 [1]; ts_ms [ms].
    """

    edt_s: Floats
    t20_s: Floats
    t30_s: Floats
    c50_db: Floats
    c80_db: Floats
    d50: Floats
    ts_ms: Floats


def decay_parameters(energy: Floats, bin_s: float) -> DecayParameters:
    """Parameters from energy per time bin, the direct sound in the first.

    Parameters
    ----------
    energy : (n_bins, n_bands) float
        From the direct sound on.
    bin_s : float
        Width of a bin. [s]

    Notes
    -----
    Backward integration: M. R. Schroeder, J. Acoust. Soc. Am. 37 (1965) 409; ranges of evaluation and
    definitions: ISO 3382-1:2009. The centre time takes the middle of each bin.
    """
    left = np.cumsum(energy[::-1], axis=0)[::-1]
    total = left[0]
    edges_s: Floats = bin_s * np.arange(len(energy), dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        level_db: Floats = np.asarray(10.0 * np.log10(left / total), np.float64)
        edt, t20, t30 = (_decay_s(edges_s, level_db, *span) for span in ((0, -10), (-5, -25), (-5, -35)))
        ratios = []
        for limit_s in (0.05, 0.08):
            late = left[min(round(limit_s / bin_s), len(left) - 1)]
            ratios.append((total - late) / late)
        ts_ms = 1e3 * ((edges_s + bin_s / 2.0) @ energy) / total
        return DecayParameters(
            edt_s=edt,
            t20_s=t20,
            t30_s=t30,
            c50_db=10.0 * np.log10(ratios[0]),
            c80_db=10.0 * np.log10(ratios[1]),
            d50=ratios[0] / (1.0 + ratios[0]),
            ts_ms=ts_ms,
        )


def _decay_s(edges_s: Floats, level_db: Floats, top_db: float, bottom_db: float) -> Floats:
    """-60 over the slope of the least-squares line between two levels, per band. [s]"""
    result = np.full(level_db.shape[1], np.nan)
    for band, level in enumerate(level_db.T):
        inside = (level <= top_db) & (level >= bottom_db)
        if inside.sum() >= 3 and np.any(level < bottom_db):
            slope = np.polyfit(edges_s[inside], level[inside], 1)[0]
            result[band] = -60.0 / slope if slope < 0.0 else np.nan
    return result
