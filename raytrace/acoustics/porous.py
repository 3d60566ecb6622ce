"""Wool, facings and gaps: reflection and transmission at an angle, random incidence, ratings.

Everything is in the time convention e^{+jwt}: Im k < 0. Frequencies and cosines broadcast against each other
in the manner of numpy; layers are listed from the front, where the sound comes from, to the back.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

Complex = NDArray[np.complex128]
Floats = NDArray[np.float64]

_GRAZING = 1e-6  # smallest cosine: at exactly 90 degrees nothing arrives at a surface


@dataclass(frozen=True)
class Medium:
    """The air in and around a build: speed of sound [m/s], density [kg/m3]."""

    speed_of_sound_m_s: float
    density_kg_m3: float

    @property
    def impedance(self) -> float:
        """Characteristic impedance rho c. [Pa s/m]"""
        return self.density_kg_m3 * self.speed_of_sound_m_s


class Fluid(Protocol):
    """Anything with a characteristic impedance and a wavenumber can fill a layer."""

    def waves(self, frequency_hz: Floats, medium: Medium) -> tuple[Complex, Complex]:
        """Characteristic impedance [Pa s/m] and wavenumber [1/m] at some frequencies."""
        ...


@dataclass(frozen=True)
class Miki:
    """Wool or open-cell foam known by its flow resistivity alone. [Pa s/m2]

    Notes
    -----
    Y = f / sigma; Zc = rho c (1 + 0.070 Y**-0.632 - 0.107j Y**-0.632),
    k = (w/c) (1 + 0.109 Y**-0.618 - 0.160j Y**-0.618). Made for 0.01 < Y < 1, well-behaved below.
    Y. Miki, J. Acoust. Soc. Jpn (E) 11 (1990) 19 (from memory).
    """

    flow_resistivity: float

    def __post_init__(self) -> None:
        _require_positive("flow_resistivity", self.flow_resistivity)

    def waves(self, frequency_hz: Floats, medium: Medium) -> tuple[Complex, Complex]:
        """Characteristic impedance [Pa s/m] and wavenumber [1/m] at some frequencies."""
        Y = frequency_hz / self.flow_resistivity
        impedance = medium.impedance * (1.0 + (0.070 - 0.107j) * Y**-0.632)
        wavenumber = (
            2.0 * np.pi * frequency_hz / medium.speed_of_sound_m_s * (1.0 + (0.109 - 0.160j) * Y**-0.618)
        )
        return np.asarray(impedance), np.asarray(wavenumber)


@dataclass(frozen=True)
class Layer:
    """A thickness [m] of wool or foam."""

    fluid: Fluid
    thickness_m: float

    def __post_init__(self) -> None:
        _require_positive("thickness_m", self.thickness_m)


@dataclass(frozen=True)
class Gap:
    """A depth of air [m], 0 or more."""

    depth_m: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.depth_m < np.inf:
            raise ValueError(f"depth_m must be 0 or more and finite, got {self.depth_m}")


@dataclass(frozen=True)
class Facing:
    """A cloth or film free to move: flow resistance [Pa s/m], inf for a film, and mass [kg/m2]."""

    flow_resistance: float
    mass_kg_m2: float

    def __post_init__(self) -> None:
        _require_positive("mass_kg_m2", self.mass_kg_m2)
        if not self.flow_resistance > 0.0:
            raise ValueError(f"flow_resistance must be positive, got {self.flow_resistance}")


Stack = Sequence[Layer | Gap | Facing]
Backing = Literal["rigid", "free"] | Floats


def reflection(
    stack: Stack,
    frequency_hz: ArrayLike,
    cos_theta: ArrayLike,
    medium: Medium,
    *,
    backing: Backing = "rigid",
) -> Complex:
    """Pressure reflected at the front of an endless stack, re the incident pressure there.

    Parameters
    ----------
    stack : sequence of Layer, Gap and Facing
        Front to back; empty is a bare hard wall (rigid) or nothing at all (free).
    frequency_hz : (...) array_like
        Above 0. [Hz]
    cos_theta : (...) array_like
        Cosine of the angle of incidence, 0 to 1.
    medium : Medium
        The air.
    backing : {"rigid", "free"} or (...) array
        What follows the last layer: a hard wall, air without end, or a surface with this reflection factor.
        Turn the stack round (`stack[::-1]`) for what a free-hung panel reflects on its back.

    Returns
    -------
    (...) complex ndarray

    Raises
    ------
    ValueError
        If a cosine or a frequency is impossible.

    Notes
    -----
    With the admittance y = (1 - R_b) / (1 + R_b) / Z_air behind: Z_s = (M11 + M12 y) / (M21 + M22 y),
    R = (Z_s cos - rho c) / (Z_s cos + rho c). Textbook transfer matrices; see J.-F. Allard, N. Atalla,
    Propagation of Sound in Porous Media, chapter 11 (from memory).
    """
    m11, m12, m21, m22, _, z_air = _matrix(stack, frequency_hz, cos_theta, medium)
    behind = np.asarray({"rigid": 1.0, "free": 0.0}[backing] if isinstance(backing, str) else backing)
    admittance = (1.0 - behind) / (1.0 + behind)
    pressure, velocity = m11 + m12 * admittance / z_air, z_air * m21 + m22 * admittance
    return np.asarray((pressure - velocity) / (pressure + velocity))


def transmission(
    stack: Stack,
    frequency_hz: ArrayLike,
    cos_theta: ArrayLike,
    medium: Medium,
) -> Complex:
    """Pressure at the back of an endless free-hung stack, re the incident pressure at its front.

    It holds the phase of the stack's own thickness h: against the undisturbed wave at the back it is
    e^{+jk h cos(theta)} times that. The same from both sides.

    Parameters
    ----------
    stack, frequency_hz, cos_theta, medium
        As for `reflection`.

    Returns
    -------
    (...) complex ndarray
    """
    m11, m12, m21, m22, scale, z_air = _matrix(stack, frequency_hz, cos_theta, medium)
    return np.asarray(2.0 * scale / (m11 + m12 / z_air + z_air * m21 + m22))


def _matrix(
    stack: Stack, frequency_hz: ArrayLike, cos_theta: ArrayLike, medium: Medium
) -> tuple[Complex, Complex, Complex, Complex, Complex, Floats]:
    """Entries of the stack's 2x2 matrix over `scale`, the scale, and the impedance of the air outside.

    (p, v) at the front = matrix / scale (p, v) at the back. A layer's matrix is taken times
    E = e^{-j k_z d}, so that thick wool neither overflows nor divides by nothing.
    """
    frequency = np.asarray(frequency_hz, dtype=np.float64)
    cosine = np.asarray(cos_theta, dtype=np.float64)
    if not (frequency > 0.0).all():
        raise ValueError("frequency_hz must be positive")
    if not ((cosine >= 0.0) & (cosine <= 1.0 + 1e-9)).all():
        raise ValueError("cos_theta must lie between 0 and 1")
    outside = np.clip(cosine, _GRAZING, 1.0)
    shape = np.broadcast_shapes(frequency.shape, cosine.shape)
    ones: Complex = np.ones(shape, dtype=np.complex128)
    nothing: Complex = np.zeros(shape, dtype=np.complex128)
    m11, m12, m21, m22, scale = ones, nothing, nothing, ones, ones
    for number, part in enumerate(stack):
        if isinstance(part, Facing):
            through = 1.0 / (1.0 / part.flow_resistance + 1.0 / (2j * np.pi * frequency * part.mass_kg_m2))
            m12, m22 = m12 + through * m11, m22 + through * m21
            continue
        z, phase = _across(part, frequency, outside, medium)
        e: Complex = np.exp(-1j * phase)
        even: Complex = 0.5 * (1.0 + e**2)
        odd: Complex = 0.5 * (1.0 - e**2)
        if number == 0:  # times what does nothing
            m11, m12, m21, m22, scale = even, odd * z, odd / z, even, e
            continue
        m11, m12 = m11 * even + m12 * odd / z, m11 * odd * z + m12 * even
        m21, m22 = m21 * even + m22 * odd / z, m21 * odd * z + m22 * even
        scale = scale * e
    return m11, m12, m21, m22, scale, medium.impedance / outside


def _across(part: Layer | Gap, frequency: Floats, cosine: Floats, medium: Medium) -> tuple[Complex, Complex]:
    """Impedance and phase k_z d of a layer for the part of the wave that runs straight through it."""
    k0 = 2.0 * np.pi * frequency / medium.speed_of_sound_m_s
    if isinstance(part, Gap):
        return np.asarray(medium.impedance / cosine + 0j), np.asarray(k0 * cosine * part.depth_m + 0j)
    zc, k = part.fluid.waves(frequency, medium)
    # The principal root has Re > 0 and Im < 0: it runs inwards and dies out.
    k_z = np.sqrt(k**2 - k0**2 * (1.0 - cosine**2))
    return np.asarray(zc * k / k_z), np.asarray(k_z * part.thickness_m)


def absorption(
    stack: Stack,
    frequency_hz: ArrayLike,
    cos_theta: ArrayLike,
    medium: Medium,
    *,
    backing: Backing = "rigid",
) -> Floats:
    """Share of the arriving energy that an endless stack turns into heat at an angle.

    Parameters
    ----------
    stack, frequency_hz, cos_theta, medium, backing
        As for `reflection`.

    Returns
    -------
    (...) ndarray
        1 - |R|**2, for a free-hung stack 1 - |R|**2 - |T|**2.
    """
    returned = reflection(stack, frequency_hz, cos_theta, medium, backing=backing)
    lost = 1.0 - np.abs(returned) ** 2
    if isinstance(backing, str) and backing == "free":
        lost -= np.abs(transmission(stack, frequency_hz, cos_theta, medium)) ** 2
    return np.asarray(lost)


@dataclass(frozen=True)
class Incidence:
    """From where sound comes that comes from all sides.

    Attributes
    ----------
    up_to_deg : float
        Largest angle of incidence: 78 for the field of a room, 90 for all. [deg]
    n_angles : int
        Points of the Gauss quadrature over it.
    """

    up_to_deg: float = 78.0
    n_angles: int = 200

    def __post_init__(self) -> None:
        if not 0.0 < self.up_to_deg <= 90.0:
            raise ValueError(f"up_to_deg must be above 0 and at most 90, got {self.up_to_deg}")


FIELD_OF_A_ROOM = Incidence()


def random_absorption(
    stack: Stack,
    frequency_hz: ArrayLike,
    medium: Medium,
    *,
    incidence: Incidence = FIELD_OF_A_ROOM,
    backing: Backing = "rigid",
) -> Floats:
    """Absorption of an endless stack for sound from all sides.

    Parameters
    ----------
    stack, frequency_hz, medium, backing
        As for `reflection`.
    incidence : Incidence
        Which angles are taken.

    Returns
    -------
    (...) ndarray
        Same shape as the frequencies. A measured value of a finite sample may exceed it, and 1, through
        the edge effect.

    Notes
    -----
    Integral of alpha(theta) sin(2 theta) from 0 to theta_m over sin(theta_m)**2 (Paris).
    """
    limit = np.radians(incidence.up_to_deg)
    nodes, weights = np.polynomial.legendre.leggauss(incidence.n_angles)
    theta = 0.5 * limit * (nodes + 1.0)
    weights = 0.5 * limit * weights * np.sin(2.0 * theta) / np.sin(limit) ** 2
    frequency = np.asarray(frequency_hz, dtype=np.float64)[..., None]
    behind = backing if isinstance(backing, str) else np.asarray(backing)[..., None]
    lost = absorption(stack, frequency, np.cos(theta), medium, backing=behind)
    return np.asarray(lost @ weights)


def _require_positive(name: str, value: float) -> None:
    if not 0.0 < value < np.inf:
        raise ValueError(f"{name} must be positive and finite, got {value}")
