"""Candidate panels: the places of the grids that a panel may take, and why the others may not be taken."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from raytrace.clearances import Site, why_not
from raytrace.hanging import find_hooks
from raytrace.panelgrid import BESIDE_M, Entry, WantedSpot, grid_entries, mirror_surfaces, mirrored
from raytrace.panels import PlacedPanel, place_panels
from raytrace.room import Room
from raytrace.scene import Cloud, Panel, Scene, SceneError, Stand

Floats = NDArray[np.float64]

_MOST_PER_SURFACE = 32  # and build: what covers least of what its surface is hit with is not looked at


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
    """

    entry: Entry
    panel: PlacedPanel
    surface: int
    mirror: int
    n_battens: int


@dataclass(frozen=True, eq=False)
class Refusal:
    """A place that a panel may not take: surface, middle in its frame (2,) [m], the reason."""

    surface: int
    uv: Floats
    reason: str


def find_candidates(
    scene: Scene, room: Room, spots: Sequence[WantedSpot], builds: Sequence[str], *, axis_m: float | None
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

    Returns
    -------
    candidates : tuple of Candidate
    refusals : tuple of Refusal
    """
    entries: list[tuple[int, Entry]] = []
    mirrors = mirror_surfaces(room, axis_m)
    for name in builds:
        entries += grid_entries(scene, room, spots, name, mirrors, axis_m)
    places = _legal_places(scene, room, entries)
    found: list[tuple[int, Entry, PlacedPanel]] = []
    refusals: list[Refusal] = []
    for surface, options in places:
        legal = [(entry, panel) for entry, panel, reason in options if reason is None]
        if legal:
            found.append((surface, *legal[0]))
        else:
            _, panel, reason = options[0]
            _, last, why = options[-1]
            also = f"; a stand there {why}" if last.kind == "stand" and panel.kind != "stand" else ""
            middle = room.surfaces[surface].frame.to_plane(panel.centre)
            refusals.append(Refusal(surface, middle, f"{reason}{also}"))
    found = _most_covering(room, spots, found, axis_m)
    pairs = _mirror_pairs([panel for _, _, panel in found], axis_m)
    candidates = tuple(
        Candidate(entry, panel, surface, mirror, _battens(scene, room, panel))
        for (surface, entry, panel), mirror in zip(found, pairs, strict=True)
    )
    return candidates, tuple(refusals)


def _most_covering(
    room: Room,
    spots: Sequence[WantedSpot],
    found: list[tuple[int, Entry, PlacedPanel]],
    axis_m: float | None,
) -> list[tuple[int, Entry, PlacedPanel]]:
    """The places that cover most of what their surface is hit with, so many per surface and build."""
    pairs = _mirror_pairs([panel for _, _, panel in found], axis_m)
    merit = np.array([_covered(room, spots, surface, panel) for surface, _, panel in found])
    merit = np.array([m + (merit[pair] if pair >= 0 else m) for m, pair in zip(merit, pairs, strict=True)])
    groups = [(surface, panel.build_name) for surface, _, panel in found]
    kept: set[int] = set()
    for group in dict.fromkeys(groups):
        members = [k for k, own in enumerate(groups) if own == group]
        # Rounded, so that a pair does not part over the last bit.
        members.sort(key=lambda k: (-round(float(merit[k]), 6), min(k, pairs[k] if pairs[k] >= 0 else k), k))
        kept.update(members[:_MOST_PER_SURFACE])
    kept |= {pairs[k] for k in kept if pairs[k] >= 0}
    return [found[k] for k in sorted(kept)]


def _covered(room: Room, spots: Sequence[WantedSpot], surface: int, panel: PlacedPanel) -> float:
    """Energy that meets a panel or passes near its edge."""
    own = [spot for spot in spots if spot.surface == surface]
    frame = room.surfaces[surface].frame
    uv = frame.to_plane(panel.corners)
    middle, half = uv.mean(axis=0), 0.5 * np.ptp(uv, axis=0)
    beyond = np.maximum(np.abs(np.array([spot.uv for spot in own]) - middle) - half, 0.0)
    near = np.exp(-np.sum((beyond / BESIDE_M) ** 2, axis=1))
    return float(near @ np.array([spot.energy for spot in own]))


def site_of(scene: Scene, room: Room) -> Site:
    """What new panels of a room must keep clear of."""
    solid = room.facet_of_triangle < room.n_solid_facets
    owners = np.array([surface.owner for surface in room.surfaces])[room.surface_of_triangle]
    skins = {
        owner: room.triangles[solid & (owners == owner)] for owner in dict.fromkeys(owners[solid].tolist())
    }
    return Site(scene, room.surfaces, room.facets[: room.n_solid_facets], room.openings, skins)


def place_entries(scene: Scene, room: Room, entries: Iterable[Entry]) -> tuple[PlacedPanel, ...]:
    """Entries in the room, in their own order; each is one panel."""
    listed = list(entries)
    kinds = (("panels", Panel), ("stands", Stand), ("clouds", Cloud))
    update = {key: tuple(e for e in listed if isinstance(e, kind)) for key, kind in kinds}
    trial = scene.model_copy(update=update)
    placed = place_panels(trial, room.surfaces, room.facets[: room.n_solid_facets])
    order = [k for _, kind in kinds for k, e in enumerate(listed) if isinstance(e, kind)]
    return tuple(panel for _, panel in sorted(zip(order, placed, strict=True), key=lambda pair: pair[0]))


def _legal_places(
    scene: Scene, room: Room, entries: Sequence[tuple[int, Entry]]
) -> list[tuple[int, list[tuple[Entry, PlacedPanel, str | None]]]]:
    """Entries by place, with the reason against each; after the first without one no more are looked at."""
    placed = place_entries(scene, room, [entry for _, entry in entries])
    groups: dict[tuple[object, ...], list[tuple[int, Entry, PlacedPanel]]] = {}
    for (surface, entry), panel in zip(entries, placed, strict=True):
        uv = np.round(room.surfaces[surface].frame.to_plane(panel.centre), 3)
        key = (surface, panel.build_name, panel.turned, *uv.tolist())
        groups.setdefault(key, []).append((surface, entry, panel))
    site = site_of(scene, room)
    result = []
    for members in groups.values():
        options: list[tuple[Entry, PlacedPanel, str | None]] = []
        for _, entry, panel in members:
            options.append((entry, panel, _reason(site, entry, panel, room.panels)))
            if options[-1][2] is None:
                break
        result.append((members[0][0], options))
    return result


def _reason(site: Site, entry: Entry, panel: PlacedPanel, others: Sequence[PlacedPanel]) -> str | None:
    try:
        return why_not(site, panel, others)
    except SceneError:
        return f'does not fit on "{getattr(entry, "surface", "its wall")}": it would reach past the edge'


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


def _battens(scene: Scene, room: Room, panel: PlacedPanel) -> int:
    """Hooks of a panel that find no joist where joists are known."""
    if panel.surface is None or not any(
        joists.surface == room.surfaces[panel.surface].name for joists in scene.joists
    ):
        return 0
    return sum(hook.batten for hook in find_hooks(scene, replace(room, panels=(panel,))))
