"""A room seen from another wall: the text of its scene turned until that wall is the front one."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.room import Room, orientation
from raytrace.scene import (
    ALONG_LEVEL,
    Aim,
    GableRoom,
    KeyPath,
    LeanToRoom,
    MeshObject,
    MeshRoom,
    PlanRoom,
    Scene,
    SectionRoom,
    Value,
    rename_keys_in_text,
    set_in_text,
)

Floats = NDArray[np.float64]

_RING = ("front", "left", "back", "right")  # each comes where the next one was, by a quarter turn
_COMPASS = re.compile(r"(front|left|back|right)( (?:wall|slope)(?: \d+)?)")
_DIGITS = 6  # of a metre: what a text holds
QUARTERS = {"front": 0, "right": 1, "back": 2, "left": 3}
"""Quarter turns, anticlockwise seen from above, that bring the wall on a side to the front."""


@dataclass(frozen=True)
class Turn:
    """Quarter turns of a room about the vertical.

    Attributes
    ----------
    quarters : int
        Anticlockwise seen from above, 0 to 3.
    low, high : (float, float)
        Smallest and largest x and y of the room before. [m]
    has_compass : bool
        Whether its surfaces are named after where they lie, and so change their names.
    """

    quarters: int
    low: tuple[float, float]
    high: tuple[float, float]
    has_compass: bool

    @cached_property
    def matrix(self) -> Floats:
        """(2, 2)"""
        quarter = np.array([[0.0, -1.0], [1.0, 0.0]])
        return np.asarray(np.linalg.matrix_power(quarter, self.quarters))

    @cached_property
    def shift(self) -> Floats:
        """What is added after turning, so that the room lies behind its front wall again, (2,). [m]"""
        if not self.quarters:
            return np.zeros(2)
        corners = np.array([self.low, self.high]) @ self.matrix.T
        return np.asarray(-corners.min(axis=0))

    @property
    def is_odd(self) -> bool:
        """Whether length and width change places."""
        return self.quarters % 2 == 1

    def points(self, points: ArrayLike) -> Floats:
        """Where places (..., 2) or (..., 3) are then. [m]"""
        given = np.asarray(points, np.float64)
        level = given[..., :2] @ self.matrix.T + self.shift
        return np.concatenate([level, given[..., 2:]], axis=-1)

    def back(self, points: ArrayLike) -> Floats:
        """Where places (..., 2) or (..., 3) of the turned room are in the room as it was. [m]"""
        given = np.asarray(points, np.float64)
        level = (given[..., :2] - self.shift) @ self.matrix
        return np.concatenate([level, given[..., 2:]], axis=-1)

    def yaw(self, degrees: float) -> float:
        """A direction on plan. [deg]"""
        turned = (degrees + 90.0 * self.quarters + 180.0) % 360.0 - 180.0
        return round(float(turned), _DIGITS)

    def name(self, surface: str) -> str:
        """What a surface is called then."""
        found = _COMPASS.fullmatch(surface)
        return surface if found is None or not self.has_compass else self.side(found[1]) + found[2]

    def name_before(self, surface: str) -> str:
        """What a surface of the turned room is called in the room as it was."""
        return replace(self, quarters=-self.quarters % 4).name(surface)

    def side(self, side: str) -> str:
        """Which side "front", "left", "back" or "right" is then."""
        return _RING[(_RING.index(side) + self.quarters) % 4]

    def is_reversed(self, near: str) -> bool:
        """Whether what is counted from a side, "front" or "left", is counted from its far side then."""
        return self.side(near) in ("back", "right")


def turn_of(scene: Scene, room: Room, side: str) -> Turn:
    """The turn that brings the wall on a side ("front", "right", "back", "left") to the front."""
    low, high = (tuple(float(v) for v in corner[:2]) for corner in room.bounds)
    has_compass = not isinstance(scene.room, PlanRoom | MeshRoom)
    return Turn(QUARTERS[side], (low[0], low[1]), (high[0], high[1]), has_compass)


def turned_text(scene: Scene, room: Room, turn: Turn) -> str:
    """The text of a scene as it is written down by somebody who faces another wall.

    Everything stays where it is in the room; comments stay as they were, and may name walls as they were.

    Parameters
    ----------
    scene : Scene
    room : Room
        Built from it.
    turn : Turn
    """
    text = scene.text
    if not turn.quarters:
        return text
    level = {s.name for s in room.surfaces if s.owner is None and orientation(s.frame.n).is_level}
    own = _Turned(scene, turn, level)
    for key, value in own.settings():
        text = set_in_text(text, key, value, path=scene.path)
    if turn.has_compass:
        names: dict[KeyPath, str] = {
            ("surfaces", name): turn.name(name) for name in scene.document.get("surfaces", {})
        }
        text = rename_keys_in_text(text, names, path=scene.path)
    if isinstance(scene.room, SectionRoom) and turn.is_odd:
        was, new = ("length", "width") if scene.room.length is not None else ("width", "length")
        text = rename_keys_in_text(text, {("room", was): new}, path=scene.path)
    return text


@dataclass(frozen=True)
class _Turned:
    """What of a scene's text changes, as keys and values."""

    scene: Scene
    turn: Turn
    level: set[str]

    def settings(self) -> Iterator[tuple[KeyPath, Value]]:
        yield from self._room()
        yield from self._names()
        yield from self._things()
        for kind in ("openings", "keep_outs", "panels"):
            for k, entry in enumerate(getattr(self.scene, kind)):
                if entry.surface in self.level:
                    yield from self._on_level((kind, k), entry)
        for k, cloud in enumerate(self.scene.clouds):
            if cloud.surface in self.level:
                yield from self._cloud(("clouds", k), cloud)
        yield from self._joists()

    def _room(self) -> Iterator[tuple[KeyPath, Value]]:
        room, turn = self.scene.room, self.turn
        if isinstance(room, PlanRoom):
            yield ("room", "corners"), _numbers(turn.points(room.corners))
        elif isinstance(room, MeshRoom):
            yield from self._mesh(("room",), room)
        elif isinstance(room, SectionRoom):
            near, across = ("left", 1) if room.length is not None else ("front", 0)
            if turn.is_reversed(near):
                far = self._far(across)
                yield ("room", "profile"), _numbers([(far - a, z) for a, z in room.profile])
        elif turn.is_odd:
            yield ("room", "length"), room.width
            yield ("room", "width"), room.length
        if isinstance(room, LeanToRoom):
            yield ("room", "low_side"), turn.side(room.low_side)
        if isinstance(room, GableRoom):
            yield from self._gable(room)

    def _gable(self, room: GableRoom) -> Iterator[tuple[KeyPath, Value]]:
        near, across = ("left", room.width) if room.ridge_along == "length" else ("front", room.length)
        if self.turn.is_odd:
            yield ("room", "ridge_along"), "width" if room.ridge_along == "length" else "length"
        if self.turn.is_reversed(near):
            if room.eaves[0] != room.eaves[1]:
                yield ("room", "eaves"), room.eaves[::-1]
            if room.ridge_at is not None:
                yield ("room", "ridge_at"), round(across - room.ridge_at, _DIGITS)

    def _far(self, axis: int) -> float:
        """What a coordinate is taken off where it is counted from the other side. [m]"""
        return self.turn.low[axis] + self.turn.high[axis]

    def _names(self) -> Iterator[tuple[KeyPath, Value]]:
        """Names of surfaces wherever they are meant."""
        turn, scene = self.turn, self.scene
        if not turn.has_compass:
            return
        for k, slope in enumerate(getattr(scene.room, "slopes", ())):
            yield ("room", "slopes", k, "wall"), turn.name(slope.wall)
        for kind in ("openings", "keep_outs", "joists", "panels", "clouds"):
            for k, entry in enumerate(getattr(scene, kind)):
                yield (kind, k, "surface"), turn.name(entry.surface)
                if getattr(entry, "across_corner", None):
                    yield (kind, k, "across_corner"), turn.name(entry.across_corner)
                if getattr(entry, "tilt", None):
                    yield (kind, k, "tilt", "towards"), turn.name(entry.tilt.towards)
        if scene.room.assumed:
            yield ("room", "assumed"), [turn.name(name) for name in scene.room.assumed]
        if isinstance(scene.job.drilling, tuple):
            yield ("job", "drilling"), [turn.name(name) for name in scene.job.drilling]

    def _things(self) -> Iterator[tuple[KeyPath, Value]]:
        """Speakers, ears, objects and stands."""
        turn, scene = self.turn, self.scene
        for k, speaker in enumerate(scene.speakers):
            yield ("speakers", k, "position"), _numbers(turn.points(speaker.position))
            if isinstance(speaker.aim, Aim):
                yield ("speakers", k, "aim", "yaw"), turn.yaw(speaker.aim.yaw)
            elif isinstance(speaker.aim, tuple):
                yield ("speakers", k, "aim"), _numbers(turn.points(speaker.aim))
        for k, seat in enumerate(scene.seats):
            yield ("seats", k, "ears"), _numbers(turn.points(seat.ears))
        for k, thing in enumerate(scene.objects):
            if isinstance(thing, MeshObject):
                yield from self._mesh(("objects", k), thing)
            else:
                yield ("objects", k, "centre"), _numbers(turn.points(thing.centre))
                yield ("objects", k, "yaw"), turn.yaw(thing.yaw)
        for k, stand in enumerate(scene.stands):
            yield ("stands", k, "at"), _numbers(turn.points(stand.at))
            yield ("stands", k, "yaw"), turn.yaw(stand.yaw)

    def _mesh(self, key: KeyPath, mesh: MeshRoom | MeshObject) -> Iterator[tuple[KeyPath, Value]]:
        yield (*key, "turn"), self.turn.yaw(mesh.turn)
        yield (*key, "move"), _numbers(self.turn.points(mesh.move))

    def _on_level(self, key: KeyPath, entry: Any) -> Iterator[tuple[KeyPath, Value]]:
        """What lies on the floor or under the ceiling, where u and v are x and y."""
        at, centre = getattr(entry, "at", None), getattr(entry, "centre", None)
        if at is not None:
            corners = self.turn.points([at, np.add(at, entry.size)])
            yield (*key, "at"), _numbers(corners.min(axis=0))
            if self.turn.is_odd:
                yield (*key, "size"), entry.size[::-1]
        if centre is not None:
            yield (*key, "centre"), _numbers(self.turn.points(centre))
            if self.turn.is_odd and hasattr(entry, "turned"):
                yield (*key, "turned"), 90 - entry.turned

    def _cloud(self, key: KeyPath, cloud: Any) -> Iterator[tuple[KeyPath, Value]]:
        for k, panel in enumerate(cloud.panels):
            yield from self._on_level((*key, "panels", k), panel)
        if cloud.centre is not None:
            yield from self._on_level(key, cloud)
            if self.turn.is_odd:
                yield (*key, "rows"), cloud.columns
                yield (*key, "columns"), cloud.rows

    def _joists(self) -> Iterator[tuple[KeyPath, Value]]:
        turn = self.turn
        for k, joists in enumerate(self.scene.joists):
            if joists.surface not in self.level:
                continue
            if turn.is_odd:
                yield ("joists", k, "along"), ALONG_LEVEL[int(joists.along_u)]
            near, axis = ("front", 0) if not joists.along_u else ("left", 1)
            if turn.is_reversed(near):
                far = self._far(axis)
                last = joists.first + joists.spacing * np.floor((far - joists.first) / joists.spacing + 1e-9)
                yield ("joists", k, "first"), round(float(far - last), _DIGITS)


def _numbers(points: ArrayLike) -> Value:
    """Places as a text takes them."""
    rounded: list[Any] = (np.round(np.asarray(points, np.float64), _DIGITS) + 0.0).tolist()
    return rounded
