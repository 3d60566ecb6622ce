"""Maxima of the curve at every place of a head zone, and the reflections that make them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.reflections import SAMPLE_RATE_HZ, ZoneCurves

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

# A reflection makes a maximum from which it is no farther than the pulse width of a band 1-8 kHz wide,
# 1/(7 kHz).
PEAK_WIDTH_S = 0.00015
# Where none is so near, pulses on both sides make it between them.
BETWEEN_S = 2.0 * PEAK_WIDTH_S
# The direct sound's own lobe ends here.
LOBE_S = 0.00025
# The level that is judged is exceeded at this share of the zone.
JUDGED_SHARE = 0.1


@dataclass(frozen=True)
class Maxima:
    """Maxima of the curves at all places, by place.

    Attributes
    ----------
    place : (n_maxima,) int
    delay_s, level_db : (n_maxima,) float
    made_by : (n_maxima, n_images) bool
    """

    place: Ints
    delay_s: Floats
    level_db: Floats
    made_by: Bools


@dataclass(frozen=True)
class ImageLevels:
    """What each image of a speaker amounts to over a head zone.

    Attributes
    ----------
    level_db : (n_places, n_images) float
        The highest maximum that an image makes at a place; `lowest_db` where it makes none.
    maximum : (n_places, n_images) int
        Which one that is, -1 for none.
    judged_db : (n_images,) float
        The level that is exceeded at a tenth of the places.
    leader : (n_images,) int
        The stronger image to whose peak an image belongs, or itself; -1 where it makes none.

    A peak is as loud as the loudest of those that belong to it, so no margin depends on who belongs to whom.
    """

    level_db: Floats
    maximum: Ints
    judged_db: Floats
    leader: Ints


def find_maxima(curves: ZoneCurves, *, from_s: float, until_s: float, lowest_db: float) -> Maxima:
    """Local maxima of the curves within a window of each place's own time, refined by a parabola."""
    from raytrace.kernels.peaks import find_makers

    place, column, level_db = curve_maxima(curves.level_db, lowest_db)
    delay_s = column / SAMPLE_RATE_HZ
    inside = (delay_s > max(from_s, LOBE_S)) & (delay_s <= until_s)
    place, delay_s, level_db = place[inside], delay_s[inside], level_db[inside]
    made_by = np.empty((len(place), curves.heard.shape[1]), np.bool_)
    find_makers(place, delay_s, curves.delay_s, curves.heard, PEAK_WIDTH_S, BETWEEN_S, made_by)
    return Maxima(place, delay_s, level_db, made_by)


def curve_maxima(level_db: Floats, lowest_db: float) -> tuple[Ints, Floats, Floats]:
    """Local maxima of curves (n_curves, n_times) above a level, refined by a parabola.

    Returns
    -------
    curve : (n_maxima,) int
    column : (n_maxima,) float
        Where on the curve, in samples.
    level_db : (n_maxima,) float
    """
    level = np.maximum(level_db, lowest_db - 60.0)
    before, here, after = level[:, :-2], level[:, 1:-1], level[:, 2:]
    curve, column = np.nonzero((here > before) & (here >= after) & (here > lowest_db))
    left, middle, right = (values[curve, column] for values in (before, here, after))
    shift = 0.5 * (left - right) / (left - 2.0 * middle + right)
    return curve, column + 1 + shift, middle - 0.25 * (left - right) * shift


def image_levels(curves: ZoneCurves, maxima: Maxima, lowest_db: float) -> ImageLevels:
    """The level of each image over the zone, and whose peak it belongs to.

    It belongs to the peak of the strongest image that makes at least half of the maxima which decide its
    level with it.
    """
    from raytrace.kernels.peaks import lead_images

    shape = len(curves.places), len(curves.strength_db)
    level_db, maximum = np.full(shape, lowest_db), np.full(shape, -1, np.int64)
    rising = np.argsort(maxima.level_db, kind="stable")
    own, image = np.nonzero(maxima.made_by[rising])
    # Of several at one place the last and highest stays.
    maximum[maxima.place[rising[own]], image] = rising[own]
    makes = maximum >= 0
    level_db[makes] = maxima.level_db[maximum[makes]]
    judged_db = np.quantile(level_db, 1.0 - JUDGED_SHARE, axis=0) if len(level_db) > 1 else level_db[0]
    leader = np.empty(shape[1], np.int64)
    lead_images(maxima.made_by, level_db, judged_db, maximum, leader)
    return ImageLevels(level_db, maximum, judged_db, leader)
