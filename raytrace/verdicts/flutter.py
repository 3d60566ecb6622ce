"""Flutter: bare parallel surfaces between which a click rattles."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import BANDS_HZ
from raytrace.room import Frame, Room, surface_covers

Floats = NDArray[np.float64]

FLUTTER_BELOW = 0.15  # of absorption in the mean of 1-4 kHz: a pair with one surface above does not rattle
_LEAST_M2 = 0.5  # that face each other
_HEARD_HZ = 2000.0  # the middle of 1-4 kHz
FRESNEL_NUMBER = (
    1.0  # of what faces each other there: with less, sound spills past the edges at every crossing
)


@dataclass(frozen=True)
class Flutter:
    """Two bare parallel surfaces between which a click rattles.

    Attributes
    ----------
    surface_a, surface_b : int
        Surfaces of the room.
    distance_m, area_m2 : float
        Between them; how much of them faces the other unobstructed.
    frequency_hz : float
        Repetition rate c / 2d.
    absorption : float
        Larger of the two in the mean of 1-4 kHz.
    decay_s : float
        Time for 60 dB at that absorption, without air and spreading.
    """

    surface_a: int
    surface_b: int
    distance_m: float
    area_m2: float
    frequency_hz: float
    absorption: float
    decay_s: float


def find_flutter(room: Room) -> tuple[Flutter, ...]:
    """Pairs of bare parallel surfaces that face each other over 0.5 m2 or more.

    Parallel within 3 degrees, absorption of both under 0.15 in the mean of 1-4 kHz; what stands between
    them does not count as facing. So far apart that their Fresnel number A / (4 lambda d) falls below 1 at
    2 kHz, they lose as much past their edges at every crossing as such an absorber takes.

    Notes
    -----
    Square plane mirrors of Fresnel number 1: A. G. Fox, T. Li, Bell Syst. Tech. J. 40 (1961) 453 (from
    memory).
    """
    normals = np.array([room.facets[s.facets[0]].normal for s in room.surfaces])
    found = []
    opposite = normals @ normals.T <= -np.cos(np.radians(3.0))
    for a, b in np.argwhere(np.triu(opposite, 1)).tolist():
        flutter = _flutter_between(room, a, b)
        if flutter is not None:
            found.append(flutter)
    return tuple(sorted(found, key=lambda f: f.distance_m))


def flutter_absorption(room: Room, a: int, b: int) -> tuple[float, float]:
    """Mean absorption at 1-4 kHz of what of two parallel surfaces faces the other, panels included.

    Parameters
    ----------
    room : Room
    a, b : int
        Surfaces of the room.
    """
    small, large = (b, a) if room.surfaces[a].area_m2 > room.surfaces[b].area_m2 else (a, b)
    _, spots, across, _ = _facing(room, small, large)
    values = [_mean_absorption(room, small, spots), _mean_absorption(room, large, across)]
    return (values[0], values[1]) if small == a else (values[1], values[0])


def _flutter_between(room: Room, a: int, b: int) -> Flutter | None:
    """Whether two surfaces rattle, as far as they face each other."""
    if room.surfaces[a].area_m2 > room.surfaces[b].area_m2:
        a, b = b, a
    if _Grid(room.surfaces[a].frame).area_m2 < _LEAST_M2:
        return None
    area_m2, spots, across, distance_m = _facing(room, a, b)
    if area_m2 < _LEAST_M2 or _fresnel_number(area_m2, distance_m, room.speed_of_sound_m_s) < FRESNEL_NUMBER:
        return None
    absorption = [_mean_absorption(room, a, spots), _mean_absorption(room, b, across)]
    if max(absorption) >= FLUTTER_BELOW:
        return None
    frequency_hz = room.speed_of_sound_m_s / (2.0 * distance_m)
    loss_db = -10.0 * float(np.sum(np.log10(1.0 - np.array(absorption))))
    decay_s = 60.0 / (loss_db * frequency_hz) if loss_db > 0 else np.inf
    a, b = sorted((a, b))
    return Flutter(a, b, distance_m, area_m2, frequency_hz, max(absorption), decay_s)


def _fresnel_number(area_m2: float, distance_m: float, speed_of_sound_m_s: float) -> float:
    """Of two squares of an area so far apart: half a side squared over wavelength times distance."""
    return area_m2 / (4.0 * speed_of_sound_m_s / _HEARD_HZ * distance_m)


class _Grid:
    """Points of a surface, each for an equal share of the smallest rectangle round it."""

    def __init__(self, frame: Frame) -> None:
        self.step_m = max(0.1, float(np.sqrt(frame.width * frame.height / 900.0)))
        self.u = np.arange(self.step_m / 2, frame.width, self.step_m)
        self.v = np.arange(self.step_m / 2, frame.height, self.step_m)

    @property
    def area_m2(self) -> float:
        """Of all shares: what faces another surface is no more."""
        return float(len(self.u) * len(self.v)) * self.step_m**2


def _facing(room: Room, a: int, b: int) -> tuple[float, Floats, Floats, float]:
    """Sample the smaller surface on a grid and look straight across.

    What faces the other [m2], its points on both (n, 3), how far apart they are in the mean [m].
    """
    frame = room.surfaces[a].frame
    grid = _Grid(frame)
    uv = np.stack(np.meshgrid(grid.u, grid.v, indexing="ij"), axis=-1).reshape(-1, 2)
    starts = frame.to_room(uv)
    normal = room.facets[room.surfaces[a].facets[0]].normal
    # Start just in front of the surface; looking back tells whether the surface is there at all.
    starts = starts + 1e-6 * room.size_m * normal
    distance, hit = room.first_hit(starts, np.broadcast_to(normal, starts.shape))
    back, own = room.first_hit(starts, np.broadcast_to(-normal, starts.shape))
    facet_surface = np.array([f.surface for f in room.facets])
    facing = (hit >= 0) & (own >= 0)
    facing &= (facet_surface[hit] == b) & (facet_surface[own] == a)
    area_m2 = float(np.count_nonzero(facing)) * grid.step_m**2
    across = starts[facing] + distance[facing, None] * normal
    apart_m = float(np.mean(distance[facing] + back[facing])) if facing.any() else np.inf
    return area_m2, starts[facing], across, apart_m


def _mean_absorption(room: Room, surface: int, points: Floats) -> float:
    """Mean over the points of the absorption at 1-4 kHz, openings and panels included."""
    bands = (BANDS_HZ > 900.0) & (BANDS_HZ < 4500.0)
    uv = room.surfaces[surface].frame.to_plane(points)
    values = np.full(len(uv), room.surfaces[surface].material.absorption[bands].mean())
    for rect, material in surface_covers(room, surface):
        inside = ((uv >= rect[:2]) & (uv <= rect[2:])).all(axis=1)
        values[inside] = material.absorption[bands].mean()
    return float(values.mean())
