"""What a measurement would show at many places of a head zone: envelopes, and the images behind them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.reflections.arrivals import PointArrivals, decibels
from raytrace.reflections.arrivalsearch import ZONE_STEPS, zone_points
from raytrace.reflections.response import SAMPLE_RATE_HZ, band_window, direct_peaks, pressure_at
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
class Heard:
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
    """
    powers = _PLASTIC ** -np.arange(1.0, 4.0)
    spread = 2.0 * np.mod(0.5 + np.arange(1, n_places // 2 + 1)[:, None] * powers, 1.0) - 1.0
    return np.vstack([np.zeros(3), spread, spread * [1.0, -1.0, 1.0]])


def zone_curves(
    scene: Scene, heard: Heard, *, until_s: float, n_places: int = N_PLACES, lowest_db: float = -np.inf
) -> ZoneCurves:
    """Energy-time curves over a head zone in the limit's band.

    Parameters
    ----------
    scene : Scene
    heard : Heard
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
    corner, weight, in_air = _shares(steps, [h.zone_point for h in heard.found])
    steps, corner, weight = steps[in_air], corner[in_air], weight[in_air]
    half = zone_points(scene.seats[heard.found[0].seat])[8] - ears.listener
    places = ears.listener + steps * half
    images = _Images(heard, lowest_db)
    direct_m = np.linalg.norm(places - ears.source, axis=1)
    speed_m_s = _speed_m_s(heard.found)
    away_m = np.linalg.norm(images.position[None] - places[:, None], axis=2)
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


def _shares(steps: Floats, nodes: Sequence[int]) -> tuple[Ints, Floats, NDArray[np.bool_]]:
    """Nodes about each place, their shares (n, 8), and whether the nearest node of a place is in the air."""
    index = np.full((3, 3, 3), -1, np.int64)
    for row, node in enumerate(nodes):
        index[tuple(ZONE_STEPS[node].astype(np.int64) + 1)] = row
    low = np.where(steps < 0.0, 0, 1)
    share = steps + 1.0 - low
    corner = np.empty((len(steps), 8), np.int64)
    weight = np.empty((len(steps), 8))

    for c, up in enumerate(np.ndindex(2, 2, 2)):
        at = np.minimum(low + np.array(up), 2)
        corner[:, c] = index[at[:, 0], at[:, 1], at[:, 2]]
        weight[:, c] = np.prod(np.where(up, share, 1.0 - share), axis=1)
    nearest = corner[np.arange(len(steps)), np.argmax(weight, axis=1)]
    weight[corner < 0] = 0.0
    weight /= np.maximum(weight.sum(axis=1, keepdims=True), 1e-12)
    return np.maximum(corner, 0), weight, nearest >= 0


class _Images:
    """Images of a speaker as the nodes of a head zone hear them, each with its paths at every node."""

    def __init__(self, heard: Heard, lowest_db: float) -> None:
        met: dict[tuple[int, ...], list[tuple[int, bool, int]]] = {}
        position: dict[tuple[int, ...], Floats] = {}
        self._heard = heard
        for node, pair in enumerate(zip(heard.found, heard.missed, strict=True)):
            for near, at_point in zip((False, True), pair, strict=True):
                places = _image_places(at_point)
                for row, key in enumerate(map(tuple, np.rint(places / _SAME_M).astype(np.int64).tolist())):
                    met.setdefault(key, []).append((node, near, row))
                    position.setdefault(key, places[row])
        energy = {key: self._energies(own) for key, own in met.items()}
        loud = [key for key in met if 10.0 ** (lowest_db / 10.0) < energy[key].max()]
        loud.sort(key=lambda key: -float(energy[key].sum()))
        self.members = [met[key] for key in loud]
        self.position = np.array([position[key] for key in loud]).reshape(-1, 3)
        self.strength_db = decibels([energy[key].mean() for key in loud])
        self.at_node = np.zeros((len(heard.found), len(loud)), np.bool_)
        for image, own in enumerate(self.members):
            self.at_node[[node for node, _, _ in own], image] = True

    def _point(self, node: int, near: bool) -> PointArrivals:
        return (self._heard.missed if near else self._heard.found)[node]

    def _energies(self, members: list[tuple[int, bool, int]]) -> Floats:
        """Energy of an image at each node alone, in the limit's band."""
        energy = np.zeros(len(self._heard.found))
        for node, near, row in members:
            energy[node] += 10.0 ** (self._point(node, near).band_level_db[row] / 10.0)
        return energy

    def rows(self, *, near: bool) -> tuple[tuple[int, ...], ...]:
        """Paths or near misses of each image at the ears."""
        return tuple(
            tuple(row for node, side, row in own if node == 0 and side == near) for own in self.members
        )

    @property
    def facets(self) -> tuple[tuple[int, ...], ...]:
        """What the strongest path of each image meets."""

        def level_db(member: tuple[int, bool, int]) -> tuple[bool, float]:
            node, near, row = member
            return node == 0, float(self._point(node, near).band_level_db[row])

        strongest = [max(own, key=level_db) for own in self.members]
        return tuple(
            tuple(int(f) for f in self._point(node, near).paths.facets[row] if f >= 0)
            for node, near, row in strongest
        )

    def at_lines(self, frequency_hz: Floats) -> Complexes:
        """Pressure of each image at each node, (n_images, n_nodes, n_frequencies)."""
        image_of = {member: image for image, own in enumerate(self.members) for member in own}
        nodes = np.zeros((len(self.members), len(self._heard.found), len(frequency_hz)), np.complex128)
        for node in range(len(self._heard.found)):
            for near in (False, True):
                point = self._point(node, near)
                rows = [row for row in range(len(point.delay_s)) if (node, near, row) in image_of]
                values = pressure_at(point.pressure[rows], frequency_hz)
                for row, own in zip(rows, values, strict=True):
                    nodes[image_of[node, near, row], node] += own
        return nodes


def _image_places(at_point: PointArrivals) -> Floats:
    """Speaker mirrored in all bounces of each path: where its last leg seems to come from. [m]"""
    paths = at_point.paths
    last = paths.points[np.arange(len(paths.order)), paths.order] - paths.listener
    places: Floats = paths.listener + last * (paths.length_m / np.linalg.norm(last, axis=1))[:, None]
    return places


def _envelopes_db(
    scene: Scene, heard: Heard, images: _Images, sums: tuple[Ints, Floats, Floats], until_s: float
) -> Floats:
    """Envelope of direct sound and images at each place; `sums`: nodes about it, their shares, delays."""
    from raytrace.kernels.zone import add_images

    corner, weight, delay_s = sums
    heard_s = until_s + ZONE_SLACK_S
    n = round((heard_s + RINGING_S) * SAMPLE_RATE_HZ)
    frequency_hz = np.arange(n // 2, dtype=np.float64) * (SAMPLE_RATE_HZ / n)
    window = band_window(frequency_hz, scene.limits.from_hz, scene.limits.to_hz)
    lines = slice(int(np.argmax(window > 0.0)), int(len(window) - np.argmax(window[::-1] > 0.0)))
    direct = pressure_at(np.array([h.direct for h in heard.found]), frequency_hz[lines])
    direct = np.einsum("pc,pcf->pf", weight, direct[corner])
    spectrum = direct.copy()
    nodes = images.at_lines(frequency_hz[lines])
    turns = 2.0 * np.pi * frequency_hz[lines.start], 2.0 * np.pi * SAMPLE_RATE_HZ / n
    add_images(nodes, corner, weight, delay_s, heard_s, *turns, spectrum)
    whole = np.zeros((len(corner), n), np.complex128)
    whole[:, lines] = spectrum * window[lines]
    envelope = np.abs(np.fft.ifft(whole, axis=1))[:, : round(until_s * SAMPLE_RATE_HZ) + 2]
    peaks = direct_peaks(direct, window[lines], n)
    return decibels((envelope / peaks[:, None]) ** 2)
