"""Reverberation formulas of a diffuse sound field, and the frequency below which no such field exists."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.acoustics import BANDS_HZ, air_attenuation_db_per_m
from raytrace.room import Room, cover_areas_m2
from raytrace.scene import Scene

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class DiffuseRoom:
    """What the formulas know of a room.

    Attributes
    ----------
    volume_m3 : float
    area_m2 : (n_pieces,) float
        Areas of the pieces of its surface.
    normals : (n_pieces, 3) float
        Unit normals.
    absorption : (n_pieces, n_bands) float
        At random incidence.
    air_per_m : (n_bands,) float
        Energy that air takes per metre, m. [1/m]
    speed_of_sound_m_s : float
    """

    volume_m3: float
    area_m2: Floats
    normals: Floats
    absorption: Floats
    air_per_m: Floats
    speed_of_sound_m_s: float

    @property
    def surface_m2(self) -> float:
        """Area of all pieces."""
        return float(self.area_m2.sum())

    @property
    def mean_absorption(self) -> Floats:
        """Mean over the area, (n_bands,)."""
        mean: Floats = self.area_m2 @ self.absorption / self.surface_m2
        return mean

    def decay_s(self, exponent: ArrayLike) -> Floats:
        """Decay time for 60 dB from the absorption exponent per bounce, in its place a."""
        taken = self.surface_m2 * np.asarray(exponent) + 4.0 * self.air_per_m * self.volume_m3
        with np.errstate(divide="ignore"):
            return np.asarray(24.0 * np.log(10.0) / self.speed_of_sound_m_s * self.volume_m3 / taken)


def diffuse_room(scene: Scene, room: Room) -> DiffuseRoom:
    """A room as the formulas see it: objects add faces, openings and panels take theirs from the surface."""
    area: list[float] = []
    normals: list[Floats] = []
    absorption: list[Floats] = []
    for index, surface in enumerate(room.surfaces):
        shown, bare_m2 = cover_areas_m2(room, index)
        for size_m2, material in [*shown, (bare_m2, surface.material)]:
            area.append(size_m2)
            absorption.append(material.absorption)
            normals.append(surface.frame.n)
    air = scene.air
    attenuation = air_attenuation_db_per_m(BANDS_HZ, air.temperature, air.humidity, air.pressure)
    return DiffuseRoom(
        volume_m3=room.volume_m3,
        area_m2=np.array(area),
        normals=np.array(normals),
        absorption=np.array(absorption),
        air_per_m=attenuation * np.log(10.0) / 10.0,
        speed_of_sound_m_s=room.speed_of_sound_m_s,
    )


def sabine_s(room: DiffuseRoom) -> Floats:
    """W. C. Sabine (1922, from memory): T = 24 ln 10 / c V / (A + 4 m V). (n_bands,) [s]"""
    return room.decay_s(room.mean_absorption)


def eyring_s(room: DiffuseRoom) -> Floats:
    """C. F. Eyring, J. Acoust. Soc. Am. 1 (1930) 217 (from memory): A becomes -S ln(1 - mean alpha). [s]"""
    return room.decay_s(_exponent(room.mean_absorption))


def arau_puchades_s(room: DiffuseRoom) -> Floats:
    """Product of three Eyring times, each with the mean absorption of the walls along one axis. [s]

    H. Arau-Puchades, Acustica 65 (1988) 163 (from memory), for boxes. Here a slanting piece counts along
    each axis with the square of its normal's part, which is the same in a box.
    """
    along = room.area_m2[:, None] * room.normals**2
    area = along.sum(axis=0)
    times = [room.decay_s(_exponent(along[:, axis] @ room.absorption / area[axis])) for axis in range(3)]
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = [share * np.log(time) for share, time in zip(area / area.sum(), times, strict=True)]
        return np.asarray(np.exp(np.sum(logs, axis=0)))


def schroeder_hz(decay_s: float, volume_m3: float) -> float:
    """Frequency above which at least three modes overlap, 2000 sqrt(T / V). [Hz]

    M. R. Schroeder, J. Acoust. Soc. Am. 99 (1996) 3240 (from memory).
    """
    return float(2000.0 * np.sqrt(decay_s / volume_m3))


def _exponent(absorption: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        return np.asarray(-np.log1p(-absorption))
