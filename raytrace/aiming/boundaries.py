"""What the boundaries near a speaker do to its low end: one image in each, its dip, and all together."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.reflections import (
    Reflectors,
    decibels,
    find_reflectors,
    pressure_at,
    sent_pressure,
    speaker_directivity,
    wall_reflection,
)
from raytrace.room import Room, build_room, facet_distance_m, speaker_axis
from raytrace.scene import Scene

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

LOW_HZ = (30.0, 400.0)
PER_OCTAVE = 24
_LINES = 4  # per step, so that each level is the mean energy over a twelfth of an octave
NOTICED_DIP_DB = 3.0
"""A minimum of the combined response this far below its mean is told (own choice)."""
_TAKES_PART = 0.5  # of what the boundary takes that takes most


@dataclass(frozen=True)
class BoundaryDip:
    """What one boundary alone does to the direct sound at the ears.

    Attributes
    ----------
    surface : str
    hz : float
        Where its reflection takes half a wavelength longer than the direct sound: c / (2 detour). Further
        dips at odd multiples.
    quarter_wave_hz : float
        c / (4 distance), where the dip would be with the ears straight before the wall and the speaker.
    distance_m, detour_m : float
        From the acoustic centre to the plane; longer way of the reflection.
    alone_db : float
        Level of both at that pitch re the direct sound.
    is_shadowed : bool
        Whether something stands in the way of the mirror path; long waves go round it.
    """

    surface: str
    hz: float
    quarter_wave_hz: float
    distance_m: float
    detour_m: float
    alone_db: float
    is_shadowed: bool


@dataclass(frozen=True)
class CombinedDip:
    """A minimum of direct sound and all boundaries together.

    Attributes
    ----------
    hz, level_db : float
    surfaces : tuple of str
        Boundaries that take most from the direct sound there, the one that takes most first.
    """

    hz: float
    level_db: float
    surfaces: tuple[str, ...]


@dataclass(frozen=True)
class BoundaryResponse:
    """Direct sound and one reflection from every boundary, of one speaker at one seat.

    Attributes
    ----------
    speaker, seat : int
        Indices into the scene's lists.
    dips : tuple of BoundaryDip
        Shortest detour first.
    frequency_hz, level_db : (n,) float
        30 to 400 Hz, 24 to the octave; re the direct sound alone, each the mean energy over a twelfth.
    combined : tuple of CombinedDip
        Minima, deepest first.
    """

    speaker: int
    seat: int
    dips: tuple[BoundaryDip, ...]
    frequency_hz: Floats
    level_db: Floats
    combined: tuple[CombinedDip, ...]

    @property
    def evenness_db(self) -> float:
        """Standard deviation of the level over the logarithm of frequency. [dB]"""
        return float(np.std(self.level_db))


@dataclass(frozen=True)
class Boundaries:
    """A room as long waves meet it: no cabinets, which they go round; made once for many places.

    Attributes
    ----------
    scene, room : Scene, Room
        Without cabinets.
    reflectors : Reflectors
    """

    scene: Scene
    room: Room
    reflectors: Reflectors


@dataclass(frozen=True)
class _Image:
    """A speaker mirrored in one facet: its place, the spot, the whole way."""

    facet: int
    place: Floats
    spot: Floats
    length_m: float
    is_shadowed: bool


def boundaries_of(scene: Scene) -> Boundaries:
    """The boundaries of a scene.

    Raises
    ------
    SceneError
        If its geometry does not hold together.
    """
    speakers = tuple(speaker.model_copy(update={"body": "none"}) for speaker in scene.speakers)
    bare = scene.model_copy(update={"speakers": speakers})
    room = build_room(bare)
    return Boundaries(bare, room, find_reflectors(room))


def boundary_response(
    boundaries: Boundaries, *, speaker: int, seat: int, at: Floats | None = None
) -> BoundaryResponse:
    """What the boundaries do to one speaker at one seat.

    Parameters
    ----------
    boundaries : Boundaries
    speaker, seat : int
        Indices into the scene's lists.
    at : (3,) float, optional
        Where the speaker stands instead. [m]

    Notes
    -----
    One image per flat face (textbook), with the face's own material, panels, openings and finite size and
    the speaker's directivity as everywhere in this program. Below the 63 Hz octave (44 Hz) the coefficients
    of its lower end are held. Panels that hang free are left out: far under a wavelength they are not there.
    Two bounces and more are no part of it; they are what modes are made of.
    """
    scene, room = boundaries.scene, boundaries.room
    entry, ears = scene.speakers[speaker], np.array(scene.seats[seat].ears)
    source = np.array(entry.position) if at is None else np.asarray(at, np.float64)
    images = _images(room, source, ears)
    direct_m = float(np.linalg.norm(ears - source))
    axis = speaker_axis(scene, entry.model_copy(update={"position": tuple(source)}))
    detours = np.array([image.length_m for image in images]) - direct_m
    pressure = np.zeros((0, 8, 24), np.complex128)
    if images:
        spots, lengths = np.array([i.spot for i in images]), direct_m + detours
        directivity = speaker_directivity(scene, entry, room)
        pressure = sent_pressure(scene, (source, ears), spots, lengths, axis, directivity)
        pressure *= np.concatenate(
            [
                wall_reflection(room, boundaries.reflectors, i.facet, i.place[None], ears[None])
                * np.ones((1, 8, 24))
                for i in images
            ]
        )
    delays = detours / room.speed_of_sound_m_s
    frequency_hz, level_db = _combined(pressure, delays)
    names = [room.surfaces[room.facets[image.facet].surface].name for image in images]
    dips = tuple(
        _dip(room, image, source, detour, p)
        for image, detour, p in zip(images, detours, pressure, strict=True)
    )
    combined = tuple(
        CombinedDip(
            float(frequency_hz[k]), float(level_db[k]), _causes(frequency_hz[k], pressure, delays, names)
        )
        for k in _minima(level_db)
    )
    return BoundaryResponse(speaker, seat, dips, frequency_hz, level_db, combined)


def _images(room: Room, source: Floats, ears: Floats) -> list[_Image]:
    """Mirror images in all flat faces of the room, and in those of objects that are in sight."""
    images = []
    for index, facet in enumerate(room.facets[: room.n_solid_facets]):
        before, behind = (float(facet.normal @ p - facet.offset) for p in (source, ears))
        if min(before, behind) <= room.tolerance_m:  # a face that a speaker is built into adds no image
            continue
        place = source - 2.0 * before * facet.normal
        spot = place + before / (before + behind) * (ears - place)
        if facet_distance_m(spot, facet) > room.tolerance_m:
            continue
        starts, ends = np.array([source, ears]), np.array([spot, spot])
        is_shadowed = not room.is_clear(starts, ends).all()
        if is_shadowed and not (
            room.is_room_surface[facet.surface]
            and all(room.no_wall_between(s, e[None])[0] for s, e in zip(starts, ends, strict=True))
        ):
            continue
        images.append(_Image(index, place, spot, float(np.linalg.norm(ears - place)), is_shadowed))
    return sorted(images, key=lambda image: image.length_m)


def _combined(pressure: Complexes, delay_s: Floats) -> tuple[Floats, Floats]:
    """Frequencies, and level of the direct sound with all images re the direct sound alone."""
    n_steps = int(math.log2(LOW_HZ[1] / LOW_HZ[0]) * PER_OCTAVE)
    steps = np.arange(n_steps + 1)
    # Lines from half a twelfth of an octave below to half a twelfth above each step.
    inside = (np.arange(2 * _LINES) + 0.5 - _LINES) / _LINES
    lines = LOW_HZ[0] * 2.0 ** ((steps[:, None] + inside) / PER_OCTAVE)
    total = np.ones(lines.size, np.complex128)
    if len(pressure):
        turned = np.exp(-2j * np.pi * delay_s[:, None] * lines.ravel())
        total += np.sum(pressure_at(pressure, lines.ravel()) * turned, axis=0)
    energy = np.mean(np.abs(total.reshape(lines.shape)) ** 2, axis=1)
    return LOW_HZ[0] * 2.0 ** (steps / PER_OCTAVE), decibels(energy)


def _dip(room: Room, image: _Image, source: Floats, detour_m: float, pressure: Complexes) -> BoundaryDip:
    facet, c = room.facets[image.facet], room.speed_of_sound_m_s
    distance_m = float(facet.normal @ source - facet.offset)
    hz = c / (2.0 * float(detour_m))
    alone = (
        1.0 - pressure_at(pressure[None], np.array([hz]))[0, 0]
    )  # half a wavelength: turned by 180 degrees
    return BoundaryDip(
        surface=room.surfaces[facet.surface].name,
        hz=hz,
        quarter_wave_hz=c / (4.0 * distance_m),
        distance_m=distance_m,
        detour_m=float(detour_m),
        alone_db=20.0 * math.log10(max(abs(alone), 1e-6)),
        is_shadowed=image.is_shadowed,
    )


def _minima(level_db: Floats) -> list[int]:
    """Rows of minima well below the mean, deepest first."""
    inner = level_db[1:-1]
    lowest = 1 + np.flatnonzero((inner < level_db[:-2]) & (inner <= level_db[2:]))
    lowest = lowest[level_db[lowest] < float(np.mean(level_db)) - NOTICED_DIP_DB]
    return [int(k) for k in lowest[np.argsort(level_db[lowest], kind="stable")]]


def _causes(hz: float, pressure: Complexes, delay_s: Floats, names: list[str]) -> tuple[str, ...]:
    """Who takes most from the direct sound at one pitch: the part of each image against it."""
    turned = np.exp(-2j * np.pi * delay_s * hz)
    against = -np.real(pressure_at(pressure, np.array([hz]))[:, 0] * turned)
    return tuple(
        names[k]
        for k in np.argsort(-against, kind="stable")
        if against[k] > 0.0 and against[k] >= _TAKES_PART * against.max()
    )
