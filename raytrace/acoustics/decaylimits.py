"""Published target for the decay time, with its tolerance and the sizes of room it is meant for."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics.air import BAND_NAMES
from raytrace.acoustics.standards import EBU_TECH_3276
from raytrace.facts import Amount, Sentence, Unit, sentence

Floats = NDArray[np.float64]

# 2nd edition, May 1998: formula and tolerance from memory.
_STANDARD = EBU_TECH_3276
_SHORTEST_S, _LONGEST_S, _LARGEST_M3 = 0.2, 0.4, 300.0


@dataclass(frozen=True)
class DecayTarget:
    """How long sound should ring.

    Attributes
    ----------
    standard : str
        Where it is published.
    time_s : float
        Nominal decay time T_m, the mean from 200 Hz to 4 kHz.
    low_s, high_s : (8,) float
        Tolerated range per octave band.
    note : Sentence or None
        Why the room lies outside the range of the standard; None where it fits.
    """

    standard: str
    time_s: float
    low_s: Floats
    high_s: Floats
    note: Sentence | None


def decay_target(volume_m3: float) -> DecayTarget:
    """Published target for a room.

    Parameters
    ----------
    volume_m3 : float

    Notes
    -----
    T_m = 0.25 (V / 100 m3)^(1/3) s, for 0.2 s < T_m < 0.4 s and V up to 300 m3. Tolerance 0.05 s from
    200 Hz to 4 kHz, 0.1 s above; below 200 Hz the upper limit rises on the logarithm of frequency to
    +0.3 s at 63 Hz (from memory). A very small room's T_m falls under 0.2 s: it is given, with a note.

    Examples
    --------
    >>> decay_target(100.0).time_s
    0.25
    """
    time_s = 0.25 * float(np.cbrt(volume_m3 / 100.0))
    band_hz = np.array(BAND_NAMES, np.float64)
    rise = np.log(200.0 / band_hz) / np.log(200.0 / 63.0)
    above = np.where(band_hz < 200.0, 0.05 + 0.25 * rise, np.where(band_hz > 4000.0, 0.1, 0.05))
    below = np.where(band_hz > 4000.0, 0.1, 0.05)
    return DecayTarget(_STANDARD, time_s, time_s - below, time_s + above, _range_note(time_s, volume_m3))


def _range_note(time_s: float, volume_m3: float) -> Sentence | None:
    volume = Amount((round(volume_m3, 3),), Unit.M3, 0)  # a whole one is 35 cubic feet to others
    if time_s < _SHORTEST_S:
        return sentence(
            "{standard} gives targets of {shortest} s and more; this room of {volume} would get {time} s: "
            "outside the range. Far below {shortest} s nothing is gained.",
            standard=_STANDARD,
            shortest=f"{_SHORTEST_S}",
            volume=volume,
            time=f"{time_s:.2f}",
        )
    if volume_m3 > _LARGEST_M3 or time_s > _LONGEST_S:
        return sentence(
            "{standard} is written for rooms up to {largest}; this one has {volume}: outside the range, its "
            "target is a guide here.",
            standard=_STANDARD,
            largest=Amount((_LARGEST_M3,), Unit.M3, 0),
            volume=volume,
        )
    return None
