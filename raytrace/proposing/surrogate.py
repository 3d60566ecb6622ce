"""What any set of candidate panels would do to the arrivals, without a new search for paths."""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import band_frequencies_hz, band_share, plain_reflection
from raytrace.proposing.candidates import Candidate
from raytrace.proposing.panelspots import (
    PanelSpots,
    Sites,
    beyond_m,
    in_limit_bands,
    limit_bands,
    no_spots,
    speaker_spots,
)
from raytrace.proposing.states import Effect, Sounds, State, States
from raytrace.reflections import (
    N_CORNERS,
    Arrivals,
    PanelParts,
    PointArrivals,
    Reflectors,
    find_reflectors,
    incidence_cosines,
    is_judged,
    outline_weight,
    panel_effect,
    panel_parts,
    place_patch,
    speaker_directivity,
    together,
    with_pressures,
)
from raytrace.room import PlacedPanel, Room, face_reflection, passed_pressure
from raytrace.scene import Scene

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Complexes = NDArray[np.complex128]

_FAR_M = 1.5  # from a panel's edge to a spot of a later bounce: what it does from there is left out
_FLOOR_DB = 12.0  # below the limit: no peak is looked for


class Extent(NamedTuple):
    """At how many nodes of each head zone arrivals are looked at, and up to when after the direct sound.

    n_nodes: the ears and the zone's corners for a search, None for all; until_s: at least what the limit
    and left against right take. [s]
    """

    n_nodes: int | None = N_CORNERS
    until_s: float = 0.0


SEARCHED = Extent()


@dataclass(frozen=True, eq=False)
class Ground:
    """The room as it is, and which edges end what reflects in it."""

    scene: Scene
    room: Room
    arrivals: Arrivals
    reflectors: Reflectors


@dataclass(frozen=True)
class Surrogate:
    """Arrivals of a room as a function of the candidates that are put up.

    A panel close to its surface changes no path, only what its bounces return, and there panels add: for
    such ones the surrogate is the engine itself. Panels that stand free are taken without what they do to
    one another and without their reflections of more than one bounce.

    Attributes
    ----------
    ground : Ground
    candidates : tuple of Candidate
    heard_rows : tuple of (int, (n,) int)
        Which of `ground.arrivals.at_points` and which of its paths the arrivals are, point after point, by
        delay; near misses count on behind its paths.
    heard_start : (n_points + 1,) int
        First arrival of each listening point.
    name : (n_arrivals,) int
        Index into `names`: the same for one reflection at all zone points of a seat.
    names : tuple of tuple of int
        Speaker, seat and facets of each reflection, filled with -1; -2 - k for what candidate k reflects
        itself.
    judged : (n_arrivals,) bool
        In the limit's window.
    delay_s : (n_arrivals,) float
    rest : (n_arrivals, n_frequencies) complex
        Pressure apart from the factors of the spots, with the phase of the delay.
    spot_start : (n_arrivals + 1,) int
        First spot of each arrival.
    base : (n_spots, n_frequencies) complex
        Factors without any candidate.
    effects : tuple of Effect
        Per candidate.
    share : (n_frequencies,) float
        Weights of the frequencies in the limit's band.
    """

    ground: Ground
    candidates: tuple[Candidate, ...]
    heard_rows: tuple[tuple[int, Ints], ...]
    heard_start: Ints
    name: Ints
    names: tuple[tuple[int, ...], ...]
    judged: NDArray[np.bool_]
    delay_s: Floats
    rest: Complexes
    spot_start: Ints
    base: Complexes
    effects: tuple[Effect, ...]
    share: Floats
    _foresight: list["_Foresight"] = field(default_factory=list)

    @property
    def scene(self) -> Scene:
        """Of the room as it is."""
        return self.ground.scene

    @property
    def limit(self) -> float:
        """Energy of the limit re direct."""
        return float(10.0 ** (self.scene.limits.level_db / 10.0))

    @property
    def n_names(self) -> int:
        """How many reflections there are, each counted once for all zone points."""
        return len(self.names)

    @cached_property
    def states(self) -> States:
        """What sets of candidates make of the arrivals."""
        return States(self.sounds, self.effects)

    @cached_property
    def sounds(self) -> Sounds:
        """The arrivals apart from what candidates change."""
        floor = self.limit * 10.0 ** (-_FLOOR_DB / 10.0)
        spots, points = (self.spot_start, self.base, self.share), (self.heard_start, self.delay_s)
        return Sounds(self.rest, *spots, *points, floor)

    def worst(self, state: State) -> Floats:
        """Energy of each peak in the window at its worst zone point, (n_names,); 0 where there is none."""
        worst = np.zeros(self.n_names)
        led = self.judged & (state.peaks > 0.0)
        np.maximum.at(worst, self.name[led], state.peaks[led])
        return worst

    def predicted(self, state: State) -> Arrivals:
        """The arrivals as they are predicted, for `find_peaks`, `judge` and `compare_left_right`.

        What stands that are put up reflect themselves is no part of them.
        """
        bands, arrivals = limit_bands(self.scene), self.ground.arrivals
        frequency = band_frequencies_hz()[bands]
        paths, missed = {}, {}
        for k, (index, rows) in enumerate(self.heard_rows):
            own = np.flatnonzero(rows >= 0)
            old, found = _at_node(arrivals, index), state.pressure_of(self.heard_start[k] + own)
            phase = np.exp(2j * np.pi * frequency * old.delay_s[rows[own], None, None])
            pressure = old.pressure.copy()
            pressure[np.ix_(rows[own], bands)] = found.reshape(phase.shape) * phase
            n_paths = len(arrivals.at_points[index].delay_s)
            paths[index], missed[index] = pressure[:n_paths], pressure[n_paths:]
        return with_pressures(self.scene, arrivals, paths, missed)


def _at_node(arrivals: Arrivals, index: int) -> PointArrivals:
    """What a node of a head zone hears, near misses behind the paths."""
    assert arrivals.near_misses is not None
    found, missed = arrivals.at_points[index], arrivals.near_misses.at_points[index]
    paths = replace(together([found.paths, missed.paths]), listener=found.paths.listener)
    return replace(
        found,
        paths=replace(paths, direct_m=found.paths.direct_m, direct_visible=found.paths.direct_visible),
        delay_s=np.concatenate([found.delay_s, missed.delay_s]),
        pressure=np.concatenate([found.pressure, missed.pressure]),
        band_level_db=np.concatenate([found.band_level_db, missed.band_level_db]),
    )


def predict(surrogate: Surrogate, chosen: Sequence[int], seats: Collection[int] = ()) -> Arrivals:
    """What some candidates are predicted to make of the arrivals, at every node of the head zones.

    Parameters
    ----------
    surrogate : Surrogate
        That has the candidates.
    chosen : sequence of int
    seats : collection of int
        What reaches these; empty for all.

    Notes
    -----
    The last places of panels that stand free are kept: all others lie before the same surfaces.
    """
    free = frozenset(k for k in chosen if surrogate.candidates[k].panel.acts_as == "free")
    known = surrogate._foresight  # a cache of its own
    if not known or known[0].asked != (free, frozenset(seats)):
        known[:] = [_Foresight(surrogate, free, seats)]
    return known[0].predicted(chosen)


def build_surrogate(
    scene: Scene,
    room: Room,
    arrivals: Arrivals,
    candidates: Sequence[Candidate],
    seats: Collection[int] = (),
    *,
    extent: Extent = SEARCHED,
) -> Surrogate:
    """The arrivals of a room as a function of which candidates are put up.

    Parameters
    ----------
    scene, room, arrivals : Scene, Room, Arrivals
        As the room is.
    candidates : sequence of Candidate
    seats : collection of int
        What reaches these; empty for all. The others stay in it as they are.
    extent : Extent
        At how many nodes of each head zone, and up to when; by default what a search needs.

    Returns
    -------
    Surrogate
    """
    ground = Ground(scene, room, arrivals, find_reflectors(room))
    free = [k for k, candidate in enumerate(candidates) if candidate.panel.acts_as == "free"]
    heard, spots = _heard(ground, tuple(candidates), free, seats, extent)
    effects = _Effects(ground, heard.candidates, spots)
    return replace(heard, effects=tuple(effects.of(k) for k in range(len(candidates))))


class _Foresight:
    """What sets of candidates do at every node of the head zones, as long as the same of them stand free."""

    def __init__(self, surrogate: Surrogate, free: frozenset[int], seats: Collection[int]) -> None:
        self.asked = free, frozenset(seats)
        ground, candidates = surrogate.ground, surrogate.candidates
        self._heard, spots = _heard(ground, candidates, sorted(free), seats, Extent(n_nodes=None))
        self._effects = _Effects(ground, candidates, spots)

    def predicted(self, chosen: Sequence[int]) -> Arrivals:
        """The arrivals with some candidates."""
        states = States(self._heard.sounds, [self._effects.of(k) for k in chosen])
        return self._heard.predicted(states.about(range(len(chosen))))


def _heard(
    ground: Ground,
    candidates: tuple[Candidate, ...],
    free: Sequence[int],
    seats: Collection[int],
    extent: Extent,
) -> tuple[Surrogate, PanelSpots]:
    """Arrivals and the factors that candidates may change, not what those do; `free`: which stand free."""
    scene, room, arrivals, reflectors = ground.scene, ground.room, ground.arrivals, ground.reflectors
    touched = {c.panel.surface for c in candidates if c.panel.acts_as == "patch"}
    sites = Sites(touched, [(k, candidates[k].panel) for k in free], extent.until_s)
    judged = _judged(scene, arrivals, seats, extent)
    points = [
        spots
        for k in sorted({at_point.speaker for _, at_point in judged})
        for spots in speaker_spots(
            scene,
            room,
            reflectors,
            [own for _, own in judged if own.speaker == k],
            sites,
            speaker_directivity(scene, scene.speakers[k], room) if sites.free else None,
        )
    ] or [no_spots(scene)]
    n_arrivals = np.cumsum([0, *(len(point.rows) for point in points)])
    names: dict[tuple[int, ...], int] = {}
    for point in points:
        for name in point.names:
            names.setdefault(name, len(names))
    spot_arrival = np.concatenate([p.spot_arrival + n for p, n in zip(points, n_arrivals, strict=False)])
    delay_s = np.concatenate([point.delay_s for point in points])
    spots = PanelSpots(*(np.concatenate(column) for column in zip(*(p.spots for p in points), strict=True)))
    heard = Surrogate(
        ground=ground,
        candidates=candidates,
        heard_rows=tuple((k, point.rows) for (k, _), point in zip(judged, points, strict=False)),
        heard_start=n_arrivals,
        name=np.array([names[name] for point in points for name in point.names], np.int64),
        names=tuple(names),
        judged=delay_s <= scene.limits.within_s,
        delay_s=delay_s,
        rest=np.concatenate([point.rest for point in points]),
        spot_start=np.searchsorted(spot_arrival, np.arange(n_arrivals[-1] + 1)),
        base=spots.base,
        effects=(),
        share=np.repeat(band_share(scene.limits.from_hz, scene.limits.to_hz)[limit_bands(scene)] / 24.0, 24),
    )
    return heard, spots


def _judged(
    scene: Scene, arrivals: Arrivals, seats: Collection[int], extent: Extent
) -> list[tuple[int, PointArrivals]]:
    """What reaches the nodes that are searched of the seats that count, with its row among all points."""
    passed = {(ears.speaker, ears.seat) for ears in arrivals.at_ears if is_judged(scene, ears)}
    return [
        (k, _at_node(arrivals, k))
        for k, at_point in enumerate(arrivals.at_points)
        if (extent.n_nodes is None or at_point.zone_point < extent.n_nodes)
        and (at_point.speaker, at_point.seat) in passed
        and (not seats or at_point.seat in seats)
    ]


class _Effects:
    """What candidates add to which factors of some spots, each worked out when it is first asked for."""

    def __init__(self, ground: Ground, candidates: Sequence[Candidate], spots: PanelSpots) -> None:
        self._ground, self._candidates, self._spots = ground, candidates, spots
        self._known: dict[int, Effect] = {}
        self._reflections: dict[tuple[object, ...], tuple[Ints, PanelParts]] = {}

    def of(self, k: int) -> Effect:
        """What candidate `k` adds."""
        if k not in self._known:
            panel = self._candidates[k].panel
            if panel.acts_as == "free":
                self._known[k] = _free_effect(self._ground, k, panel, self._spots)
            else:
                self._known[k] = _patch_effect(self._ground, panel, self._spots, *self._reflection(panel))
        return self._known[k]

    def _reflection(self, panel: PlacedPanel) -> tuple[Ints, PanelParts]:
        """Spots on a panel's surface, and what it does there."""
        assert panel.surface is not None
        room, spots, bands = self._ground.room, self._spots, limit_bands(self._ground.scene)
        key = (panel.surface, panel.build_name, round(panel.gap_m, 6))
        if key not in self._reflections:
            own = np.flatnonzero(spots.surface == panel.surface)
            cosine = incidence_cosines(panel.normal, spots.image[own], spots.receiver[own])
            wall = plain_reflection(room.surfaces[panel.surface].material, cosine)[:, bands]
            self._reflections[key] = own, panel_parts(room, panel, cosine, wall, bands=bands)
        return self._reflections[key]


def _patch_effect(
    ground: Ground, panel: PlacedPanel, spots: PanelSpots, own: Ints, parts: PanelParts
) -> Effect:
    """A panel before its surface; `own`: spots there, `parts`: what it does to them."""
    assert panel.surface is not None
    room, bands = ground.room, limit_bands(ground.scene)
    surface = room.surfaces[panel.surface]
    image, receiver = spots.image[own], spots.receiver[own]
    heights = [(p - surface.frame.origin) @ surface.frame.n for p in (image, receiver)]
    share = (heights[0] / (heights[0] - heights[1]))[:, None]
    near = ~spots.is_later[own] | (beyond_m(panel, image + share * (receiver - image)) <= _FAR_M)
    rows, image, receiver = own[near], image[near], receiver[near]
    patch = place_patch(room, panel.surface, panel.rect)
    values = panel_effect(room, ground.reflectors, (panel, patch), parts.at(near), (image, receiver), bands)
    return Effect(rows, values.reshape(len(rows), math.prod(values.shape[1:])))


def _free_effect(ground: Ground, candidate: int, panel: PlacedPanel, spots: PanelSpots) -> Effect:
    """A panel that stands free: what it takes from legs that cross it, and what it reflects itself."""
    scene, room = ground.scene, ground.room
    rows = np.flatnonzero(spots.surface == -1 - candidate)
    image, receiver = spots.image[rows], spots.receiver[rows]
    cosine = incidence_cosines(panel.normal, image, receiver)
    values = in_limit_bands(scene, passed_pressure(panel.build, cosine, room.medium)) - 1.0
    from_front = (image - panel.centre) @ panel.normal < 0.0  # the image lies behind what reflects
    for side in (True, False):
        own = spots.is_bounce[rows] & (from_front == side)
        values[own] = in_limit_bands(scene, face_reflection(panel.build, side, cosine[own], room.medium))
    middle = 0.5 * (panel.corners + panel.back)
    outline = outline_weight(room, middle, image, receiver, limit_bands(scene))
    effect = values * outline.reshape(len(rows), math.prod(outline.shape[1:]))
    # What goes behind it and comes back is changed as a whole where it crosses first.
    there = np.flatnonzero(spots.returns[rows])
    taken = values[there] * values[there + 1] * spots.shared[rows[there]]
    effect[there] = (1.0 + effect[there]) * (1.0 + effect[there + 1]) + taken - 1.0
    effect[there + 1] = 0.0
    return Effect(rows, effect)
