"""What a speaker sends in a direction, at every frequency that the means over octave bands take."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.acoustics.air import BANDS_HZ, N_PER_BAND, band_frequencies_hz

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

FLOOR_DB = -25.0
"""Lowest modelled level re axis: the deep notches of the model do not exist in a room."""

FEWEST_DEG = 60.0
"""A measured directivity reaches at least as far off the axis. [deg]"""

_FLOOR = 10.0 ** (FLOOR_DB / 20.0)
_LOUDEST_DB = 200.0  # no speaker is as loud; levels may be absolute ones
_STEPS = 180  # whole degrees
_STEPS_PER_KA = 6.0  # a pattern turns by ka over a radian at most: cubic steps of 30 degrees of phase
_MOST_BYTES = 2_000_000  # a row for every degree is a hundredth of it
_AT_ONCE = 2048  # directions of rays whose patterns are worked out together


class Driver(NamedTuple):
    """One driver of a speaker, the same all round the speaker's axis."""

    height_m: float
    """Above the acoustic centre, at right angles to the axis."""
    pressure: Complexes
    """(n_steps + 3, 8 x 24) re the whole speaker's on the axis, from 0 to 180 degrees in equal steps and one
    step beyond at either end."""


@dataclass(frozen=True, eq=False)
class Directivity:
    """Pressure off the axis of a speaker, re its axis.

    Attributes
    ----------
    drivers : tuple of Driver
        What they send is added up.
    speed_of_sound_m_s : float
        For the lobes of drivers above each other.
    held_from_deg : float
        Largest angle with a measured level; that one is held from there to 180. [deg]
    """

    drivers: tuple[Driver, ...]
    speed_of_sound_m_s: float = 343.2
    held_from_deg: float = 180.0

    def pressure(self, directions: Floats, axis: Floats, distance_m: ArrayLike = np.inf) -> Complexes:
        """Complex pressure re axis in some directions, (n, 8, 24), never below `FLOOR_DB`.

        Parameters
        ----------
        directions : (n, 3) float
            Unit vectors away from the acoustic centre.
        axis : (3,) float
            Unit vector along which the speaker points. The cabinet stands upright: its up is at right angles
            to the axis and rises, or points to positive x where the axis is vertical.
        distance_m : float or (n,) array_like
            How far the sound is followed: it sets the difference of the ways from two drivers. [m]

        Notes
        -----
        Cubic interpolation between angles, with an error of 1e-3 re axis at most, for boxes of every size.
        """
        from raytrace.kernels.patterns import add_pattern

        angles_rad = np.arccos(np.clip(directions @ axis, -1.0, 1.0))
        total = np.zeros((len(directions), BANDS_HZ.size * N_PER_BAND), np.complex128)
        for driver in self.drivers:
            sent = np.zeros_like(total) if driver.height_m else total
            add_pattern(driver.pressure, angles_rad, sent)
            if driver.height_m:
                way_m = _farther_m(driver.height_m, directions @ _up(axis), distance_m)
                waves = band_frequencies_hz().reshape(-1) / self.speed_of_sound_m_s
                total += sent * np.exp(-2j * np.pi * waves * way_m[:, None])
        size_sq = total.real**2 + total.imag**2
        low = size_sq < _FLOOR**2
        total[low] *= _FLOOR / np.sqrt(np.maximum(size_sq[low], 1e-24))
        return total.reshape(-1, BANDS_HZ.size, N_PER_BAND)

    def energy(self, directions: Floats, axis: Floats) -> Floats:
        """Energy re axis far away in some directions, the mean of each octave band, (n, 8)."""
        if all(driver.height_m == 0.0 for driver in self.drivers):
            place = np.arccos(np.clip(directions @ axis, -1.0, 1.0)) / np.pi * (len(self._mean_energy) - 1)
            low = np.minimum(place.astype(np.int64), len(self._mean_energy) - 2)
            share = (place - low)[:, None]
            mean = (1.0 - share) * self._mean_energy[low] + share * self._mean_energy[low + 1]
            return np.asarray(mean, np.float64)
        starts = range(0, len(directions), _AT_ONCE)
        pressures = (self.pressure(directions[k : k + _AT_ONCE], axis) for k in starts)
        return np.concatenate([np.mean(np.abs(pressure) ** 2, axis=2) for pressure in pressures])

    @cached_property
    def _mean_energy(self) -> Floats:
        """Energy at the steps of the table where all drivers are at the acoustic centre, (n_steps + 1, 8)."""
        pressure = np.sum([driver.pressure for driver in self.drivers], axis=0)[1:-1]
        size = np.maximum(np.abs(pressure), _FLOOR)
        energy: Floats = np.mean(size.reshape(len(size), BANDS_HZ.size, N_PER_BAND) ** 2, axis=2)
        return energy


def _up(axis: Floats) -> Floats:
    """Where the top of a speaker points that looks along `axis`, (3,)."""
    upright = np.array([0.0, 0.0, 1.0]) if abs(axis[2]) < 1.0 - 1e-9 else np.array([1.0, 0.0, 0.0])
    up = upright - (upright @ axis) * axis
    return np.asarray(up / np.linalg.norm(up), np.float64)


def _farther_m(height_m: float, rise: Floats, distance_m: ArrayLike) -> Floats:
    """How much farther a driver is than the acoustic centre from points `distance_m` away, (n,).

    `rise` is the cosine between their direction and up. The form holds at any distance, infinite included.
    """
    share = height_m / np.asarray(distance_m, np.float64)
    return np.asarray(
        height_m * (share - 2.0 * rise) / (np.sqrt(1.0 - 2.0 * share * rise + share**2) + 1.0), np.float64
    )


def _driver(pressure: NDArray[np.inexact], height_m: float = 0.0) -> Driver:
    """A driver from its pressure (n_steps + 1, 8, 24) at equal steps from 0 to 180 degrees."""
    rows = pressure.reshape(len(pressure), -1)
    # A pattern about an axis is even about both of its ends.
    table = np.ascontiguousarray(np.concatenate([rows[1:2], rows, rows[-2:-1]]), dtype=np.complex128)
    table.setflags(write=False)
    return Driver(height_m, table)


def omni() -> Directivity:
    """Directivity of a source that sends the same everywhere."""
    return Directivity((_driver(np.ones((2, BANDS_HZ.size, N_PER_BAND))),))


@lru_cache(maxsize=64)  # the same while a speaker is moved about
def two_way(
    radius_m: float = 0.065,
    tweeter_radius_m: float = 0.0125,
    crossover_hz: float = 2500.0,
    box_radius_m: float = 0.13,
    drivers_m: tuple[float, float] = (0.0, 0.0),
    *,
    speed_of_sound_m_s: float,
) -> Directivity:
    """Directivity of a two-way box speaker.

    Woofer and tweeter are caps of a rigid sphere of the box's size, joined by Linkwitz-Riley filters of
    fourth order: in phase, D = (D_w + q D_t) / (1 + q), q = (f / f_x)**4. Where one is higher than the
    other, each also turns in phase by the difference of their ways to the listener: the crossover's lobe.
    Nothing falls below -25 dB re axis. Sound that leaves to the rear goes round the box and comes late.

    Parameters
    ----------
    radius_m, tweeter_radius_m : float
        Effective radii of the two drivers, below the box radius. [m]
    crossover_hz : float
        Crossover frequency f_x. [Hz]
    box_radius_m : float
        Radius of the sphere that stands for the box; inf for drivers in a wall, which are pistons in an
        endless baffle: what they would send behind the wall is what they send along it. [m]
    drivers_m : (float, float)
        Heights of woofer and tweeter above the acoustic centre. [m]
    speed_of_sound_m_s : float
        [m/s]

    Returns
    -------
    Directivity

    Raises
    ------
    ValueError
        If a size, the crossover or the speed is not positive, or a driver is wider than the box.

    Examples
    --------
    >>> angle = np.radians([30.0, 90.0, 180.0])
    >>> towards = np.stack([np.cos(angle), np.sin(angle), 0.0 * angle], axis=1)
    >>> energy = two_way(speed_of_sound_m_s=343.2).energy(towards, np.array([1.0, 0.0, 0.0]))
    >>> (10.0 * np.log10(energy[:, 4])).round(1).tolist()
    [-0.7, -5.0, -5.3]
    """
    _require_positive("crossover", crossover_hz)
    _require_positive("speed of sound", speed_of_sound_m_s)
    in_wall = box_radius_m == np.inf
    if not in_wall:
        _require_positive("box radius", box_radius_m)
    frequency_hz = band_frequencies_hz().reshape(-1)
    largest_m = max(radius_m, tweeter_radius_m) if in_wall else box_radius_m
    highest_ka = 2.0 * np.pi * frequency_hz[-1] * largest_m / speed_of_sound_m_s
    angles_rad = np.linspace(0.0, np.pi, max(_STEPS, int(np.ceil(_STEPS_PER_KA * highest_ka))) + 1)
    q = ((frequency_hz / crossover_hz) ** 4)[:, None]
    sent = []
    for share, radius in ((1.0 / (1.0 + q), radius_m), (q / (1.0 + q), tweeter_radius_m)):
        if in_wall:
            pattern = piston_pattern(frequency_hz, angles_rad, radius, speed_of_sound_m_s)
        else:
            pattern = cap_pattern(frequency_hz, angles_rad, radius, box_radius_m, speed_of_sound_m_s)
            # Ways count from the acoustic centre on the front of the box, not from the middle of the sphere.
            nearer_m = box_radius_m * (1.0 - np.cos(angles_rad))
            pattern *= np.exp(2j * np.pi / speed_of_sound_m_s * frequency_hz[:, None] * nearer_m)
        sent.append(share * pattern)
    return Directivity(_drivers(sent, drivers_m), speed_of_sound_m_s)


def _drivers(sent: Sequence[Complexes], heights_m: tuple[float, float]) -> tuple[Driver, ...]:
    """Woofer and tweeter from their patterns (192, n_angles); as one where neither is higher."""
    if heights_m == (0.0, 0.0):
        return (_driver((sent[0] + sent[1]).T),)
    return tuple(_driver(each.T, height_m) for each, height_m in zip(sent, heights_m, strict=True))


def cap_pattern(
    frequency_hz: ArrayLike,
    angles_rad: ArrayLike,
    radius_m: float,
    box_radius_m: float,
    speed_of_sound_m_s: float,
) -> NDArray[np.complex128]:
    """Far-field pressure re axis of a vibrating cap on a rigid sphere.

    Parameters
    ----------
    frequency_hz : (n_f,) array_like
        [Hz]
    angles_rad : (n_angles,) array_like
        Angles off the axis. [rad]
    radius_m : float
        Radius of the cap's rim; every point of the cap moves along the sphere's own radius. [m]
    box_radius_m : float
        Radius of the sphere. [m]
    speed_of_sound_m_s : float
        [m/s]

    Returns
    -------
    (n_f, n_angles) complex ndarray
        1 on the axis; time convention e^{+jwt}.

    Raises
    ------
    ValueError
        If a size or the speed is not positive or the cap is as wide as the sphere.

    Notes
    -----
    p(theta) ~ sum over n of j**(n+1) W_n P_n(cos theta) / h_n'(ka), h_n the spherical Hankel function
    of the second kind, W_n = (P_{n-1}(mu) - P_{n+1}(mu)) / 2, P_{-1} = 1, mu = cos of the cap's half
    angle. P. M. Morse, K. U. Ingard, Theoretical Acoustics; R. M. Aarts, A. J. E. M. Janssen,
    J. Audio Eng. Soc. 59 (2011) (both from memory).
    """
    _require_positive("speed of sound", speed_of_sound_m_s)
    _require_positive("box radius", box_radius_m)
    _require_positive("driver radius", radius_m)
    if radius_m >= box_radius_m:
        raise ValueError(
            f"a driver of radius {radius_m:g} m does not fit on a box of radius {box_radius_m:g} m; "
            "give a smaller driver or a larger box_radius"
        )
    ka = 2.0 * np.pi * np.asarray(frequency_hz, dtype=np.float64) * box_radius_m / speed_of_sound_m_s
    slopes = _hankel_slopes(ka)
    n_terms = slopes.shape[0]
    rim = np.sqrt(1.0 - (radius_m / box_radius_m) ** 2)
    at_rim = _legendre(np.array([rim]), n_terms + 1)[:, 0]
    weights = 0.5 * (np.append(1.0, at_rim[: n_terms - 1]) - at_rim[1:])
    powers = np.array([1j, -1.0, -1j, 1.0])[np.arange(n_terms) % 4]
    coefficients = (powers * weights)[:, None] / slopes
    cosines = np.cos(np.append(0.0, np.asarray(angles_rad, dtype=np.float64)))
    pressure = coefficients.T @ _legendre(cosines, n_terms)
    return np.asarray(pressure[:, 1:] / pressure[:, :1], dtype=np.complex128)


def piston_pattern(
    frequency_hz: Floats, angles_rad: Floats, radius_m: float, speed_of_sound_m_s: float
) -> Complexes:
    """Far-field pressure re axis of a piston in an endless baffle, (n_f, n_angles); held beyond 90 degrees.

    2 J_1(x) / x, x = k a sin(theta) (L. L. Beranek, T. J. Mellow, Acoustics, from memory).
    """
    from scipy.special import j1

    sine = np.sin(np.minimum(angles_rad, 0.5 * np.pi))
    x = 2.0 * np.pi * frequency_hz[:, None] * radius_m * sine / speed_of_sound_m_s
    x = np.maximum(x, 1e-9)
    return np.asarray(2.0 * j1(x) / x, np.complex128)


def _hankel_slopes(x: NDArray[np.float64]) -> NDArray[np.complex128]:
    """h_n'(x) of the second kind by upward recurrence, (n_terms, n_x); inf where a term no longer counts."""
    # Beyond n = x the terms fall faster than exponentially: 6 x^(1/3) + 10 more leave under 1e-12.
    last = np.ceil(x + 6.0 * np.cbrt(x) + 10.0)
    n_terms = int(last.max()) + 1
    slopes = np.full((n_terms, x.size), np.inf, dtype=np.complex128)
    before = np.exp(-1j * x) / x  # h_{-1}
    now = 1j * before  # h_0
    for n in range(n_terms):
        counts = n <= last
        slopes[n, counts] = (before - (n + 1) / x * now)[counts]
        # A frequency that is done keeps its values: going on would overflow.
        after = np.where(counts, (2 * n + 1) / x * now - before, now)
        before, now = np.where(counts, now, before), after
    return slopes


def _legendre(x: NDArray[np.float64], n_terms: int) -> NDArray[np.float64]:
    """P_0 to P_{n_terms-1} at x by Bonnet's recurrence, (n_terms, n_x)."""
    # legvander of numpy.polynomial does the same, but importing it takes 4 ms of every command's start.
    values = np.empty((n_terms, x.size))
    values[0] = 1.0
    values[1] = x
    for n in range(1, n_terms - 1):
        values[n + 1] = ((2 * n + 1) * x * values[n] - n * values[n - 1]) / (n + 1)
    return values


def from_table(angles_deg: ArrayLike, level_db: ArrayLike) -> Directivity:
    """Directivity from levels at some angles, linear in dB between them, the same in all of an octave.

    Parameters
    ----------
    angles_deg : (n,) array_like
        Angles off the axis, any order, from 0 to `FEWEST_DEG` or more; the level at the last one is held up
        to 180. Angles on the other side, below 0 or above 180, are folded over; where both sides are given
        their energies are averaged. [deg]
    level_db : (n, 8) array_like
        Levels per octave band; those at 0 degrees are subtracted. [dB]

    Returns
    -------
    Directivity

    Raises
    ------
    ValueError
        If the shapes do not fit, a number is not finite, or the angles reach too few directions.
    """
    angles = np.asarray(angles_deg, dtype=np.float64)
    levels = np.asarray(level_db, dtype=np.float64)
    if angles.ndim != 1 or levels.shape != (angles.size, 8):
        raise ValueError(
            f"a directivity needs eight levels per angle: got shapes {angles.shape} and {levels.shape}"
        )
    if not (np.isfinite(angles).all() and np.isfinite(levels).all()):
        raise ValueError("a directivity's angles and levels must be finite numbers")
    if angles.size == 0 or np.abs(angles).max() > 360.0:
        raise ValueError("a directivity's angles run from 0 to 180 degrees off axis")
    turned = np.abs(angles)
    folded, group = np.unique(np.minimum(turned, 360.0 - turned), return_inverse=True)
    if folded[0] != 0.0 or folded[-1] < FEWEST_DEG:
        raise ValueError(
            f"a directivity needs a row at 0 degrees and others up to {FEWEST_DEG:g} or more: found "
            f"{folded[0]:g} to {folded[-1]:g}"
        )
    energy = np.zeros((folded.size, 8))
    np.add.at(energy, group, 10.0 ** (0.1 * levels))
    mean_db = 10.0 * np.log10(energy / np.bincount(group)[:, None])
    relative = mean_db - mean_db[0]
    steps_deg = np.arange(_STEPS + 1, dtype=np.float64)
    at_steps_db = np.stack([np.interp(steps_deg, folded, band) for band in relative.T], axis=1)
    pressure = np.repeat(10.0 ** (at_steps_db / 20.0), N_PER_BAND, axis=1)
    return Directivity((_driver(pressure),), held_from_deg=float(folded[-1]))


def read_directivity(path: str | Path) -> Directivity:
    """Directivity from a CSV file of measured levels.

    A row holds degrees off axis, then eight levels from 63 Hz to 8 kHz in dB re axis, separated by
    commas. A first row of column names, empty lines and lines that begin with # are passed over.

    Parameters
    ----------
    path : str or Path
        The file, UTF-8.

    Returns
    -------
    Directivity

    Raises
    ------
    ValueError
        If the file cannot be read or a row is wrong; the message is one line and names file and line.
    """
    path = Path(path)
    try:
        with path.open("rb") as file:
            raw = file.read(_MOST_BYTES + 1)
        if len(raw) > _MOST_BYTES:
            raise ValueError(f"{path}: over {_MOST_BYTES / 1e6:g} MB, no directivity file")
        lines = raw.decode("utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise ValueError(f"{path}: cannot read this directivity file: {reason}") from error
    rows: list[list[float]] = []
    is_first = True
    for number, line in enumerate(lines, start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        cells = [cell.strip().strip('"') for cell in line.split(",")]
        if not (is_first and _is_heading(cells)):
            rows.append(_row(cells, f"{path}:{number}"))
        is_first = False
    if not rows:
        raise ValueError(f"{path}: this directivity file has no rows")
    table = np.array(rows)
    try:
        return from_table(table[:, 0], table[:, 1:])
    except ValueError as error:
        raise ValueError(f"{path}: {error}") from error


def _is_heading(cells: list[str]) -> bool:
    """Whether a first row holds names: its first cell begins with a letter or is empty."""
    return not cells[0] or cells[0][0].isalpha()


def _row(cells: list[str], where: str) -> list[float]:
    accepted = (
        "a row is degrees off axis, then eight levels in dB, separated by commas, decimals with a point"
    )
    if len(cells) != 9:
        raise ValueError(f"{where}: found {len(cells)} values, not 9; {accepted}")
    numbers = []
    for cell in cells:
        try:
            numbers.append(float(cell))
        except ValueError:
            raise ValueError(f'{where}: "{cell}" is not a number; {accepted}') from None
        if not np.isfinite(numbers[-1]):
            raise ValueError(f'{where}: "{cell}" is not a finite number; {accepted}')
    loudest = max(numbers[1:], key=abs)
    if abs(loudest) > _LOUDEST_DB:
        raise ValueError(f"{where}: found {loudest:g} dB; accepted: -{_LOUDEST_DB:g} to {_LOUDEST_DB:g} dB")
    return numbers


def _require_positive(name: str, value: float) -> None:
    if not 0.0 < value < np.inf:
        raise ValueError(f"{name} must be positive and finite, got {value}")
