"""Where a seat could be: walls to face, depths of the room, and what stands in the way."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from raytrace.bass import sub_size_m
from raytrace.facts import Sentence
from raytrace.room import (
    TOUCH_M,
    Room,
    Site,
    Solid,
    build_room,
    facet_distance_m,
    is_steep,
    overlap_m,
    prism,
    why_no_body,
)
from raytrace.scene import Scene, load_scene
from raytrace.siting.turning import QUARTERS, Turn, turn_of, turned_text
from raytrace.siting.workplace import SEAT, Body, Workplace, person

Floats = NDArray[np.float64]

STEPS_M = (0.10, 0.15, 0.20, 0.25, 0.30, 0.40, 0.50)
"""Between depths that are tried: the least that leaves no more than `USUAL_MOST` places, free or not. [m]"""
USUAL_MOST = 400
ASIDE_M = (0.0, -0.30, 0.30)
"""Off the middle between the walls on both sides (own choice). [m]"""
WAY_M = 0.60
"""Before a door of which no swing is given this much stays clear (common practice, no source). [m]"""
HEAD_ROOM_M = 0.30
"""Between ears and walls: half a head, and its movements. [m]"""


@dataclass(frozen=True)
class View:
    """A room as it is for somebody who faces one of its sides.

    Attributes
    ----------
    side : str
        "front", "right", "back" or "left" of the room as it is now.
    turn : Turn
    scene, room : Scene, Room
        Turned.
    """

    side: str
    turn: Turn
    scene: Scene
    room: Room


@dataclass(frozen=True)
class SeatPlace:
    """A place for the first seat.

    Attributes
    ----------
    side : str
        Which side it faces, as the room is now.
    wall : str
        The surface straight ahead, as it is called now.
    ears : (3,) float
        In the turned room. [m]
    depth_m, aside_m : float
        Distance of the ears from that wall, and off the middle between the walls on both sides, positive
        to the right; NaN where there is no such wall.
    """

    side: str
    wall: str
    ears: Floats
    depth_m: float
    aside_m: float


@dataclass(frozen=True)
class Blocked:
    """A place that is none.

    Attributes
    ----------
    place : SeatPlace
    body : str
        What would be in the way of something there: the name of a speaker, seat or object.
    by : str
        Of what: a door, a wall, furniture.
    """

    place: SeatPlace
    body: str
    by: str


def view_to(scene: Scene, room: Room, side: str) -> View:
    """A room for somebody who faces a side of it."""
    turn = turn_of(scene, room, side)
    if not turn.quarters:
        return View(side, turn, scene, room)
    lists = {name: getattr(scene, name) for name in ("builds", "prices", "stock")}
    turned = load_scene(scene.path, turned_text(scene, room, turn)).model_copy(update=lists)
    return View(side, turn, turned, build_room(turned))


def find_places(
    workplace: Workplace, views: Sequence[View], step_m: float | None
) -> tuple[tuple[SeatPlace, ...], tuple[Blocked, ...]]:
    """Places that are free, and those that something is in the way of.

    Parameters
    ----------
    workplace : Workplace
    views : sequence of View
    step_m : float or None
        Between depths; None takes the least of the usual ones that leaves few enough places. [m]
    """
    for step in STEPS_M if step_m is None else (step_m,):
        grid = [(view, ears) for view in views for ears in _grid(workplace, view, step)]
        if len(grid) <= USUAL_MOST:
            break
    by_side = {view.side: _Clearance(workplace, view) for view in views}
    free: list[SeatPlace] = []
    blocked: list[Blocked] = []
    for view, ears in grid:
        place = place_at(view, ears)
        reason = by_side[view.side].why_not(place)
        if reason is None:
            free.append(place)
        else:
            blocked.append(Blocked(place, *reason))
    return tuple(free), tuple(blocked)


def place_at(view: View, ears: Floats) -> SeatPlace:
    """What there is to say of ears somewhere in a turned room."""
    ahead = [at for at in _walls(view.room, ears, axis=0) if at[0] < ears[0]]
    depth_m, wall = (ears[0] - ahead[-1][0], ahead[-1][1]) if ahead else (float("nan"), "")
    sides = _beside(view.room, ears)
    aside_m = float("nan") if sides is None else float(ears[1] - 0.5 * (sides[0] + sides[1]))
    return SeatPlace(view.side, view.turn.name_before(wall), ears, float(depth_m), aside_m)


def _beside(room: Room, ears: Floats) -> tuple[float, float] | None:
    """Y of the walls to the left and right of a point."""
    walls = [at for at, _ in _walls(room, ears, axis=1)]
    left, right = [y for y in walls if y < ears[1]], [y for y in walls if y > ears[1]]
    return (left[-1], right[0]) if left and right else None


def _walls(room: Room, point: Floats, *, axis: int) -> list[tuple[float, str]]:
    """Where a level line through a point along an axis meets faces of the room: coordinate and name."""
    met = []
    for facet in room.facets[: room.n_solid_facets]:
        along = float(facet.normal[axis])
        if not room.is_room_surface[facet.surface] or abs(along) < 1e-6:
            continue
        at = point.copy()
        at[axis] += (facet.offset - float(facet.normal @ point)) / along
        if facet_distance_m(at, facet) <= room.tolerance_m:
            met.append((float(at[axis]), room.surfaces[facet.surface].name))
    return sorted(met)


def _grid(workplace: Workplace, view: View, step_m: float) -> list[Floats]:
    """Ears at round depths, in the middle between walls and beside it; the workplace may not fit there."""
    (x0, y0, _), (x1, _, _) = view.room.bounds
    height_m = workplace.ears[2]
    count = int(np.floor((x1 - x0) / step_m + 1e-9))
    found: dict[tuple[float, float], None] = {}
    for k in range(1, count + 1):
        x = round(float(x0 + k * step_m), 3)
        for middle in _middles(view.room, np.array([x, y0, height_m])):
            found.update({(x, round(middle + aside_m, 3)): None for aside_m in ASIDE_M})
    ears = np.array([(*at, height_m) for at in found]).reshape(-1, 3)
    return list(ears[view.room.contains(ears)])


def _middles(room: Room, start: Floats) -> list[float]:
    """Middles between the walls on both sides at a depth: one, or more in rooms with arms."""
    walls = np.array([y for y, _ in _walls(room, start, axis=1)])
    walls = walls[np.diff(walls, prepend=-np.inf) > room.tolerance_m]
    middles = []
    for left, right in pairwise(walls):
        # What stands in the middle of the room does not make it a wall: any air will do.
        across = np.linspace(left, right, 12)[1:-1]
        if room.contains(np.column_stack([np.tile(start[[0, 2]], (10, 1)), across])[:, [0, 2, 1]]).any():
            middles.append(0.5 * float(left + right))
    return middles


class _Clearance:
    """What stays in a turned room, and whether a workplace has room between."""

    def __init__(self, workplace: Workplace, view: View) -> None:
        scene, room = view.scene, view.room
        self._workplace, self._view = workplace, view
        mains = {s.position for s in scene.speakers if s.use == "main"}
        gone = {c.owner for c in room.cabinets if c.position in mains} | set(workplace.object_names)
        skins = {owner: skin for owner, skin in room.skins.items() if owner not in gone}
        solid = room.facets[: room.n_solid_facets]
        facets = [facet for facet in solid if room.surfaces[facet.surface].owner not in gone]
        self._site = Site(scene, room.surfaces, facets, room.openings, skins)
        self._kept = [*_door_ways(scene, room), *_others(scene, room)]
        self._walls = [f for f in solid if room.is_room_surface[f.surface] and is_steep(f.normal)]

    def why_not(self, place: SeatPlace) -> tuple[str, str] | None:
        """Which body meets what there; None where all of them are free."""
        seat = self._view.scene.seats[SEAT].name
        near = self._near_head(place.ears)
        if near is not None:
            return seat, near
        step = place.ears - self._workplace.ears
        for body in self._workplace.bodies:
            solid = body.moved(step)
            reason = why_no_body(self._site, solid, self._view.room.panels)
            if reason is not None:
                return body.name, self._view.turn.name_before(_cause(reason))
            for other in self._kept:
                if overlap_m(solid, other.solid) > TOUCH_M:
                    return body.name, other.name
        return None

    def _near_head(self, ears: Floats) -> str | None:
        """A wall in which a head would be."""
        for facet in self._walls:
            if facet_distance_m(ears, facet) < HEAD_ROOM_M - TOUCH_M:
                return self._view.turn.name_before(self._view.room.surfaces[facet.surface].name)
        return None


def _cause(reason: Sentence) -> str:
    """The thing that a reason names."""
    facts = dict(reason.facts)
    named = (facts[key] for key in ("opening", "keep_out", "thing", "wall", "other") if key in facts)
    return str(next(named, "the walls"))


def _door_ways(scene: Scene, room: Room) -> list[Body]:
    """Ways through doors of which no swing is given."""
    ways = []
    for opening in room.openings:
        if opening.kind == "door" and scene.openings[opening.index].swing is None:
            frame, (u0, v0, u1, v1) = room.surfaces[opening.surface].frame, opening.rect
            outline = frame.to_room(np.array([(u0, v0), (u1, v0), (u1, v1), (u0, v1)]))
            ways.append(Body(opening.name, prism(outline, WAY_M * frame.n)))
    return ways


def _others(scene: Scene, room: Room) -> list[Body]:
    """People on other seats, and subwoofers of which no body is given."""
    floor_m = float(room.bounds[0][2])
    found = [Body(seat.name, person(seat.ears, floor_m)) for k, seat in enumerate(scene.seats) if k != SEAT]
    for speaker in scene.speakers:
        if speaker.use == "sub" and not isinstance(speaker.body, tuple):
            found.append(Body(speaker.name, _sub_solid(speaker.position, sub_size_m(speaker))))
    return found


def _sub_solid(position: tuple[float, float, float], size: tuple[float, float, float]) -> Solid:
    half, height = 0.5 * max(size[:2]), size[2]
    corners = half * np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)])
    low = max(position[2] - 0.5 * height, 0.0)
    outline = np.column_stack([corners + position[:2], np.full(4, low)])
    return prism(outline, np.array([0.0, 0.0, height]))


def count_blocked(blocked: Sequence[Blocked]) -> tuple[tuple[str, str, int], ...]:
    """How many places each thing costs: body, by what, how many; most first."""
    counted = Counter((one.body, one.by) for one in blocked)
    return tuple((body, by, n) for (body, by), n in sorted(counted.items(), key=lambda c: (-c[1], c[0])))


SIDES = tuple(QUARTERS)
"""Sides of a room that a seat may face, anticlockwise from the front."""
