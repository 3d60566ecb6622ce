"""Energy that rays carry through the room to the seats: one pass over rays, bounces and bands."""

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from raytrace.kernels.bands import (
    N_BANDS,
    add_scaled,
    is_any_above,
    scale_row,
    set_scaled,
)
from raytrace.kernels.packets import closest_in_packets
from raytrace.kernels.settle import settle_hits

LANES = 1024  # rays in flight at a time, all their rows within the second cache
LEFT_OVER, ESCAPED, INCIDENT = 0, 1, 2  # rows of the ledger, from INCIDENT on as those of Walls.kept
CHOICE, DIRECTION = 0, 1  # uses of random numbers at a bounce
WORD = 0xFFFFFFFF


class Walls(NamedTuple):
    """What the facets do to a ray; rows of the tables are materials."""

    normals: np.ndarray
    """(n_facets, 3) into the air"""
    material: np.ndarray
    """(n_facets,) int"""
    cover_start: np.ndarray
    """(n_facets + 1,) first opening on each facet"""
    cover_u: np.ndarray
    """(n_covers, 3) unit vector along each opening"""
    cover_v: np.ndarray
    """(n_covers, 3) unit vector up it"""
    cover_offset: np.ndarray
    """(n_covers, 2) u . x and v . x of its lower left corner [m]"""
    cover_size: np.ndarray
    """(n_covers, 2) [m]"""
    cover_material: np.ndarray
    """(n_covers,) int"""
    chance: np.ndarray
    """(n_materials,) share of the rays that is scattered"""
    kept: np.ndarray
    """(2 n_materials, 8) what a ray keeps: row 2 m mirrored, (1 - alpha)(1 - s) / (1 - chance), row
    2 m + 1 scattered, (1 - alpha) s / chance"""


class Seats(NamedTuple):
    """Where energy is received."""

    positions: np.ndarray
    """(n_seats, 3) [m]"""
    radius: np.ndarray
    """(n_seats,) of the detection sphere, which lies wholly in the air [m]"""
    direct_m: np.ndarray
    """(n_seats,) distance from the speaker"""
    exact_m: np.ndarray
    """(n_seats,) length up to which unscattered paths are known exactly"""


class Bounds(NamedTuple):
    """When a ray ends, what is known without it, and how exact its hits are."""

    up_to_order: int
    """largest order of the exactly known paths"""
    n_bounces: int
    """largest number of bounces"""
    longest_m: float
    """longest path"""
    quiet: float
    """energy below which, in all bands, a ray is dropped"""
    bin_m: float
    """path length of a time bin"""
    slack: float
    """error of a float32 hit [m]"""
    tolerance: float
    """within which a point is on a facet [m]"""
    rounding: float
    """error of a computed coordinate [m]"""


class Flight(NamedTuple):
    """Rays in flight, a row per ray."""

    position: np.ndarray
    """(LANES, 3) [m]"""
    direction: np.ndarray
    """(LANES, 3) unit"""
    reach: np.ndarray
    """(LANES,) distance to the wall [m]"""
    facet: np.ndarray
    """(LANES,) int, facet met there"""
    margin: np.ndarray
    """(LANES,) how far inside its outline [m]"""
    energy: np.ndarray
    """(LANES, 8)"""
    travelled: np.ndarray
    """(LANES,) path length so far [m]"""
    number: np.ndarray
    """(LANES,) int, the ray's number"""
    bounces: np.ndarray
    """(LANES,) int, bounces so far"""
    word: np.ndarray
    """(LANES,) int, random number of the bounce, below 2**32"""
    is_pure: np.ndarray
    """(LANES,) bool, never scattered"""
    is_heard: np.ndarray
    """(LANES,) bool, whether the leg in flight began with a mirror bounce"""
    is_done: np.ndarray
    """(LANES,) bool"""


class Rain(NamedTuple):
    """Scattered energy on its way to the seats: a queue, for many legs at once are looked along faster."""

    position: np.ndarray
    """(2 LANES, 3) scattering spots [m]"""
    direction: np.ndarray
    """(2 LANES, 3) from there to the seat"""
    distance: np.ndarray
    """(2 LANES,) to it [m]"""
    piece: np.ndarray
    """(2 LANES,) int, what stands in the way, -1 for nothing"""
    margin: np.ndarray
    """(2 LANES,) how far inside its outline [m]"""
    row: np.ndarray
    """(2 LANES,) int, row of the histogram"""
    energy: np.ndarray
    """(2 LANES, 8) what arrives if nothing is in the way"""


@njit(cache=True, nogil=True, error_model="numpy")
def random_words(seed, ray, bounce, use):
    """Two random numbers below 2**32 from four counters; the same ones always.

    Philox 2x32 with ten rounds: J. K. Salmon et al., Parallel random numbers: as easy as 1, 2, 3, SC11
    (2011) (from memory). Integers stay below 2**64, so that plain Python computes the same.
    """
    first, second, key = int(ray) & WORD, int(bounce) * 4 + int(use), int(seed) & WORD
    for _ in range(10):
        product = 0xD256D193 * first
        first, second = ((product >> 32) & WORD) ^ key ^ second, product & WORD
        key = (key + 0x9E3779B9) & WORD
    return first, second


# Fields of a tuple are taken out before every loop: within it, each access would count a reference up and
# down again, which costs more than the arithmetic.


@njit(cache=True, nogil=True, error_model="numpy")
def _listen(flight, n, seats, bounds, n_bins, heard):
    """Legs that began with a mirror bounce and pierce a seat's sphere leave energy there.

    A chord's share of the sphere's volume estimates the energy density. The arrival time is that of the
    ray's image source as seen from the centre, so that mirrored energy arrives when it does exactly.
    """
    position, direction, reach, energy = flight.position, flight.direction, flight.reach, flight.energy
    travelled, bounces, is_pure, is_heard = flight.travelled, flight.bounces, flight.is_pure, flight.is_heard
    for seat in range(seats.radius.size):
        x, y, z = seats.positions[seat, 0], seats.positions[seat, 1], seats.positions[seat, 2]
        direct_m, exact_m, square = seats.direct_m[seat], seats.exact_m[seat], seats.radius[seat] ** 2
        scale = 3.0 * direct_m**2 / seats.radius[seat] ** 3
        for lane in range(n):
            dx, dy, dz = x - position[lane, 0], y - position[lane, 1], z - position[lane, 2]
            along = dx * direction[lane, 0] + dy * direction[lane, 1] + dz * direction[lane, 2]
            beside = dx * dx + dy * dy + dz * dz - along * along
            if beside >= square or not is_heard[lane] or not 0.0 < along < reach[lane]:
                continue
            length = math.sqrt((travelled[lane] + along) ** 2 + beside)
            known = bounces[lane] <= bounds.up_to_order and length <= exact_m
            place = max(0, int((length - direct_m) / bounds.bin_m))
            if not (is_pure[lane] and known) and place < n_bins:
                weight = scale * 2.0 * math.sqrt(square - beside)
                add_scaled(heard, seat * n_bins + place, weight, energy, lane)


@njit(cache=True, nogil=True, error_model="numpy")
def _bounce(walls, flight, n, bounds, seed, ledger, tally):
    """Carry rays to their walls and mirror them there; choose mirror or scatter, absorb, end what is over."""
    position, direction, reach, facets = flight.position, flight.direction, flight.reach, flight.facet
    travelled, number, bounces, word = flight.travelled, flight.number, flight.bounces, flight.word
    energy, is_heard, is_done = flight.energy, flight.is_heard, flight.is_done
    normals, own, chance, kept, start = (
        walls.normals,
        walls.material,
        walls.chance,
        walls.kept,
        walls.cover_start,
    )
    along, up, offset, size, covering = (
        walls.cover_u, walls.cover_v, walls.cover_offset, walls.cover_size, walls.cover_material
    )  # fmt: skip
    # In a loop of its own it runs in SIMD.
    for lane in range(n):
        word[lane] = random_words(seed, number[lane], bounces[lane] + 1, CHOICE)[0]
    for lane in range(n):
        facet = facets[lane]
        if facet < 0:
            is_done[lane] = True
            add_scaled(ledger, ESCAPED, 1.0, energy, lane)
            continue
        nx, ny, nz = normals[facet, 0], normals[facet, 1], normals[facet, 2]
        dx, dy, dz = direction[lane, 0], direction[lane, 1], direction[lane, 2]
        x, y = position[lane, 0] + reach[lane] * dx, position[lane, 1] + reach[lane] * dy
        z = position[lane, 2] + reach[lane] * dz
        position[lane, 0], position[lane, 1], position[lane, 2] = x, y, z
        twice = 2.0 * (nx * dx + ny * dy + nz * dz)
        dx, dy, dz = dx - twice * nx, dy - twice * ny, dz - twice * nz
        # Rounding would build up over a hundred mirrorings: one Newton step keeps the length 1.
        unit = 1.5 - 0.5 * (dx * dx + dy * dy + dz * dz)
        direction[lane, 0], direction[lane, 1], direction[lane, 2] = unit * dx, unit * dy, unit * dz
        travelled[lane] += reach[lane]
        bounces[lane] += 1

        # The last opening that covers the spot, else the surface's own material.
        material = own[facet]
        for cover in range(start[facet], start[facet + 1]):
            u = x * along[cover, 0] + y * along[cover, 1] + z * along[cover, 2] - offset[cover, 0]
            v = x * up[cover, 0] + y * up[cover, 1] + z * up[cover, 2] - offset[cover, 1]
            if 0.0 <= u <= size[cover, 0] and 0.0 <= v <= size[cover, 1]:
                material = covering[cover]
        is_scattered = word[lane] < chance[material] * 4294967296.0
        is_heard[lane] = not is_scattered
        row = 2 * material + is_scattered
        add_scaled(ledger, INCIDENT + row, 1.0, energy, lane)
        scale_row(energy, lane, kept, row)
        is_over = bounces[lane] >= bounds.n_bounces or travelled[lane] > bounds.longest_m
        if is_over or not is_any_above(energy, lane, bounds.quiet):
            is_done[lane] = True
            tally[0] += bounces[lane]
            tally[1] += travelled[lane]
            add_scaled(ledger, LEFT_OVER, 1.0, energy, lane)


@njit(cache=True, nogil=True, error_model="numpy")
def _gather_rain(walls, flight, n, seats, seat, bounds, n_bins, rain, entry):
    """Queue what a seat receives of the scattered rays, cos / pi spread over the distance; entries in use."""
    position, direction, facets, energy = flight.position, flight.direction, flight.facet, flight.energy
    travelled, is_heard, is_done, normals = flight.travelled, flight.is_heard, flight.is_done, walls.normals
    start, ways, distances, rows, sent = rain.position, rain.direction, rain.distance, rain.row, rain.energy
    x, y, z = seats.positions[seat, 0], seats.positions[seat, 1], seats.positions[seat, 2]
    direct_m = seats.direct_m[seat]
    for lane in range(n):
        if is_heard[lane] or is_done[lane]:
            continue
        dx, dy, dz = x - position[lane, 0], y - position[lane, 1], z - position[lane, 2]
        distance = math.sqrt(dx * dx + dy * dy + dz * dz)
        dx, dy, dz = dx / distance, dy / distance, dz / distance
        facet = facets[lane]
        nx, ny, nz = normals[facet, 0], normals[facet, 1], normals[facet, 2]
        cosine = nx * dx + ny * dy + nz * dz
        # Mirrored already: a ray that flies against the normal came from behind the facet.
        if nx * direction[lane, 0] + ny * direction[lane, 1] + nz * direction[lane, 2] < 0.0:
            cosine = -cosine
        place = max(0, int((travelled[lane] + distance - direct_m) / bounds.bin_m))
        if cosine <= 0.0 or place >= n_bins:
            continue
        start[entry, 0], start[entry, 1] = position[lane, 0], position[lane, 1]
        start[entry, 2] = position[lane, 2]
        ways[entry, 0], ways[entry, 1], ways[entry, 2] = dx, dy, dz
        distances[entry], rows[entry] = distance, seat * n_bins + place
        set_scaled(sent, entry, 4.0 * cosine * (direct_m / distance) ** 2, energy, lane)
        entry += 1
    return entry


@njit(cache=True, nogil=True, error_model="numpy")
def _scatter(walls, flight, n, seed):
    """Turn the scattered rays by Lambert's law: the normal plus a point of the unit sphere."""
    direction, facets, normals, number = flight.direction, flight.facet, walls.normals, flight.number
    bounces, is_heard, is_done, is_pure = flight.bounces, flight.is_heard, flight.is_done, flight.is_pure
    for lane in range(n):
        if is_heard[lane] or is_done[lane]:
            continue
        is_pure[lane] = False
        facet = facets[lane]
        nx, ny, nz = normals[facet, 0], normals[facet, 1], normals[facet, 2]
        if nx * direction[lane, 0] + ny * direction[lane, 1] + nz * direction[lane, 2] < 0.0:
            nx, ny, nz = -nx, -ny, -nz
        first, second = random_words(seed, number[lane], bounces[lane], DIRECTION)
        height = (first + 0.5) * (2.0 / 4294967296.0) - 1.0
        turn = second * (2.0 * math.pi / 4294967296.0)
        flat = math.sqrt(1.0 - height * height)
        dx, dy, dz = nx + flat * math.cos(turn), ny + flat * math.sin(turn), nz + height
        length = math.sqrt(dx * dx + dy * dy + dz * dz)
        direction[lane, 0], direction[lane, 1] = dx / length, dy / length
        direction[lane, 2] = dz / length


@njit(cache=True, nogil=True, error_model="numpy")
def _refill(flight, n, source, directions, energies, first_ray, n_started):
    """Put new rays in the place of those that are over, then the last ones; rays in flight, rays started."""
    position, direction, energy, travelled = (
        flight.position,
        flight.direction,
        flight.energy,
        flight.travelled,
    )
    number, bounces = flight.number, flight.bounces
    is_pure, is_heard, is_done = flight.is_pure, flight.is_heard, flight.is_done
    lane, n_rays = 0, directions.shape[0]
    while lane < n:
        if not is_done[lane]:
            lane += 1
        elif n_started < n_rays:
            for axis in range(3):
                position[lane, axis] = source[axis]
                direction[lane, axis] = directions[n_started, axis]
            set_scaled(energy, lane, 1.0, energies, n_started)
            travelled[lane] = 0.0
            number[lane], bounces[lane] = first_ray + n_started, 0
            is_pure[lane], is_heard[lane], is_done[lane] = True, False, False
            n_started += 1
        else:
            n -= 1
            for axis in range(3):
                position[lane, axis] = position[n, axis]
                direction[lane, axis] = direction[n, axis]
            set_scaled(energy, lane, 1.0, energy, n)
            travelled[lane], number[lane], bounces[lane] = travelled[n], number[n], bounces[n]
            is_pure[lane], is_heard[lane], is_done[lane] = is_pure[n], is_heard[n], is_done[n]
    return n, n_started


@njit(cache=True, nogil=True, error_model="numpy")
def trace_rays(
    facets, pieces, walls, seats, bounds, source, directions, energy, seed, first_ray, workspace, histogram,
    ledger, tally,
):  # fmt: skip
    """Follow rays until they are over; add what reaches the seats to the histogram.

    source (3,) [m]; directions (n, 3) unit; energy (n, 8) at the start; seed and number of the first ray
    for the random numbers; workspace fresh; histogram (n_seats, n_bins, 8), bins from the direct sound
    on, 1 = what a source that sends energy 1 evenly into all directions sends to the seat directly;
    ledger (INCIDENT + 2 n_materials, 8) energy left over, escaped, and what met the walls; tally (2,)
    bounces and metres of all rays. Air is left out: it belongs to the bins.
    """
    flight, rain, page, far = workspace
    n_bins, n_seats, slack = histogram.shape[1], seats.radius.size, np.float32(bounds.slack)
    heard = histogram.reshape(-1, N_BANDS)
    facet, facet_of_piece = flight.facet, pieces.facet
    n, n_started, queued = LANES, 0, 0
    while n > 0:
        n, n_started = _refill(flight, n, source, directions, energy, first_ray, n_started)
        closest_in_packets(
            flight.position[:n], flight.direction[:n], far[:n], pieces, slack, facet[:n], flight.margin[:n]
        )
        for lane in range(n):
            facet[lane] = facet_of_piece[facet[lane]] if facet[lane] >= 0 else -1
        settle_hits(
            facets, flight.position[:n], flight.direction[:n], facet[:n], flight.margin[:n],
            bounds.slack, bounds.tolerance, bounds.rounding, flight.reach[:n],
        )  # fmt: skip
        _listen(flight, n, seats, bounds, n_bins, heard)
        # Each step is booked apart: adding small to large a million times would lose the last digits.
        for row in range(page.shape[0]):
            set_scaled(page, row, 0.0, page, row)
        _bounce(walls, flight, n, bounds, seed, page, tally)
        for row in range(page.shape[0]):
            add_scaled(ledger, row, 1.0, page, row)
        for seat in range(n_seats):
            queued = _gather_rain(walls, flight, n, seats, seat, bounds, n_bins, rain, queued)
            # What is queued falls when no other seat's share would fit in, and at the end.
            if queued > LANES or n == 0:
                closest_in_packets(
                    rain.position[:queued], rain.direction[:queued], rain.distance[:queued], pieces, slack,
                    rain.piece[:queued], rain.margin[:queued],
                )  # fmt: skip
                for entry in range(queued):
                    if rain.piece[entry] < 0:
                        add_scaled(heard, rain.row[entry], 1.0, rain.energy, entry)
                queued = 0
        _scatter(walls, flight, n, seed)


def new_workspace(n_rows: int) -> tuple[Flight, Rain, np.ndarray, np.ndarray]:
    """Memory for one call of `trace_rays` with so many rows of the ledger; no ray in flight."""

    def whole() -> np.ndarray:
        return np.zeros(LANES, np.int64)

    flight = Flight(
        position=np.zeros((LANES, 3)),
        direction=np.zeros((LANES, 3)),
        reach=np.zeros(LANES),
        facet=whole(),
        margin=np.zeros(LANES),
        energy=np.zeros((LANES, N_BANDS)),
        travelled=np.zeros(LANES),
        number=whole(),
        bounces=whole(),
        word=whole(),
        is_pure=np.zeros(LANES, np.bool_),
        is_heard=np.zeros(LANES, np.bool_),
        is_done=np.ones(LANES, np.bool_),
    )
    rain = Rain(
        position=np.zeros((2 * LANES, 3)),
        direction=np.zeros((2 * LANES, 3)),
        distance=np.zeros(2 * LANES),
        piece=np.zeros(2 * LANES, np.int64),
        margin=np.zeros(2 * LANES),
        row=np.zeros(2 * LANES, np.int64),
        energy=np.zeros((2 * LANES, N_BANDS)),
    )
    return flight, rain, np.zeros((n_rows, N_BANDS)), np.full(LANES, np.inf)
