"""Room and object shapes of a scene -> named flat polygons that share their corners exactly."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Sentence, joined, metres, sentence
from raytrace.room.mesh_repair import Mended, flat_pieces
from raytrace.room.meshfile import MeshPolygon, read_mesh
from raytrace.room.polygons import NamedPolygon, signed_area
from raytrace.room.profiles import gable_polygons, lean_to_polygons, section_polygons
from raytrace.room.rawmesh import MeshError
from raytrace.room.roof import RoofPlane, roof_pieces
from raytrace.room.setout import cos_sin
from raytrace.scene import (
    BoxObject,
    BoxRoom,
    KeyPath,
    MeshObject,
    MeshRoom,
    PlanRoom,
    Scene,
    Slope,
    did_you_mean,
)

Floats = NDArray[np.float64]


_LOWEST_TOP_M = 1.5  # no room is lower: the least that a scene file takes as a height
_FLAT_DEG = 10.0  # flatter over a low roof a pitch is rather a ratio or a height that was mistaken for it
_AT_ZERO_M = 0.005  # how far a wall may stand off its zero before it is said


@dataclass(frozen=True)
class Shape:
    """Flat pieces of the room or of an object.

    Attributes
    ----------
    polygons : tuple of NamedPolygon
        In the order that their surfaces take.
    length : (3,) float
        Direction of an object's own length.
    notes : tuple of Sentence
        What was mended on the way.
    """

    polygons: tuple[NamedPolygon, ...]
    length: Floats
    notes: tuple[Sentence, ...] = ()


def room_shape(scene: Scene) -> Shape:
    """Flat pieces of the room in the order of its surface names.

    Raises
    ------
    SceneError
        If the numbers make no room.
    """
    room = scene.room
    if room.shape == "mesh":
        return _mesh_room(scene, room)
    if room.shape == "box":
        polygons = _box(scene, room)
    elif room.shape == "plan":
        polygons = _plan(scene, room)
    elif room.shape == "gable":
        polygons = gable_polygons(room)
    elif room.shape == "lean-to":
        polygons = lean_to_polygons(room)
    else:
        polygons = section_polygons(room)
    return Shape(tuple(polygons), np.array([1.0, 0.0, 0.0]), _offset_notes(polygons))


def _offset_notes(polygons: Sequence[NamedPolygon]) -> tuple[Sentence, ...]:
    """What a plan or profile that does not start at zero means for the distances."""
    low = np.min([polygon.outline.min(axis=0) for polygon in polygons], axis=0)
    sides = ("front wall", "left wall", "floor")
    return tuple(
        sentence(
            "The room starts at {axis} = {start}: distances from the {side} are counted from {axis} = 0.",
            axis=axis,
            start=metres(float(start_m), 3),
            side=side,
        )
        for axis, start_m, side in zip("xyz", low, sides, strict=True)
        if abs(start_m) > _AT_ZERO_M
    )


def object_shape(scene: Scene, index: int) -> Shape:
    """Flat pieces of one of the scene's objects, `scene.objects[index]`."""
    entry = scene.objects[index]
    key = ("objects", index)
    if entry.shape == "box":
        return Shape(box_object_polygons(entry, key), object_axes(entry.yaw, entry.pitch)[0])
    return _mesh_object(scene, entry, key)


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
    cos_yaw, sin_yaw = cos_sin(yaw_deg)
    cos_pitch, sin_pitch = cos_sin(pitch_deg)
    length = (cos_pitch * cos_yaw, cos_pitch * sin_yaw, sin_pitch)
    width = (-sin_yaw, cos_yaw, 0.0)
    height = (-sin_pitch * cos_yaw, -sin_pitch * sin_yaw, cos_pitch)
    return np.array([length, width, height]) + 0.0


def _mesh_room(scene: Scene, room: MeshRoom) -> Shape:
    mesh, report = _read(scene, room, ("room",))
    low, high = _bounds(mesh)
    _refuse_odd_size(scene, room, high - low)
    if (np.abs(low) > _AT_ZERO_M).any():
        move = ", ".join(f"{length:.4f}" for length in np.asarray(room.move) - low)
        raise scene.error(
            ("room", "move"),
            f"the smallest x, y, z of the room are {low[0]:.3f}, {low[1]:.3f}, {low[2]:.3f} m; the front wall"
            f" must end at x = 0, the left wall at y = 0, the floor at z = 0: move = [{move}]",
        )
    mended = _mended(scene, mesh, ("room",), air_inside=True)
    pieces = tuple(NamedPolygon(p.name, None, p.outline, p.holes, ("room",)) for p in mended.pieces)
    notes = tuple(joined(": ", (room.file, note)) for note in mended.notes)
    return Shape(pieces, np.array([1.0, 0.0, 0.0]), (*report, *notes))


def _mesh_object(scene: Scene, entry: MeshObject, key: KeyPath) -> Shape:
    mesh, report = _read(scene, entry, key)
    mesh = [MeshPolygon(entry.name, polygon.corners, polygon.line) for polygon in mesh]
    mended = _mended(scene, mesh, key, air_inside=False)
    pieces = tuple(NamedPolygon(p.name, entry.name, p.outline, p.holes, key) for p in mended.pieces)
    notes = tuple(joined(": ", (entry.file, note)) for note in mended.notes)
    return Shape(pieces, object_axes(entry.turn)[0], (*report, *notes))


def _read(
    scene: Scene, place: MeshRoom | MeshObject, key: KeyPath
) -> tuple[list[MeshPolygon], tuple[Sentence, ...]]:
    path = scene.resolve(place.file)
    try:
        mesh = read_mesh(path, unit=place.unit, up=place.up, turn_deg=place.turn, move=place.move)
    except MeshError as problem:
        raise scene.error((*key, "file"), str(problem)) from None
    notes = [sentence("{line}", line=line) for line in mesh.report]
    if not scene.holds(path):
        notes.append(sentence("{file} lies outside the folder of the scene: hand it on too", file=place.file))
    return list(mesh.polygons), tuple(notes)


def _mended(scene: Scene, mesh: Sequence[MeshPolygon], key: KeyPath, *, air_inside: bool) -> Mended:
    try:
        return flat_pieces(mesh, air_inside=air_inside, number_all=not air_inside)
    except MeshError as problem:
        raise scene.error((*key, "file"), str(problem)) from None


def _bounds(mesh: Sequence[MeshPolygon]) -> tuple[Floats, Floats]:
    corners = np.concatenate([polygon.corners for polygon in mesh])
    return corners.min(axis=0), corners.max(axis=0)


def _refuse_odd_size(scene: Scene, room: MeshRoom, size: Floats) -> None:
    """Refuse a mesh of no room's size, and say which unit or upright axis would make it one."""
    if _could_be_room(size):
        return
    metres = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, "ft": 0.3048}
    flipped = size[[0, 2, 1]]
    readings = [
        f'unit = "{unit}"' + ("" if axis == room.up else f', up = "{axis}"')
        for axis, extent in ((room.up, size), ("y" if room.up == "z" else "z", flipped))
        for unit in metres
        if _could_be_room(extent * metres[unit] / metres[room.unit])
    ]
    hint = f"; a room's size would come of {' or '.join(readings)}" if readings else ""
    raise scene.error(
        ("room", "unit"),
        f"the mesh is {size[0]:.3g} x {size[1]:.3g} m and {size[2]:.3g} m high: no room{hint}",
    )


def _could_be_room(size: Floats) -> bool:
    """Whether the extent of a mesh could be that of a room, from a cupboard to a small hall."""
    return bool(1.2 <= size[2] <= 15.0 and size[:2].min() >= 1.0 and size[:2].max() <= 60.0)


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
                ("room", "slopes", index),
                f'no part of the roof: the rest of it lies lower than the "{plane.name}" everywhere',
            )
    low = np.array([roof.heights[k] for k in range(len(corners))])
    if low.min() < 0:
        x, y = corners[int(low.argmin())]
        through = "the roof comes down through the floor at x {x}, y {y}"
        raise scene.error(("room", "slopes"), sentence(through, x=metres(x, 3), y=metres(y, 3)))
    if not any(piece.name == "ceiling" for piece in roof.pieces):
        _refuse_flat_slopes(scene, room, float(roof.heights.max()))
    floor = np.column_stack([corners, np.zeros(len(corners))])
    polygons = [NamedPolygon("floor", None, floor, (), ("room",))]
    tops = np.column_stack([roof.corners, roof.heights])
    ceilings = [
        NamedPolygon(
            piece.name,
            None,
            tops[piece.outline[::-1]],
            tuple(tops[hole[::-1]] for hole in piece.holes),
            ("room",),
        )
        for piece in roof.pieces
    ]
    upright = []
    for k, name in enumerate(walls):
        bottom = floor[[(k + 1) % len(floor), k]]
        outline = _without_repeats(np.concatenate([bottom, tops[roof.wall_tops[k]]]))
        if len(outline) >= 3:
            upright.append(NamedPolygon(name, None, outline, (), ("room",)))
    polygons += [p for p in ceilings if p.name == "ceiling"]
    polygons += sorted(upright, key=lambda p: order.index(p.name))
    return polygons + [p for p in ceilings if p.name != "ceiling"]


def _refuse_flat_slopes(scene: Scene, room: BoxRoom | PlanRoom, top_m: float) -> None:
    """Refuse slopes that lie over the whole room lower than anyone could stand."""
    flattest = min(range(len(room.slopes)), key=lambda k: room.slopes[k].pitch)
    slope = room.slopes[flattest]
    if top_m >= _LOWEST_TOP_M or slope.pitch >= _FLAT_DEG:
        return
    raise scene.error(
        ("room", "slopes", flattest, "pitch"),
        sentence(
            "{pitch} degrees from eaves of {eaves} leave no level ceiling: the roof ends at {top} and never "
            "meets the height of {height}; pitch is the angle to the level in degrees, 40 for a usual roof",
            pitch=f"{slope.pitch:g}",
            eaves=metres(slope.eaves, 3),
            top=metres(top_m, 3),
            height=metres(room.height, 3),
        ),
    )


def _slope_plane(scene: Scene, corners: Floats, walls: Sequence[str], index: int, slope: Slope) -> RoofPlane:
    if slope.wall not in walls:
        raise scene.error(
            ("room", "slopes", index, "wall"),
            f'no wall "{slope.wall}"{did_you_mean(slope.wall, sorted(walls))}',
        )
    k = walls.index(slope.wall)
    along = corners[(k + 1) % len(corners)] - corners[k]
    inward = np.array([-along[1], along[0]]) / np.linalg.norm(along)
    rise = inward * math.tan(math.radians(slope.pitch))
    name = f"{slope.wall.removesuffix(' wall')} slope"
    return RoofPlane(name, (float(rise[0]), float(rise[1])), float(slope.eaves - rise @ corners[k]))


def _without_repeats(outline: Floats) -> Floats:
    """An outline without corners that stand on the one before."""
    step = np.linalg.norm(outline - np.roll(outline, 1, axis=0), axis=1)
    distinct: Floats = outline[step > 1e-9]
    return distinct
