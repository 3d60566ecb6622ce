"""Why a peak is as strong as it is: what distance takes off each reflection in it, and what all else does."""

from dataclasses import dataclass

import numpy as np

from raytrace.reflections import Arrivals
from raytrace.verdicts.criteria import Peak, main_arrivals


@dataclass(frozen=True)
class ArrivalCause:
    """What is left of the direct sound's level in one reflection, and where it went.

    Attributes
    ----------
    row : int
        Of the arrivals.
    detour_m : float
        How much longer its way is than the direct one.
    distance_db : float
        What spreading over that way takes. [dB]
    rest_db : float
        What surfaces, their size, air and the speaker's direction take beyond that; below 0 what they add.
    level_db : float
        What is left, re direct, in the limit's band.
    """

    row: int
    detour_m: float
    distance_db: float
    rest_db: float
    level_db: float


def find_causes(arrivals: Arrivals, peak: Peak, *, speed_of_sound_m_s: float) -> tuple[ArrivalCause, ...]:
    """Why a peak is as strong as it is, by the reflections that make it, the strongest first.

    Parameters
    ----------
    arrivals, peak : Arrivals, Peak
        The table, and a peak of it.
    speed_of_sound_m_s : float
        Of the same room.

    Returns
    -------
    tuple of ArrivalCause
        Empty where the ears do not receive the peak.

    Notes
    -----
    Spreading of a sphere: the level falls by 20 lg of the ratio of the ways' lengths.
    """
    causes = []
    for row in main_arrivals(arrivals, peak):
        length_m, level_db = float(arrivals.length_m[row]), float(arrivals.band_level_db[row])
        detour_m = float(arrivals.delay_s[row]) * speed_of_sound_m_s
        distance_db = 20.0 * float(np.log10(length_m / (length_m - detour_m)))
        causes.append(ArrivalCause(row, detour_m, distance_db, -level_db - distance_db, level_db))
    return tuple(causes)
