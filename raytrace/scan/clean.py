"""A scan file -> the room in it, with an account of every triangle: what it became, or why it was left."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from raytrace.room import MeshError, RoofPlane, in_room, read_raw
from raytrace.scan.furniture import ScanBlock, SetAside, find_furniture
from raytrace.scan.growing import Plane, grow_planes, label_triangles
from raytrace.scan.holes import ScanHole, find_holes, hole_area_m2
from raytrace.scan.looking import air_side, share_open_behind, sight_in
from raytrace.scan.outline import PATCH, NoOutline, Outline, close_outline, seen_wall
from raytrace.scan.reading import Reading, propose_reading
from raytrace.scan.shapes import RoomShape, shape_of, turn_for
from raytrace.scan.surfels import Surfels, Welded, surfels, weld, without_strays

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_UPRIGHT = np.sin(np.radians(8.0))  # walls that lean more are no walls of a plan
_OVERHEAD, _LEVEL = -0.15, 0.95
_OPEN, _REACH_M = 0.5, 0.30
_LEAST_ROOF_M2 = 0.3
_NEAR_M = 0.4
_LEAST_WALL_M = 0.12
_FEWEST_TRIANGLES = 8
Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class ScanSettings:
    """How a scan is read; None where its sizes shall say.

    Attributes
    ----------
    unit, up : str or None
    turn_deg : float
        Further turn about the upright axis, after the walls lie along x and y. [deg]
    angle_deg, distance_m : float
        How far points may turn from and lie off a plane. [deg], [m]
    tolerance_m : float
        How far corners may be moved to make a simple shape. [m]
    patch_wall : bool
        Whether a single wall that was not scanned may be put where the floor ends.
    """

    unit: str | None = None
    up: str | None = None
    turn_deg: float = 0.0
    angle_deg: float = 10.0
    distance_m: float = 0.03
    tolerance_m: float = 0.015
    patch_wall: bool = False


@dataclass(frozen=True)
class CleanSurface:
    """A surface of the cleaned room, and how well the scan fits it.

    Attributes
    ----------
    name : str
    area_m2 : float
        Of the surface; furniture before it is not taken off.
    triangles : int
        Faces of the file.
    median_mm, p95_mm, max_mm : float
        How far their corners lie off it. [mm]
    """

    name: str
    area_m2: float
    triangles: int
    median_mm: float
    p95_mm: float
    max_mm: float


@dataclass(frozen=True)
class CleanRoom:
    """What became of a scan.

    Attributes
    ----------
    file : str
        Name of the scan.
    shape : RoomShape
    surfaces, objects, set_aside, holes : tuple
    reading : Reading
    turn_deg : float
        By how much the scan was turned about the upright axis. [deg]
    move : (3,) float
        And then moved. [m]
    noise_mm : float
        How far its points lie off their surfaces, one standard deviation. [mm]
    report : tuple of str
        What was done, in sentences.
    points, triangles, owner : (n, 3) float, (m, 3) int, (m,) int
        The scan in the room's frame, and which surface each triangle became: a row of `surfaces`; from
        there on what was cut off as furniture; -1 what was set aside.
    patched : tuple of str
        Walls that were not scanned and put where the floor ends.
    """

    file: str
    shape: RoomShape
    surfaces: tuple[CleanSurface, ...]
    objects: tuple[ScanBlock, ...]
    set_aside: tuple[SetAside, ...]
    holes: tuple[ScanHole, ...]
    reading: Reading
    turn_deg: float
    move: tuple[float, float, float]
    noise_mm: float
    report: tuple[str, ...]
    points: Floats
    triangles: Ints
    owner: Ints
    patched: tuple[str, ...] = ()


def clean_scan(
    path: Path, settings: ScanSettings = ScanSettings(), *, progress: Progress | None = None
) -> CleanRoom:
    """The room in a scan, with an account of what was done.

    Parameters
    ----------
    path : Path
        OBJ, GLB, PLY or STL.
    settings : Settings
    progress : callable, optional
        Told in words what is being done, and which share of all is done.

    Raises
    ------
    MeshError
        If the file does not read, no unit makes a room of it, or its walls close no outline.
    """
    tell = progress or (lambda _words, _share: None)
    tell("reading the scan", 0.0)
    raw = read_raw(path)
    reading = propose_reading(raw.points, unit=settings.unit, up=settings.up, file=path.name)
    points = in_room(raw.points, reading.unit, reading.up)
    origin = np.percentile(points, 1, axis=0)
    welded = weld(points - origin, *raw.triangles())
    if not len(welded.triangles):
        raise MeshError(f"{path.name}: no face has an area")
    tell("looking at the surface round each point", 0.2)
    solid = without_strays(welded)
    if len(solid.triangles) < _FEWEST_TRIANGLES:
        raise MeshError(f"{path.name}: {len(solid.triangles)} faces make no room")
    scan = surfels(solid)
    tell("growing planes", 0.4)
    planes = grow_planes(scan, angle_deg=settings.angle_deg, distance_m=settings.distance_m)
    tell("looking about in the room", 0.7)
    planes, shell = _sides(scan, planes)
    try:
        outline, floor, roof = _shell(scan, planes, shell, settings.patch_wall)
    except NoOutline as problem:
        raise MeshError(f"{path.name}: {problem}") from None
    turn_deg = turn_for(outline.corners, tolerance_m=settings.tolerance_m) + settings.turn_deg
    placed = _Placed(scan, planes, welded, outline, floor, roof, np.zeros(3)).turned(turn_deg)
    tell("fitting the room", 0.85)
    room = _account(placed, path.name, settings, reading)
    move = placed.move - _turned(origin[None], turn_deg)[0]
    x, y, z = (float(length) for length in move)
    return replace(
        room,
        turn_deg=turn_deg,
        move=(x, y, z),
        report=(*raw.report, *_dropped(solid, raw.starts), *room.report),
    )


def _sides(scan: Surfels, planes: list[Plane]) -> tuple[list[Plane], set[int]]:
    """Planes with normals into the air, and which of them are the room's own."""
    sight = sight_in(scan.points, scan.triangles)
    owner = label_triangles(scan, planes)
    middles = scan.points[scan.triangles].mean(axis=1)
    order = np.argsort(owner, kind="stable")
    bounds = np.searchsorted(owner[order], np.arange(len(planes) + 1))
    turned, open_behind = [], []
    for k, plane in enumerate(planes):
        own = order[bounds[k] : bounds[k + 1]]
        side = (air_side(sight, plane.normal, middles[own], own) if len(own) else 0) or 1
        turned.append(Plane(plane.normal * side, plane.offset * side, plane.members))
        behind = share_open_behind(sight, turned[-1].normal, middles[own]) if len(own) else 0.0
        open_behind.append(behind)
    return turned, {k for k, plane in enumerate(turned) if _is_shell(scan, turned, plane, open_behind[k])}


def _is_shell(scan: Surfels, planes: list[Plane], plane: Plane, open_behind: float) -> bool:
    """Whether a plane is one of the room's own: nothing behind it, or upright from floor to ceiling."""
    if plane.normal[2] > _UPRIGHT:
        return plane is _floor_of(scan, planes)
    if plane.normal[2] < _OVERHEAD:
        return open_behind >= _OPEN
    own = scan.points[plane.members]
    low, high = np.percentile(own[:, 2], (2, 98))
    around = np.abs(scan.points[:, :2] - np.median(own[:, :2], axis=0)).max(axis=1) < _NEAR_M
    top = np.percentile(scan.points[around, 2], 99)
    return open_behind >= _OPEN or (low < _floor_m(scan, planes) + _REACH_M and high > top - _REACH_M)


def _floor_of(scan: Surfels, planes: list[Plane]) -> Plane | None:
    """The lowest large level plane that looks up."""
    level = [plane for plane in planes if plane.normal[2] > _LEVEL]
    if not level:
        return None
    areas = [float(scan.weights[plane.members].sum()) for plane in level]
    large = [plane for plane, area in zip(level, areas, strict=True) if area > 0.3 * max(areas)]
    return min(large, key=lambda plane: float(np.median(scan.points[plane.members][:, 2])))


def _floor_m(scan: Surfels, planes: list[Plane]) -> float:
    floor = _floor_of(scan, planes)
    return float(scan.points[:, 2].min() if floor is None else np.median(scan.points[floor.members][:, 2]))


def _shell(
    scan: Surfels, planes: list[Plane], shell: set[int], patch_wall: bool
) -> tuple[Outline, int, list[int]]:
    """The outline that the walls close, and which planes are the floor and the roof."""
    walls = [
        seen_wall(scan.points[planes[k].members], planes[k].normal, k)
        for k in sorted(shell)
        if abs(planes[k].normal[2]) <= _UPRIGHT
    ]
    ground = _floor_of(scan, planes) if patch_wall else None
    floor_points = None if ground is None else scan.points[ground.members][:, :2]
    outline = close_outline([wall for wall in walls if wall.length_m >= _LEAST_WALL_M], floor_points)
    roof = [k for k in sorted(shell) if planes[k].normal[2] < _OVERHEAD]
    roof = [k for k in roof if scan.weights[planes[k].members].sum() >= _LEAST_ROOF_M2]
    floor = next((k for k in sorted(shell) if planes[k].normal[2] > _LEVEL), None)
    if floor is None or not roof:
        raise NoOutline(f"no {'floor' if floor is None else 'ceiling'} was found")
    return outline, floor, roof


@dataclass(frozen=True)
class _Placed:
    """The parts of a room in one frame."""

    scan: Surfels
    planes: list[Plane]
    welded: Welded
    outline: Outline
    floor: int
    roof: list[int]
    move: Floats

    def turned(self, turn_deg: float) -> "_Placed":
        """All of it turned about the upright axis, then moved so that it starts at zero."""
        corners = _turned(
            np.column_stack([self.outline.corners, np.zeros(len(self.outline.corners))]), turn_deg
        )
        floor = self.planes[self.floor]
        middle = self.outline.corners.mean(axis=0)
        floor_m = (floor.offset - floor.normal[:2] @ middle) / floor.normal[2]
        move = np.array([*(-corners[:, :2].min(axis=0)), -floor_m])
        points = _turned(self.scan.points, turn_deg) + move
        planes = []
        for plane in self.planes:
            normal = _turned(plane.normal[None], turn_deg)[0]
            planes.append(Plane(normal, plane.offset + float(normal @ move), plane.members))
        outline = replace(self.outline, corners=corners[:, :2] + move[:2])
        scan = replace(self.scan, points=points)
        welded = replace(self.welded, points=_turned(self.welded.points, turn_deg) + move)
        return _Placed(scan, planes, welded, outline, self.floor, self.roof, move)


def _turned(points: Floats, turn_deg: float) -> Floats:
    cosine, sine = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    turned: Floats = points @ np.array([[cosine, sine, 0.0], [-sine, cosine, 0.0], [0.0, 0.0, 1.0]])
    return turned


def _account(placed: _Placed, file: str, settings: ScanSettings, reading: Reading) -> CleanRoom:
    """The shape of the room and what each triangle became."""
    scan, planes = placed.scan, placed.planes
    roof = [_roof_plane(planes[k]) for k in placed.roof]
    shape = shape_of(placed.outline.corners, roof, tolerance_m=settings.tolerance_m)
    fitted = _fitted(placed, shape)
    own = set(fitted)
    blocks, aside = find_furniture(scan, planes, own, room_deg=0.0)
    owner = label_triangles(scan, planes)
    names = list(dict.fromkeys(name for name, _, _ in fitted.values()))
    patched = _patched(placed, shape, set(names))
    place = np.full(len(planes) + 1, -1)
    for k in range(len(planes)):
        place[k] = names.index(fitted[k][0]) if k in fitted else len(names)
    surfaces = tuple(_surface(name, shape, scan, planes, fitted, owner) for name in names)
    holes = [
        ScanHole(_surface_at(fitted, loop), hole_area_m2(loop), loop)
        for loop in find_holes(placed.welded.points, placed.welded.triangles)
    ]
    holes = [hole for hole in holes if not _is_under(hole, blocks)]
    # The largest hole of a scan without a wall is the wall.
    holes = holes[1:] if patched and holes else holes
    return CleanRoom(
        file=file,
        shape=shape,
        surfaces=surfaces,
        objects=tuple(blocks),
        set_aside=tuple(aside),
        holes=tuple(holes),
        reading=reading,
        turn_deg=0.0,
        move=(0.0, 0.0, 0.0),
        noise_mm=1000.0 * scan.noise_m,
        report=(*_patch_words(shape, patched), *_told(placed, shape, surfaces, owner)),
        patched=patched,
        points=scan.points,
        triangles=scan.triangles,
        owner=place[owner],
    )


def _patched(placed: _Placed, shape: RoomShape, seen: set[str]) -> tuple[str, ...]:
    """Walls of a shape that no plane of the scan became, where one was put in."""
    if all(wall.plane != PATCH for wall in placed.outline.walls):
        return ()
    return tuple(name for name in shape.walls if name not in seen)


def _patch_words(shape: RoomShape, patched: tuple[str, ...]) -> list[str]:
    return [
        f"no {name} was scanned: one of {shape.area_m2(name):.2f} m² stands where the floor ends; measure it"
        for name in patched
    ]


def _roof_plane(plane: Plane) -> RoofPlane:
    a, b, c = plane.normal
    return RoofPlane("", (float(-a / c), float(-b / c)), float(plane.offset / c))


Fit = dict[int, tuple[str, Floats, float]]


def _fitted(placed: _Placed, shape: RoomShape) -> Fit:
    """For each plane of the room's own: name, normal and offset of the surface it became."""
    fitted: Fit = {placed.floor: ("floor", np.array([0.0, 0.0, 1.0]), 0.0)}
    for number, k in enumerate(placed.roof):
        plane = placed.planes[k]
        middle = placed.scan.points[plane.members].mean(axis=0)
        best = min(
            shape.roof,
            key=lambda r: abs(r.rise[0] * middle[0] + r.rise[1] * middle[1] + r.height - middle[2]),
        )
        if shape.kind == "mesh":
            best = shape.roof[number]
        normal = np.array([*best.rise, -1.0])
        size = float(np.linalg.norm(normal))
        fitted[k] = (best.name, normal / size, -best.height / size)
    for wall in placed.outline.walls:
        if wall.plane == PATCH:
            continue
        points = placed.scan.points[placed.planes[wall.plane].members][:, :2]
        fitted[wall.plane] = _nearest_wall(shape, points, placed.planes[wall.plane].normal)
    return fitted


def _nearest_wall(shape: RoomShape, points: Floats, normal: Floats) -> tuple[str, Floats, float]:
    """The wall of a shape that points of one of its planes became."""
    found = []
    for k, name in enumerate(shape.walls):
        start, end = shape.corners[k], shape.corners[(k + 1) % len(shape.corners)]
        along = (end - start) / np.linalg.norm(end - start)
        into = np.array([-along[1], along[0]])
        middle = points.mean(axis=0)
        beyond = abs(float((middle - 0.5 * (start + end)) @ along)) - 0.5 * float(np.linalg.norm(end - start))
        off = abs(float((middle - start) @ into)) + max(beyond, 0.0) + 2.0 * (1.0 - float(into @ normal[:2]))
        found.append((off, name, np.array([*into, 0.0]), float(into @ start)))
    _, name, into, offset = min(found, key=lambda wall: wall[0])
    return name, into, offset


def _surface(
    name: str, shape: RoomShape, scan: Surfels, planes: list[Plane], fitted: Fit, owner: Ints
) -> CleanSurface:
    own = [k for k, (other, _, _) in fitted.items() if other == name]
    off = np.concatenate([np.abs(scan.points[planes[k].members] @ fitted[k][1] - fitted[k][2]) for k in own])
    rows = np.isin(owner, own)
    median, p95, most = 1000.0 * np.percentile(off, (50, 95, 100))
    faces = len(np.unique(scan.face[rows]))
    return CleanSurface(name, shape.area_m2(name), faces, float(median), float(p95), float(most))


def _surface_at(fitted: Fit, loop: Floats) -> str:
    """Name of the surface that most of a loop lies in."""
    off = {k: float(np.median(np.abs(loop @ normal - offset))) for k, (_, normal, offset) in fitted.items()}
    return fitted[min(off, key=lambda k: off[k])][0]


def _is_under(hole: ScanHole, blocks: list[ScanBlock]) -> bool:
    """Whether a hole in the floor is where furniture stands."""
    middle = hole.corners.mean(axis=0)
    return hole.surface == "floor" and any(
        np.hypot(middle[0] - block.centre[0], middle[1] - block.centre[1]) < 0.5 * min(block.size[:2])
        for block in blocks
    )


def _n_flipped(scan: Surfels, planes: list[Plane], owner: Ints) -> int:
    """How many faces of the file look away from the air."""
    normals = np.array([plane.normal for plane in planes])[owner]
    corners = scan.points[scan.triangles]
    drawn = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    away = (np.einsum("nd,nd->n", drawn, normals) < 0) & (owner >= 0)
    return len(np.unique(scan.face[away]))


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


def counted(n: int, what: str) -> str:
    """So many of something, one of it in the singular."""
    return f"{n} {what}" + ("" if n == 1 else "s")


def _told(placed: _Placed, shape: RoomShape, surfaces: tuple[CleanSurface, ...], owner: Ints) -> list[str]:
    """What was done, in sentences; `owner`: which plane each triangle is of."""
    n_flipped = _n_flipped(placed.scan, placed.planes, owner)
    told = []
    if n_flipped:
        told.append(f"{counted(n_flipped, 'face')} turned round that looked away from the air")
    if shape.off_m > 0.0005:
        told.append(f"corners moved by up to {1000 * shape.off_m:.0f} mm to make the room a {shape.kind}")
    if placed.outline.gap_m > 0.3:
        told.append(
            f"walls drawn on by up to {placed.outline.gap_m:.2f} m to their corners: look at those corners"
        )
    for wall in placed.outline.left_out:
        n_faces = len(np.unique(placed.scan.face[owner == wall.plane]))
        told.append(
            f"an upright plane {wall.length_m:.2f} m long is no part of the outline: its "
            f"{counted(n_faces, 'face')} stand as furniture or are set aside"
        )
    curve = _curve(shape)
    if curve:
        worst = max(surface.p95_mm for surface in surfaces if surface.name in curve)
        told.append(
            f"{len(curve)} walls one after the other turn little by little, as a curve does: they are flat "
            f"strips, {worst:.0f} mm off the scan (95 % of points)"
        )
    if shape.kind == "mesh":
        told.append("no simple shape fits the roof: the room is written as flat faces beside the scene")
    return told


def _curve(shape: RoomShape) -> list[str]:
    """Names of three or more walls in a row that turn by less than 30 degrees each."""
    along = np.roll(shape.corners, -1, axis=0) - shape.corners
    turn = np.degrees(np.arctan2(along[:, 1], along[:, 0]))
    step = (np.roll(turn, -1) - turn + 180.0) % 360.0 - 180.0
    gentle = np.flatnonzero((np.abs(step) > 2.0) & (np.abs(step) < 30.0))
    names = sorted({k % len(turn) for g in gentle for k in (g, g + 1)})
    return [shape.walls[k] for k in names] if len(gentle) >= 3 else []
