"""What a thing in the hand is drawn to beside grid and axis: walls, other things, tops of furniture."""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace import Orientation, Room, Study, cabinet_size_m, format_length, orientation
from viewer.pictures import Camera
from viewer.window.state.adding import Placing, hold_size
from viewer.window.state.handling import place_of, surface_of
from viewer.window.state.pointing import Pixel, ray
from viewer.window.state.view_state import Thing

Floats = NDArray[np.float64]


class Catch(NamedTuple):
    """A line that a thing is drawn to: which of its lengths it fixes, where [m], and what is there."""

    axis: int
    at: float
    why: str


class _Box(NamedTuple):
    """A body between its smallest and largest lengths, in the frame of what is moved. [m]"""

    name: str
    low: Floats
    high: Floats


def catches(study: Study, thing: Thing) -> tuple[Catch, ...]:
    """Lines that a thing is drawn to when it is pulled."""
    own = _own_box(study, thing)
    if own is None:
        return ()
    at = np.array(place_of(study, thing))[: len(own.low)]
    surface = surface_of(study, thing)
    others = _boxes(study, thing) if surface is None else _rects(study, surface, thing)
    # Where a speaker stands has nothing to do with its edges, only with what it stands on.
    lines = [] if thing[0] == "speakers" else _edges(study, own, at, others, surface)
    if surface is None:
        lines += _grounds(study, others, at, float(own.low[2] - at[2]))
    return tuple(lines)


def hold_catches(
    study: Study, placing: Placing, point: Floats, surface: int | None = None
) -> tuple[Catch, ...]:
    """Lines that a new thing is drawn to when it is held at x, y of the room or u, v of a surface (2,)."""
    size = hold_size(study, placing.starter)
    if placing.starter.kind in ("speakers", "seats", "joists") or size is None:
        return ()
    half = 0.5 * np.array(size[:2])
    lift = np.array([0.0, half[1]]) if placing.starter.entry.get("kind") == "door" else np.zeros(2)
    own = _Box(placing.name, point + lift - half, point + lift + half)
    others = _objects(study) if surface is None else _rects(study, surface, None)
    flat = [_Box(other.name, other.low[:2], other.high[:2]) for other in others]
    return tuple(_edges(study, own, point, flat, surface))


def _edges(study: Study, own: _Box, at: Floats, others: list[_Box], surface: int | None) -> list[Catch]:
    """Places along x, y or u, v at which a body comes in line with others, or against them."""
    low, high = (own.low - at).tolist(), (own.high - at).tolist()
    lines = list[Catch]()
    for axis in range(2):
        for other in others:
            meets = (own.low < other.high) & (own.high > other.low)
            lines += _lines(axis, (low[axis], high[axis]), other, touches=bool(np.delete(meets, axis).all()))
        lines += _walls(study, surface, axis, (low[axis], high[axis]))
    return lines


def _lines(axis: int, own: tuple[float, float], other: _Box, *, touches: bool) -> list[Catch]:
    """In line with the edges and the middle of something else; beside it where both would meet."""
    low, high = float(other.low[axis]), float(other.high[axis])
    in_line = f'in line with "{other.name}"'
    lines = [
        Catch(axis, low - own[0], in_line),
        Catch(axis, high - own[1], in_line),
        Catch(axis, 0.5 * (low + high) - 0.5 * (own[0] + own[1]), in_line),
    ]
    if touches:
        against = f'against "{other.name}"'
        lines += [Catch(axis, low - own[1], against), Catch(axis, high - own[0], against)]
    return lines


def _walls(study: Study, surface: int | None, axis: int, own: tuple[float, float]) -> list[Catch]:
    """At the ends of the room, or of the surface that something hangs on."""
    low, high = _reach(study, surface)[:, axis]
    what = "against the wall" if surface is None else "at the edge"
    return [Catch(axis, float(low) - own[0], what), Catch(axis, float(high) - own[1], what)]


def _reach(study: Study, surface: int | None) -> Floats:
    """Smallest and largest x, y of the room, or u, v of a surface, (2, 2). [m]"""
    if surface is None:
        return study.room.bounds[:, :2]
    frame = study.room.surfaces[surface].frame
    return np.array([[0.0, 0.0], [frame.width, frame.height]])


def _grounds(study: Study, others: list[_Box], at: Floats, low: float) -> list[Catch]:
    """On the floor, or on what is below."""
    floors = [Catch(2, float(study.room.bounds[0, 2]) - low, "on the floor")]
    below = [own for own in others if (own.low[:2] <= at[:2]).all() and (at[:2] <= own.high[:2]).all()]
    return [*floors, *(Catch(2, float(own.high[2]) - low, f'on "{own.name}"') for own in below)]


def _own_box(study: Study, thing: Thing) -> _Box | None:
    kind, index = thing
    scene = study.scene
    if kind == "speakers":
        speaker = scene.speakers[index]
        half = 0.5 * cabinet_size_m(speaker)[[0, 1, 2]]
        return _Box(speaker.name, speaker.position - half, speaker.position + half)
    if kind == "objects":
        return next((own for own in _objects(study) if own.name == scene.objects[index].name), None)
    if kind == "panels":
        panel = next(own for own in study.room.panels if own.key[:2] == thing)
        return _Box(panel.name, panel.rect[:2], panel.rect[2:])
    return None


def _objects(study: Study) -> list[_Box]:
    names = {entry.name for entry in study.scene.objects}
    skins = [(owner, skin) for owner, skin in study.room.skins.items() if owner in names]
    return [_Box(str(owner), skin.min(axis=(0, 1)), skin.max(axis=(0, 1))) for owner, skin in skins]


def _boxes(study: Study, thing: Thing) -> list[_Box]:
    """Furniture but for what is moved."""
    own = study.scene.objects[thing[1]].name if thing[0] == "objects" else None
    return [box for box in _objects(study) if box.name != own]


def _rects(study: Study, surface: int, thing: Thing | None) -> list[_Box]:
    """What else lies on a surface: panels and openings."""
    room = study.room
    panels = [
        _Box(panel.name, panel.rect[:2], panel.rect[2:])
        for panel in room.panels
        if panel.surface == surface and panel.acts_as == "patch" and panel.key[:2] != thing
    ]
    openings = [_Box(o.name, o.rect[:2], o.rect[2:]) for o in room.openings if o.surface == surface]
    return [*panels, *openings]


def clear_words(study: Study, thing: Thing, place: tuple[float, ...], units: str) -> str:
    """How far the edges of a thing that is moved to a place are from the nearer ends; "" without edges."""
    own, surface = _own_box(study, thing), surface_of(study, thing)
    if own is None or thing[0] == "speakers":
        return ""
    step = np.subtract(place, place_of(study, thing))[:2]
    reach = _reach(study, surface)
    names = (
        (("front", "back"), ("left", "right"))
        if surface is None or orientation(study.room.surfaces[surface].frame.n).is_level
        else (("left edge", "right edge"), ("bottom", "top"))
    )
    told = []
    for axis in range(2):
        before = float(own.low[axis] + step[axis] - reach[0, axis])
        after = float(reach[1, axis] - own.high[axis] - step[axis])
        name, clear_m = min(zip(names[axis], (before, after), strict=True), key=lambda end: end[1])
        told.append(f"{format_length(max(clear_m, 0.0), units=units)} clear at the {name}")
    return ", ".join(told)


def top_under(room: Room, camera: Camera, pixel: Pixel) -> tuple[str, Floats] | None:
    """The object whose level top is seen at a pixel, and the point there (3,) [m]; None for anything else."""
    origin, direction = ray(camera, pixel)
    best: tuple[float, int] | None = None
    for k, facet in enumerate(room.facets[: room.n_solid_facets]):
        slope = float(direction @ facet.normal)
        if slope >= 0.0:
            continue  # turned away: what lies behind it is seen
        reach = (facet.offset - float(origin @ facet.normal)) / slope
        is_ahead = camera.parallel or reach > 0.0
        if is_ahead and (best is None or reach < best[0]) and _is_on(facet, origin + reach * direction):
            best = reach, k
    if best is None:
        return None
    facet = room.facets[best[1]]
    owner = room.surfaces[facet.surface].owner
    is_top = owner is not None and orientation(facet.normal) is Orientation.LEVEL_UP
    return (str(owner), origin + best[0] * direction) if is_top else None


def _is_on(facet: Any, point: Floats) -> bool:
    """Whether a point of its plane lies on a facet."""
    a, b, c = np.moveaxis(facet.triangles, 1, 0)
    inside = [
        np.sum(np.cross(end - start, point - start) * facet.normal, axis=1) >= 0.0
        for start, end in ((a, b), (b, c), (c, a))
    ]
    return bool(np.logical_and.reduce(inside).any())
