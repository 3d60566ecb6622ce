"""Arrivals of a listening point, with the factors in them that new panels would change."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import (
    DEFAULT_SCATTERING,
    Directivity,
    band_frequencies_hz,
    band_share,
)
from raytrace.reflections import (
    Crossings,
    Paths,
    PointArrivals,
    Reflectors,
    find_crossings,
    path_ends,
    sent_pressure,
    shared_by_crossings,
    together,
    wall_reflection,
)
from raytrace.room import PlacedPanel, Room, speaker_axis
from raytrace.scene import Scene
from raytrace.verdicts import LEFT_RIGHT_WINDOW_S, PEAK_WIDTH_S

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Complexes = NDArray[np.complex128]

_WEAKEST_DB = 20.0  # below the limit: what a panel does to weaker arrivals is left out
_FAR_LEG_M = 0.5  # from a panel's edge to a leg that passes it: what it takes from there is left out


class Sites(NamedTuple):
    """Where candidates are: surfaces that they lie before, and those that stand free with their index.

    `until_s`: up to when arrivals are looked at at least. [s]
    """

    surfaces: set[int | None]
    free: Sequence[tuple[int, PlacedPanel]]
    until_s: float = 0.0


class PanelSpots(NamedTuple):
    """Factors that candidates may change.

    surface (m,): of the bounce, or -1 - k where candidate k stands in a leg or reflects; is_bounce (m,);
    image, receiver (m, 3) [m]; is_later (m,): of a path of several bounces; base (m, f); returns (m,):
    whether the next leg that crosses the candidate comes back from behind it; shared (m, f): what both
    crossings then share, K2 - K K'.
    """

    surface: Ints
    is_bounce: Bools
    image: Floats
    receiver: Floats
    is_later: Bools
    base: Complexes
    returns: Bools
    shared: Complexes


@dataclass(frozen=True)
class PointSpots:
    """What one listening point hears, in order of delay; spots in the order of their arrivals."""

    rows: Ints
    names: tuple[tuple[int, ...], ...]
    delay_s: Floats
    rest: Complexes
    spot_arrival: Ints
    spots: PanelSpots


def limit_bands(scene: Scene) -> Ints:
    """Octaves that the limit's band reaches into."""
    return np.flatnonzero(band_share(scene.limits.from_hz, scene.limits.to_hz) > 0.0)


def limit_frequencies_hz(scene: Scene) -> Floats:
    """Frequencies of `limit_bands`, one after the other, (n_frequencies,). [Hz]"""
    return np.asarray(band_frequencies_hz()[limit_bands(scene)].ravel())


def in_limit_bands(scene: Scene, values: Complexes | Floats) -> Complexes:
    """Values (n, n_bands, 24) or (n, n_bands, 1) at the frequencies of the limit's band, (n, f)."""
    chosen = np.broadcast_to(values, (*values.shape[:2], 24))[:, limit_bands(scene)]
    return np.asarray(chosen.reshape(len(values), 24 * len(limit_bands(scene))), np.complex128)


def no_spots(scene: Scene) -> PointSpots:
    """A point that hears nothing, for scenes without a judged speaker."""
    n_frequencies, none = len(limit_frequencies_hz(scene)), np.zeros(0, np.int64)
    rest = np.zeros((0, n_frequencies), np.complex128)
    return PointSpots(none, (), np.zeros(0), rest, none, PanelSpots(*_no_spots(n_frequencies)))


def speaker_spots(
    scene: Scene,
    room: Room,
    reflectors: Reflectors,
    points: Sequence[PointArrivals],
    sites: Sites,
    sends: Directivity | None,
) -> list[PointSpots]:
    """What some points hear of one speaker, apart and with the factors that candidates may change."""
    crossed = _crossing_spots(scene, room, points, sites) if sites.free else [[] for _ in points]
    return [
        _point_spots(scene, room, reflectors, at_point, sites, sends, met)
        for at_point, met in zip(points, crossed, strict=True)
    ]


def _point_spots(
    scene: Scene,
    room: Room,
    reflectors: Reflectors,
    at_point: PointArrivals,
    sites: Sites,
    sends: Directivity | None,
    crossed: Sequence[tuple[Ints, PanelSpots]],
) -> PointSpots:
    """Arrivals of one listening point; `crossed`: its part of `_crossing_spots`."""
    rows = _early_rows(scene, at_point, sites)
    place = (at_point.speaker, at_point.seat)
    names = [(*place, *at_point.paths.facets[row].tolist()) for row in rows]
    parts = [_bounce_spots(scene, room, reflectors, at_point, _strong(scene, at_point, rows), sites.surfaces)]
    parts += crossed
    added: list[tuple[int, float, Complexes, PanelSpots]] = []
    if sites.free:
        assert sends is not None
        new = [_new_arrival(scene, room, at_point, sends, k, panel) for k, panel in sites.free]
        added = [arrival for arrival in new if arrival is not None]
    arrival = np.concatenate([np.searchsorted(rows, own) for own, _ in parts])
    spots = [part for _, part in parts]
    rest = in_limit_bands(scene, at_point.pressure[rows])
    delay_s = at_point.delay_s[rows]
    base = np.concatenate([part.base for part in spots])
    tiny = np.abs(base) < 1e-9
    # What is nothing now has no factor to divide by, and stays nothing.
    np.divide.at(rest, arrival, np.where(tiny, 1.0, base))
    rest *= np.exp(-2j * np.pi * limit_frequencies_hz(scene) * delay_s[:, None])
    for candidate, late_s, pressure, spot in added:
        names.append((*place, -2 - candidate))
        delay_s, rest = np.append(delay_s, late_s), np.append(rest, pressure[None], axis=0)
        rows, arrival = np.append(rows, -1), np.append(arrival, len(delay_s) - 1)
        spots.append(spot)
    order = np.argsort(delay_s, kind="stable")
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    by_arrival = np.argsort(rank[arrival], kind="stable")
    joined = PanelSpots(*(np.concatenate(column)[by_arrival] for column in zip(*spots, strict=True)))
    return PointSpots(
        rows[order],
        tuple(names[k] for k in order),
        delay_s[order],
        rest[order],
        rank[arrival][by_arrival],
        joined,
    )


def _early_rows(scene: Scene, at_point: PointArrivals, sites: Sites) -> Ints:
    """Paths of a point that are looked at."""
    until_s = max(scene.limits.within_s, LEFT_RIGHT_WINDOW_S[1], sites.until_s) + 2.0 * PEAK_WIDTH_S
    return np.flatnonzero(at_point.delay_s <= until_s)


def _strong(scene: Scene, at_point: PointArrivals, rows: Ints) -> Ints:
    """Those of some paths that panels may change."""
    return rows[at_point.band_level_db[rows] >= scene.limits.level_db - _WEAKEST_DB]


def _bounce_spots(
    scene: Scene,
    room: Room,
    reflectors: Reflectors,
    at_point: PointArrivals,
    rows: Ints,
    touched: set[int | None],
) -> tuple[Ints, PanelSpots]:
    """Bounces on surfaces that candidates lie before: which path, and the factor of each."""
    images, receivers = path_ends(room, at_point.paths)
    found: list[tuple[Ints, PanelSpots]] = []
    for facet in range(room.n_solid_facets):
        surface = room.facets[facet].surface
        if surface not in touched:
            continue
        path, bounce = np.nonzero(at_point.paths.facets[rows] == facet)
        path = rows[path]
        ends = images[path, bounce + 1], receivers[path, bounce + 1]
        if not len(path):
            continue
        bands = limit_bands(scene)
        wall = wall_reflection(room, reflectors, facet, *ends, bands=bands)
        base = np.broadcast_to(wall, (len(path), len(bands), 24)).reshape(len(path), 24 * len(bands))
        later = at_point.paths.order[path] > 1
        kind = np.full(len(path), surface), np.ones(len(path), np.bool_)
        found.append((path, PanelSpots(*kind, *ends, later, base, *_never_back(base))))
    if not found:
        none = PanelSpots(*_no_spots(len(limit_frequencies_hz(scene))))
        return np.zeros(0, np.int64), none
    columns = zip(*(spots for _, spots in found), strict=True)
    return np.concatenate([path for path, _ in found]), PanelSpots(*(np.concatenate(c) for c in columns))


def _no_spots(n_frequencies: int) -> PanelSpots:
    nothing = np.zeros((0, 3))
    return PanelSpots(
        np.zeros(0, np.int64),
        np.zeros(0, np.bool_),
        nothing,
        nothing,
        np.zeros(0, np.bool_),
        np.zeros((0, n_frequencies), np.complex128),
        np.zeros(0, np.bool_),
        np.zeros((0, n_frequencies), np.complex128),
    )


def _never_back(base: Complexes) -> tuple[Bools, Complexes]:
    """`returns` and `shared` of spots that no sound comes back through."""
    return np.zeros(len(base), np.bool_), np.zeros_like(base)


def _crossing_spots(
    scene: Scene, room: Room, points: Sequence[PointArrivals], sites: Sites
) -> list[list[tuple[Ints, PanelSpots]]]:
    """Legs that panels standing free would be crossed by: for each point and panel which path, and a factor.

    All points together take a fraction of the time of one after the other.
    """
    paths = together([at_point.paths for at_point in points])
    starts = np.cumsum([0, *(len(at_point.delay_s) for at_point in points)])
    rows = np.concatenate(
        [
            start + _strong(scene, at_point, _early_rows(scene, at_point, sites))
            for start, at_point in zip(starts, points, strict=False)
        ]
    )
    found: list[list[tuple[Ints, PanelSpots]]] = [[] for _ in points]
    ends = path_ends(room, paths)
    for candidate, panel in sites.free:
        own, spots = _panel_crossings(scene, room, paths, ends, rows, candidate, panel)
        limits = np.searchsorted(own, starts)
        for k, (first, last) in enumerate(pairwise(limits.tolist())):
            found[k].append(
                (own[first:last] - starts[k], PanelSpots._make(column[first:last] for column in spots))
            )
    return found


def _panel_crossings(
    scene: Scene,
    room: Room,
    paths: Paths,
    ends: tuple[Floats, Floats],
    rows: Ints,
    candidate: int,
    panel: PlacedPanel,
) -> tuple[Ints, PanelSpots]:
    """Legs that a panel standing free would be crossed by or nearly: which path, and a factor of 1."""
    points = paths.points[rows]
    crossings = find_crossings(panel, points)
    path, leg, _ = crossings
    heights = (points - panel.middle) @ panel.normal
    share = heights[path, leg] / (heights[path, leg] - heights[path, leg + 1])
    met = points[path, leg] + share[:, None] * (points[path, leg + 1] - points[path, leg])
    near = beyond_m(panel, met) <= _FAR_LEG_M
    kept = Crossings(rows[path[near]], leg[near], crossings.from_front[near])
    n, there = len(kept.rows), kept.there_and_back
    base = np.ones((n, len(limit_frequencies_hz(scene))), np.complex128)
    returns, shared = _never_back(base)
    returns[there] = True
    both = shared_by_crossings(room, [panel], paths, kept, ends, limit_bands(scene))
    shared[there] = both.reshape(shared[there].shape)
    kind = np.full(n, -1 - candidate), np.zeros(n, np.bool_)
    image, receiver = ends[0][kept.rows, kept.legs], ends[1][kept.rows, kept.legs]
    return kept.rows, PanelSpots(*kind, image, receiver, np.zeros(n, np.bool_), base, returns, shared)


def beyond_m(panel: PlacedPanel, points: Floats) -> Floats:
    """How far points (n, 3) lie beyond the edges of a panel, along its plane. [m]"""
    away = np.stack([(points - panel.centre) @ panel.right, (points - panel.centre) @ panel.up], axis=1)
    beyond = np.maximum(np.abs(away) - 0.5 * np.array([panel.width_m, panel.height_m]), 0.0)
    return np.asarray(np.linalg.norm(beyond, axis=1))


def _new_arrival(
    scene: Scene,
    room: Room,
    at_point: PointArrivals,
    directivity: Directivity,
    candidate: int,
    panel: PlacedPanel,
) -> tuple[int, float, Complexes, PanelSpots] | None:
    """The reflection that a panel standing free would send to a point: its delay, pressure and spot."""
    source, listener = at_point.paths.source, at_point.paths.listener
    face, normal = (panel.centre, panel.normal)
    if (source - face) @ normal < 0.0 and (listener - face) @ normal < 0.0:
        face, normal = face - panel.thickness_m * normal, -normal
    if (source - face) @ normal <= 0.0 or (listener - face) @ normal <= 0.0:
        return None
    image = source - 2.0 * ((source - face) @ normal) * normal
    share = ((face - image) @ normal) / ((listener - image) @ normal)
    spot = image + share * (listener - image)
    clear = room.is_heard(source, spot[None])[0] and room.is_clear(spot[None], listener[None])[0]
    if beyond_m(panel, spot[None])[0] > 0.0 or not clear:
        return None
    length_m = float(np.linalg.norm(listener - image))
    late_s = (length_m - at_point.paths.direct_m) / room.speed_of_sound_m_s
    axis = speaker_axis(scene, scene.speakers[at_point.speaker])
    sent = sent_pressure(scene, (source, listener), spot[None], np.array([length_m]), axis, directivity)
    pressure = in_limit_bands(scene, np.sqrt(1.0 - DEFAULT_SCATTERING)[:, None] * sent)[0]
    pressure = pressure * np.exp(-2j * np.pi * limit_frequencies_hz(scene) * late_s)
    base = np.zeros((1, len(pressure)), np.complex128)
    kind = np.array([-1 - candidate]), np.ones(1, np.bool_)
    return (
        candidate,
        late_s,
        pressure,
        PanelSpots(*kind, image[None], listener[None], np.zeros(1, np.bool_), base, *_never_back(base)),
    )
