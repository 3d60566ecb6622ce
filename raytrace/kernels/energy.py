"""Energy of rays over time: specular and scattered bounces, eight bands at once."""

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from raytrace.kernels.hits import closest_hit, leg_is_clear


class EnergyRoom(NamedTuple):
    """What rays meet: materials per facet and per opening.

    absorption, scattering (n_facets, n_bands); opening_start (n_facets + 1,) into the openings of a facet;
    opening_origin, opening_u, opening_v (n_openings, 3) its lower left corner [m] and directions,
    opening_size (n_openings, 2) [m], opening_absorption, opening_scattering (n_openings, n_bands).
    """

    absorption: np.ndarray
    scattering: np.ndarray
    opening_start: np.ndarray
    opening_origin: np.ndarray
    opening_u: np.ndarray
    opening_v: np.ndarray
    opening_size: np.ndarray
    opening_absorption: np.ndarray
    opening_scattering: np.ndarray


class EnergyLimits(NamedTuple):
    """When a ray ends and what counts; lengths in metres, times as lengths of path."""

    bin_m: float
    exact_order: int
    sphere_m: float
    faintest: float
    most_bounces: int
    tolerance: float
    rounding: float


@njit(cache=True, nogil=True, error_model="numpy")
def random_unit(seed, ray, bounce, use):
    """A number in [0, 1) that depends on its four arguments alone (splitmix64 finaliser)."""
    x = np.uint64(seed) * np.uint64(0x9E3779B97F4A7C15) + np.uint64(ray)
    x = (x ^ (x >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    x += np.uint64(bounce) * np.uint64(0xD6E8FEB86659FD93) + np.uint64(use)
    x = (x ^ (x >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    x = (x ^ (x >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    x = x ^ (x >> np.uint64(31))
    return (x >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@njit(cache=True, nogil=True, error_model="numpy")
def _opening_at(room, facet, x, y, z):
    """Number of the opening that holds a point of a facet, -1 if none does."""
    for k in range(room.opening_start[facet], room.opening_start[facet + 1]):
        dx = x - room.opening_origin[k, 0]
        dy = y - room.opening_origin[k, 1]
        dz = z - room.opening_origin[k, 2]
        u = dx * room.opening_u[k, 0] + dy * room.opening_u[k, 1] + dz * room.opening_u[k, 2]
        v = dx * room.opening_v[k, 0] + dy * room.opening_v[k, 1] + dz * room.opening_v[k, 2]
        if 0.0 <= u <= room.opening_size[k, 0] and 0.0 <= v <= room.opening_size[k, 1]:
            return k
    return -1


@njit(cache=True, nogil=True, error_model="numpy")
def _lambert(normal, a, b, direction):
    """A direction about `normal` with density cos / pi, from two numbers in [0, 1), into `direction`."""
    radius, angle = math.sqrt(a), 2.0 * math.pi * b
    x, y, z = radius * math.cos(angle), radius * math.sin(angle), math.sqrt(1.0 - a)
    if abs(normal[2]) < 0.9:
        flat = math.hypot(normal[0], normal[1])
        ux, uy, uz = -normal[1] / flat, normal[0] / flat, 0.0
    else:
        flat = math.hypot(normal[1], normal[2])
        ux, uy, uz = 0.0, -normal[2] / flat, normal[1] / flat
    vx = normal[1] * uz - normal[2] * uy
    vy = normal[2] * ux - normal[0] * uz
    vz = normal[0] * uy - normal[1] * ux
    direction[0] = x * ux + y * vx + z * normal[0]
    direction[1] = x * uy + y * vy + z * normal[1]
    direction[2] = x * uz + y * vz + z * normal[2]


@njit(cache=True, nogil=True, error_model="numpy")
def _through_sphere(position, direction, length, centre, radius):
    """Chord [m] of a leg in a sphere and where along the leg its middle lies [m]; 0, 0 if it misses."""
    ox, oy, oz = centre[0] - position[0], centre[1] - position[1], centre[2] - position[2]
    along = ox * direction[0] + oy * direction[1] + oz * direction[2]
    off_sq = ox * ox + oy * oy + oz * oz - along * along
    if off_sq >= radius * radius:
        return 0.0, 0.0
    half = math.sqrt(radius * radius - off_sq)
    start, end = max(along - half, 0.0), min(along + half, length)
    if end <= start:
        return 0.0, 0.0
    return end - start, 0.5 * (start + end)


@njit(cache=True, nogil=True, error_model="numpy")
def trace_energy(
    source,
    directions,
    first_ray,
    start_energy,
    seats,
    exact_within_m,
    facets,
    room,
    limits,
    seed,
    histogram,
    account,
):
    """Energy of rays (n_rays, 3) from `source` at `seats` (n_seats, 3), by length of path.

    Mirrored sound of at most `limits.exact_order` bounces within `exact_within_m` (n_seats,) is left out.
    `histogram` (n_seats, n_bins, n_bands) receives intensity re a source of unit strength, 1/(4 pi r^2) at
    r metres, air left out. `account` (3, n_bands) receives what was absorbed, what reweighting between
    scattered and mirrored bounces added, and what was left when rays ended.
    """
    n_bands = start_energy.shape[1]
    n_bins = histogram.shape[1]
    sphere_m3 = 4.0 / 3.0 * math.pi * limits.sphere_m**3
    energy = np.empty(n_bands)
    position, direction = np.empty(3), np.empty(3)
    for ray in range(directions.shape[0]):
        number = first_ray + ray
        strongest = 0.0
        for band in range(n_bands):
            energy[band] = start_energy[ray, band]
            strongest = max(strongest, energy[band])
        floor = strongest * limits.faintest
        position[:] = source
        direction[:] = directions[ray]
        travelled, mirrored_only, scattered_last = 0.0, True, False
        for bounce in range(limits.most_bounces + 1):
            length, facet = closest_hit(facets, position, direction, limits.tolerance, limits.rounding)
            if facet < 0:
                break

            # Mirrored sound that crosses the seat's sphere; what exact paths hold is left to them.
            exact = bounce <= limits.exact_order and mirrored_only
            if bounce > 0 and not scattered_last:
                for seat in range(seats.shape[0]):
                    chord, middle = _through_sphere(position, direction, length, seats[seat], limits.sphere_m)
                    when = travelled + middle
                    if chord > 0.0 and not (exact and when <= exact_within_m[seat]):
                        place = int(when / limits.bin_m)
                        if place < n_bins:
                            for band in range(n_bands):
                                histogram[seat, place, band] += energy[band] * chord / sphere_m3

            travelled += length
            for axis in range(3):
                position[axis] += length * direction[axis]
            normal = facets.normals[facet]
            opening = _opening_at(room, facet, position[0], position[1], position[2])
            absorption = room.absorption[facet] if opening < 0 else room.opening_absorption[opening]
            scattering = room.scattering[facet] if opening < 0 else room.opening_scattering[opening]
            share, strongest = 0.0, 0.0
            for band in range(n_bands):
                account[0, band] += energy[band] * absorption[band]
                energy[band] *= 1.0 - absorption[band]
                strongest = max(strongest, energy[band])
                share += scattering[band] / n_bands

            # Scattered sound from here straight to the seat: Lambert's law, cos / pi of what is scattered.
            if share > 0.0:
                for seat in range(seats.shape[0]):
                    dx = seats[seat, 0] - position[0]
                    dy = seats[seat, 1] - position[1]
                    dz = seats[seat, 2] - position[2]
                    height = dx * normal[0] + dy * normal[1] + dz * normal[2]
                    far_sq = dx * dx + dy * dy + dz * dz
                    if height <= 0.0 or not leg_is_clear(facets, position, seats[seat], limits.tolerance):
                        continue
                    place = int((travelled + math.sqrt(far_sq)) / limits.bin_m)
                    if place < n_bins:
                        falls = height / (far_sq * math.sqrt(far_sq) * math.pi)
                        for band in range(n_bands):
                            histogram[seat, place, band] += energy[band] * scattering[band] * falls

            if strongest <= floor or travelled > n_bins * limits.bin_m or bounce == limits.most_bounces:
                break

            # One way on, scattered or mirrored, each band weighted so that the mean stays right.
            scattered_last = random_unit(seed, number, bounce, 0) < share
            for band in range(n_bands):
                before = energy[band]
                if scattered_last:
                    energy[band] *= scattering[band] / share
                else:
                    energy[band] *= (1.0 - scattering[band]) / (1.0 - share)
                account[1, band] += energy[band] - before
            if scattered_last:
                mirrored_only = False
                a = random_unit(seed, number, bounce, 1)
                _lambert(normal, a, random_unit(seed, number, bounce, 2), direction)
            else:
                turn = 2.0 * (direction[0] * normal[0] + direction[1] * normal[1] + direction[2] * normal[2])
                for axis in range(3):
                    direction[axis] -= turn * normal[axis]
        for band in range(n_bands):
            account[2, band] += energy[band]
