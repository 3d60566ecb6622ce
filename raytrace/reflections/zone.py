"""What a measurement would show at many places of a head zone: envelopes, and the images behind them."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from raytrace.reflections.arrivals import PointArrivals, decibels
from raytrace.reflections.arrivalsearch import ZONE_STEPS, zone_points
from raytrace.reflections.response import SAMPLE_RATE_HZ, band_lines, direct_peaks, pressure_at
from raytrace.reflections.search_extent import ZONE_SLACK_S
from raytrace.scene import Scene

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Complexes = NDArray[np.complex128]

N_PLACES = 512
RINGING_S = 0.005  # the band's edges ring so long; what wraps round falls behind it
_SAME_M = 1e-6  # images nearer than this are one: far more than rounding, far less than a tape shows
# Plastic-number sequence: each axis by a power of the root of x^4 = x + 1, places spread evenly at any
# count (M. Roberts, 2018, from memory).
_PLASTIC = 1.2207440846057596


@dataclass(frozen=True)
class ZoneArrivals:
    """What the nodes of one seat's head zone hear of one speaker, ears first: paths and near misses."""

    found: tuple[PointArrivals, ...]
    missed: tuple[PointArrivals, ...]


@dataclass(frozen=True)
class ZoneCurves:
    """Energy-time curves of one speaker at the ears and at places spread over the head zone.

    Attributes
    ----------
    places : (n_places, 3) float
        The ears first. [m]
    level_db : (n_places, n_times) float
        Envelope, 0 dB = peak of the free-field direct sound, from its arrival on, `SAMPLE_RATE_HZ`.
    delay_s : (n_places, n_images) float
        After the direct sound at the same place.
    heard : (n_places, n_images) bool
        Whether an image is heard at a node about the place.
    strength_db : (n_images,) float
        Mean over the nodes of its level alone in the limit's band.
    rows, near_rows : tuple of tuple of int
        Paths and near misses of each image at the ears.
    facets : tuple of tuple of int
        What each image's strongest path at any node meets, from speaker to seat.
    """

    places: Floats
    level_db: Floats
    delay_s: Floats
    heard: NDArray[np.bool_]
    strength_db: Floats
    rows: tuple[tuple[int, ...], ...]
    near_rows: tuple[tuple[int, ...], ...]
    facets: tuple[tuple[int, ...], ...]


def zone_steps(n_places: int = N_PLACES) -> Floats:
    """The ears and places spread evenly over a head zone, in half-sizes of its box, (n_places + 1, 3).

    Half of them mirror the others from left to right, so that a symmetric room is judged alike on both sides.
    The ears come first, and places in the same eighth of the zone together, the ears' own first.
    """
    powers = _PLASTIC ** -np.arange(1.0, 4.0)
    spread = 2.0 * np.mod(0.5 + np.arange(1, n_places // 2 + 1)[:, None] * powers, 1.0) - 1.0
    both = np.vstack([spread, spread * [1.0, -1.0, 1.0]])
    eighth = (both < 0.0) @ [4, 2, 1]
    return np.vstack([np.zeros(3), both[np.argsort(eighth, kind="stable")]])


def zone_curves(
    scene: Scene, heard: ZoneArrivals, *, until_s: float, n_places: int = N_PLACES, lowest_db: float = -np.inf
) -> ZoneCurves:
    """Energy-time curves over a head zone in the limit's band.

    Parameters
    ----------
    scene : Scene
    heard : ZoneArrivals
        One node is the ears alone.
    until_s : float
        How long the curves are. [s]
    n_places : int
        Beside the ears, an even number.
    lowest_db : float
        Images that are weaker than this at every node are left out.

    Returns
    -------
    ZoneCurves

    Notes
    -----
    Delays are those of the images, exactly; pressures are exact at the nodes and linear between them, so
    that sound behind an edge falls off over the distance of two nodes. The filter is that of
    `energy_time_curves`.
    """
    ears = heard.found[0].paths
    steps = zone_steps(n_places) if len(heard.found) > 1 else np.zeros((1, 3))
    corner, weight, in_air = _shares(len(steps), tuple(h.zone_point for h in heard.found))
    steps, corner, weight = steps[in_air], corner[in_air], weight[in_air]
    half = zone_points(scene.seats[heard.found[0].seat])[8] - ears.listener
    places = ears.listener + steps * half
    images = _Images(heard, lowest_db)
    direct_m = np.linalg.norm(places - ears.source, axis=1)
    speed_m_s = _speed_m_s(heard.found)
    away_m = np.linalg.norm(images.position - places[:, None], axis=2)
    delay_s = (away_m - direct_m[:, None]) / speed_m_s
    level_db = _envelopes_db(scene, heard, images, (corner, weight, delay_s), until_s)
    return ZoneCurves(
        places,
        level_db,
        delay_s,
        np.any((weight > 0.0)[:, :, None] & images.at_node[corner], axis=1),
        images.strength_db,
        images.rows(near=False),
        images.rows(near=True),
        images.facets,
    )


def _speed_m_s(found: Sequence[PointArrivals]) -> float:
    """Speed of sound as the delays have it."""
    for h in found:
        if len(h.delay_s) and h.delay_s[-1] > 0.0:
            return float((h.paths.length_m[-1] - h.paths.direct_m) / h.delay_s[-1])
    return 1.0  # nothing arrives, so nothing is asked of it


@lru_cache(maxsize=32)
def _shares(n_steps: int, nodes: tuple[int, ...]) -> tuple[Ints, Floats, NDArray[np.bool_]]:
    """Nodes about each place, their shares (n, 8), and whether the nearest node of a place is in the air.

    `n_steps`: places, the ears among them; `nodes`: those that are in the air.
    """
    steps = zone_steps(n_steps - 1)
    index = np.full((3, 3, 3), -1, np.int64)
    for row, node in enumerate(nodes):
        index[tuple(ZONE_STEPS[node].astype(np.int64) + 1)] = row
    low = np.where(steps < 0.0, 0, 1)
    ups = np.array(list(np.ndindex(2, 2, 2)))
    at = np.minimum(low[:, None] + ups, 2)
    corner = index[at[..., 0], at[..., 1], at[..., 2]]
    share = (steps + 1.0 - low)[:, None]
    weight = np.prod(np.where(ups, share, 1.0 - share), axis=2)
    nearest = corner[np.arange(len(steps)), np.argmax(weight, axis=1)]
    weight[corner < 0] = 0.0
    weight /= np.maximum(weight.sum(axis=1, keepdims=True), 1e-12)
    return np.maximum(corner, 0), weight, nearest >= 0


class _Images:
    """Images of a speaker as the nodes of a head zone hear them, the loudest first, with their ways.

    `strength_db`, `position` and `at_node` are one for each image; the others one for each way by which a
    node hears one of them: `image`, `node`, whether it is a near miss, its row and its level there alone.
    """

    def __init__(self, heard: ZoneArrivals, lowest_db: float) -> None:
        tables = [point for pair in zip(heard.found, heard.missed, strict=True) for point in pair]
        counts = [len(point.delay_s) for point in tables]
        table = np.repeat(np.arange(len(tables)), counts)
        place = np.concatenate([_image_places(point) for point in tables])
        level_db = np.concatenate([point.band_level_db for point in tables])
        known: dict[tuple[int, ...], int] = {}
        keys = map(tuple, np.rint(place / _SAME_M).astype(np.int64).tolist())
        image = np.array([known.setdefault(key, len(known)) for key in keys], np.int64)
        energy = np.zeros((len(known), len(heard.found)))
        np.add.at(energy, (image, table // 2), 10.0 ** (level_db / 10.0))
        loud = np.flatnonzero(energy.max(axis=1, initial=0.0) > 10.0 ** (lowest_db / 10.0))
        loud = loud[np.argsort(-energy[loud].sum(axis=1), kind="stable")]
        rank = np.full(len(known), -1, np.int64)
        rank[loud] = np.arange(len(loud))
        kept = rank[image] >= 0
        self._points = tables
        own_kept = np.split(kept, np.cumsum(counts)[:-1])
        self._pressures = [point.pressure[own] for point, own in zip(tables, own_kept, strict=True)]
        self.image, self.level_db, self._table = rank[image[kept]], level_db[kept], table[kept]
        self.row = np.concatenate([np.arange(count) for count in counts])[kept]
        self.strength_db = decibels(energy[loud].mean(axis=1))
        _, first = np.unique(self.image, return_index=True)
        self.position = place[kept][first]
        self.at_node = np.zeros((len(heard.found), len(loud)), np.bool_)
        self.at_node[self.node, self.image] = True

    @property
    def node(self) -> Ints:
        """Which node hears each way."""
        return self._table // 2

    def rows(self, *, near: bool) -> tuple[tuple[int, ...], ...]:
        """Paths or near misses of each image at the ears."""
        own = np.flatnonzero(self._table == near)
        rows: list[list[int]] = [[] for _ in self.strength_db]
        for image, row in zip(self.image[own].tolist(), self.row[own].tolist(), strict=True):
            rows[image].append(row)
        return tuple(map(tuple, rows))

    @property
    def facets(self) -> tuple[tuple[int, ...], ...]:
        """What the strongest way of each image meets, at the ears where they hear it."""
        rising = np.lexsort((self.level_db, self.node == 0, self.image))
        last = rising[np.searchsorted(self.image[rising], np.arange(len(self.strength_db)), side="right") - 1]
        ways = zip(self._table[last].tolist(), self.row[last].tolist(), strict=True)
        met = [self._points[table].paths.facets[row].tolist() for table, row in ways]
        return tuple(tuple(facet for facet in facets if facet >= 0) for facets in met)

    def at_lines(self, frequency_hz: Floats) -> Complexes:
        """Pressure of each image at each node, (n_images, n_nodes, n_frequencies)."""
        shape = *self.at_node.T.shape, len(frequency_hz)
        nodes = np.zeros(shape, np.complex128)
        pressures = pressure_at(np.concatenate(self._pressures), frequency_hz)
        for image, node, own in zip(self.image.tolist(), self.node.tolist(), pressures, strict=True):
            nodes[image, node] += own
        return nodes


def _image_places(at_point: PointArrivals) -> Floats:
    """Speaker mirrored in all bounces of each path: where its last leg seems to come from. [m]"""
    paths = at_point.paths
    last = paths.points[np.arange(len(paths.order)), paths.order] - paths.listener
    places: Floats = paths.listener + last * (paths.length_m / np.linalg.norm(last, axis=1))[:, None]
    return places


def _envelopes_db(
    scene: Scene, heard: ZoneArrivals, images: _Images, sums: tuple[Ints, Floats, Floats], until_s: float
) -> Floats:
    """Envelope of direct sound and images at each place; `sums`: nodes about it, their shares, delays."""
    from raytrace.kernels.zone import add_images

    corner, weight, delay_s = sums
    heard_s = until_s + ZONE_SLACK_S
    n = round((heard_s + RINGING_S) * SAMPLE_RATE_HZ)
    lines, frequency_hz, window = band_lines(n, scene.limits.from_hz, scene.limits.to_hz)
    direct = pressure_at(np.array([h.direct for h in heard.found]), frequency_hz)
    turns = 2.0 * np.pi * frequency_hz[0], 2.0 * np.pi * SAMPLE_RATE_HZ / n
    shares = np.ascontiguousarray(weight.T)
    spectrum = np.zeros((2, len(window), len(corner)))
    add_images(direct[None], corner, shares, np.zeros((1, len(corner))), heard_s, *turns, spectrum)
    at_places = _joined(spectrum) if np.any(direct != direct[0]) else direct[:1]
    nodes = images.at_lines(frequency_hz)
    add_images(nodes, corner, shares, np.ascontiguousarray(delay_s.T), heard_s, *turns, spectrum)
    whole = np.zeros((len(corner), n), np.complex128)
    whole[:, lines] = _joined(spectrum) * window
    envelope = np.abs(np.fft.ifft(whole, axis=1))[:, : round(until_s * SAMPLE_RATE_HZ) + 2]
    return decibels((envelope / direct_peaks(at_places, window, n)[:, None]) ** 2)


def _joined(spectrum: Floats) -> Complexes:
    """Spectra (2, n_lines, n_places), real and imaginary, as (n_places, n_lines) complex."""
    joined: Complexes = (spectrum[0] + 1j * spectrum[1]).T
    return joined
