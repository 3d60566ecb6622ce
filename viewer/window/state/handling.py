"""Moving things by hand: where a speaker, seat or panel goes when the pointer moves."""

from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from raytrace import Scene, Study, cabinet_size_m, is_overhead, orientation
from viewer.pictures import SUB_SIDE, Camera
from viewer.window.state.pointing import Pixel, inside_outline, nearest_point, ray
from viewer.window.state.starters import MIDDLE
from viewer.window.state.view_state import Kind, Thing
from viewer.words import panel_group_words, seat_words, speaker_words

Floats = NDArray[np.float64]

FLATTEST = 0.12  # sine of the flattest angle under which a plane is still a ground to move on
REACH_M = 50.0
GRIP_PX = 7.0
TOUCH_M = 0.02  # nearer to the ceiling than this is built in, not stood there


@dataclass(frozen=True)
class Grip:
    """A thing held by the pointer.

    Attributes
    ----------
    thing : Thing
    place : (3,) float
        Where it was when it was gripped. [m]
    pixel : (float, float)
        Where the pointer was then.
    """

    thing: Thing
    place: Floats
    pixel: Pixel


def place_of(study: Study, thing: Thing) -> tuple[float, ...]:
    """Where a thing is, as the scene file says it; of a cloud its drop comes last. [m]"""
    return place_in(study.scene, thing)


def place_in(scene: Scene, thing: Thing) -> tuple[float, ...]:
    """The same of a scene that nothing was computed for yet. [m]"""
    kind, index = thing
    entry = getattr(scene, kind)[index]
    if kind == "clouds":
        middle = np.mean([panel.centre for panel in entry.panels], axis=0) if entry.panels else entry.centre
        return (float(middle[0]), float(middle[1]), entry.drop)
    name = {"speakers": "position", "seats": "ears", "stands": "at"}.get(kind, "centre")
    place = getattr(entry, name, None) or getattr(entry, "move", None) or (0.0, 0.0, 0.0)
    return tuple(float(x) for x in place)


def surface_of(study: Study, thing: Thing) -> int | None:
    """The surface whose set-out frame a thing's place is given in; None for x, y, z."""
    kind, index = thing
    if kind in ("panels", "clouds"):
        return study.room.surface_index(getattr(study.scene, kind)[index].surface)
    return None


def point_of(study: Study, thing: Thing) -> Floats:
    """The same in the room, (3,). [m]"""
    return point_at(study, thing, place_of(study, thing))


def point_at(study: Study, thing: Thing, place: tuple[float, ...]) -> Floats:
    """Where in the room a thing is that the scene file says to be at a place, (3,). [m]"""
    surface = surface_of(study, thing)
    if surface is None:
        return np.array([*place, 0.0][:3])
    point = study.room.surfaces[surface].frame.to_room(np.array(place[:2]))
    return point - np.array([0.0, 0.0, place[2]]) if thing[0] == "clouds" else point


def place_at(study: Study, thing: Thing, point: Floats) -> tuple[float, ...]:
    """What the scene file says of a thing that is at a point of the room. [m]"""
    surface = surface_of(study, thing)
    if surface is None:
        return tuple(float(x) for x in point[: len(place_of(study, thing))])
    frame = study.room.surfaces[surface].frame
    if thing[0] != "clouds":
        return tuple(float(x) for x in frame.to_plane(point))
    drop = float((frame.origin - point) @ frame.n / frame.n[2])
    u, v = frame.to_plane(point + np.array([0.0, 0.0, drop]))
    return float(u), float(v), drop


def glides_on(study: Study, thing: Thing) -> Floats | None:
    """Normal of the surface that a thing stays on when it is pulled; None for the floor."""
    surface = surface_of(study, thing)
    if surface is None or thing[0] == "clouds":
        return None
    return study.room.surfaces[surface].frame.n


def thing_words(study: Study, thing: Thing) -> str:
    """What a client would call a thing."""
    kind, index = thing
    if kind == "speakers":
        return speaker_words(study, index)
    if kind == "seats":
        return seat_words(study, index)
    own = [panel for panel in study.room.panels if panel.key[:2] == thing]
    return panel_group_words(own[0]) if own else str(getattr(study.scene, kind)[index].name)


def place_words(study: Study, thing: Thing) -> tuple[str, ...]:
    """What each of a thing's lengths is measured from."""
    surface = surface_of(study, thing)
    if surface is None:
        middle = MIDDLE if thing[0] == "objects" else ""
        return (f"{middle}from the front", "from the left", "up")[: len(place_of(study, thing))]
    named = study.room.surfaces[surface]
    level = orientation(named.frame.n).is_level
    along = ("from the front", "from the left") if level else (f"along the {named.name}", "up it")
    along = f"{MIDDLE}{along[0]}", along[1]
    return (*along, f"below the {named.name}") if thing[0] == "clouds" else along


def things_of(study: Study) -> list[Thing]:
    """Everything that can be selected to be moved, in the sequence of the file."""
    kinds: tuple[Kind, ...] = ("speakers", "seats", "panels", "stands", "clouds", "objects")
    return [(kind, i) for kind in kinds for i in range(len(getattr(study.scene, kind)))]


def thing_at(study: Study, camera: Camera, pixel: Pixel) -> Thing | None:
    """The thing whose body is under a pixel, the nearest to the eye.

    What stands on furniture comes before it, and what is drawn faintly comes last.
    """
    found: list[tuple[bool, bool, float, Thing]] = []
    for thing, corners, surface in bodies(study):
        # A plate seen edge-on is thinner than a hand is steady.
        near = nearest_point(camera, corners.mean(axis=0)[None], pixel, GRIP_PX) is not None
        if near or inside_outline(camera, corners, pixel):
            faint = surface is not None and not is_turned_to(study, surface, camera)
            depth_m = float(camera.depth(corners.mean(axis=0)))
            found.append((faint, thing[0] == "objects", depth_m, thing))
    return min(found)[3] if found else None


def is_turned_to(study: Study, surface: int, camera: Camera) -> bool:
    """Whether a surface shows its air side to the eye; panels on the others are drawn faintly."""
    frame = study.room.surfaces[surface].frame
    return bool(camera.sees(frame.origin[None], frame.n[None])[0])


def bodies(study: Study) -> list[tuple[Thing, Floats, int | None]]:
    """Everything that can be gripped, with corners (n, 3) [m] round it, and the surface it hangs on.

    Objects that reach the ceiling are built in: a hand that turns the room does not move a beam.
    """
    scene, result = study.scene, list[tuple[Thing, Floats, int | None]]()
    cube = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], np.float64)
    for i, speaker in enumerate(scene.speakers):
        half = SUB_SIDE / 2 if speaker.use == "sub" else float(cabinet_size_m(speaker).max()) / 2
        result.append((("speakers", i), np.array(speaker.position) + half * cube, None))
    for i, seat in enumerate(scene.seats):
        low, high = np.array([-0.11, -0.21, -0.42]), np.array([0.11, 0.21, 0.12])
        result.append((("seats", i), np.array(seat.ears) + np.where(cube < 0, low, high), None))
    for panel in study.room.panels:
        result.append(
            (cast("Thing", panel.key[:2]), np.concatenate([panel.corners, panel.back]), panel.surface)
        )
    for i, entry in enumerate(scene.objects):
        corners = object_corners(study, entry.name)
        if not is_built_in(study, corners):
            result.append((("objects", i), corners, None))
    return result


def object_corners(study: Study, name: str) -> Floats:
    """Corners of an object's faces, (n, 3). [m]"""
    room = study.room
    solid = room.facets[: room.n_solid_facets]  # a cloud may have the name of an object
    return np.concatenate([f.outline for f in solid if room.surfaces[f.surface].owner == name])


def is_built_in(study: Study, corners: Floats) -> bool:
    """Whether something with corners (n, 3) touches the ceiling or goes through it."""
    room = study.room
    for facet in room.facets:
        if room.is_room_surface[facet.surface] and is_overhead(facet.normal):
            low, high = facet.outline.min(axis=0)[:2], facet.outline.max(axis=0)[:2]
            below = ((corners[:, :2] >= low - TOUCH_M) & (corners[:, :2] <= high + TOUCH_M)).all(axis=1)
            if (below & (corners @ facet.normal - facet.offset < TOUCH_M)).any():
                return True
    return False


def moved_to(
    camera: Camera, grip: Grip, pixel: Pixel, *, upright: bool, along: Floats | None = None
) -> Floats:
    """Where a gripped thing goes when the pointer is at another pixel.

    Parameters
    ----------
    camera : Camera
    grip : Grip
    pixel : (float, float)
        Where the pointer is now.
    upright : bool
        Up and down only; else over the floor.
    along : (3,) float, optional
        Normal of the surface that the thing stays on.

    Returns
    -------
    (3,) float
        [m]
    """
    if upright:
        return np.add(grip.place, (0.0, 0.0, _climb_m(camera, grip, pixel)))
    normal = np.array([0.0, 0.0, 1.0]) if along is None else along
    if abs(float(ray(camera, pixel)[1] @ normal)) < FLATTEST:
        # The floor is seen edge-on, as from the side: the thing moves in the picture's plane.
        normal = -camera.forward
    start, now = (_on_plane(camera, at, grip.place, normal) for at in (grip.pixel, pixel))
    if start is None or now is None:
        return grip.place
    return grip.place + (now - start)


def along_floor(camera: Camera, place: Floats, start: Pixel, pixel: Pixel) -> Floats:
    """Where a point (3,) of a level plane goes when the pointer goes from one pixel to another. [m]"""
    first, now = (_on_plane(camera, at, place, np.array([0.0, 0.0, 1.0])) for at in (start, pixel))
    return place if first is None or now is None else place + (now - first)


def _on_plane(camera: Camera, pixel: Pixel, point: Floats, normal: Floats) -> Floats | None:
    origin, direction = ray(camera, pixel)
    slope = float(direction @ normal)
    if abs(slope) < 1e-6:
        return None
    reach = float((point - origin) @ normal) / slope
    in_front = camera.parallel or 0.0 < reach < REACH_M
    return origin + reach * direction if in_front else None


def _climb_m(camera: Camera, grip: Grip, pixel: Pixel) -> float:
    """How far up the pointer has moved, as seen at the thing; straight from above a pixel is a pixel."""
    up_px = grip.pixel[1] - pixel[1]
    foreshortened = max(float(camera.up[2]), 0.3)
    return up_px / camera.pixels_per_metre(grip.place) / foreshortened
