"""What the planes of a scan became: the shape of the room, and where each triangle went."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import counted
from raytrace.room import RoofPlane
from raytrace.scan.cleanroom import CleanRoom, CleanSurface, GrownScan, PlaneEdits, area_words
from raytrace.scan.furniture import SetAside, find_furniture
from raytrace.scan.growing import Plane, fitted_points, label_triangles, reach_of, turn_error_deg
from raytrace.scan.holes import ScanHole
from raytrace.scan.openplaces import open_places
from raytrace.scan.outline import PATCH, STEP, Outline
from raytrace.scan.shapes import RoomShape, renamed, shape_of
from raytrace.scan.surfels import Surfels, Welded

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_FACING = 0.5
_REVEALS, _DEEP_M = ("clutter", "something outside the walls"), 0.4  # thicker walls are rare
_SURE_DEG = 0.5  # what is said of a scan's surfaces holds to this


@dataclass(frozen=True)
class Placed:
    """The parts of a room in one frame.

    `scraps` are pieces of roof too small for surfaces of their own; `numbers` are those of its planes among
    all that were grown; planes in `moved_m` stand so far before their points. [m]
    """

    scan: Surfels
    planes: list[Plane]
    welded: Welded
    outline: Outline
    floor: int
    roof: list[int]
    scraps: frozenset[int]
    move: Floats
    numbers: list[int]
    moved_m: dict[int, float]

    def turned(self, turn_deg: float) -> "Placed":
        """All of it turned about the upright axis, then moved so that it starts at zero."""
        corners = turned_about(
            np.column_stack([self.outline.corners, np.zeros(len(self.outline.corners))]), turn_deg
        )
        floor = self.planes[self.floor]
        middle = self.outline.corners.mean(axis=0)
        floor_m = (floor.offset - floor.normal[:2] @ middle) / floor.normal[2]
        move = np.array([*(-corners[:, :2].min(axis=0)), -floor_m])
        points = turned_about(self.scan.points, turn_deg) + move
        planes = []
        for plane in self.planes:
            normal = turned_about(plane.normal[None], turn_deg)[0]
            planes.append(Plane(normal, plane.offset + float(normal @ move), plane.members))
        outline = replace(self.outline, corners=corners[:, :2] + move[:2])
        scan = replace(self.scan, points=points)
        welded = replace(self.welded, points=turned_about(self.welded.points, turn_deg) + move)
        return replace(self, scan=scan, planes=planes, welded=welded, outline=outline, move=move)


def turned_about(points: Floats, turn_deg: float) -> Floats:
    """Points (n, 3) turned about the upright axis."""
    cosine, sine = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    turned: Floats = points @ np.array([[cosine, sine, 0.0], [-sine, cosine, 0.0], [0.0, 0.0, 1.0]])
    return turned


def account(placed: Placed, grown: GrownScan, edits: PlaneEdits) -> CleanRoom:
    """The shape of the room and what each triangle became."""
    scan, planes = placed.scan, placed.planes
    roof = [_roof_plane(planes[k]) for k in placed.roof]
    shape = shape_of(placed.outline.corners, roof, tolerance_m=grown.settings.tolerance_m)
    fitted = _fitted(placed, shape)
    shape, fitted = _renamed(placed, shape, fitted, edits)
    own = set(fitted)
    blocks, aside = find_furniture(scan, planes, own | placed.scraps, shape=shape)
    owner = label_triangles(scan, planes)
    names = list(dict.fromkeys(name for name, _, _ in fitted.values()))
    patched = _patched(placed, shape, set(names))
    place = np.full(len(planes) + 1, -1)
    for k in range(len(planes)):
        place[k] = names.index(fitted[k][0]) if k in fitted else len(names)
    reach_m = reach_of(scan, grown.settings.distance_m)
    owners = _owners(scan, owner)
    surfaces = tuple(_surface(name, shape, placed, fitted, owners, reach_m) for name in names)
    seen = [(name, outline) for name, outline in shape.faces() if name not in patched]
    holes, n_hidden = open_places(placed.welded, seen, blocks, noise_m=scan.noise_m)
    return CleanRoom(
        file=grown.file,
        shape=shape,
        surfaces=surfaces,
        objects=tuple(blocks),
        set_aside=tuple(_reveal(thing, holes) for thing in aside),
        holes=tuple(holes),
        reading=grown.reading,
        turn_deg=0.0,
        move=(0.0, 0.0, 0.0),
        noise_mm=1000.0 * scan.noise_m,
        doubts=(*_doubts(placed, surfaces, reach_m), *_patch_words(shape, patched, grown.reading.unit)),
        report=(*_told(placed, shape, surfaces, owner), *_hidden_words(n_hidden)),
        patched=patched,
        points=scan.points,
        triangles=scan.triangles,
        owner=place[owner],
    )


def _patched(placed: Placed, shape: RoomShape, seen: set[str]) -> tuple[str, ...]:
    """Walls of a shape that no plane of the scan became, where one was put in."""
    if all(wall.plane != PATCH for wall in placed.outline.walls):
        return ()
    return tuple(name for name in shape.walls if name not in seen)


def _patch_words(shape: RoomShape, patched: tuple[str, ...], unit: str) -> list[str]:
    return [
        f"no {name} was scanned: one of {area_words(shape.area_m2(name), unit)} stands where the floor ends; "
        "measure it"
        for name in patched
    ]


def _roof_plane(plane: Plane) -> RoofPlane:
    a, b, c = plane.normal
    return RoofPlane("", (float(-a / c), float(-b / c)), float(plane.offset / c))


Fit = dict[int, tuple[str, Floats, float]]


def _fitted(placed: Placed, shape: RoomShape) -> Fit:
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
        if wall.plane in (PATCH, STEP):
            continue
        plane = placed.planes[wall.plane]
        points = placed.scan.points[plane.members] + placed.moved_m.get(wall.plane, 0.0) * plane.normal
        fitted[wall.plane] = _nearest_wall(shape, points[:, :2], plane.normal)
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


def _renamed(placed: Placed, shape: RoomShape, fitted: Fit, edits: PlaneEdits) -> tuple[RoomShape, Fit]:
    """Shape and surfaces under the names that a person gave them."""
    for number, name in edits.names:
        k = placed.numbers.index(number) if number in placed.numbers else -1
        if k in fitted and fitted[k][0] != name:
            was = fitted[k][0]
            shape = renamed(shape, was, name)
            fitted = {j: (name if f[0] == was else f[0], *f[1:]) for j, f in fitted.items()}
    return shape, fitted


def _owners(scan: Surfels, owner: Ints) -> Ints:
    """Which plane each face of the file is of, by that of most of its pieces (n_faces,)."""
    n = int(owner.max(initial=0)) + 2
    keys, counts = np.unique(scan.face * n + owner + 1, return_counts=True)
    order = np.lexsort((counts, keys // n))
    face, own = np.divmod(keys[order], n)
    is_most = np.append(np.diff(face) > 0, True)
    owners: Ints = own[is_most] - 1
    return owners


def _surface(
    name: str, shape: RoomShape, placed: Placed, fitted: Fit, owners: Ints, reach_m: float
) -> CleanSurface:
    """A surface and how well the scan fits it; `owners`: which plane each face is of."""
    scan, planes = placed.scan, placed.planes
    own = [k for k, (other, _, _) in fitted.items() if other == name]
    fitted_to = [scan.points[fitted_points(scan, planes[k], reach_m)] for k in own]
    off = np.concatenate([np.abs(scan.points[planes[k].members] @ fitted[k][1] - fitted[k][2]) for k in own])
    numbers = tuple(placed.numbers[k] for k in own)
    median, p95, most = 1000.0 * np.percentile(off, (50, 95, 100))
    faces = int(np.isin(owners, own).sum())
    turn_deg = turn_error_deg(np.concatenate(fitted_to))
    return CleanSurface(
        name, shape.area_m2(name), faces, float(median), float(p95), float(most), turn_deg, numbers
    )


def _reveal(thing: SetAside, holes: list[ScanHole]) -> SetAside:
    """The same; where it lines a hole, as what was seen of a doorway's sides, under that name."""
    if thing.at is None or thing.what not in _REVEALS:
        return thing
    for hole in holes:
        off, away_m = np.subtract(thing.at, hole.corners.mean(axis=0)), hole.corners - thing.at
        spokes = hole.corners[1:] - hole.corners[0]
        normal = np.cross(spokes[:-1], spokes[1:]).sum(axis=0)
        is_behind = abs(float(off @ normal)) < _DEEP_M * float(np.linalg.norm(normal))
        if is_behind and (away_m.min(axis=0) < _DEEP_M).all() and (away_m.max(axis=0) > -_DEEP_M).all():
            return replace(thing, what=f"reveal of the {hole.name}")
    return thing


def _hidden_words(n_hidden: int) -> list[str]:
    """What the scan did not see for furniture."""
    if not n_hidden:
        return []
    places = counted(n_hidden, "open place")
    return [
        f"{places} behind, under or in furniture: nothing was scanned there, and the room goes on behind it"
    ]


def _n_flipped(scan: Surfels, planes: list[Plane], owner: Ints) -> int:
    """How many faces of the file look away from the air."""
    normals = np.array([plane.normal for plane in planes])[owner]
    corners = scan.points[scan.triangles]
    drawn = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    # What lies across the plane it was counted to, as at an edge, looks neither way.
    away = np.einsum("nd,nd->n", drawn, normals) < -_FACING * np.linalg.norm(drawn, axis=1)
    away &= owner >= 0
    return len(np.unique(scan.face[away]))


def _doubts(placed: Placed, surfaces: tuple[CleanSurface, ...], reach_m: float) -> list[str]:
    """Where the room is not the scanned one, and what noise may have turned, in sentences."""
    by_hand = {placed.numbers[k] for k in placed.moved_m}
    told = []
    # Points of a plane lie within the reach of it; twice that is no noise.
    astray = [s for s in surfaces if s.p95_mm > 2000.0 * reach_m and not by_hand & set(s.planes)]
    if astray:
        named = ", ".join(f"{s.name} by {s.p95_mm:.0f} mm" for s in astray)
        told.append(
            f"the scan lies off the room that was made of it: {named} (95 % of points). Parts of it may be "
            "missing, there are two rooms in the file, or it lies on its side (--up x): look at the scan "
            "with the room over it before going on (--picture FILE.png, or drop it on the window)"
        )
    unsure = [s for s in surfaces if 2.0 * s.turn_deg > _SURE_DEG]
    if unsure:
        names = ", ".join(f"{s.name} by {2.0 * s.turn_deg:.1f} degrees" for s in unsure)
        told.append(
            f"noise may have turned what is narrow (two standard errors): {names}; measure it by hand"
        )
    return told


def _told(placed: Placed, shape: RoomShape, surfaces: tuple[CleanSurface, ...], owner: Ints) -> list[str]:
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
            f"{counted(n_faces, 'face')} became furniture or went aside"
        )
    scraps_m2 = sum(float(placed.scan.weights[placed.planes[k].members].sum()) for k in placed.scraps)
    if scraps_m2 > 0.0:
        told.append(
            f"{scraps_m2:.2f} m² of roof in pieces too small for surfaces of their own: what is beside them "
            "runs on there"
        )
    bent = _bent_roof(shape)
    if bent:
        worst = max(surface.p95_mm for surface in surfaces if surface.name in bent)
        told.append(
            f"the roof turns little by little, as a curve does: it is {len(bent)} flat pieces, "
            f"{worst:.0f} mm off the scan (95 % of points)"
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


def _bent_roof(shape: RoomShape) -> list[str]:
    """Names of the parts of a roof of which several turn by less than 30 degrees from one to the next."""
    upward = np.array([(*plane.rise, -1.0) for plane in shape.roof])
    upward /= np.linalg.norm(upward, axis=1, keepdims=True)
    turn = np.degrees(np.arccos(np.clip(upward @ upward.T, -1.0, 1.0)))
    gentle = (turn > 2.0) & (turn < 30.0)
    names = [plane.name for plane, own in zip(shape.roof, gentle, strict=True) if own.any()]
    return names if len(names) >= 5 else []


def _curve(shape: RoomShape) -> list[str]:
    """Names of three or more walls in a row that turn by less than 30 degrees each."""
    along = np.roll(shape.corners, -1, axis=0) - shape.corners
    turn = np.degrees(np.arctan2(along[:, 1], along[:, 0]))
    step = (np.roll(turn, -1) - turn + 180.0) % 360.0 - 180.0
    gentle = np.flatnonzero((np.abs(step) > 2.0) & (np.abs(step) < 30.0))
    names = sorted({k % len(turn) for g in gentle for k in (g, g + 1)})
    return [shape.walls[k] for k in names] if len(gentle) >= 3 else []
