"""Grids of places for panels on surfaces that strong reflections meet, with what could be put up there."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.arrivals import Arrivals, is_judged
from raytrace.clearances import may_drill
from raytrace.criteria import PEAK_WIDTH_S
from raytrace.framing import take_apart
from raytrace.polygons import ROOM
from raytrace.room import Room
from raytrace.scene import Build, Cloud, Panel, Scene, Stand
from raytrace.setout import LEVEL_COSINE, Frame

Floats = NDArray[np.float64]
Entry = Panel | Stand | Cloud

WALL_GAP_M = 0.050  # air behind a wall panel, against damp and for the low end; common practice, no source
DROPS_M = (0.100, 0.050, 0.0)  # surface to top of panel; usual is 50-150 mm, common practice, no source
STAND_GAPS_M = (0.100, 0.300, 0.700)  # room for feet; farther off where a sash or a handle needs its room
BESIDE_M = 0.15  # a panel whose edge is this far from a spot still does something for it
LEAN_DEG = 8.0  # a panel on the floor rests on the wall by itself; common practice, no source
TOP_GAP_M = 0.002
_STEPS_M = (0.15, 0.3)
_OVERHEAD = -0.17  # normals that point down by more than 10 degrees
_UPRIGHT = 0.05  # within 3 degrees: what a stand can stand parallel to
_WEAKEST_SHARE = 0.1  # of a peak's pressure: arrivals below that do not make it
_ROUND_M = 0.010


@dataclass(frozen=True, eq=False)
class WantedSpot:
    """Where a strong reflection meets a surface: u, v there (2,) [m], energy re the limit."""

    surface: int
    uv: Floats
    energy: float


def listening_axis(scene: Scene, seat: int = 0, *, within_m: float = 0.020) -> float | None:
    """The y of the plane through a seat in which two main speakers mirror each other; None without. [m]"""
    axis = scene.seats[seat].ears[1]
    mains = [np.array(s.position) for s in scene.speakers if s.use == "main"]
    mirrored = [position * [1, -1, 1] + [0, 2 * axis, 0] for position in mains]
    paired = [any(np.linalg.norm(m - p) <= within_m for p in mains) for m in mirrored]
    return float(axis) if len(mains) > 1 and all(paired) else None


def wanted_spots(scene: Scene, room: Room, arrivals: Arrivals) -> tuple[WantedSpot, ...]:
    """Spots of every arrival that takes part in a peak over the limit, at all zone points.

    Parameters
    ----------
    scene, room : Scene, Room
    arrivals : Arrivals
        As the room is now.
    """
    limit = 10.0 ** (-scene.limits.below_db / 20.0)
    spots: list[WantedSpot] = []
    for heard in arrivals.heard:
        if not is_judged(scene, heard):
            continue
        pressure = 10.0 ** (heard.band_level_db / 20.0)
        near = np.abs(heard.delay_s[:, None] - heard.delay_s[None]) < PEAK_WIDTH_S
        together = near @ pressure
        wanted = (together > limit) & (pressure > _WEAKEST_SHARE * together)
        wanted &= heard.delay_s <= scene.limits.within_ms / 1e3
        for path in np.flatnonzero(wanted).tolist():
            for bounce in range(heard.paths.order[path]):
                surface = room.facets[heard.paths.facets[path, bounce]].surface
                uv = room.surfaces[surface].frame.to_plane(heard.paths.points[path, bounce + 1])
                spots.append(WantedSpot(surface, uv, float((pressure[path] / limit) ** 2)))
    return tuple(spots)


def mirror_surfaces(room: Room, axis_m: float | None) -> dict[int, int]:
    """Surfaces of the room whose mirror image in the axis is a surface too."""
    if axis_m is None:
        return {}
    planes = [(s.frame.n, float(s.frame.n @ s.frame.origin)) for s in room.surfaces]
    mirrors: dict[int, int] = {}
    for a, (normal, offset) in enumerate(planes):
        flipped = normal * [1, -1, 1]
        shifted = offset - 2.0 * axis_m * normal[1]
        for b, (other, distance) in enumerate(planes):
            if room.surfaces[a].owner == room.surfaces[b].owner == ROOM and (
                flipped @ other > 1.0 - 1e-9 and abs(shifted - distance) < 1e-3
            ):
                mirrors[a] = b
    return mirrors


def mirrored(points: Floats, axis_m: float) -> Floats:
    """Points (..., 3) on the other side of the plane y = `axis_m`. [m]"""
    flipped: Floats = points * [1, -1, 1] + [0, 2 * axis_m, 0]
    return flipped


def grid_entries(
    scene: Scene,
    room: Room,
    spots: Sequence[WantedSpot],
    build_name: str,
    mirrors: dict[int, int],
    axis_m: float | None,
) -> list[tuple[int, Entry]]:
    """Panels of one build on the grids of all surfaces, each for its surface, not yet checked.

    Parameters
    ----------
    scene, room : Scene, Room
    spots : sequence of WantedSpot
    build_name : str
    mirrors : dict of int to int
        From `mirror_surfaces`.
    axis_m : float or None
        y of the plane that mirrors the set-up. [m]

    Returns
    -------
    list of (int, Panel or Stand or Cloud)
        Surface and entry; those for one place follow one another, best first.
    """
    by_surface: dict[int, list[Floats]] = {}
    for spot in sorted(spots, key=lambda s: -s.energy):
        by_surface.setdefault(spot.surface, []).append(spot.uv)
    entries: list[tuple[int, Entry]] = []
    build = scene.build(build_name)
    piece = take_apart(build, hung=False)
    frame_m = 0.5 * (piece.outer_m[0] - piece.slab_m[0])
    for surface in sorted(by_surface):
        other = mirrors.get(surface, -1)
        if room.surfaces[surface].owner != ROOM or (0 <= other < surface and other in by_surface):
            continue
        own = room.surfaces[surface].frame
        uvs = list(by_surface[surface])
        if other >= 0 and axis_m is not None:
            there = room.surfaces[other].frame
            uvs += [own.to_plane(mirrored(there.to_room(uv), axis_m)) for uv in by_surface.get(other, [])]
        for turned in (0, 90) if build.size[0] != build.size[1] else (0,):
            for uv in _grid(scene, room, surface, np.array(uvs), _size(build, turned), axis_m, frame_m):
                entries += [(surface, e) for e in _options(scene, room, surface, build_name, uv, turned)]
                if other >= 0 and axis_m is not None:
                    back = there.to_plane(mirrored(own.to_room(uv), axis_m))
                    entries += [(other, e) for e in _options(scene, room, other, build_name, back, turned)]
    return entries


def _size(build: Build, turned: int) -> tuple[float, float]:
    return build.size if turned == 0 else (build.size[1], build.size[0])


def _grid(
    scene: Scene,
    room: Room,
    surface: int,
    uvs: Floats,
    size: tuple[float, float],
    axis_m: float | None,
    frame_m: float,
) -> Floats:
    """Middles (n, 2) of panels of a size that cover one of some spots (m, 2) or nearly. [m]"""
    frame = room.surfaces[surface].frame
    step = np.clip(0.5 * np.array(size), *_STEPS_M)
    anchor = np.round(uvs[0] / _ROUND_M) * _ROUND_M
    joists = next((j for j in scene.joists if j.surface == room.surfaces[surface].name), None)
    if axis_m is not None and abs(frame.n[1]) < 1e-6:
        # A surface across the axis gets a grid that mirrors itself.
        k = 1 if abs(frame.n[2]) >= LEVEL_COSINE else 0
        on_axis = float(frame.to_plane(np.array([0.0, axis_m, 0.0]))[k])
        anchor[k] = on_axis + round((anchor[k] - on_axis) / (0.5 * step[k])) * 0.5 * step[k]
    if joists is not None:
        # On a joist or half-way between two, hooks left and right of the middle both meet one.
        k, half = (1 if joists.along == "u" else 0), 0.5 * joists.spacing
        anchor[k] = joists.first + round((anchor[k] - joists.first) / half) * half
        step[k] = half * max(round(step[k] / half), 1)
    reach = 0.5 * np.array(size) + BESIDE_M
    low = np.floor((uvs.min(axis=0) - reach - anchor) / step).astype(int)
    high = np.ceil((uvs.max(axis=0) + reach - anchor) / step).astype(int)
    lattice = anchor + step * np.array(
        [(i, j) for i in range(low[0], high[0] + 1) for j in range(low[1], high[1] + 1)]
    )
    # What would reach past the edge goes up to it, with room for the frame where there is any.
    half_size, far = 0.5 * np.array(size), np.array([frame.width, frame.height])
    framed = half_size + np.clip(0.5 * far - half_size, 0.0, frame_m)
    lowest = framed.copy()
    if abs(frame.n[2]) <= _UPRIGHT:
        lowest[1] = half_size[1]  # what stands or leans is set out by its slab, down to the floor
    lattice = np.unique(np.clip(lattice, lowest, np.maximum(far - framed, lowest)), axis=0)
    covers = np.any(np.all(np.abs(lattice[:, None] - uvs[None]) <= reach, axis=2), axis=1)
    middles: Floats = lattice[covers]
    return middles


def _options(scene: Scene, room: Room, surface: int, build: str, uv: Floats, turned: int) -> list[Entry]:
    """What could be put up at one place, best first; floors take nothing."""
    frame = room.surfaces[surface].frame
    name, centre = room.surfaces[surface].name, (round(float(uv[0]), 4), round(float(uv[1]), 4))
    here = f"{name} {build} {centre} {turned}"
    options: list[Entry] = []
    if frame.n[2] > _UPRIGHT:
        return options
    if frame.n[2] < _OVERHEAD:
        if not may_drill(scene, room.surfaces[surface]):
            return [_cloud(here, name, build, centre, turned, DROPS_M[0], frame)]
        return [_cloud(f"{here} {drop}", name, build, centre, turned, drop, frame) for drop in DROPS_M]
    options.append(Panel(name=here, surface=name, build=build, centre=centre, turned=turned, gap=WALL_GAP_M))
    if abs(frame.n[2]) <= _UPRIGHT:
        made = scene.build(build)
        for gap_m in (None, *STAND_GAPS_M):
            if gap_m is None and may_drill(scene, room.surfaces[surface]):
                continue
            stand = _stand(f"{here} {gap_m}", made, build, frame, uv, turned, gap_m)
            options += [] if stand is None else [stand]
    return options


def _cloud(
    name: str, surface: str, build: str, centre: tuple[float, float], turned: int, drop: float, frame: Frame
) -> Cloud:
    level = "true" if abs(frame.n[2]) >= LEVEL_COSINE else "along"
    panels = [{"centre": list(centre), "turned": turned}]
    return Cloud.model_validate(
        {"name": name, "surface": surface, "build": build, "panels": panels, "drop": drop, "level": level}
    )


def _stand(
    name: str,
    build: Build,
    build_name: str,
    frame: Frame,
    uv: Floats,
    turned: int,
    gap_m: float | None,
) -> Stand | None:
    """A panel that stands parallel to a wall before a place there, or, without a gap, leans on it."""
    middle = frame.to_room(uv)
    ahead = np.array([frame.n[0], frame.n[1]]) / np.hypot(frame.n[0], frame.n[1])
    height_m = _size(build, turned)[1]
    lift = round(float(middle[2]) - 0.5 * height_m, 3)
    if lift < 0.0 or (gap_m is None and lift > 0.0):
        return None
    entry: dict[str, object] = {"name": name, "build": build_name, "turned": turned, "lift": lift}
    if gap_m is None:
        lean = np.radians(LEAN_DEG)
        away_m = TOP_GAP_M + height_m * np.sin(lean) + build.thickness * np.cos(lean)
        entry["lean"] = LEAN_DEG
    else:
        away_m = gap_m + build.thickness
    foot = middle[:2] + away_m * ahead
    entry["at"] = [round(float(foot[0]), 4), round(float(foot[1]), 4)]
    entry["yaw"] = round(float(np.degrees(np.arctan2(ahead[1], ahead[0]))), 6)
    return Stand.model_validate(entry)
