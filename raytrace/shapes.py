"""Room and object shapes of a scene -> named flat polygons that share their corners exactly."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.polygons import clip_convex, signed_area
from raytrace.roof import RoofPlane, roof_pieces
from raytrace.scene import Scene
from raytrace.scenefile import KeyPath, did_you_mean
from raytrace.scenerooms import BoxObject, BoxRoom, GableRoom, LeanToRoom, PlanRoom, SectionRoom, Slope

Floats = NDArray[np.float64]

ROOM = "room"


@dataclass(frozen=True)
class NamedPolygon:
    """One flat piece of a surface.

    Attributes
    ----------
    name : str
        Surface it belongs to.
    owner : str
        "room", or the name of the object.
    outline : (n, 3) float
        Corners, anticlockwise as seen from the air. [m]
    holes : tuple of (k, 3) float
        Outlines of holes, clockwise as seen from the air. [m]
    key : tuple
        Key path of the scene that the piece comes from.
    """

    name: str
    owner: str
    outline: Floats
    holes: tuple[Floats, ...]
    key: KeyPath


@dataclass(frozen=True)
class Shape:
    """Flat pieces of the room or of an object.

    Attributes
    ----------
    polygons : tuple of NamedPolygon
        In the order that their surfaces take.
    length : (3,) float
        Direction of an object's own length.
    notes : tuple of str
        What was mended on the way.
    """

    polygons: tuple[NamedPolygon, ...]
    length: Floats
    notes: tuple[str, ...] = ()


def room_shape(scene: Scene) -> Shape:
    """Flat pieces of the room in the order of its surface names.

    Raises
    ------
    SceneError
        If the numbers make no room.
    """
    room = scene.room
    along = np.array([1.0, 0.0, 0.0])
    if room.shape == "box":
        return Shape(tuple(_box(scene, room)), along)
    if room.shape == "plan":
        return Shape(tuple(_plan(scene, room)), along)
    if room.shape == "gable":
        return Shape(tuple(_gable(room)), along)
    if room.shape == "lean-to":
        return Shape(tuple(_lean_to(room)), along)
    if room.shape == "section":
        return Shape(tuple(_section(room)), along)
    raise AssertionError(room.shape)


def object_shape(scene: Scene, index: int) -> Shape:
    """Flat pieces of one of the scene's objects, `scene.objects[index]`."""
    entry = scene.objects[index]
    key = ("objects", index)
    if entry.shape == "box":
        return Shape(box_object_polygons(entry, key), object_axes(entry.yaw, entry.pitch)[0])
    raise AssertionError(entry.shape)


def box_object_polygons(box: BoxObject, key: KeyPath) -> tuple[NamedPolygon, ...]:
    """Six faces of a box that stands in the room, turned by yaw and pitch.

    Parameters
    ----------
    box : BoxObject
        Name, centre, size [m], yaw and pitch [deg].
    key : tuple
        Its key path.
    """
    axes = object_axes(box.yaw, box.pitch)
    half = 0.5 * np.asarray(box.size, np.float64)
    centre = np.asarray(box.centre, np.float64)
    faces = (
        ("top", 2, 1),
        ("bottom", 2, -1),
        ("front", 0, -1),
        ("back", 0, 1),
        ("left", 1, -1),
        ("right", 1, 1),
    )
    # Each corner is computed once, so that the faces share it to the last bit.
    corner = {
        (i, j, k): centre + (half * (i, j, k)) @ axes for i in (-1, 1) for j in (-1, 1) for k in (-1, 1)
    }
    polygons = []
    for face, axis, side in faces:
        first, second = (axis + 1) % 3, (axis + 2) % 3
        outline = []
        for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
            sign = [0, 0, 0]
            sign[axis], sign[first], sign[second] = side, a, b
            outline.append(corner[sign[0], sign[1], sign[2]])
        points = np.array(outline[::side])
        polygons.append(NamedPolygon(f"{box.name} {face}", box.name, points, (), key))
    return tuple(polygons)


def object_axes(yaw_deg: float, pitch_deg: float = 0.0) -> Floats:
    """Directions of an object's own length, width and height in the room, one a row. (3, 3)

    Notes
    -----
    Quarter turns come out exact, so that a turned cupboard still stands flush against its wall.
    """
    cos_yaw, sin_yaw = _cos_sin(yaw_deg)
    cos_pitch, sin_pitch = _cos_sin(pitch_deg)
    length = (cos_pitch * cos_yaw, cos_pitch * sin_yaw, sin_pitch)
    width = (-sin_yaw, cos_yaw, 0.0)
    height = (-sin_pitch * cos_yaw, -sin_pitch * sin_yaw, cos_pitch)
    return np.array([length, width, height]) + 0.0


def _cos_sin(angle_deg: float) -> tuple[float, float]:
    quarter = round(angle_deg / 90.0)
    rest = math.radians(angle_deg - 90.0 * quarter)
    pair = complex(math.cos(rest), math.sin(rest)) * (1, 1j, -1, -1j)[quarter % 4]
    return pair.real, pair.imag


def _box(scene: Scene, room: BoxRoom) -> list[NamedPolygon]:
    corners = np.array([(0.0, 0.0), (room.length, 0.0), (room.length, room.width), (0.0, room.width)])
    walls = ("left wall", "back wall", "right wall", "front wall")
    return _upright_room(scene, room, corners, walls, ("front wall", "back wall", "left wall", "right wall"))


def _plan(scene: Scene, room: PlanRoom) -> list[NamedPolygon]:
    corners = np.array(room.corners, np.float64)
    walls = tuple(room.walls or (f"wall {k + 1}" for k in range(len(corners))))
    if signed_area(corners) < 0:
        corners = corners[::-1]
        return _upright_room(scene, room, corners, (*walls[-2::-1], walls[-1]), walls)
    return _upright_room(scene, room, corners, walls, walls)


def _upright_room(
    scene: Scene, room: BoxRoom | PlanRoom, corners: Floats, walls: Sequence[str], order: Sequence[str]
) -> list[NamedPolygon]:
    """Upright walls on an anticlockwise plan under the lowest of a level ceiling and sloped planes.

    `walls[k]` runs from corner k to the next; `order` is the order in which the walls are listed.
    """
    planes = [RoofPlane("ceiling", (0.0, 0.0), room.height)]
    for index, slope in enumerate(room.slopes):
        planes.append(_slope_plane(scene, corners, walls, index, slope))
    roof = roof_pieces(corners, planes)
    for index, plane in enumerate(planes[1:]):
        if not any(piece.name == plane.name for piece in roof.pieces):
            raise scene.error(
                (ROOM, "slopes", index),
                f'no part of the roof: the rest of it lies lower than the "{plane.name}" everywhere',
            )
    low = np.array([roof.heights[k] for k in range(len(corners))])
    if low.min() < 0:
        x, y = corners[int(low.argmin())]
        raise scene.error((ROOM, "slopes"), f"the roof comes down through the floor at x {x:g}, y {y:g} m")
    floor = np.column_stack([corners, np.zeros(len(corners))])
    polygons = [NamedPolygon("floor", ROOM, floor, (), (ROOM,))]
    tops = np.column_stack([roof.corners, roof.heights])
    ceilings = [
        NamedPolygon(
            piece.name,
            ROOM,
            tops[piece.outline[::-1]],
            tuple(tops[hole[::-1]] for hole in piece.holes),
            (ROOM,),
        )
        for piece in roof.pieces
    ]
    upright = []
    for k, name in enumerate(walls):
        bottom = floor[[(k + 1) % len(floor), k]]
        outline = _without_repeats(np.concatenate([bottom, tops[roof.wall_tops[k]]]))
        if len(outline) >= 3:
            upright.append(NamedPolygon(name, ROOM, outline, (), (ROOM,)))
    polygons += [p for p in ceilings if p.name == "ceiling"]
    polygons += sorted(upright, key=lambda p: order.index(p.name))
    return polygons + [p for p in ceilings if p.name != "ceiling"]


def _slope_plane(scene: Scene, corners: Floats, walls: Sequence[str], index: int, slope: Slope) -> RoofPlane:
    if slope.wall not in walls:
        raise scene.error(
            (ROOM, "slopes", index, "wall"),
            f'no wall "{slope.wall}"{did_you_mean(slope.wall, sorted(walls))}',
        )
    k = walls.index(slope.wall)
    along = corners[(k + 1) % len(corners)] - corners[k]
    inward = np.array([-along[1], along[0]]) / np.linalg.norm(along)
    rise = inward * math.tan(math.radians(slope.pitch))
    name = f"{slope.wall.removesuffix(' wall')} slope"
    return RoofPlane(name, (float(rise[0]), float(rise[1])), float(slope.eaves - rise @ corners[k]))


def _gable(room: GableRoom) -> list[NamedPolygon]:
    along_length = room.ridge_along == "length"
    near, far = ("left", "right") if along_length else ("front", "back")
    span, run = (room.width, room.length) if along_length else (room.length, room.width)
    near_eaves, far_eaves = room.eaves
    ridge_at = 0.5 * span if room.ridge_at is None else room.ridge_at
    profile = np.array(
        [(0, 0), (span, 0), (span, far_eaves), (ridge_at, room.ridge), (0, near_eaves)], np.float64
    )
    edges = ["floor", f"{far} wall", f"{far} slope", f"{near} slope", f"{near} wall"]
    if room.flat is not None:
        profile, edges = clip_convex(profile, edges, np.array([0.0, 1.0]), room.flat, "ceiling")
    order = ("floor", f"{near} slope", f"{far} slope", *_FOUR_WALLS, "ceiling")
    return _carried(profile, edges, run, along_length=along_length, order=order)


_FOUR_WALLS = ("front wall", "back wall", "left wall", "right wall")


def _lean_to(room: LeanToRoom) -> list[NamedPolygon]:
    along_length = room.low_side in ("left", "right")
    near, far = ("left", "right") if along_length else ("front", "back")
    span, run = (room.width, room.length) if along_length else (room.length, room.width)
    at_near, at_far = (room.low, room.high) if room.low_side == near else (room.high, room.low)
    profile = np.array([(0, 0), (span, 0), (span, at_far), (0, at_near)], np.float64)
    edges = ["floor", f"{far} wall", "ceiling", f"{near} wall"]
    return _carried(profile, edges, run, along_length=along_length, order=("floor", "ceiling", *_FOUR_WALLS))


def _section(room: SectionRoom) -> list[NamedPolygon]:
    along_length = room.length is not None
    run = room.length or room.width
    assert run is not None  # the reader asks for exactly one of the two
    profile = np.array(room.profile, np.float64)
    profile = _without_straight_corners(profile)
    backward = signed_area(profile) < 0
    if backward:
        profile = profile[::-1]
    near, far = ("left", "right") if along_length else ("front", "back")
    edges = [_edge_name(edge, near, far) for edge in np.roll(profile, -1, axis=0) - profile]
    # Several of one name are numbered in the order of the file.
    turn = list(range(len(edges)))
    if backward:
        turn = [*turn[-2::-1], turn[-1]]
    for name in set(edges):
        several = [k for k in turn if edges[k] == name]
        if len(several) > 1:
            for number, k in enumerate(several, 1):
                edges[k] = f"{name} {number}"
    order = (
        "floor",
        "ceiling",
        "left wall",
        "right wall",
        "front wall",
        "back wall",
        f"{near} slope",
        f"{far} slope",
    )
    return _carried(profile, edges, run, along_length=along_length, order=order)


_PLUMB_SINE = math.sin(math.radians(3.0))


def _edge_name(edge: Floats, near: str, far: str) -> str:
    """What a person calls the face over an edge of an anticlockwise profile."""
    across, up = edge / np.linalg.norm(edge)
    if abs(up) <= _PLUMB_SINE:
        return "floor" if across > 0 else "ceiling"
    side = far if up > 0 else near
    return f"{side} wall" if abs(across) <= _PLUMB_SINE else f"{side} slope"


def _carried(
    profile: Floats, edges: Sequence[str], run_m: float, *, along_length: bool, order: Sequence[str]
) -> list[NamedPolygon]:
    """An anticlockwise profile carried along the room, closed by upright walls at both ends.

    `edges[k]` names the face over the edge from corner k to the next; faces come in the order of their
    names, numbers left out.
    """
    keep = np.linalg.norm(np.roll(profile, -1, axis=0) - profile, axis=1) > 1e-9
    profile, edges = profile[keep], [name for name, kept in zip(edges, keep, strict=True) if kept]
    across, up = profile.T
    ends = []
    for at in (0.0, run_m):
        along = np.full(len(profile), at)
        ends.append(np.column_stack([along, across, up] if along_length else [across, along, up]))
    first, last = ends if along_length else ends[::-1]
    near, far = ("front wall", "back wall") if along_length else ("right wall", "left wall")
    faces = [(near, first), (far, last[::-1])]
    for k, name in enumerate(edges):
        j = (k + 1) % len(profile)
        faces.append((name, np.array([first[k], last[k], last[j], first[j]])))
    rank = {name: place for place, name in enumerate(order)}
    faces.sort(
        key=lambda face: (rank.get(face[0], rank.get(face[0].rstrip(" 0123456789"), 99)), _number(face[0]))
    )
    return [NamedPolygon(name, ROOM, outline, (), (ROOM,)) for name, outline in faces]


def _number(name: str) -> int:
    tail = name.rsplit(" ", 1)[-1]
    return int(tail) if tail.isdecimal() else 0


def _without_straight_corners(profile: Floats) -> Floats:
    before, after = profile - np.roll(profile, 1, axis=0), np.roll(profile, -1, axis=0) - profile
    turn = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    size = np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1)
    turning: Floats = profile[np.abs(turn) > 1e-9 * size]
    return turning


def _without_repeats(outline: Floats) -> Floats:
    """An outline without corners that stand on the one before."""
    step = np.linalg.norm(outline - np.roll(outline, 1, axis=0), axis=1)
    distinct: Floats = outline[step > 1e-9]
    return distinct
