"""Energy decay at the seats by rays, joined to the exact reflections, with classical formulas beside it."""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from raytrace.air import BANDS_HZ, air_attenuation_db_per_m
from raytrace.arrivals import Arrivals, speaker_axis, speaker_directivity
from raytrace.classical import (
    DecayParameters,
    arau_s,
    decay_parameters,
    eyring_s,
    sabine_s,
    schroeder_hz,
    target_s,
)
from raytrace.room import Room
from raytrace.scene import Scene

if TYPE_CHECKING:
    from raytrace.kernels.energy import EnergyRoom

Floats = NDArray[np.float64]

BIN_S = 0.001
N_GROUPS = 32  # fixed, so that any number of threads gives the same bits
FAINTEST = 1e-7  # a ray ends 70 dB down
MOST_BOUNCES = 4000
SPHERE_M = 0.25


@dataclass(frozen=True)
class Decay:
    """How sound of one speaker dies away at one seat, per octave band.

    Attributes
    ----------
    speaker, seat : int
        Indices into the scene's lists.
    energy : (n_bins, n_bands) float
        Energy per millisecond from the direct sound on, re the free-field direct sound in the same band.
    parameters : DecayParameters
        EDT, T20, T30, C50, C80, D50, Ts of that energy.
    error_s : (n_bands,) float
        Standard error of T20 from the scatter between groups of rays. [s]
    sabine_s, eyring_s, arau_s : (n_bands,) float
        Classical formulas. [s]
    target_s : float
        Nominal time of EBU Tech 3276 for the room's volume. [s]
    schroeder_hz : float
        Below it no such figure holds.
    notes : tuple of str
        What limits the figures.
    """

    speaker: int
    seat: int
    energy: Floats
    parameters: DecayParameters
    error_s: Floats
    sabine_s: Floats
    eyring_s: Floats
    arau_s: Floats
    target_s: float
    schroeder_hz: float
    notes: tuple[str, ...]


def find_decay(
    scene: Scene,
    room: Room,
    arrivals: Arrivals,
    *,
    n_rays: int = 5_000,
    seed: int = 0,
    threads: int | None = None,
    progress: Callable[[str, float], None] | None = None,
) -> tuple[Decay, ...]:
    """Energy decay of every speaker at every seat.

    Parameters
    ----------
    scene, room, arrivals : Scene, Room, Arrivals
        The arrivals hold the mirrored sound of few bounces exactly; rays bring everything else.
    n_rays : int
        Per speaker, 320 or more.
    seed : int
        The same seed gives the same bits, on any number of threads.
    threads : int, optional
        Default: one per core.
    progress : callable, optional
        Called with a text and the share done.

    Returns
    -------
    tuple of Decay
        By speaker, then seat.

    Notes
    -----
    Mirrored last bounces are counted by a sphere round the seat, scattered ones by their direct share at
    the seat, never both. Mirrored sound of no more bounces than the arrivals hold, within their time, is
    left to them.
    """
    if n_rays < 10 * N_GROUPS:
        raise ValueError(f"n_rays must be {10 * N_GROUPS} or more, not {n_rays}")
    classical = _classical(scene, room)
    slowest_s = float(np.max(classical["sabine"]))
    end_s = float(np.clip(1.2 * slowest_s, 0.3, 8.0))
    decays = []
    for i, speaker in enumerate(scene.speakers):
        if progress:
            progress(f"decay of {speaker.name}", i / len(scene.speakers))
        groups = _trace(scene, room, arrivals, i, n_rays=n_rays, seed=seed, threads=threads, end_s=end_s)
        for j in range(len(scene.seats)):
            early, lead_bins, scale = _early(scene, room, arrivals, i, j, groups.shape[2])
            late = groups[:, j, lead_bins:] * scale
            energy = early[: late.shape[1]] + late.sum(axis=0)
            parameters = decay_parameters(energy, BIN_S)
            middle = parameters.t20_s[3:5]
            reverberation_s = float(np.nanmean(middle)) if np.isfinite(middle).any() else slowest_s
            decays.append(
                Decay(
                    i,
                    j,
                    energy,
                    parameters,
                    error_s=_error_s(early[: late.shape[1]], late),
                    sabine_s=classical["sabine"],
                    eyring_s=classical["eyring"],
                    arau_s=classical["arau"],
                    target_s=target_s(room.volume_m3),
                    schroeder_hz=schroeder_hz(reverberation_s, room.volume_m3),
                    notes=_notes(room, schroeder_hz(reverberation_s, room.volume_m3), n_rays),
                )
            )
    return tuple(decays)


def _trace(
    scene: Scene,
    room: Room,
    arrivals: Arrivals,
    speaker: int,
    *,
    n_rays: int,
    seed: int,
    threads: int | None,
    end_s: float,
) -> Floats:
    """Intensity per group of rays, (N_GROUPS, n_seats, n_bins, n_bands), air included."""
    from raytrace.kernels.energy import EnergyLimits, trace_energy

    c = room.speed_of_sound_m_s
    directions = ray_directions(n_rays, seed + speaker)
    axis = speaker_axis(scene, scene.speakers[speaker])
    directivity = speaker_directivity(scene, scene.speakers[speaker], c)
    start_energy = directivity.energy(np.arccos(np.clip(directions @ axis, -1.0, 1.0))) / n_rays
    seats = np.array([seat.ears for seat in scene.seats], np.float64)
    source = np.array(scene.speakers[speaker].position, np.float64)
    n_bins = int(np.ceil(end_s / BIN_S)) + 64
    own = [h for h in arrivals.heard if h.speaker == speaker and h.zone_point == 0]
    exact_within_m = np.array([h.paths.direct_m + arrivals.within_s * c for h in own])
    limits = EnergyLimits(
        bin_m=BIN_S * c,
        exact_order=arrivals.path_surfaces.shape[1],
        sphere_m=SPHERE_M,
        faintest=FAINTEST,
        most_bounces=MOST_BOUNCES,
        tolerance=room.tolerance_m,
        rounding=1e-15 * room.size_m * 8.0,
    )
    surfaces = energy_room(room)
    histogram = np.zeros((N_GROUPS, len(seats), n_bins, len(BANDS_HZ)))
    bounds = np.linspace(0, n_rays, N_GROUPS + 1).astype(np.int64)

    def one_group(group: int) -> None:
        rays = slice(bounds[group], bounds[group + 1])
        trace_energy(
            source,
            directions[rays],
            rays.start,
            start_energy[rays],
            seats,
            exact_within_m,
            room.facet_arrays,
            surfaces,
            limits,
            seed,
            histogram[group],
            np.zeros((3, len(BANDS_HZ))),
        )

    with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:
        list(pool.map(one_group, range(N_GROUPS)))
    length_m = BIN_S * c * (np.arange(n_bins) + 0.5)
    histogram *= 10.0 ** (-length_m[:, None] * _air_db_per_m(scene) / 10.0)
    return histogram


def ray_directions(n_rays: int, seed: int) -> Floats:
    """Unit vectors spread evenly over the sphere in a shuffled spiral, (n_rays, 3)."""
    golden = np.pi * (3.0 - np.sqrt(5.0))
    place = np.random.default_rng(seed).permutation(n_rays) + 0.5
    z = 1.0 - 2.0 * place / n_rays
    radius = np.sqrt(1.0 - z * z)
    directions: Floats = np.stack(
        [radius * np.cos(golden * place), radius * np.sin(golden * place), z], axis=1
    )
    return np.ascontiguousarray(directions)


def energy_room(room: Room) -> "EnergyRoom":
    """Materials of facets and openings as arrays for the kernel."""
    from raytrace.kernels.energy import EnergyRoom

    materials = [room.surfaces[facet.surface].material for facet in room.facets]
    openings = [room.surfaces[facet.surface].openings for facet in room.facets]
    flat = [opening for part in openings for opening in part]
    frames = [room.surfaces[opening.surface].frame for opening in flat]
    rect = np.array([opening.rect for opening in flat], np.float64).reshape(-1, 4)

    def rows(values: list[Floats], width: int) -> Floats:
        return np.ascontiguousarray(np.array(values, np.float64).reshape(-1, width))

    corners = [
        frame.to_room(np.array([[u0, v0], [u1, v0], [u0, v1]]))
        for frame, (u0, v0, u1, v1) in zip(frames, rect, strict=True)
    ]
    return EnergyRoom(
        absorption=rows([m.absorption for m in materials], len(BANDS_HZ)),
        scattering=rows([m.scattering for m in materials], len(BANDS_HZ)),
        opening_start=np.cumsum([0, *(len(part) for part in openings)]).astype(np.int64),
        opening_origin=rows([c[0] for c in corners], 3),
        opening_u=rows([(c[1] - c[0]) / np.linalg.norm(c[1] - c[0]) for c in corners], 3),
        opening_v=rows([(c[2] - c[0]) / np.linalg.norm(c[2] - c[0]) for c in corners], 3),
        opening_size=rows(
            [np.array([np.linalg.norm(c[1] - c[0]), np.linalg.norm(c[2] - c[0])]) for c in corners], 2
        ),
        opening_absorption=rows([opening.material.absorption for opening in flat], len(BANDS_HZ)),
        opening_scattering=rows([opening.material.scattering for opening in flat], len(BANDS_HZ)),
    )


def _air_db_per_m(scene: Scene) -> Floats:
    return air_attenuation_db_per_m(BANDS_HZ, scene.air.temperature, scene.air.humidity, scene.air.pressure)


def _early(
    scene: Scene, room: Room, arrivals: Arrivals, speaker: int, seat: int, n_bins: int
) -> tuple[Floats, int, Floats]:
    """Exact energy per bin, the bins before the direct sound, and the factor that makes rays re direct."""
    heard = next(h for h in arrivals.heard if (h.speaker, h.seat, h.zone_point) == (speaker, seat, 0))
    energy = np.zeros((n_bins, len(BANDS_HZ)))
    if heard.paths.direct_visible:
        energy[0] += 1.0
    places = (heard.delay_s / BIN_S).astype(np.int64)
    np.add.at(energy, places, np.mean(np.abs(heard.pressure) ** 2, axis=2))
    lead_bins = int(heard.paths.direct_m / room.speed_of_sound_m_s / BIN_S)
    direction = (heard.paths.listener - heard.paths.source) / heard.paths.direct_m
    axis = speaker_axis(scene, scene.speakers[speaker])
    directivity = speaker_directivity(scene, scene.speakers[speaker], room.speed_of_sound_m_s)
    sent = directivity.energy(np.arccos(np.clip(direction @ axis, -1.0, 1.0))[None])[0]
    air = 10.0 ** (-heard.paths.direct_m * _air_db_per_m(scene) / 10.0)
    return energy, lead_bins, 4.0 * np.pi * heard.paths.direct_m**2 / (sent * air)


def _error_s(early: Floats, late: Floats) -> Floats:
    """Standard error of T20 by leaving out one group of rays after the other (jackknife)."""
    total, n = late.sum(axis=0), len(late)
    times = np.array([decay_parameters(early + (total - group) * n / (n - 1), BIN_S).t20_s for group in late])
    error: Floats = np.sqrt((n - 1) / n * np.sum((times - times.mean(axis=0)) ** 2, axis=0))
    return error


def _classical(scene: Scene, room: Room) -> dict[str, Floats]:
    """Sabine, Eyring and Arau-Puchades of the room's surfaces, openings with their own material."""
    areas, absorption, normals = [], [], []
    for surface in room.surfaces:
        normal = room.facets[surface.facets[0]].normal
        rest = surface.area_m2
        for opening in surface.openings:
            u0, v0, u1, v1 = opening.rect
            areas.append((u1 - u0) * (v1 - v0))
            absorption.append(opening.material.absorption)
            normals.append(normal)
            rest -= areas[-1]
        areas.append(max(rest, 0.0))
        absorption.append(surface.material.absorption)
        normals.append(normal)
    air_per_m = _air_db_per_m(scene) * np.log(10.0) / 10.0
    given = room.volume_m3, np.array(areas), np.array(absorption)
    c = room.speed_of_sound_m_s
    return {
        "sabine": sabine_s(*given, air_per_m=air_per_m, speed_of_sound_m_s=c),
        "eyring": eyring_s(*given, air_per_m=air_per_m, speed_of_sound_m_s=c),
        "arau": arau_s(*given, np.array(normals), air_per_m=air_per_m, speed_of_sound_m_s=c),
    }


def _notes(room: Room, limit_hz: float, n_rays: int) -> tuple[str, ...]:
    notes = [
        f"Below about {limit_hz:.0f} Hz single modes rule the room and no decay figure here holds.",
        f"By {n_rays} rays; absorption and scattering are handbook values, uncertain by 0.1 or more.",
        "The target of EBU Tech 3276, 0.25 s (V / 100 m3)^(1/3) in the mean of 200 Hz to 4 kHz, is written "
        "for 0.2 to 0.4 s and at most 300 m3.",
    ]
    if not 0.2 <= target_s(room.volume_m3) <= 0.4:
        notes.append(
            f"For {room.volume_m3:.0f} m3 the formula gives {target_s(room.volume_m3):.2f} s: outside that "
            "range, a guide only."
        )
    return tuple(notes)
