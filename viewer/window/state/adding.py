"""What is put into a room: where the pointer puts it, what its entry is there, and on the other side."""

import math
import re
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from raytrace import (
    KeyPath,
    Orientation,
    Room,
    Scene,
    Study,
    is_overhead,
    is_underfoot,
    joist_lines,
    listening_axis,
    orientation,
    parse_length,
)
from viewer.pictures import Camera
from viewer.window.state.pointing import Pixel, ray
from viewer.window.state.starters import MIDDLE, On, Starter, is_taken, new_name

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Placing:
    """Something on its way into the room.

    Attributes
    ----------
    starter : Starter
    name : str
    surface : str
        Which surface it goes to; "" over the floor, and before the pointer was over one that it goes to.
    place : tuple of float
        x, y over the floor, else u, v on the surface: of its middle; of a door the foot. [m]
    outline : tuple of (k, 3) float
        Lines round it. [m]
    edges : tuple of (str, float)
        How far it is from what. [m]
    ground : str
        The piece of furniture that it stands on; "" for none.
    height_m : float or None
        Then its third coordinate. [m]
    """

    starter: Starter
    name: str
    surface: str = ""
    place: tuple[float, ...] = ()
    outline: tuple[Floats, ...] = ()
    edges: tuple[tuple[str, float], ...] = ()
    ground: str = ""
    height_m: float | None = None

    @property
    def level_m(self) -> float:
        """The third coordinate of what is placed over the floor. [m]"""
        return self.starter.height_m if self.height_m is None else self.height_m


def surface_under(room: Room, camera: Camera, pixel: Pixel, on: On) -> tuple[int, Floats] | None:
    """The surface of the room that is seen at a pixel and takes such a thing, and the point there. [m]"""
    origin, direction = ray(camera, pixel)
    best: tuple[float, int, Floats] | None = None
    for facet in room.facets:
        slope = float(direction @ facet.normal)
        # Turned away: what lies behind it is seen, but what hangs is pointed at through the ceiling as well.
        is_through = slope > 0.0 and on == "ceiling" and is_overhead(facet.normal)
        if not room.is_room_surface[facet.surface] or (slope >= 0.0 and not is_through):
            continue
        reach = (facet.offset - float(origin @ facet.normal)) / slope
        point = origin + reach * direction
        frame = room.surfaces[facet.surface].frame
        if (best is not None and reach >= best[0]) or not (camera.parallel or reach > 0.0):
            continue
        if _is_inside(frame.to_plane(facet.outline), frame.to_plane(point)):
            best = reach, facet.surface, point
    if best is None or not _takes(room.surfaces[best[1]].frame.n, on):
        return None
    return best[1], best[2]


def _takes(normal: Floats, on: On) -> bool:
    if on == "floor":
        return is_underfoot(normal)
    if on == "ceiling":
        return is_overhead(normal)
    return on == "any" or not is_underfoot(normal)


def _is_inside(corners: Floats, point: Floats) -> bool:
    """Whether a point (2,) lies in a polygon (n, 2)."""
    x, y = point
    after = np.roll(corners, -1, axis=0)
    crosses = (corners[:, 1] > y) != (after[:, 1] > y)
    rise = np.where(crosses, after[:, 1] - corners[:, 1], 1.0)
    at = corners[:, 0] + (y - corners[:, 1]) * (after[:, 0] - corners[:, 0]) / rise
    return bool(np.count_nonzero(crosses & (x < at)) % 2)


def first_place(study: Study, starter: Starter) -> tuple[str, tuple[float, ...]]:
    """Where a thing begins: the middle of the first surface that takes it, or amid speakers and seat.

    Returns
    -------
    str, tuple of float
        The surface's name, and the place as `Placing` has it.
    """
    room = study.room
    own = [s for s in room.surfaces if s.owner is None and _takes(s.frame.n, starter.on)]
    upright = [s for s in own if starter.on == "wall" and orientation(s.frame.n) is Orientation.UPRIGHT]
    surface = (upright or own or room.surfaces)[0]
    middle = room.facets[surface.facets[0]].outline.mean(axis=0)
    mains = [own.position for own in study.scene.speakers if own.use == "main"]
    if is_free(starter):
        middle = np.array([*room.bounds[:, :2].mean(axis=0), 0.0])
    if starter.is_amid and mains:
        middle[:2] = (np.mean(mains, axis=0)[:2] + study.scene.seats[0].ears[:2]) / 2
    if is_free(starter):
        return surface.name, kept_inside(study, starter, "", (float(middle[0]), float(middle[1])))
    u, v = surface.frame.to_plane(middle)
    is_door = starter.entry.get("kind") == "door"
    return surface.name, kept_inside(study, starter, surface.name, (float(u), 0.0 if is_door else float(v)))


def kept_inside(study: Study, starter: Starter, surface: str, place: tuple[float, ...]) -> tuple[float, ...]:
    """A place that was pointed at, so far inside that a thing ends at the edges of the floor or surface."""
    if starter.kind in ("speakers", "seats", "joists"):
        return place
    size = _sizes(study, starter)
    if is_free(starter):
        turn = math.radians(float(starter.entry.get("yaw", 0.0)))
        c, s = abs(math.cos(turn)), abs(math.sin(turn))
        half = 0.5 * np.array([c * size[0] + s * size[1], s * size[0] + c * size[1]])
        low, high = study.room.bounds[:, :2]
    else:
        half = 0.5 * np.array(size[:2])
        frame = study.room.surfaces[study.room.surface_index(surface)].frame
        low, high = np.zeros(2), np.array([frame.width, frame.height])
    low, high = low + half, high - half
    # What is larger than the room stays where it is.
    kept = np.where(low <= high, np.clip(place[:2], low, high), place[:2])
    if starter.entry.get("kind") == "door":
        kept[1] = place[1]
    return float(kept[0]), float(kept[1])


def placed(study: Study, placing: Placing, surface: str, place: tuple[float, ...]) -> Placing:
    """The same somewhere else, with its outline and its distances from the edges."""
    starter = placing.starter
    moved = replace(placing, surface=surface, place=tuple(round(x, 3) + 0.0 for x in place[:2]))
    sides = _sides(study, moved)
    if is_free(starter):
        low, high = study.room.bounds[:, :2]
    else:
        frame = study.room.surfaces[study.room.surface_index(surface)].frame
        low, high = np.zeros(2), np.array([frame.width, frame.height])
    edges = []
    for axis in (0, 1):
        near, far = moved.place[axis] - float(low[axis]), float(high[axis]) - moved.place[axis]
        edges.append(
            (sides[axis][0], near) if near <= far or sides[axis][0] == "up" else (sides[axis][1], far)
        )
    return replace(moved, edges=tuple(edges), outline=tuple(_outline(study, moved)))


def _sides(study: Study, placing: Placing) -> tuple[tuple[str, str], tuple[str, str]]:
    """What the two lengths of a place are measured from, and what lies at the other end."""
    level = ("from the front", "from the back"), ("from the left", "from the right")
    if is_free(placing.starter):
        return level
    frame = study.room.surfaces[study.room.surface_index(placing.surface)].frame
    if orientation(frame.n).is_level:
        return level
    return ("from its left edge", "from its right edge"), ("up", "below its top")


def hold_words(study: Study, placing: Placing) -> tuple[str, str]:
    """What the two lengths of a place are measured from."""
    along, up = _sides(study, placing)
    middle = (
        MIDDLE if placing.starter.kind in ("objects", "openings", "keep_outs", "panels", "clouds") else ""
    )
    return f"{middle}{along[0]}", up[0]


def is_free(starter: Starter) -> bool:
    """Whether a thing stands in the room by x, y, and not in the frame of a surface."""
    return starter.on == "floor" and starter.kind != "openings"


def _outline(study: Study, placing: Placing) -> list[Floats]:
    starter, (x, y) = placing.starter, placing.place
    if is_free(starter):
        size = _sizes(study, starter)
        turn = math.radians(float(starter.entry.get("yaw", 0.0)))
        along = np.array([math.cos(turn), math.sin(turn), 0.0])
        across, up = np.array([-along[1], along[0], 0.0]), np.array([0.0, 0.0, 1.0])
        middle = np.array([x, y, placing.level_m if starter.kind != "stands" else size[2] / 2])
        ends = [
            np.array(
                [
                    middle + a * along + b * across + c * up
                    for a, b in _round(size[0], size[1])
                    for c in (level,)
                ]
            )
            for level in (-size[2] / 2, size[2] / 2)
        ]
        uprights = [np.array([one, other]) for one, other in zip(*ends, strict=True)]
        return [*ends, *uprights]
    frame = study.room.surfaces[study.room.surface_index(placing.surface)].frame
    if starter.kind == "joists":
        is_up = starter.entry.get("along") == "v"
        ends_uv = [(x, 0.0), (x, frame.height)] if is_up else [(0.0, y), (frame.width, y)]
        return [frame.to_room(np.array(ends_uv))]
    width, height = _sizes(study, starter)[:2]
    u, v = _corner(starter, placing.place, (width, height))
    rectangle = [(u, v), (u + width, v), (u + width, v + height), (u, v + height), (u, v)]
    face = frame.to_room(np.array(rectangle))
    drop = float(starter.entry.get("drop", 0.0)) if starter.kind == "clouds" else 0.0
    return [face - np.array([0.0, 0.0, drop])]


def _round(depth: float, width: float) -> list[tuple[float, float]]:
    a, b = depth / 2, width / 2
    return [(-a, -b), (a, -b), (a, b), (-a, b), (-a, -b)]


def _sizes(study: Study, starter: Starter) -> tuple[float, ...]:
    """How large the outline of a thing is: along, across, up; on a surface across and up."""
    entry, scene = starter.entry, study.scene
    if "size" in entry:
        return tuple(parse_length(own) for own in entry["size"])
    if "radius" in entry:
        return (2 * parse_length(entry["radius"]),) * 2
    if starter.kind == "speakers":
        return (0.3, 0.3, 0.3) if entry.get("use") == "sub" else (0.25, 0.2, 0.35)
    if starter.kind == "seats":
        return (0.3, 0.4, 0.1)
    build = scene.build(str(entry["build"]))
    size = build.size[::-1] if entry.get("turned") == 90 else build.size
    if starter.kind == "stands":
        return (build.thickness, size[0], size[1])
    if starter.kind == "clouds":
        gap = parse_length(entry.get("spacing", 0.0))
        across = (int(entry["rows"]), int(entry["columns"]))
        return tuple(n * side + (n - 1) * gap for n, side in zip(across, size, strict=True))
    return size


def hold_size(study: Study, starter: Starter) -> tuple[float, ...] | None:
    """How large a thing is: along, across, up; on a surface across and up; None for what has no size. [m]"""
    return None if starter.kind == "joists" else _sizes(study, starter)


def on_top(study: Study, placing: Placing, name: str, top_m: float) -> Placing:
    """The same standing on a piece of furniture, or at its own height where the name is "". [m]"""
    starter = placing.starter
    can_stand = starter.kind == "objects" or (
        starter.kind == "speakers" and starter.entry.get("use") != "sub"
    )
    if not name or not can_stand:
        return replace(placing, ground="", height_m=None)
    return replace(placing, ground=name, height_m=top_m + 0.5 * _sizes(study, starter)[2])


def _corner(starter: Starter, place: tuple[float, ...], size: tuple[float, float]) -> tuple[float, float]:
    """Lower left corner of what has its middle, or of a door its foot, at a place."""
    is_door = starter.entry.get("kind") == "door"
    return place[0] - size[0] / 2, place[1] if is_door else place[1] - size[1] / 2


def surface_outline(study: Study, path: KeyPath) -> list[Floats]:
    """Lines (k, 3) round an opening, a part that is kept free, joists; none round anything else. [m]"""
    kind, index = (*path, -1)[:2]
    entries = getattr(study.scene, str(kind), ()) if kind in ("openings", "keep_outs", "joists") else ()
    if not isinstance(index, int) or not 0 <= index < len(entries):
        return []
    own = entries[index]
    frame = study.room.surfaces[study.room.surface_index(own.surface)].frame
    if kind == "joists":
        far = frame.height if not own.along_u else frame.width
        lines = [[(at, 0.0), (at, far)] for at in joist_lines(own, frame)]
        lines = lines if not own.along_u else [[(y, x) for x, y in line] for line in lines]
        return [frame.to_room(np.array(line)) for line in lines]
    if own.at is not None:
        (u, v), (width, height) = own.at, own.size
        corners = [(u, v), (u + width, v), (u + width, v + height), (u, v + height), (u, v)]
        return [frame.to_room(np.array(corners))]
    turns = np.linspace(0.0, 2 * np.pi, 33)
    return [
        frame.to_room(np.array(own.centre) + own.radius * np.stack([np.cos(turns), np.sin(turns)], axis=1))
    ]


def entry_of(study: Study, placing: Placing) -> dict[str, Any]:
    """The entry of the scene that puts a thing where it is."""
    starter, scene = placing.starter, study.scene
    x, y = (round(value, 3) + 0.0 for value in placing.place[:2])
    if starter.kind == "joists":
        first = x if starter.entry["along"] == "v" else y
        return {"surface": placing.surface, **starter.entry, "first": first}
    named: dict[str, Any] = {"name": placing.name}
    rest = dict(starter.entry)
    if starter.kind in ("speakers", "seats"):
        key = "position" if starter.kind == "speakers" else "ears"
        return {**named, key: [x, y, round(placing.level_m, 3)], **rest}
    if starter.kind == "objects":
        return {
            **named,
            "shape": rest.pop("shape", "box"),
            "centre": [x, y, round(placing.level_m, 3)],
            **rest,
        }
    if starter.kind == "stands":
        ears = scene.seats[0].ears
        facing = round(math.degrees(math.atan2(ears[1] - y, ears[0] - x)) / 15) * 15
        return {**named, "at": [x, y], "yaw": facing, **rest}
    named["surface"] = placing.surface
    if starter.kind == "openings":
        size = _sizes(study, starter)
        u, v = _corner(starter, placing.place, (size[0], size[1]))
        at = [round(u, 3) + 0.0, 0.0 if rest["kind"] == "door" else round(v, 3) + 0.0]
        return {**named, "kind": rest.pop("kind"), "at": at, **rest}
    if starter.kind == "keep_outs" and "size" in rest:
        size = _sizes(study, starter)
        return {**named, "at": [round(x - size[0] / 2, 3), round(y - size[1] / 2, 3)], **rest}
    return {**named, "centre": [x, y], **rest}


def mirrored(study: Study, scene: Scene, path: KeyPath) -> dict[str, Any] | None:
    """The entry that is another's image beyond the listening axis; None where there is no such.

    `scene` is what the text says now; of the study only the surfaces are asked.
    """
    kind, index = str(path[0]), path[1]
    entry, scene_entry = scene.document[kind][index], getattr(scene, kind)[index]
    axis_m = listening_axis(scene)
    if axis_m is None:
        axis_m = float(scene.seats[0].ears[1])
    name = _other_side(str(entry.get("name", "")))
    made = {**entry, "name": new_name(scene, kind, name) if is_taken(scene, kind, name) else name}
    if "swing" in made:
        hinge = {"left": "right", "right": "left"}[made["swing"]["hinge"]]
        made["swing"] = {**made["swing"], "hinge": hinge}
    if "yaw" in made:
        made["yaw"] = -made["yaw"]
    for key in ("position", "ears", "centre", "at"):
        value = getattr(scene_entry, key, None)
        if value is not None and not hasattr(scene_entry, "surface"):
            made[key] = [entry[key][0], round(2 * axis_m - float(value[1]), 3), *entry[key][2:]]
            return made
    return _on_other_surface(study, made, scene_entry, axis_m) if hasattr(scene_entry, "surface") else None


def _on_other_surface(
    study: Study, made: dict[str, Any], scene_entry: Any, axis_m: float
) -> dict[str, Any] | None:
    """The same in the frame of the surface that mirrors its own."""
    room = study.room
    frame = room.surfaces[room.surface_index(scene_entry.surface)].frame
    at, size = getattr(scene_entry, "at", None), getattr(scene_entry, "size", None) or (0.0, 0.0)
    place = at if at is not None else getattr(scene_entry, "centre", None)
    if place is None:
        return None
    corners = np.array([place, np.add(place, size)]) if at is not None else np.array([place])
    flipped = frame.to_room(corners) * [1, -1, 1] + [0, 2 * axis_m, 0]
    normal = frame.n * [1, -1, 1]
    for surface in room.surfaces:
        off = abs(float((flipped[0] - surface.frame.origin) @ surface.frame.n))
        if surface.owner is None and float(surface.frame.n @ normal) > 0.999 and off < 0.02:
            uv = surface.frame.to_plane(flipped).min(axis=0)
            made["surface"] = surface.name
            made["at" if at is not None else "centre"] = [round(float(value), 3) + 0.0 for value in uv]
            return made
    return None


def _other_side(name: str) -> str:
    """A name with left for right."""
    swapped = {"left": "right", "right": "left", "Left": "Right", "Right": "Left"}
    return re.sub(r"\b(left|right|Left|Right)\b", lambda found: swapped[found[0]], name)
