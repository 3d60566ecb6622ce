"""The bass while a hand moves things: a map of the floor at rest, the curve at once for a sub or seat."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.bass.evenness import deviation_db
from raytrace.bass.listening import (
    ZONE,
    HeardRoom,
    best_places,
    goal_ears,
    hear_at,
    hear_room,
    line_room,
    sources_now,
    zone_ears,
)
from raytrace.bass.response import Listener, level_db
from raytrace.room import Room
from raytrace.scene import Scene

Floats = NDArray[np.float64]
Progress = Callable[[str, float], None]

_SHAPE_STEP_M = 0.10
_TO_60_DB = 3.0 * np.log(10.0)


@dataclass(frozen=True)
class BassNow:
    """What the sources that play bass send to the seats.

    Attributes
    ----------
    level_db : (n_seats, n_frequencies) float
        At the ears, re the free field of one of them at 1 m.
    evenness_db : float
        Deviation from 30 to 120 Hz over the first seat's head zone and the ears of the others.
    """

    level_db: Floats
    evenness_db: float


@dataclass(frozen=True)
class BassMap:
    """How even each place of a floor makes the bass, and the modes of its room on a level plane.

    Attributes
    ----------
    sources : tuple of str
        What plays bass now.
    has_sub : bool
    frequencies_hz : (n_frequencies,) float
    now, best : BassNow, BassNow or None
        The scene as it is, and with one subwoofer at the best place that is free, which may be nowhere.
    floor_m : (n_places, 3) float
        Acoustic centres of a subwoofer all over the floor.
    floor_db : (n_places,) float
        Deviation with one there.
    places_m, places_db : (n_best, 3), (n_best,) float
        The best that are free, best first.
    modes_hz, t60_s : (n_modes,) float
        Modes of the room, and how long each rings; inf where nothing absorbs.
    plane_m : (n_points, 3) float
        Points at the height of the first ears. [m]
    shapes : (n_modes, n_points) float
        Pressure of each mode there, its largest magnitude on the plane 1; 0 everywhere if it has none.
    """

    sources: tuple[str, ...]
    has_sub: bool
    frequencies_hz: Floats
    now: BassNow
    best: BassNow | None
    floor_m: Floats
    floor_db: Floats
    places_m: Floats
    places_db: Floats
    modes_hz: Floats
    t60_s: Floats
    plane_m: Floats
    shapes: Floats


@dataclass(frozen=True)
class _Heard:
    """What the last map was made from: ears that any source can be tried at, sources that any ears can be."""

    scene: Scene
    own: HeardRoom
    sent: tuple[Listener, Listener]


class BassFollower:
    """The bass of one scene after another, with as little as can be computed anew.

    `rest` may run in another thread than `moved`.
    """

    def __init__(self) -> None:
        self._heard: _Heard | None = None

    def rest(self, scene: Scene, room: Room, *, progress: Progress = lambda _text, _share: None) -> BassMap:
        """The whole map of a scene; the modes are found once for each shape of room.

        Parameters
        ----------
        scene : Scene
        room : Room
            Built from the same scene.
        progress : callable
            Told what is being done and what share of it is.

        Raises
        ------
        SceneError
            If the room is so large that it holds too many modes.
        """
        progress("finding the modes of the room", 0.1)
        before = self._heard
        is_lined = before is not None and _is_same_room(scene, before.scene)
        lined = before.own.lined if before is not None and is_lined else line_room(scene, room)
        progress("trying places on the floor", 0.7)
        own = hear_room(scene, room, lined)
        sources = np.array([speaker.position for speaker in sources_now(scene)])
        heard = _Heard(scene, own, hear_at(lined, room, sources))
        result = _map(heard, sources)
        self._heard = heard
        return result

    def moved(self, scene: Scene) -> BassNow | None:
        """What the sources send to the seats where either of them were moved since the last `rest`.

        None where there was none, and where something else is different or both were moved.
        """
        heard = self._heard
        if heard is None:
            return None
        before = heard.scene
        if not (_is_same_room(scene, before) and _has_same_ends(scene, before)):
            return None
        sources = np.array([speaker.position for speaker in sources_now(scene)])
        if scene.seats == before.seats:
            return _now(heard.own.curve, heard.own.judged, sources, len(scene.seats))
        if scene.speakers == before.speakers:
            return _at_ears(heard, scene)
        return None


def _is_same_room(scene: Scene, before: Scene) -> bool:
    """Whether two scenes differ at most in what stands in them: speakers and seats."""
    same = (
        "room",
        "objects",
        "openings",
        "surfaces",
        "materials",
        "panels",
        "clouds",
        "stands",
        "builds",
        "air",
    )
    return all(getattr(scene, name) == getattr(before, name) for name in same)


def _has_same_ends(scene: Scene, before: Scene) -> bool:
    """Whether as many seats hear the same sources."""
    names = [[source.name for source in sources_now(one)] for one in (scene, before)]
    return len(scene.seats) == len(before.seats) and names[0] == names[1]


def _now(curve: Listener, judged: Listener, sources: Floats, n_seats: int) -> BassNow:
    """Sources anywhere, at the ears of listeners."""
    level = level_db(curve.pressure(sources)[..., ::ZONE].sum(axis=1)).T
    energy = np.abs(judged.pressure(sources).sum(axis=1)) ** 2
    return BassNow(level, float(deviation_db(energy[:, None, goal_ears(n_seats)])[0]))


def _at_ears(heard: _Heard, scene: Scene) -> BassNow:
    """Ears anywhere, at the sources: the answer is the same from either end."""
    ears = zone_ears(scene, heard.own.room)
    curve, judged = heard.sent
    level = level_db(curve.pressure(ears[::ZONE]).sum(axis=2)).T
    energy = np.abs(judged.pressure(ears[goal_ears(len(scene.seats))]).sum(axis=2)) ** 2
    return BassNow(level, float(deviation_db(energy[:, None])[0]))


def _map(heard: _Heard, sources: Floats) -> BassMap:
    own = heard.own
    scene, modes = own.scene, own.lined.modes
    subs = [speaker for speaker in scene.speakers if speaker.use == "sub"]
    now = _now(own.curve, own.judged, sources, len(scene.seats))
    floor, floor_db, places = best_places(own, subs[0] if subs else None, now.evenness_db)
    at = np.array([place.position_m for place in places]).reshape(-1, 3)
    plane, shapes = _plane_shapes(own)
    sound = modes.is_complete
    damping = own.lined.damping_per_s(own.room.medium)[sound]
    return BassMap(
        sources=tuple(speaker.name for speaker in sources_now(scene)),
        has_sub=bool(subs),
        frequencies_hz=own.curve.frequencies_hz,
        now=now,
        best=_now(own.curve, own.judged, at[:1], len(scene.seats)) if len(at) else None,
        floor_m=floor,
        floor_db=floor_db,
        places_m=at,
        places_db=np.array([place.evenness_db for place in places]),
        modes_hz=modes.frequencies_hz[sound],
        t60_s=np.divide(_TO_60_DB, damping, out=np.full(len(damping), np.inf), where=damping > 0.0),
        plane_m=plane,
        shapes=shapes,
    )


def _plane_shapes(own: HeardRoom) -> tuple[Floats, Floats]:
    """Points of a level plane through the first ears, up to the walls, and each mode there."""
    modes = own.lined.modes
    (x0, y0, _), (x1, y1, _) = own.room.bounds
    x, y = (
        np.linspace(low, high, max(int(np.ceil((high - low) / _SHAPE_STEP_M)), 1) + 1)
        for low, high in ((x0 + 1e-3, x1 - 1e-3), (y0 + 1e-3, y1 - 1e-3))
    )
    places = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    points = np.column_stack([places, np.full(len(places), own.scene.seats[0].ears[2])])
    points = points[modes.body.holder(points) < 0]
    shapes = modes.at(points)[:, modes.is_complete].T
    # One without pressure on the plane is noise there, which nobody should see as a shape.
    largest = np.abs(shapes).max(axis=1, keepdims=True)
    silent = largest * np.sqrt(modes.air.volume_m3) < 1e-3
    return points, np.where(silent, 0.0, shapes / np.where(silent, 1.0, largest))
