"""Candidate panels: the places of the grids that a panel may take, and why the others may not be taken."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Hint, Sentence, joined, sentence
from raytrace.making import find_hooks, site_of, why_no_stand, why_not_held, with_frame
from raytrace.proposing.panelgrid import (
    BESIDE_M,
    HOLDS_M,
    Entry,
    Place,
    WantedSpot,
    grid_places,
    mirror_surfaces,
    mirrored,
)
from raytrace.room import TOUCH_M, PlacedPanel, Room, Site, place_panels, shared_size_m, why_not
from raytrace.scene import Cloud, Panel, Scene, SceneError, Stand

Floats = NDArray[np.float64]

_MOST_PER_SURFACE = 24  # and build: what covers least of what its surface is hit with is not looked at
_MOST_BARE = 16  # the same of places that do wherever they are


@dataclass(frozen=True, eq=False)
class Candidate:
    """One panel that could be added.

    Attributes
    ----------
    entry : Panel, Stand or Cloud
        As the scene would name it; a cloud of one panel.
    panel : PlacedPanel
        The same in the room.
    surface : int
        The surface it is there for.
    mirror : int
        Index of the candidate that mirrors it in the listening axis: its own on the axis, -1 for none.
    n_battens : int
        Hooks that no known joist carries.
    off_spot_m : float
        How far its middle is from that of the strongest reflections it covers.
    held : float
        Share of the strongest reflections off its surface, at all places of the head zones, that meet it
        well inside; of what meets its very edge half.
    mirror_points, holds : frozenset of int
        Mirror points of its surface, and those of them that lie well inside it.
    """

    entry: Entry
    panel: PlacedPanel
    surface: int
    mirror: int
    n_battens: int
    off_spot_m: float = 0.0
    held: float = 0.0
    mirror_points: frozenset[int] = frozenset()
    holds: frozenset[int] = frozenset()


class Found(NamedTuple):
    """What may be put up at a place: the surface it is there for, entry, panel, hooks without a joist."""

    surface: int
    entry: Entry
    panel: PlacedPanel
    n_battens: int


@dataclass(frozen=True, eq=False)
class Refusal:
    """A place that a panel may not take: surface, middle in its frame (2,) [m], the reason.

    `would_fit`: it may be there, but nothing that is known would hold it.
    """

    surface: int
    uv: Floats
    reason: Sentence
    would_fit: bool = False


def find_candidates(
    scene: Scene,
    room: Room,
    spots: Sequence[WantedSpot],
    builds: Sequence[str],
    *,
    axis_m: float | None,
    others: Sequence[WantedSpot] = (),
) -> tuple[tuple[Candidate, ...], tuple[Refusal, ...]]:
    """Every place on the grids that a panel may take, and those that it may not.

    Parameters
    ----------
    scene, room : Scene, Room
        With whatever panels there are already; `scene` knows the builds.
    spots : sequence of WantedSpot
    builds : sequence of str
        Names of builds.
    axis_m : float or None
        y of the plane that mirrors the set-up; places come in pairs about it. [m]
    others : sequence of WantedSpot
        Those of seats that come second: they get grids of their own, so that they move none of the first.

    Returns
    -------
    candidates : tuple of Candidate
    refusals : tuple of Refusal
    """
    mirrors = mirror_surfaces(room, axis_m)
    asked = [own for own in (spots, others) if own]
    places = [
        p for name in builds for own in asked for p in grid_places(scene, room, own, name, mirrors, axis_m)
    ]
    found: list[Found] = []
    refusals: list[Refusal] = []
    stood: set[tuple[object, ...]] = set()  # stands that places one above the other share
    for surface, options in _looked_at(scene, room, places):
        entry, panel, _, n_battens, why = options[-1]
        if why is None:
            if panel.kind == "stand":
                key = (surface, *_place(panel, panel.centre))
                if key in stood:
                    continue
                stood.add(key)
            found.append(Found(surface, entry, panel, n_battens))
        else:
            _, first, first_fits, _, reason = options[0]
            assert reason is not None, "all that could be put up there was refused"
            if panel.kind == "stand" and first.kind != "stand":
                reason = joined("; a stand there ", (reason.without("instead"), why))
            middle = room.surfaces[surface].frame.to_plane(panel.centre)
            refusals.append(Refusal(surface, middle, reason, would_fit=first_fits))
    found = _most_covering(room, spots, others, found, axis_m)
    pairs = _mirror_pairs([own.panel for own in found], axis_m)
    candidates = tuple(
        Candidate(
            own.entry,
            own.panel,
            own.surface,
            mirror,
            own.n_battens,
            covering.away_m,
            covering.held,
            *_mirror_points(room, spots, own),
        )
        for own, mirror, covering in zip(found, pairs, _coverings(room, spots, found), strict=True)
    )
    return candidates, tuple(refusals)


def _most_covering(
    room: Room,
    spots: Sequence[WantedSpot],
    others: Sequence[WantedSpot],
    found: list[Found],
    axis_m: float | None,
) -> list[Found]:
    """The places that cover most of what their surface is hit with, so many per surface and build."""
    pairs = _mirror_pairs([own.panel for own in found], axis_m)
    first, second = (_merits(room, wanted, found, pairs) for wanted in (spots, others))
    bare = _merits(room, [spot for spot in others if spot.anywhere], found, pairs)
    groups = [(own.surface, own.panel.build_name) for own in found]
    kept: set[int] = set()
    for group in dict.fromkeys(groups):
        members = [k for k, own in enumerate(groups) if own == group]
        members.sort(key=lambda k: (-first[k], -second[k], min(k, pairs[k] if pairs[k] >= 0 else k), k))
        kept.update(members[:_MOST_PER_SURFACE])
        anywhere = sorted((k for k in members if bare[k] > 0.0), key=lambda k: -bare[k])
        kept.update(anywhere[:_MOST_BARE])
    kept |= {pairs[k] for k in kept if pairs[k] >= 0}
    return [found[k] for k in sorted(kept)]


def _merits(
    room: Room, spots: Sequence[WantedSpot], found: Sequence[Found], pairs: Sequence[int]
) -> list[float]:
    """What each place and its mirror image cover; rounded, so that a pair does not part over the last bit."""
    alone = [covering.energy for covering in _coverings(room, spots, found)]
    both = [m + (alone[pair] if pair >= 0 else m) for m, pair in zip(alone, pairs, strict=True)]
    return [round(float(m), 6) for m in both]


class _Covering(NamedTuple):
    """Energy that meets a panel or passes near its edge, how far from its middle [m], what share it holds."""

    energy: float
    away_m: float
    held: float


def _coverings(room: Room, spots: Sequence[WantedSpot], found: Sequence[Found]) -> list[_Covering]:
    """What places cover of the spots on their surfaces."""
    met: dict[int, list[WantedSpot]] = {}
    for spot in spots:
        met.setdefault(spot.surface, []).append(spot)
    on = {
        surface: (np.array([spot.uv for spot in own]), np.array([spot.energy for spot in own]))
        for surface, own in met.items()
    }
    # The mirror image of a place that is hit may lie on a surface that sends nothing back.
    return [
        _covered(room, *on[own.surface], own) if own.surface in on else _Covering(0.0, 0.0, 0.0)
        for own in found
    ]


def _covered(room: Room, met: Floats, energies: Floats, place: Found) -> _Covering:
    """What one place covers of spots (n, 2) [m] on its surface with their energies (n,)."""
    uv = room.surfaces[place.surface].frame.to_plane(place.panel.corners)
    middle, half = uv.mean(axis=0), 0.5 * np.ptp(uv, axis=0)
    inside = half - np.abs(met - middle)
    beyond = np.maximum(-inside, 0.0)
    energy = np.exp(-np.sum((beyond / BESIDE_M) ** 2, axis=1)) * energies
    strong = energy**2  # a panel is put on the strongest of what it covers
    if not strong.sum() > 0.0:  # nothing that it covers is anywhere near
        return _Covering(0.0, 0.0, 0.0)
    away = float(np.linalg.norm(strong @ met / strong.sum() - middle))
    # On the edge a reflector of finite size does half; this far inside it does all that it can, or nearly.
    whole = np.clip(0.5 + 0.5 * inside.min(axis=1) / BESIDE_M, 0.0, 1.0)
    held = float(whole @ energies**2 / (energies**2).sum())
    return _Covering(float(energy.sum()), away, held)


def _mirror_points(
    room: Room, spots: Sequence[WantedSpot], place: Found
) -> tuple[frozenset[int], frozenset[int]]:
    """Mirror points of a place's surface, by their row among spots, and those that it holds."""
    own = [k for k, spot in enumerate(spots) if spot.is_mirror_point and spot.surface == place.surface]
    uv = room.surfaces[place.surface].frame.to_plane(place.panel.corners)
    low, high = uv.min(axis=0) + HOLDS_M, uv.max(axis=0) - HOLDS_M
    held = (k for k in own if (spots[k].uv >= low).all() and (spots[k].uv <= high).all())
    return frozenset(own), frozenset(held)


def place_entries(scene: Scene, room: Room, entries: Iterable[Entry]) -> tuple[PlacedPanel, ...]:
    """Entries in the room, in their own order; each is one panel."""
    listed = list(entries)
    kinds = (("panels", Panel), ("stands", Stand), ("clouds", Cloud))
    update = {key: tuple(e for e in listed if isinstance(e, kind)) for key, kind in kinds}
    trial = scene.model_copy(update=update)
    placed = place_panels(trial, room.surfaces, room.facets[: room.n_solid_facets])
    order = [k for _, kind in kinds for k, e in enumerate(listed) if isinstance(e, kind)]
    return tuple(panel for _, panel in sorted(zip(order, placed, strict=True), key=lambda pair: pair[0]))


class _Look(NamedTuple):
    """What could be put up at a place: whether it fits, hooks without a joist, and the reason against it."""

    entry: Entry
    panel: PlacedPanel
    fits: bool
    n_battens: int
    reason: Sentence | None


def _looked_at(scene: Scene, room: Room, places: Sequence[Place]) -> list[tuple[int, list[_Look]]]:
    """What could be put up at each place, up to the first that may be."""
    site, looks = site_of(scene, room), [list[_Look]() for _ in places]
    asked = [k for k, place in enumerate(places) if place.options]
    while asked:
        entries = [places[k].options[len(looks[k])] for k in asked]
        for k, entry, panel in zip(asked, entries, place_entries(scene, room, entries), strict=True):
            looks[k].append(_look(site, room, entry, panel))
        asked = [
            k for k in asked if looks[k][-1].reason is not None and len(looks[k]) < len(places[k].options)
        ]
    return [(place.surface, own) for place, own in zip(places, looks, strict=True)]


def _look(site: Site, room: Room, entry: Entry, panel: PlacedPanel) -> _Look:
    """Whether one entry may be put up in a room, and what would hold it."""
    reason, n_battens = _against(site, panel, room.panels), 0
    fits = reason is None
    if fits and panel.kind != "stand":
        alone = replace(room, panels=(panel,))
        hooks = find_hooks(site.scene, alone)
        n_battens, reason = sum(hook.batten for hook in hooks), why_not_held(site.scene, alone, hooks)
    return _Look(entry, panel, fits, n_battens, reason)


def _against(site: Site, panel: PlacedPanel, others: Sequence[PlacedPanel]) -> Sentence | None:
    """Why a panel with its frame may not be put up, as far as the room goes."""
    try:
        reason = why_not(site, with_frame(panel), [with_frame(other) for other in others])
    except SceneError:
        surface = site.surfaces[panel.surface or 0].name
        return sentence('does not fit on "{surface}" with its frame', surface=surface)
    if reason is None and panel.kind == "stand":
        return _before_a_window(site, panel) or why_no_stand(site, panel, others)
    return reason


def _before_a_window(site: Site, panel: PlacedPanel) -> Sentence | None:
    """A window behind a stand is lost to whoever lives there, unless the scene lets it be."""
    for opening in site.openings:
        given = site.scene.openings[opening.index]
        is_kept = opening.kind == "window" and opening.surface == panel.surface and not given.stands
        if is_kept and (shared_size_m(panel.rect, opening.rect) > TOUCH_M).all():
            return sentence(
                'would stand before the window "{window}"{allowed}',
                window=opening.name,
                allowed=Hint(" (stands = true in its entry allows that)"),
            )
    return None


def _mirror_pairs(panels: Sequence[PlacedPanel], axis_m: float | None) -> list[int]:
    if axis_m is None:
        return [-1] * len(panels)
    index = {_place(p, p.centre): k for k, p in enumerate(panels)}
    return [index.get(_place(panel, mirrored(panel.centre, axis_m)), -1) for panel in panels]


def _place(panel: PlacedPanel, middle: Floats) -> tuple[object, ...]:
    """What two panels share that are the same but for their place, and that place to the millimetre."""
    # Set-out has whole or half millimetres: neither lies near where this rounding steps.
    numbers = np.floor(1000.0 * np.array([*middle, *np.ptp(panel.corners, axis=0)]) + 0.37)
    return panel.build_name, panel.kind, *numbers.astype(int).tolist()
