"""Grids of places for panels on surfaces that strong reflections meet, with what could be put up there."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.making import frame_beside_m
from raytrace.reflections import Arrivals, is_judged
from raytrace.room import Frame, Orientation, Room, depths_of, is_overhead, looks_up, may_drill, orientation
from raytrace.scene import Build, Cloud, Panel, Scene, Stand
from raytrace.verdicts import peak_leaders

Floats = NDArray[np.float64]
Entry = Panel | Stand | Cloud

WALL_GAP_M = 0.050  # air behind a wall panel, against damp and for the low end; common practice, no source
DROPS_M = (0.100, 0.050)  # surface to top of panel; usual is 50-150 mm, common practice, no source
STAND_GAPS_M = (0.100, 0.300, 0.700)  # room for feet; farther off where a sash or a handle needs its room
HOLDS_M = 0.05  # so far inside, a mirror point stays on its panel as a head moves; common practice, no source
BESIDE_M = 0.15  # a panel whose edge is this far from a spot still does something for it
LEAN_DEG = 8.0  # a panel on the floor rests on the wall by itself; common practice, no source
TOP_GAP_M = 0.002
MOST_STACKED = 3  # panels one above the other in a stand that is proposed
_MISSED = 0.1  # of its height by which a stand may fall short of the upper edge of a place
_LEAST_SHARE = 0.1  # of what the best place of a surface would cover: where less is met nothing is looked at
_STEP_M = 0.3
# On what is steeper than 15 degrees a panel is fixed, it does not hang; common practice, no source.
_HANGS = -0.965
_NEAR_DB = 1.0  # below the limit: a peak so near it may need a panel too
_WEAKEST_SHARE = 0.1  # of a peak's pressure: arrivals below that do not make it
_OFF_AN_INCH = 1e-3  # a length so near to whole inches was given in them
_GRAIN_M, _INCH_GRAIN_M = 0.010, 0.0127  # to which the set-out is rounded where nothing else decides


class Place(NamedTuple):
    """A place on or before a surface, with what could be put up there, best first."""

    surface: int
    options: tuple[Entry, ...]


@dataclass(frozen=True, eq=False)
class WantedSpot:
    """Where a strong reflection meets a surface: u, v there (2,) [m], energy re the limit.

    `anywhere`: no reflection, but a surface that may be covered wherever there is room; `is_mirror_point`:
    where somebody at the ears would see the speaker in a mirror on that surface, without energy of its own.
    """

    surface: int
    uv: Floats
    energy: float
    anywhere: bool = False
    is_mirror_point: bool = False


ON_AXIS_M = 0.020
"""How far off their mirror images speakers, and off their plane seats, still make a symmetric set-up."""


def listening_axis(scene: Scene, seat: int = 0) -> float | None:
    """The y of the plane through a seat in which two main speakers mirror each other; None without. [m]"""
    axis = scene.seats[seat].ears[1]
    mains = [np.array(s.position) for s in scene.speakers if s.use == "main"]
    mirrored = [position * [1, -1, 1] + [0, 2 * axis, 0] for position in mains]
    paired = [any(np.linalg.norm(m - p) <= ON_AXIS_M for p in mains) for m in mirrored]
    return float(axis) if len(mains) > 1 and all(paired) else None


def wanted_spots(
    scene: Scene,
    room: Room,
    arrivals: Arrivals,
    seats: Collection[int] = (),
    *,
    near_db: float = _NEAR_DB,
) -> tuple[WantedSpot, ...]:
    """Spots of every arrival that takes part in a peak over the limit or near it, at all zone points.

    Beside them the mirror points of those of one bounce.

    Parameters
    ----------
    scene, room : Scene, Room
    arrivals : Arrivals
        As the room is now.
    seats : collection of int
        Only what reaches these; empty for all.
    near_db : float
        Below the limit: what is stronger counts as near it. [dB]
    """
    limit = 10.0 ** ((scene.limits.level_db - near_db) / 20.0)
    spots: list[WantedSpot] = []
    first: set[tuple[int, int, int]] = set()
    for at_point in arrivals.at_points:
        if not is_judged(scene, at_point) or (seats and at_point.seat not in seats):
            continue
        pressure = 10.0 ** (at_point.band_level_db / 20.0)
        leader = peak_leaders(at_point)
        together = np.bincount(leader, pressure, len(leader))[leader]
        wanted = (together > limit) & (pressure > _WEAKEST_SHARE * together)
        wanted &= at_point.delay_s <= scene.limits.within_s
        for path in np.flatnonzero(wanted).tolist():
            if at_point.paths.order[path] == 1:
                first.add((at_point.speaker, at_point.seat, int(at_point.paths.facets[path, 0])))
            for bounce in range(at_point.paths.order[path]):
                surface = room.facets[at_point.paths.facets[path, bounce]].surface
                uv = room.surfaces[surface].frame.to_plane(at_point.paths.points[path, bounce + 1])
                spots.append(WantedSpot(surface, uv, float((pressure[path] / limit) ** 2)))
    return (*spots, *_mirror_points(room, arrivals, first))


def _mirror_points(
    room: Room, arrivals: Arrivals, wanted: Collection[tuple[int, int, int]]
) -> Iterator[WantedSpot]:
    """Where reflections of one bounce, by speaker, seat and facet, meet their surfaces for the ears."""
    for ears in arrivals.at_ears:
        for path in np.flatnonzero(ears.paths.order == 1).tolist():
            facet = int(ears.paths.facets[path, 0])
            if (ears.speaker, ears.seat, facet) in wanted:
                surface = room.facets[facet].surface
                uv = room.surfaces[surface].frame.to_plane(ears.paths.points[path, 1])
                yield WantedSpot(surface, uv, 0.0, is_mirror_point=True)


def mirror_surfaces(room: Room, axis_m: float | None) -> dict[int, int]:
    """Surfaces of the room whose mirror image in the axis is a surface too."""
    if axis_m is None:
        return {}
    own = [
        (k, s.frame.n, float(s.frame.n @ s.frame.origin))
        for k, s in enumerate(room.surfaces)
        if s.owner is None
    ]
    mirrors: dict[int, int] = {}
    for a, normal, offset in own:
        flipped = normal * [1, -1, 1]
        shifted = offset - 2.0 * axis_m * normal[1]
        for b, other, distance in own:
            if flipped @ other > 1.0 - 1e-9 and abs(shifted - distance) < 1e-3:
                mirrors[a] = b
    return mirrors


def mirrored(points: Floats, axis_m: float) -> Floats:
    """Points (..., 3) on the other side of the plane y = `axis_m`. [m]"""
    flipped: Floats = points * [1, -1, 1] + [0, 2 * axis_m, 0]
    return flipped


def grid_places(
    scene: Scene,
    room: Room,
    spots: Sequence[WantedSpot],
    build_name: str,
    mirrors: dict[int, int],
    axis_m: float | None,
) -> list[Place]:
    """Places for panels of one build on the grids of all surfaces, not yet checked.

    Parameters
    ----------
    scene, room : Scene, Room
    spots : sequence of WantedSpot
    build_name : str
    mirrors : dict of int to int
        From `mirror_surfaces`.
    axis_m : float or None
        y of the plane that mirrors the set-up. [m]
    """
    by_surface: dict[int, list[WantedSpot]] = {}
    for spot in sorted(spots, key=lambda s: -s.energy):
        by_surface.setdefault(spot.surface, []).append(spot)
    places: list[Place] = []
    build = scene.build(build_name)
    for surface in sorted(by_surface):
        other = mirrors.get(surface, -1)
        if room.surfaces[surface].owner is not None or (0 <= other < surface and other in by_surface):
            continue
        own = room.surfaces[surface].frame
        uvs, energies = [s.uv for s in by_surface[surface]], [s.energy for s in by_surface[surface]]
        if other >= 0 and axis_m is not None:
            there, across = room.surfaces[other].frame, by_surface.get(other, [])
            uvs += [own.to_plane(mirrored(there.to_room(s.uv), axis_m)) for s in across]
            energies += [s.energy for s in across]
        for turned in (0, 90) if build.size[0] != build.size[1] else (0,):
            wanted = np.array(uvs), np.array(energies)
            whole = all(s.anywhere for s in by_surface[surface])
            for uv in _grid(scene, room, surface, *wanted, build, turned, axis_m, whole=whole):
                places += _places(scene, room, surface, build_name, uv, turned)
                if other not in (-1, surface) and axis_m is not None:
                    back = there.to_plane(mirrored(own.to_room(uv), axis_m))
                    places += _places(scene, room, other, build_name, back, turned)
    return places


def _size(build: Build, turned: int) -> tuple[float, float]:
    return build.size if turned == 0 else (build.size[1], build.size[0])


def _grid(
    scene: Scene,
    room: Room,
    surface: int,
    uvs: Floats,
    energies: Floats,
    build: Build,
    turned: int,
    axis_m: float | None,
    *,
    whole: bool = False,
) -> Floats:
    """Middles (n, 2) of panels of a build that cover some spots (m, 2), with energies (m,), or nearly. [m]

    `whole`: one beside the other, none in between.
    """
    frame, size = room.surfaces[surface].frame, np.array(_size(build, turned))
    frame_m = frame_beside_m(build)
    # Whole steps lead from one panel to its neighbour, with room for the frames of both between them.
    pitch = size + 2.0 * frame_m
    step = pitch.copy() if whole else pitch / np.maximum(np.round(pitch / _STEP_M), 2.0)
    grain_m = _INCH_GRAIN_M if _is_in_inches(build) else _GRAIN_M
    anchor = np.round(uvs[0] / grain_m) * grain_m
    joists = next((j for j in scene.joists if j.surface == room.surfaces[surface].name), None)
    k_mirrored = -1
    if axis_m is not None and abs(frame.n[1]) < 1e-6:
        # A surface across the axis gets a grid that mirrors itself: a cloud beside the axis is seen at once.
        k = k_mirrored = 1 if orientation(frame.n).is_level else 0
        on_axis = float(frame.to_plane(np.array([0.0, axis_m, 0.0]))[k])
        step[k] *= 0.5  # one on the axis, or two that meet there
        anchor[k] = on_axis
    if joists is not None and k_mirrored != (1 if joists.along_u else 0):
        # On a joist or half-way between two, hooks left and right of the middle both meet one.
        k, half = (1 if joists.along_u else 0), 0.5 * joists.spacing
        anchor[k] = joists.first + round((anchor[k] - joists.first) / half) * half
        step[k] = half * max(round(step[k] / half), 1)
    reach = 0.5 * size + BESIDE_M
    low = np.floor((uvs.min(axis=0) - reach - anchor) / step).astype(int)
    high = np.ceil((uvs.max(axis=0) + reach - anchor) / step).astype(int)
    lattice = anchor + step * np.array(
        [(i, j) for i in range(low[0], high[0] + 1) for j in range(low[1], high[1] + 1)]
    )
    # What would reach past the edge goes up to it, with room for the frame; on a narrow face to its middle.
    corners = [frame.to_plane(room.facets[k].outline) for k in room.surfaces[surface].facets]
    first, last = np.concatenate(corners).min(axis=0), np.concatenate(corners).max(axis=0)
    half = np.minimum(0.5 * pitch, 0.5 * (last - first))
    lattice = np.unique(np.round(np.clip(lattice, first + half, last - half), 4), axis=0)
    beyond = np.maximum(np.abs(lattice[:, None] - uvs[None]) - 0.5 * size, 0.0)
    near = (beyond <= BESIDE_M).all(axis=2)
    energy = (near * np.exp(-np.sum((beyond / BESIDE_M) ** 2, axis=2))) @ energies
    middles: Floats = lattice[energy > _LEAST_SHARE * energy.max()]
    return middles


def _is_in_inches(build: Build) -> bool:
    """Whether a build's slab has whole inches, and so what is set out of it."""
    return all(abs(side / 0.0254 - round(side / 0.0254)) <= _OFF_AN_INCH for side in build.size)


def _as_cut(build: Build, metres: float) -> float:
    """A usual distance in the measure that a build is made in: whole inches or as it is. [m]"""
    return round(metres / 0.0254) * 0.0254 if _is_in_inches(build) else metres


def _places(scene: Scene, room: Room, surface: int, build: str, uv: Floats, turned: int) -> list[Place]:
    """What could be put up at one place, best first, and what could lean there; floors take nothing."""
    frame, name = room.surfaces[surface].frame, room.surfaces[surface].name
    if looks_up(frame.n):
        return []
    centre, made = (round(float(uv[0]), 4), round(float(uv[1]), 4)), scene.build(build)
    gap_m = _as_cut(made, WALL_GAP_M)
    here, may_fix = f"{name} {build} {centre} {turned}", may_drill(scene, room.surfaces[surface])
    if is_overhead(frame.n):
        options: list[Entry] = []
        if frame.n[2] < _HANGS:
            beside = [cloud.drop for cloud in scene.clouds if cloud.surface == name]
            drops = beside[:1] or [_as_cut(made, drop) for drop in DROPS_M]
            options = [_cloud(f"{here} {drop}", name, build, centre, turned, drop, frame) for drop in drops]
        options += [_panel(f"{here} {gap}", name, build, centre, turned, gap) for gap in (gap_m, 0.0)]
        return [Place(surface, tuple(options if may_fix else options[:1]))]
    options = [_panel(here, name, build, centre, turned, gap_m)]
    leaning: Stand | None = None
    if orientation(frame.n) is Orientation.UPRIGHT:
        foot, stacked, lift = _on_the_floor(scene, made, frame, uv, turned)
        if stacked <= MOST_STACKED:
            gaps = [_as_cut(made, gap) for gap in STAND_GAPS_M]
            options += [
                _stand(f"{here} {gap}", made, build, foot, turned, gap, stacked, lift) for gap in gaps
            ]
        if stacked == 1 and lift == 0.0 and not may_fix:
            leaning = _stand(f"{here} leaning", made, build, foot, turned, None, 1, 0.0)
    alone = [] if leaning is None else [Place(surface, (leaning,))]
    return [Place(surface, tuple(options)), *alone]


class _Foot(NamedTuple):
    """Where on the floor a place is: a point of the wall (2,) [m], and the way out of it (2,)."""

    spot: Floats
    ahead: Floats


def _on_the_floor(
    scene: Scene, build: Build, frame: Frame, uv: Floats, turned: int
) -> tuple[_Foot, int, float]:
    """Below which spot of a wall a stand is for a place there, of how many panels, and how far up. [m]

    As many panels from the floor up as reach the upper edge of the place, or nearly; where the scene lets
    stands be raised, one panel at the place itself.
    """
    middle = frame.to_room(uv)
    ahead = np.array([frame.n[0], frame.n[1]]) / np.hypot(frame.n[0], frame.n[1])
    height_m, beside_m = _size(build, turned)[1], frame_beside_m(build)
    foot = _Foot(middle[:2], ahead)
    lift = round(float(middle[2]) - 0.5 * height_m, 3)
    if scene.job.raised and lift > beside_m + 1e-6:
        return foot, 1, lift
    reach_m = float(middle[2]) + (0.5 - _MISSED) * height_m
    return foot, max(int(np.ceil(reach_m / (height_m + 2.0 * beside_m))), 1), 0.0


def _panel(
    name: str, surface: str, build: str, centre: tuple[float, float], turned: int, gap_m: float
) -> Panel:
    return Panel.model_validate(
        {"name": name, "surface": surface, "build": build, "centre": centre, "turned": turned, "gap": gap_m}
    )


def _cloud(
    name: str, surface: str, build: str, centre: tuple[float, float], turned: int, drop: float, frame: Frame
) -> Cloud:
    level = "true" if orientation(frame.n).is_level else "along"
    panels = [{"centre": list(centre), "turned": turned}]
    return Cloud.model_validate(
        {"name": name, "surface": surface, "build": build, "panels": panels, "drop": drop, "level": level}
    )


def _stand(
    name: str,
    build: Build,
    build_name: str,
    foot: _Foot,
    turned: int,
    gap_m: float | None,
    stacked: int,
    lift: float,
) -> Stand:
    """Panels that stand parallel to a wall before a place there, or, without a gap, one that leans on it."""
    deep_m = depths_of(build).outer_m
    entry: dict[str, object] = {"name": name, "build": build_name, "turned": turned, "lift": lift}
    if gap_m is None:
        lean = np.radians(LEAN_DEG)
        top_m = _size(build, turned)[1] + 2.0 * frame_beside_m(build)  # what rests on the wall is the frame
        away_m = TOP_GAP_M + top_m * np.sin(lean) + deep_m * np.cos(lean)
        entry["lean"] = LEAN_DEG
    else:
        away_m = gap_m + deep_m
        entry["stacked"] = stacked
    at = foot.spot + away_m * foot.ahead
    entry["at"] = [round(float(at[0]), 4), round(float(at[1]), 4)]
    entry["yaw"] = round(float(np.degrees(np.arctan2(foot.ahead[1], foot.ahead[0]))), 6)
    return Stand.model_validate(entry)
