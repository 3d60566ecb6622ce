"""Rays on their way through a room: walls and seats they meet, what they carry, their random numbers."""

from typing import NamedTuple

import numpy as np

from raytrace.kernels.bands import new_rows
from raytrace.kernels.jit import kernel
from raytrace.kernels.packets import BLOCK, Packet, new_packet

LANES = BLOCK // 2  # rays in flight at a time; a queue of twice as many sight lines is one packet
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
    """energy below which, in all bands, a ray ends by chance"""
    bin_m: float
    """path length of a time bin"""
    slack: float
    """error of a float32 hit [m]"""
    tolerance: float
    """within which a point is on a facet [m]"""
    rounding: float
    """error of a computed coordinate [m]"""


class Flight(NamedTuple):
    """Rays in flight, side by side."""

    position: np.ndarray
    """(3, LANES) [m]"""
    direction: np.ndarray
    """(3, LANES) unit"""
    reach: np.ndarray
    """(LANES,) distance to the wall [m]"""
    facet: np.ndarray
    """(LANES,) int, facet met there"""
    plane: np.ndarray
    """(4, LANES) its normal and offset"""
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
    is_near: np.ndarray
    """(LANES,) bool, whether the leg in flight pierces a seat's sphere"""
    is_done: np.ndarray
    """(LANES,) bool"""
    scattered: np.ndarray
    """(LANES,) int, places of the rays that the last bounce scattered"""
    sphere: np.ndarray
    """(3, LANES) points of the unit sphere for them"""


class Rain(NamedTuple):
    """Scattered energy on its way to the seats: a queue, for many legs at once are looked along faster."""

    position: np.ndarray
    """(3, 2 LANES) scattering spots [m]"""
    direction: np.ndarray
    """(3, 2 LANES) from there to the seat"""
    distance: np.ndarray
    """(2 LANES,) to it [m]"""
    row: np.ndarray
    """(2 LANES,) int, row of the histogram"""
    energy: np.ndarray
    """(2 LANES, 8) what arrives if nothing is in the way"""


@kernel
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


@kernel
def draw_sphere(flight, n, seed, use):
    """Points of the unit sphere, evenly spread by chance, for the first `n` scattered rays of a flight."""
    scattered, number, bounces = flight.scattered, flight.number, flight.bounces
    x, y, z = flight.sphere[0], flight.sphere[1], flight.sphere[2]
    for k in range(n):
        lane = scattered[k]
        first, second = random_words(seed, number[lane], bounces[lane], use)
        height = (first + 0.5) * (2.0 / 4294967296.0) - 1.0
        flat = np.sqrt(1.0 - height * height)
        # An angle within an eighth of a turn, then whole quarters: power series to 1e-10 run in SIMD.
        quarter = second >> 30
        a = ((second & 0x3FFFFFFF) - 536870911.5) * (0.5 * np.pi / 1073741824.0)
        q = a * a
        sine = a * (1 + q * (-1 / 6 + q * (1 / 120 + q * (-1 / 5040 + q * (1 / 362880 - q / 39916800)))))
        cosine = 1 + q * (-1 / 2 + q * (1 / 24 + q * (-1 / 720 + q * (1 / 40320 - q / 3628800))))
        odd, sign = quarter & 1, 1.0 if quarter < 2 else -1.0
        x[k] = flat * sign * (-sine if odd else cosine)
        y[k] = flat * sign * (cosine if odd else sine)
        z[k] = height


def new_workspace(n_rows: int) -> tuple[Flight, Rain, Packet, np.ndarray]:
    """Memory for one call of `trace_rays` at a time, with so many rows to book in."""

    def whole() -> np.ndarray:
        return np.zeros(LANES, np.int64)

    def claim() -> np.ndarray:
        return np.zeros(LANES, np.bool_)

    flight = Flight(
        position=np.zeros((3, LANES)),
        direction=np.zeros((3, LANES)),
        reach=np.zeros(LANES),
        facet=whole(),
        plane=np.zeros((4, LANES)),
        energy=new_rows(LANES),
        travelled=np.zeros(LANES),
        number=whole(),
        bounces=whole(),
        word=whole(),
        is_pure=claim(),
        is_heard=claim(),
        is_near=claim(),
        is_done=claim(),
        scattered=whole(),
        sphere=np.zeros((3, LANES)),
    )
    rain = Rain(
        position=np.zeros((3, 2 * LANES)),
        direction=np.zeros((3, 2 * LANES)),
        distance=np.zeros(2 * LANES),
        row=np.zeros(2 * LANES, np.int64),
        energy=new_rows(2 * LANES),
    )
    return flight, rain, new_packet(), new_rows(n_rows)
