"""Energy that rays bring from a speaker to the seats, in time bins after the direct sound."""

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from queue import SimpleQueue
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.acoustics import Material
from raytrace.decay.raywalls import ray_walls, room_materials, scattering_groups
from raytrace.room import SLACK, Room, facet_distance_m

Floats = NDArray[np.float64]

N_GROUPS = 32
"""Work groups: fixed, so that the result does not depend on the number of threads."""
BIN_S = 0.001
RADIUS_M = 0.5
"""Largest radius of a seat's detection sphere. What it receives has travelled ten metres or has been
scattered, so that its density is even over such a sphere: 1 / d^2 errs by r^2 / 5 d^2."""
QUIET = 1e-4
"""Of what a ray would carry on the speaker's axis: quieter rays end by chance, half of them at a bounce. The
others double, so that T30, which ends 35 dB down, is known no worse for it."""
_GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0
_ROUNDING = 4e-16  # of the room's size: error of a computed coordinate, as in room.py


@dataclass(frozen=True)
class RayEnergy:
    """What the rays of one speaker bring to the seats; groups are independent estimates of the same.

    Attributes
    ----------
    energy : (n_groups, n_seats, n_bins, n_bands) float
        Ratio to the direct sound of a speaker that sends energy 1 in every direction, per time bin from
        the free-field direct sound on; without the loss in air.
    sent, absorbed, evened, left_over, escaped : (n_bands,) float
        Where the energy of the rays went, mean over the groups: sent is the sum of the others. `evened`
        is what bands that share rays lent each other, zero on average; `left_over` was dropped when the
        rays became late or, less what other rays took over from them, quiet; `escaped` left the room
        through a gap in it.
    mean_free_path_m : float
        Path length per bounce.
    """

    energy: Floats
    sent: Floats
    absorbed: Floats
    evened: Floats
    left_over: Floats
    escaped: Floats
    mean_free_path_m: float


@dataclass(frozen=True)
class Ears:
    """Where energy is received, and what is already known there.

    Attributes
    ----------
    positions : (n_seats, 3) float
        [m]
    exact_m : (n_seats,) float
        Up to this length, unscattered paths of at most `up_to_order` bounces are left out.
    up_to_order : int
    """

    positions: Floats
    exact_m: Floats
    up_to_order: int


@dataclass(frozen=True)
class Ends:
    """When a ray is no longer followed.

    Attributes
    ----------
    until_s : float
        Length of the record after the direct sound. [s]
    n_bounces : int
        Largest number of bounces of a ray.
    quiet : float
        Share of what a ray would carry on the speaker's axis; one that carries no more in any band ends
        by chance.
    """

    until_s: float
    n_bounces: int = 1_000_000
    quiet: float = QUIET


@dataclass(frozen=True)
class Sampling:
    """How many rays are drawn, and how the work on them is shared.

    Attributes
    ----------
    n_rays : int
        Rays per speaker, a few thousand or more; rounded up to a multiple of the number of groups. Bands
        that scatter too differently to share rays have as many each.
    seed : int
        Same seed, same bits, on any number of threads.
    threads : int or None
        At most so many; None for as many as the machine has.

    Raises
    ------
    ValueError
        If `n_rays` is not at least the number of work groups, or `threads` not positive.
    """

    n_rays: int = 100_000
    seed: int = 0
    threads: int | None = None

    def __post_init__(self) -> None:
        if self.n_rays < N_GROUPS:
            raise ValueError(f"n_rays must be {N_GROUPS} or more, not {self.n_rays}")
        if self.threads is not None and self.threads < 1:
            raise ValueError(f"threads must be 1 or more, not {self.threads}")


def trace_energy(
    room: Room,
    source: ArrayLike,
    send: Callable[[Floats], Floats],
    ears: Ears,
    ends: Ends,
    sampling: Sampling,
) -> RayEnergy:
    """Follow rays from a speaker through the room, eight bands at once.

    Parameters
    ----------
    room : Room
    source : (3,) array_like
        Position of the speaker. [m]
    send : callable
        Energy sent in some directions, (n, 3) unit vectors -> (n, n_bands).
    ears : Ears
    ends : Ends
    sampling : Sampling

    Notes
    -----
    A bounce is a mirror or scatters by Lambert's law, by chance (see `raywalls.ray_walls`). A mirrored
    leg is heard where it pierces the sphere around a seat, by the share of the chord in its volume; a
    scattering spot is heard through its own straight line to the seat; no leg is heard both ways.
    """
    from raytrace.kernels.energy import COPIES, INCIDENT
    from raytrace.kernels.flight import new_workspace

    materials, area_m2 = room_materials(room)
    batches = [
        (bands, ray_walls(room, materials, chance)) for bands, chance in scattering_groups(materials, area_m2)
    ]
    n_rows = INCIDENT + 2 * len(materials)
    per_group = -(-sampling.n_rays // N_GROUPS)
    # A group shares energy 1 among its rays: how quiet one of them is counts from its own part.
    ends = replace(ends, quiet=ends.quiet / per_group)
    flight = _flight(room, np.ascontiguousarray(source, np.float64), ears, ends)

    def trace_group(group: int) -> tuple[Floats, Floats, Floats, Floats]:
        directions = _directions(per_group, sampling.seed, group)
        start = send(directions) / per_group
        heard = np.zeros((len(flight.seats.direct_m), flight.n_bins, start.shape[1]))
        ledger = np.zeros((n_rows, start.shape[1]))
        tally = np.zeros(2)
        workspace = spare.get()
        for bands, walls in batches:
            # One batch for all bands writes straight into the result.
            into = (heard, ledger) if len(batches) == 1 else (np.zeros_like(heard), np.zeros_like(ledger))
            flight.follow(walls, directions, start, (sampling.seed, group), workspace, (*into, tally))
            heard[:, :, bands], ledger[:, bands] = into[0][:, :, bands], into[1][:, bands]
        spare.put(workspace)
        return heard, ledger, start.sum(axis=0), tally

    n_threads = sampling.threads or os.cpu_count() or 1
    spare: SimpleQueue[Any] = SimpleQueue()
    for _ in range(n_threads):
        spare.put(new_workspace(COPIES * n_rows))
    with ThreadPoolExecutor(max_workers=n_threads) as pool:
        heard, ledgers, sent, tallies = zip(*pool.map(trace_group, range(N_GROUPS)), strict=True)
    return _balance(
        heard, np.mean(sent, axis=0), np.mean(ledgers, axis=0), np.sum(tallies, axis=0), (materials, batches)
    )


@dataclass(frozen=True)
class _Flight:
    """What all rays of a speaker share: the room as the kernel takes it, where they are heard and end."""

    facets: Any
    pieces: Any
    source: Floats
    seats: Any
    bounds: Any
    n_bins: int

    def follow(
        self,
        walls: Any,
        directions: Floats,
        start: Floats,
        seed_and_group: tuple[int, int],
        workspace: Any,
        into: tuple[Floats, Floats, Floats],
    ) -> None:
        """Follow one group of rays and add to what is heard, the ledger and the tally of bounces."""
        from raytrace.kernels.energy import trace_rays

        seed, group = seed_and_group
        trace_rays(
            self.facets, self.pieces, walls, self.seats, self.bounds, self.source, directions,
            np.ascontiguousarray(start), seed, group * len(directions), workspace, *into,
        )  # fmt: skip


def _flight(room: Room, source: Floats, ears: Ears, ends: Ends) -> _Flight:
    from raytrace.kernels.flight import Bounds, Seats

    direct_m = np.linalg.norm(ears.positions - source, axis=1)
    bin_m = BIN_S * room.speed_of_sound_m_s
    n_bins = int(np.ceil(ends.until_s / BIN_S - 1e-9))
    bounds = Bounds(
        up_to_order=ears.up_to_order,
        n_bounces=ends.n_bounces,
        longest_m=n_bins * bin_m + float(direct_m.max()),
        quiet=ends.quiet,
        bin_m=bin_m,
        slack=SLACK * room.size_m,
        tolerance=room.tolerance_m,
        rounding=_ROUNDING * room.size_m,
    )
    seats = Seats(
        positions=np.ascontiguousarray(ears.positions, np.float64),
        radius=np.array([_radius_m(room, p, d) for p, d in zip(ears.positions, direct_m, strict=True)]),
        direct_m=direct_m,
        exact_m=np.asarray(ears.exact_m, np.float64),
    )
    return _Flight(room.facet_arrays, room.ray_pieces, source, seats, bounds, n_bins)


def _balance(
    heard: Sequence[Floats],
    sent: Floats,
    ledger: Floats,
    tally: Floats,
    walls: tuple[Sequence[Material], Sequence[tuple[slice, Any]]],
) -> RayEnergy:
    """What was heard, and where the energy went by the ledger of what met each kind of wall."""
    from raytrace.kernels.energy import ESCAPED, INCIDENT, LEFT_OVER

    materials, batches = walls
    absorption = np.repeat([material.absorption for material in materials], 2, axis=0)
    kept = np.concatenate([of_batch.kept[:, bands] for bands, of_batch in batches], axis=1)
    bounces, metres = tally
    return RayEnergy(
        energy=np.stack(heard),
        sent=sent,
        absorbed=np.sum(absorption * ledger[INCIDENT:], axis=0),
        evened=np.sum((1.0 - absorption - kept) * ledger[INCIDENT:], axis=0),
        left_over=ledger[LEFT_OVER],
        escaped=ledger[ESCAPED],
        mean_free_path_m=float(metres / bounces),
    )


def _radius_m(room: Room, position: Floats, direct_m: float) -> float:
    """Radius of a detection sphere that touches no surface and does not reach the speaker. [m]"""
    low, high = room.facet_arrays.low, room.facet_arrays.high
    gap_m = np.linalg.norm(np.maximum(np.maximum(low - position, position - high), 0.0), axis=1)
    near = np.flatnonzero(0.95 * gap_m < RADIUS_M)
    clear_m = min((facet_distance_m(position, room.facets[facet]) for facet in near), default=np.inf)
    return float(min(RADIUS_M, 0.95 * clear_m, 0.5 * direct_m))


def _directions(n: int, seed: int, group: int) -> Floats:
    """Directions spread evenly over the sphere, turned and shifted at random by group. (n, 3)

    Equal steps in height, golden steps round the axis: every group covers the whole sphere.
    """
    from raytrace.kernels.flight import random_words

    # Bounce 0 is never drawn from by the rays, so no number serves twice.
    shift, turn = (word / 2.0**32 for word in random_words(seed, group, 0, 0))
    place = np.arange(n)
    height = 1.0 - 2.0 * (place + shift) / n
    angle = 2.0 * np.pi * np.modf(place * _GOLDEN + turn)[0]
    flat = np.sqrt(1.0 - height**2)
    return np.stack([flat * np.cos(angle), flat * np.sin(angle), height], axis=1)
