"""Single numbers of absorption as data sheets print them: ISO 11654 and ASTM C423."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.acoustics.porous import Medium, Stack, random_absorption

THIRDS_HZ: NDArray[np.float64] = np.asarray(1000.0 * 10.0 ** (0.1 * np.arange(-10, 8)), dtype=np.float64)
"""Exact base-10 centres of the third-octave bands 100 Hz to 5 kHz, (18,). [Hz]"""
THIRDS_HZ.setflags(write=False)

_STEPS = 20  # the standard counts in twentieths, so sums and comparisons here are exact
_REFERENCE = np.array([16, 20, 20, 20, 18])  # 250 Hz to 4 kHz in steps of 0.05 (from memory)
_CLASSES = (("A", 18), ("B", 16), ("C", 12), ("D", 6), ("E", 3))  # lowest alpha_w in steps of 0.05


@dataclass(frozen=True)
class WeightedAbsorption:
    """Weighted absorption by ISO 11654.

    alpha_w in steps of 0.05; `shape` holds L, M, H where the curve rises far above the reference; class A
    to E, "not classified" under 0.15.
    """

    alpha_w: float
    shape: str
    sound_class: str

    def __str__(self) -> str:
        return f"{self.alpha_w:.2f}" + (f"({self.shape})" if self.shape else "")


@dataclass(frozen=True, eq=False)
class Rating:
    """Single numbers of one construction.

    Parameters
    ----------
    practical : (6,) ndarray
        Practical absorption in the octaves 125 Hz to 4 kHz, in steps of 0.05.
    weighted : WeightedAbsorption
        ISO 11654.
    nrc, saa : float
        Noise reduction coefficient and sound absorption average, ASTM C423.
    """

    practical: NDArray[np.float64]
    weighted: WeightedAbsorption
    nrc: float
    saa: float


def rate(absorption: ArrayLike) -> Rating:
    """Ratings of measured or modelled third-octave absorption.

    Parameters
    ----------
    absorption : (18,) array_like
        Random-incidence absorption, 100 Hz to 5 kHz; values over 1 are taken as they are.

    Returns
    -------
    Rating

    Raises
    ------
    ValueError
        If there are not 18 finite values of 0 or more.

    Notes
    -----
    Practical coefficient: mean of three thirds to two decimals, to the nearest 0.05, at most 1. NRC: mean
    of the thirds 250, 500, 1000, 2000 Hz to the nearest 0.05; SAA: mean of the twelve thirds 200 to
    2500 Hz to the nearest 0.01, ties upwards (ASTM C423, from memory).

    Examples
    --------
    >>> str(rate([0.8] * 18).weighted)
    '0.80'
    """
    thirds = np.asarray(absorption, dtype=np.float64)
    if thirds.shape != (18,):
        raise ValueError(
            f"absorption takes 18 third-octave values, 100 Hz to 5 kHz; got shape {thirds.shape}"
        )
    if not ((thirds >= 0.0) & (thirds < np.inf)).all():
        raise ValueError("absorption must be finite and 0 or more in every third octave")
    octaves = _nearest(thirds.reshape(6, 3).mean(axis=1), 100) / 100.0
    practical = np.minimum(_nearest(octaves, _STEPS) / _STEPS, 1.0)
    nrc = float(_nearest(thirds[[4, 7, 10, 13]].mean(), _STEPS) / _STEPS)
    saa = float(_nearest(thirds[3:15].mean(), 100) / 100.0)
    return Rating(practical, weigh(practical[1:]), nrc, saa)


def weigh(practical: ArrayLike) -> WeightedAbsorption:
    """Weighted absorption, shape letters and class by ISO 11654.

    Parameters
    ----------
    practical : (5,) array_like
        Practical absorption 250 Hz to 4 kHz, 0 to 1, in steps of 0.05.

    Returns
    -------
    WeightedAbsorption

    Raises
    ------
    ValueError
        If there are not five values from 0 to 1 in steps of 0.05.

    Notes
    -----
    The reference curve .80 1 1 1 .90 sinks in steps of 0.05 until what lies below it sums to 0.10 at
    most; alpha_w is its height at 500 Hz. Excess of 0.25 and more: L at 250 Hz, M at 500 Hz or 1 kHz, H at
    2 or 4 kHz. ISO 11654:1997 (rules, curve and classes from memory).

    Examples
    --------
    >>> str(weigh([0.50, 0.85, 1.00, 1.00, 0.95]))
    '0.80(H)'
    """
    values = np.asarray(practical, dtype=np.float64)
    if values.shape != (5,):
        raise ValueError(f"practical absorption takes 5 values, 250 Hz to 4 kHz; got shape {values.shape}")
    steps = np.rint(np.nan_to_num(values, nan=-1.0) * _STEPS)
    if not ((np.abs(values * _STEPS - steps) < 1e-6) & (steps >= 0) & (steps <= _STEPS)).all():
        raise ValueError(f"practical absorption lies between 0 and 1 in steps of 0.05; got {values.tolist()}")
    # At a shift of 20 the reference is nowhere above 0, so a shift is always found.
    shift = next(s for s in range(_STEPS + 1) if np.maximum(_REFERENCE - s - steps, 0).sum() <= 2)
    over = steps - np.maximum(_REFERENCE - shift, 0) >= 5
    shape = "".join(
        letter for letter, on in zip("LMH", (over[0], over[1:3].any(), over[3:].any()), strict=True) if on
    )
    height = _STEPS - shift
    sound_class = next((name for name, lowest in _CLASSES if height >= lowest), "not classified")
    return WeightedAbsorption(height / _STEPS, shape, sound_class)


def rate_stack(stack: Stack, medium: Medium) -> Rating:
    """Ratings of a modelled construction on a hard wall, field incidence 0 to 78 degrees.

    A model without edges: a laboratory's finite sample measures higher.
    """
    return rate(np.clip(random_absorption(stack, THIRDS_HZ, medium), 0.0, None))


def _nearest(values: ArrayLike, steps_per_one: int) -> NDArray[np.float64]:
    """Nearest whole number of steps, ties upwards; 1e-9 takes up what floats lose in a tie."""
    return np.asarray(np.floor(np.asarray(values, dtype=np.float64) * steps_per_one + 0.5 + 1e-9))
