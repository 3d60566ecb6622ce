"""What makes one place of a seat better than another: terms in decibels, and what each of them weighs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

ROOM_BEHIND_M = 1.0
"""A head nearer to a wall than this counts against a place (common practice, no source). [m]"""


@dataclass(frozen=True)
class Terms:
    """What counts against a place; the same class holds what each term weighs.

    Attributes
    ----------
    over : float
        Early energy over the limit: 10 lg(1 + sum of each excess), mean of the speakers. [dB]
    left_right : float
        By how much the early energy of left and right differs. [dB]
    evenness : float
        Standard deviation of the level from 30 to 120 Hz over the seats. [dB]
    dip : float
        Depth of the deepest dip that near boundaries make from 30 to 400 Hz. [dB]
    near : float
        By how much the head is nearer to a wall than a metre. [m]
    """

    over: float
    left_right: float
    evenness: float
    dip: float
    near: float


WEIGHTS = Terms(over=1.0, left_right=1.0, evenness=1.0, dip=0.25, near=5.0)
"""Points for each unit of a term (own choice: none of them is published)."""


def over_db(margins_db: Sequence[Sequence[float]]) -> float:
    """Early energy over the limit, from the margins [dB] of each speaker; 0 where nothing is over."""
    excess = [
        sum(max(10.0 ** (-margin / 10.0) - 1.0, 0.0) for margin in margins if math.isfinite(margin))
        for margins in margins_db
    ]
    return float(10.0 * np.log10(1.0 + np.mean(excess))) if excess else 0.0


def terms_of(*, over: float, left_right: float | None, evenness: float, dip: float, near_m: float) -> Terms:
    """Terms of a place.

    Parameters
    ----------
    over : float
        Early energy over the limit. [dB]
    left_right : float or None
        Left less right; None where there is no pair. [dB]
    evenness : float
        [dB]
    dip : float
        Lowest level re the mean, negative. [dB]
    near_m : float
        Distance of the head from the nearest wall.
    """
    difference = 0.0 if left_right is None else abs(left_right)
    return Terms(over, difference, evenness, max(-dip, 0.0), max(ROOM_BEHIND_M - near_m, 0.0))


def points_of(terms: Terms) -> Terms:
    """Each term times what it weighs."""
    return Terms(*(getattr(terms, f.name) * getattr(WEIGHTS, f.name) for f in fields(Terms)))


def score_of(terms: Terms) -> float:
    """All points together: the fewer the better."""
    return float(sum(getattr(points_of(terms), f.name) for f in fields(Terms)))
