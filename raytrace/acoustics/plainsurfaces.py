"""What a plain surface sends back at an angle: the same at every angle, or what a local impedance would."""

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.acoustics.materials import Material

Floats = NDArray[np.float64]

_GRAZING = 1e-6  # smallest cosine: at exactly 90 degrees nothing arrives at a surface
_HALVINGS = 60  # of an interval shorter than 1: below the spacing of floats
MOST_LOCAL = 0.638193
"""Admittance re that of air at which a real local one absorbs most at random incidence: 1 / 1.56692."""


def plain_reflection(material: Material, cos_theta: ArrayLike) -> Floats:
    """Pressure that a bare surface or an opening reflects, re the incident pressure, real.

    Parameters
    ----------
    material : Material
        Its `at_an_angle` says by which model.
    cos_theta : (n,) array_like
        Cosines of the angles of incidence, 0 to 1.

    Returns
    -------
    (n, n_bands, 1) ndarray
        "random incidence": sqrt(1 - alpha) at every angle. "local": (cos - beta) / (cos + beta), negative
        near grazing, with the real admittance beta whose random-incidence value is alpha.

    Notes
    -----
    No real local admittance absorbs more than 0.9512 at random incidence. Above that the factor of the one
    that does is taken times what leaves alpha right in the mean over all angles: an open hole sends nothing.
    """
    cosine = np.asarray(cos_theta, np.float64)[:, None, None]
    if material.at_an_angle == "random incidence":
        return np.broadcast_to(even_reflection(material.absorption)[:, None], (len(cosine), 8, 1))
    admittance, share = _local(tuple(material.absorption.tolist()))
    cosine = np.maximum(cosine, _GRAZING)
    factor: Floats = share * (cosine - admittance) / (cosine + admittance)
    return factor


def even_reflection(absorption: ArrayLike) -> Floats:
    """Pressure reflected of sound from all sides, sqrt(1 - alpha), as many as there are absorptions."""
    factor: Floats = np.sqrt(1.0 - np.asarray(absorption, np.float64))
    return factor


def local_absorption(admittance: ArrayLike) -> Floats:
    """Random-incidence absorption of a real local admittance re that of air.

    Parameters
    ----------
    admittance : (...) array_like
        0 or more.

    Notes
    -----
    8 beta (1 + beta / (1 + beta) - 2 beta ln(1 + 1 / beta)): Paris' integral over all angles up to 90
    degrees in closed form, beta = 1 / z (Kuttruff, Room Acoustics, from memory; a quadrature checks it).
    """
    beta = np.asarray(admittance, np.float64)
    logarithm = np.log1p(1.0 / np.where(beta > 0.0, beta, 1.0))
    absorbed: Floats = 8.0 * beta * (1.0 + beta / (1.0 + beta) - 2.0 * beta * logarithm)
    return absorbed


def local_admittance(absorption: ArrayLike) -> Floats:
    """The smallest real local admittance re that of air with this random-incidence absorption.

    Parameters
    ----------
    absorption : (...) array_like
        0 to 1; above the 0.9512 that such an admittance reaches it is `MOST_LOCAL`.
    """
    wanted = np.asarray(absorption, np.float64)
    low, high = np.zeros(wanted.shape), np.full(wanted.shape, MOST_LOCAL)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        too_low = local_absorption(middle) < wanted
        low, high = np.where(too_low, middle, low), np.where(too_low, high, middle)
    return np.where(wanted > 0.0, high, 0.0)


@lru_cache(maxsize=256)
def _local(absorption: tuple[float, ...]) -> tuple[Floats, Floats]:
    """Admittance, and what the factor is taken times, (n_bands, 1) each."""
    alpha = np.array(absorption)
    admittance = local_admittance(alpha)
    share = np.sqrt((1.0 - alpha) / (1.0 - np.minimum(alpha, local_absorption(MOST_LOCAL))))
    return admittance[:, None], share[:, None]
