"""A scan file -> the room in it, with an account of every triangle: what it became, or why it was left."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import counted
from raytrace.room import MeshError, in_room, read_raw
from raytrace.scan.accounts import Placed, account, turned_about
from raytrace.scan.cleanroom import (
    AS_GROWN,
    CleanRoom,
    GrownScan,
    PlaneEdits,
    ScanSettings,
    area_words,
    length_words,
)
from raytrace.scan.furniture import SetAside
from raytrace.scan.growing import Plane, fit_plane, grow_planes, reach_of
from raytrace.scan.holes import open_walls
from raytrace.scan.levelling import Lean, lean_of
from raytrace.scan.outline import NoLid, NoOutline, OpenOutline
from raytrace.scan.reading import STOREYS, Asked, Reading, propose_reading
from raytrace.scan.rooms import ScanRoom, part_rooms
from raytrace.scan.shapes import turn_for
from raytrace.scan.shell import roof_scraps, shell_of, sides
from raytrace.scan.strips import with_strips
from raytrace.scan.surfels import Welded, surfels, weld, without_strays

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_FEWEST_TRIANGLES = 8
Progress = Callable[[str, float], None]
_AS_PROPOSED = ScanSettings()


def clean_scan(
    path: Path, settings: ScanSettings = _AS_PROPOSED, *, progress: Progress | None = None
) -> CleanRoom:
    """The room in a scan, with an account of what was done.

    Parameters
    ----------
    path : Path
        OBJ, GLB, PLY or STL.
    settings : ScanSettings
    progress : callable, optional
        Told in words what is being done, and which share of all is done.

    Raises
    ------
    MeshError
        If the file does not read, no unit makes a room of it, or its walls close no outline.
    """
    grown = grow_scan(path, settings, progress=progress)
    if progress:
        progress("fitting the room", 0.85)
    return fit_scan(grown)


def grow_scan(
    path: Path, settings: ScanSettings = _AS_PROPOSED, *, progress: Progress | None = None
) -> GrownScan:
    """The planes in a scan, and which of them are the room's own; parameters and errors as above."""
    tell = progress or (lambda _words, _share: None)
    tell("reading the scan", 0.0)
    raw = read_raw(path)
    triangles, faces, crossing = raw.triangles()
    asked = Asked(settings.unit, settings.up, own_up=raw.up)
    reading, lean, points = _upright(raw.points, triangles, asked, file=path.name)
    origin = np.percentile(points, 1, axis=0)
    welded = weld(points - origin, triangles, faces)
    if not len(welded.triangles):
        raise MeshError(f"{path.name}: no face has an area")
    tell("looking at the surface round each point", 0.2)
    solid = without_strays(welded)
    if len(solid.triangles) < _FEWEST_TRIANGLES:
        raise MeshError(f"{path.name}: {len(solid.triangles)} faces make no room")
    part, rooms, chosen, aside = part_rooms(solid, settings.room)
    welded = part if aside else welded
    scan = surfels(part)
    tell("growing planes", 0.4)
    planes = grow_planes(scan, angle_deg=settings.angle_deg, distance_m=settings.distance_m)
    tell("looking about in the room", 0.7)
    planes, shell = sides(scan, planes)
    said = (lean.said,) if lean.said else ()
    report = (*raw.report, *said, *_dropped(solid, raw.starts), *_crossing(raw.lines[crossing]))
    told_rooms = _rooms_words(rooms, chosen, aside, reading.unit)
    return GrownScan(
        file=path.name,
        settings=settings,
        reading=reading,
        surfels=scan,
        welded=welded,
        planes=tuple(planes),
        shell=frozenset(shell),
        origin=origin,
        report=report,
        doubts=(*filter(None, [reading.doubt, lean.doubt]), *told_rooms),
        set_aside=tuple(aside),
        level=lean.turn if lean.is_turned else None,
        rooms=tuple(rooms),
        chosen=chosen,
    )


def _upright(own: Floats, triangles: Ints, asked: Asked, *, file: str) -> tuple[Reading, Lean, Floats]:
    """How the points of a file are read and how they lean; in the room, upright (n, 3). [m]"""
    reading = propose_reading(own, triangles, asked, file=file)
    points = in_room(own, reading.unit, reading.up)
    lean = lean_of(points, triangles)
    if lean.is_turned:
        # Upright it has another size.
        axes = in_room(np.eye(3), "m", reading.up).T
        upright = own @ (axes.T @ lean.turn @ axes).T
        reading = propose_reading(upright, triangles, asked, file=file)
        points = in_room(upright, reading.unit, reading.up)
    return reading, lean, points


def fit_scan(grown: GrownScan, edits: PlaneEdits = AS_GROWN) -> CleanRoom:
    """The room that planes make, as they were found or as a person changed them.

    Parameters
    ----------
    grown : GrownScan
    edits : PlaneEdits

    Raises
    ------
    MeshError
        If the walls close no outline, or a surface cannot have the name it is given.
    """
    numbers = [k for k in range(len(grown.planes)) if k not in {other for _, other in edits.merged}]
    planes = [_edited(grown, k, edits) for k in numbers]
    kept = grown.shell - set(edits.aside)
    shell = {own for own, k in enumerate(numbers) if k in kept}
    moved_m = {own: edits.by_m(k) for own, k in enumerate(numbers) if edits.by_m(k)}
    settings, scan = grown.settings, grown.surfels
    try:
        outline, floor, roof = shell_of(scan, planes, shell, patch_wall=settings.patch_wall, moved_m=moved_m)
        turn_deg = turn_for(outline.corners, tolerance_m=settings.tolerance_m) + settings.turn_deg
        still = np.zeros(3)
        scraps = roof_scraps(planes, shell, roof)
        placed = Placed(scan, planes, grown.welded, outline, floor, roof, scraps, still, numbers, moved_m)
        placed = with_strips(placed.turned(turn_deg), distance_m=settings.distance_m)
        room = account(placed, grown, edits)
    except OpenOutline as problem:
        raise MeshError(f"{grown.file}: {_missing_words(grown, planes, problem)}") from None
    except NoLid as problem:
        raise MeshError(f"{grown.file}: {_lid_words(grown, problem)}") from None
    except NoOutline as problem:
        raise MeshError(f"{grown.file}: {problem}") from None
    move = placed.move - turned_about(grown.origin[None], turn_deg)[0]
    x, y, z = (float(length) for length in move)
    report = (*grown.report, *room.report, *_by_hand(room, edits))
    aside = tuple(_there(thing, turn_deg, placed.move) for thing in grown.set_aside)
    return replace(
        room,
        turn_deg=turn_deg,
        move=(x, y, z),
        level=grown.level,
        doubts=(*grown.doubts, *room.doubts),
        report=report,
        set_aside=(*aside, *room.set_aside),
    )


def _missing_words(grown: GrownScan, planes: list[Plane], problem: OpenOutline) -> str:
    """Which walls are missing where walls close no outline, and what can be done."""
    unit, scan = grown.reading.unit, grown.surfels
    reach_m = reach_of(scan, grown.settings.distance_m)
    ways, lengths_m = [], []
    for plane in (planes[k] for k in problem.planes):
        # Points on an edge are of one of its two planes only.
        points = scan.points[np.unique(scan.neighbours[plane.members])]
        points = points[np.abs(plane.off_m(points)) <= reach_m]
        ways.append((-plane.normal[1], plane.normal[0]))
        lengths_m.append(np.ptp(points[:, :2] @ ways[-1]))
    turns = np.arctan2(*np.array(ways).T[::-1])
    ahead_deg = float(np.degrees(np.angle((lengths_m * np.exp(4j * turns)).sum())) / 4.0)
    turn_deg = grown.settings.turn_deg - ahead_deg
    missing = [
        f"the {wall.name}, {length_words(wall.length_m, unit)} long and "
        f"{length_words(wall.height_m, unit)} high ({area_words(wall.area_m2, unit)})"
        for wall in open_walls(grown.welded.points, grown.welded.triangles, turn_deg=turn_deg)
    ]
    seen = ", ".join(length_words(length_m, unit) for length_m in np.sort(lengths_m)[:-13:-1])
    where = f"what is missing is {'; '.join(missing)}" if missing else "one may be missing from the scan"
    storeys = STOREYS if grown.reading.is_high else ""
    return (
        f"{problem} ({seen} long): {where}. Scan it too, close it with --patch MATERIAL, or describe the "
        f"room by its numbers (hitspot new).{storeys}"
    )


def _lid_words(grown: GrownScan, problem: NoLid) -> str:
    """Which floor or ceiling is missing where the walls close an outline, and what can be done."""
    unit, corners = grown.reading.unit, problem.corners
    turn_deg = turn_for(corners, tolerance_m=grown.settings.tolerance_m)
    flat = np.column_stack([corners, np.zeros(len(corners))])
    sides = sorted(np.ptp(turned_about(flat, turn_deg)[:, :2], axis=0).tolist(), reverse=True)
    x, y = corners.T
    area_m2 = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
    size = f"{length_words(sides[0], unit)} by {length_words(sides[1], unit)} ({area_words(area_m2, unit)})"
    height = length_words(problem.height_m, unit)
    where = "over" if problem.what == "ceiling" else "under"
    return (
        f"{problem}: what is missing lies {where} about {size}, where the walls end; they are about {height} "
        "high. Scan it too (programs that draw a room from a scan often leave it out), describe the room by "
        "these numbers (hitspot new), or say with --up which axis points up, if the scan lies on its side or "
        "stands on its head"
    )


def _there(thing: SetAside, turn_deg: float, move: Floats) -> SetAside:
    """The same, where it is in the room's frame."""
    if thing.at is None:
        return thing
    x, y, z = (turned_about(np.array([thing.at]), turn_deg)[0] + move).tolist()
    return replace(thing, at=(x, y, z))


def _rooms_words(rooms: list[ScanRoom], chosen: int, aside: list[SetAside], unit: str) -> list[str]:
    """Which of several rooms was taken."""
    if not aside:
        return []
    others = [
        f"{_room_size(room, unit)}, --room {number}"
        for number, room in enumerate(rooms, 1)
        if number != chosen + 1
    ]
    left = "; ".join(others) if others else "what lies outside"
    return [
        f"the file holds {counted(len(rooms), 'room')}: number {chosen + 1} is taken, "
        f"{_room_size(rooms[chosen], unit)}. Set aside: {left}. If all of it is one room: --room 0"
    ]


def _room_size(room: ScanRoom, unit: str) -> str:
    length, width = (length_words(side, unit) for side in room.size)
    return f"{length} by {width} ({area_words(room.area_m2, unit)})"


def _edited(grown: GrownScan, number: int, edits: PlaneEdits) -> Plane:
    """One of the planes, with those that are part of it, where a person put it."""
    plane = grown.planes[number]
    parts = [grown.planes[other].members for own, other in edits.merged if own == number]
    if parts:
        members = np.concatenate([plane.members, *parts])
        normal, offset = fit_plane(grown.surfels.points[members], grown.surfels.weights[members])
        sign = 1.0 if normal @ plane.normal > 0.0 else -1.0
        plane = Plane(sign * normal, sign * offset, members)
    return Plane(plane.normal, plane.offset + edits.by_m(number), plane.members)


def _by_hand(room: CleanRoom, edits: PlaneEdits) -> list[str]:
    """What a person changed, in sentences."""
    told = []
    for surface in room.surfaces:
        for plane in surface.planes:
            by_mm = round(1000.0 * edits.by_m(plane))
            if by_mm:
                told.append(f"the {surface.name} was moved by hand: {by_mm:+d} mm into the room")
    if edits.merged:
        told.append(f"{counted(len(edits.merged), 'plane')} made part of others by hand")
    if edits.aside:
        told.append(f"{counted(len(edits.aside), 'plane')} taken out of the room by hand")
    return told


def _crossing(lines: Ints) -> list[str]:
    if not len(lines):
        return []
    themselves = "itself" if len(lines) == 1 else "themselves"
    return [
        f"{counted(len(lines), 'face')} left out for crossing {themselves} (the first in line {lines[0]})"
    ]


def _dropped(welded: Welded, starts: Ints) -> list[str]:
    told = []
    degenerate = welded.degenerate + int((np.diff(starts) < 3).sum())
    if welded.repeated:
        told.append(f"{counted(welded.repeated, 'repeated face')} dropped")
    if degenerate:
        told.append(f"{counted(degenerate, 'face')} without area dropped")
    if welded.strays:
        told.append(
            f"{counted(welded.strays, 'stray point')} dropped with the faces there: far from all round them"
        )
    return told
