"""What a speaker sends in a direction, per octave band."""

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.acoustics.air import BANDS_HZ

FLOOR_DB = -25.0
"""Lowest modelled level re axis: the deep notches of the model do not exist in a room."""

_ANGLES_DEG: NDArray[np.float64] = np.arange(181, dtype=np.float64)
_ANGLES_DEG.setflags(write=False)


@dataclass(frozen=True, eq=False)
class Directivity:
    """Level off the axis of a source that is the same all round its axis.

    Parameters
    ----------
    angles_deg : (181,) ndarray
        0 to 180 in whole degrees. [deg]
    level_db : (181, 8) ndarray
        Level re axis per octave band. [dB]
    """

    angles_deg: NDArray[np.float64]
    level_db: NDArray[np.float64]

    def energy(self, angles_rad: ArrayLike) -> NDArray[np.float64]:
        """Energy re axis in some directions, interpolated linearly in dB.

        Parameters
        ----------
        angles_rad : (n,) array_like
            Angles off the axis, 0 to pi. [rad]

        Returns
        -------
        (n, 8) ndarray
        """
        degrees = np.clip(np.degrees(np.asarray(angles_rad, dtype=np.float64)), 0.0, 180.0)
        low = np.minimum(degrees.astype(np.int64), 179)
        share = (degrees - low)[..., None]
        level = (1.0 - share) * self.level_db[low] + share * self.level_db[low + 1]
        return np.asarray(10.0 ** (0.1 * level), dtype=np.float64)


def omni() -> Directivity:
    """Directivity of a source that sends the same everywhere."""
    return _directivity(np.zeros((181, 8)))


@lru_cache(maxsize=64)  # the same while a speaker is moved about
def two_way(
    radius_m: float = 0.065,
    tweeter_radius_m: float = 0.0125,
    crossover_hz: float = 2500.0,
    box_radius_m: float = 0.13,
    *,
    speed_of_sound_m_s: float,
) -> Directivity:
    """Directivity of a two-way box speaker, at the centres of the octave bands.

    Woofer and tweeter are caps at one point of a rigid sphere of the box's size, joined by
    Linkwitz-Riley filters of fourth order: in phase, D = (D_w + q D_t) / (1 + q), q = (f / f_x)**4.
    Nothing falls below -25 dB re axis.

    Parameters
    ----------
    radius_m, tweeter_radius_m : float
        Effective radii of the two drivers, below the box radius. [m]
    crossover_hz : float
        Crossover frequency f_x. [Hz]
    box_radius_m : float
        Radius of the sphere that stands for the box. [m]
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
    >>> two_way(speed_of_sound_m_s=343.2).level_db[[30, 90, 180], 4].round(1).tolist()
    [-0.7, -5.0, -5.4]
    """
    _require_positive("crossover", crossover_hz)
    angles_rad = np.radians(_ANGLES_DEG)
    woofer = cap_pattern(BANDS_HZ, angles_rad, radius_m, box_radius_m, speed_of_sound_m_s)
    tweeter = cap_pattern(BANDS_HZ, angles_rad, tweeter_radius_m, box_radius_m, speed_of_sound_m_s)
    q = ((BANDS_HZ / crossover_hz) ** 4)[:, None]
    pattern = (woofer + q * tweeter) / (1.0 + q)
    floor = 10.0 ** (FLOOR_DB / 20.0)
    return _directivity(20.0 * np.log10(np.maximum(np.abs(pattern), floor)).T)


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
    """Directivity from levels at some angles, interpolated linearly in dB.

    Parameters
    ----------
    angles_deg : (n,) array_like
        Angles off the axis, any order, from 0 to 180. Angles on the other side, below 0 or above 180,
        are folded over; where both sides are given their energies are averaged. [deg]
    level_db : (n, 8) array_like
        Levels per octave band; those at 0 degrees are subtracted. [dB]

    Returns
    -------
    Directivity

    Raises
    ------
    ValueError
        If the shapes do not fit, a number is not finite, or 0 or 180 degrees are missing.
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
    if folded[0] != 0.0 or folded[-1] != 180.0:
        raise ValueError(
            f"a directivity needs rows at 0 and at 180 degrees: found {folded[0]:g} to {folded[-1]:g}"
        )
    energy = np.zeros((folded.size, 8))
    np.add.at(energy, group, 10.0 ** (0.1 * levels))
    mean_db = 10.0 * np.log10(energy / np.bincount(group)[:, None])
    relative = mean_db - mean_db[0]
    return _directivity(np.stack([np.interp(_ANGLES_DEG, folded, band) for band in relative.T], axis=1))


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
        lines = path.read_text(encoding="utf-8-sig").splitlines()
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
    return numbers


def _directivity(level_db: NDArray[np.float64]) -> Directivity:
    levels = np.ascontiguousarray(level_db)
    levels.setflags(write=False)
    return Directivity(_ANGLES_DEG, levels)


def _require_positive(name: str, value: float) -> None:
    if not 0.0 < value < np.inf:
        raise ValueError(f"{name} must be positive and finite, got {value}")
