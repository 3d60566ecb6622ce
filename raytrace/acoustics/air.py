"""Speed of sound, density and attenuation of air; the eight octave bands."""

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

BAND_NAMES: tuple[int, ...] = (63, 125, 250, 500, 1000, 2000, 4000, 8000)
"""Nominal octave-band centres. [Hz]"""

BANDS_HZ: NDArray[np.float64] = np.asarray(1000.0 * 10.0 ** (0.3 * np.arange(-4, 4)), dtype=np.float64)
"""Exact base-10 octave-band centres, (8,). [Hz] IEC 61260-1 (from memory)."""
BANDS_HZ.setflags(write=False)

N_PER_BAND = 24
"""Frequencies at which a band's mean is taken."""

_STEPS = (np.arange(N_PER_BAND) + 0.5) / N_PER_BAND - 0.5
_FREQUENCIES_HZ: NDArray[np.float64] = np.asarray(BANDS_HZ[:, None] * 10.0 ** (0.3 * _STEPS))

STANDARD_PRESSURE_KPA = 101.325
_ZERO_CELSIUS_K = 273.15


def speed_of_sound_m_s(temperature_c: float) -> float:
    """Speed of sound in air from its temperature.

    Humidity changes it by 0.25 % at most and is left out.

    Parameters
    ----------
    temperature_c : float
        Temperature. [degC]

    Returns
    -------
    float
        c = 343.2 sqrt((t + 273.15) / 293.15). [m/s]

    Notes
    -----
    ISO 9613-1:1993, Annex A (from memory).

    Examples
    --------
    >>> round(speed_of_sound_m_s(20.0), 3)
    343.2
    """
    return float(343.2 * np.sqrt(_kelvin(temperature_c) / 293.15))


def air_density_kg_m3(temperature_c: float, pressure_kpa: float = STANDARD_PRESSURE_KPA) -> float:
    """Density of dry air, rho = p / (287.05 T).

    Parameters
    ----------
    temperature_c : float
        Temperature. [degC]
    pressure_kpa : float
        Static pressure. [kPa]

    Returns
    -------
    float
        [kg/m3]

    Examples
    --------
    >>> round(air_density_kg_m3(20.0), 4)
    1.2041
    """
    return 1000.0 * _positive(pressure_kpa, "pressure_kpa") / (287.05 * _kelvin(temperature_c))


def air_attenuation_db_per_m(
    frequency_hz: ArrayLike,
    temperature_c: float,
    humidity: float,
    pressure_kpa: float = STANDARD_PRESSURE_KPA,
) -> NDArray[np.float64]:
    """Attenuation of a pure tone in air, per metre of path.

    Parameters
    ----------
    frequency_hz : (...) array_like
        Frequencies. [Hz]
    temperature_c : float
        Temperature. [degC]
    humidity : float
        Relative humidity, 0 to 100. [%]
    pressure_kpa : float
        Static pressure. [kPa]

    Returns
    -------
    (...) ndarray
        Attenuation, same shape as the frequencies. [dB/m]

    Raises
    ------
    ValueError
        If the temperature is below absolute zero, the pressure not positive or the humidity outside
        0 to 100 %.

    Notes
    -----
    ISO 9613-1:1993, equations (3) to (5) and Annex B (constants from memory).

    Examples
    --------
    >>> round(float(air_attenuation_db_per_m(1000.0, 20.0, 50.0)) * 1000, 4)
    4.6647
    """
    if not 0.0 <= humidity <= 100.0:
        raise ValueError(f"humidity must be 0 to 100 %, got {humidity}")
    f2 = np.asarray(frequency_hz, dtype=np.float64) ** 2
    T = _kelvin(temperature_c)
    ratio = T / 293.15
    p = _positive(pressure_kpa, "pressure_kpa") / STANDARD_PRESSURE_KPA

    # Molar concentration of water vapour in per cent, through the saturation pressure (Annex B).
    saturation = 10.0 ** (4.6151 - 6.8346 * (273.16 / T) ** 1.261)
    h = humidity * saturation / p

    # Relaxation frequencies of oxygen and nitrogen, eqs (3) and (4).
    fr_o = p * (24.0 + 4.04e4 * h * (0.02 + h) / (0.391 + h))
    fr_n = p * ratio**-0.5 * (9.0 + 280.0 * h * np.exp(-4.170 * (ratio ** (-1.0 / 3.0) - 1.0)))

    # Classical part, then both relaxations, eq. (5).
    oxygen = 0.01275 * np.exp(-2239.1 / T) / (fr_o + f2 / fr_o)
    nitrogen = 0.1068 * np.exp(-3352.0 / T) / (fr_n + f2 / fr_n)
    attenuation = 8.686 * f2 * (1.84e-11 / p * np.sqrt(ratio) + ratio**-2.5 * (oxygen + nitrogen))
    return np.asarray(attenuation, dtype=np.float64)


def band_frequencies_hz() -> NDArray[np.float64]:
    """Frequencies over which a band's mean is taken, (8, 24).

    Returns
    -------
    (8, 24) ndarray
        Midpoints of 24 equal steps on the logarithmic axis of each base-10 octave. [Hz]

    Examples
    --------
    >>> band_frequencies_hz().shape
    (8, 24)
    """
    return _FREQUENCIES_HZ.copy()


def band_share(from_hz: float, to_hz: float) -> NDArray[np.float64]:
    """Share of a frequency range that lies in each octave, (8,).

    What lies beyond the eight octaves is left out; the shares add up to 1. The octaves meet at
    1000 * 2**(n + 1/2) Hz, half-way between the nominal centres.

    Parameters
    ----------
    from_hz, to_hz : float
        The range. [Hz]

    Returns
    -------
    (8,) ndarray

    Raises
    ------
    ValueError
        If the range is empty or lies outside the eight octaves.

    Examples
    --------
    >>> band_share(1000.0, 8000.0).round(4).tolist()
    [0.0, 0.0, 0.0, 0.0, 0.0592, 0.202, 0.4041, 0.3347]
    """
    return _band_share(from_hz, to_hz).copy()


@cache
def _band_share(from_hz: float, to_hz: float) -> NDArray[np.float64]:
    if not 0.0 < from_hz < to_hz < np.inf:
        raise ValueError(f"a band runs from a lower to a higher frequency, got {from_hz} to {to_hz} Hz")
    edges = 1000.0 * 2.0 ** (np.arange(-4, 5) - 0.5)
    inside = np.diff(np.clip(edges, from_hz, to_hz))
    if inside.sum() == 0.0:
        raise ValueError(f"{from_hz} to {to_hz} Hz lies outside the octaves 63 Hz to 8 kHz")
    return np.asarray(inside / inside.sum())


def _kelvin(temperature_c: float) -> float:
    return _positive(temperature_c + _ZERO_CELSIUS_K, "absolute temperature")


def _positive(value: float, name: str) -> float:
    if not 0.0 < value < np.inf:
        raise ValueError(f"{name} must be positive and finite, got {value}")
    return value
