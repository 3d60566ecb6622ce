"""A scene heard through the modes of its room: its ears, and how even a sub anywhere makes it for them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.bass.evenness import CURVE_HZ, JUDGED_HZ, deviation_db, judge
from raytrace.bass.floorplaces import USUAL_CENTRE_M, floor_grid, is_at_wall, is_free, sub_size_m
from raytrace.bass.linings import LinedModes, line_modes
from raytrace.bass.modes import find_modes, reachable_hz
from raytrace.bass.records import SubPlace
from raytrace.bass.response import Listener, hear, level_db
from raytrace.reflections import zone_points
from raytrace.room import Room
from raytrace.scene import Scene, Speaker

Floats = NDArray[np.float64]

ZONE = 9
"""Nodes of a head zone: the ears and its corners."""
MOVED_M = 0.1
"""How far the first seat is moved to see what that changes."""
_LEAST_TOP_HZ = 130.0  # what is judged goes up to 120 Hz
_N_PLACES = 5
_APART_M = 0.5  # between places that are told; nearer ones are the same place to whoever carries the thing
_MOST_TRIED = 400


@dataclass(frozen=True)
class HeardRoom:
    """A scene with the modes of its room, and its listeners.

    Attributes
    ----------
    scene, room
    lined : LinedModes
    ears : (n_ears, 3) float
        Head zone by head zone, nine each; then, where it was asked for, that of the first seat moved. [m]
    curve, judged : Listener
        All of them, at the frequencies of curves and at those that are judged.
    goal : Listener
        The ears that places are judged by: the first seat's head zone, and those of the other seats.
    """

    scene: Scene
    room: Room
    lined: LinedModes
    ears: Floats
    curve: Listener
    judged: Listener
    goal: Listener


def sources_now(scene: Scene) -> tuple[Speaker, ...]:
    """What plays bass in a scene: its subwoofers, or its speakers where there are none."""
    subs = tuple(speaker for speaker in scene.speakers if speaker.use == "sub")
    return subs or tuple(speaker for speaker in scene.speakers if speaker.use == "main")


def check_bass(scene: Scene, room: Room) -> None:
    """Refuse a room of which the bass cannot be found, before anything else is done.

    Raises
    ------
    SceneError
        If the room is so large that it holds too many modes.
    """
    top_hz = reachable_hz(room)
    if top_hz < _LEAST_TOP_HZ:
        raise scene.error(
            ("room",),
            f"a room of {room.volume_m3:.0f} m³ holds too many modes for this method: it would reach up to "
            f"{top_hz:.0f} Hz; accepted: rooms in which it reaches {_LEAST_TOP_HZ:.0f} Hz, about 500 m³",
        )


def goal_ears(n_seats: int) -> list[int]:
    """Rows of the ears that places are judged by."""
    return [*range(ZONE), *range(ZONE, ZONE * n_seats, ZONE)]


def zone_ears(scene: Scene, room: Room, *, moved: bool = False) -> Floats:
    """Nodes of the head zones of all seats, nine each, then of the first one moved; see `HeardRoom.ears`."""
    zones = [zone_points(seat)[:ZONE] for seat in scene.seats]
    steps = MOVED_M * np.array([(-1.0, 0, 0), (1.0, 0, 0), (0, -1.0, 0), (0, 1.0, 0)])
    ears = np.concatenate([*zones, *(zones[0] + step for step in steps if moved)])
    # What a zone reaches into is no air: the ears stand for it.
    return np.where(room.contains(ears)[:, None], ears, np.repeat(ears[::ZONE], ZONE, axis=0))


def hear_at(lined: LinedModes, room: Room, ears: Floats) -> tuple[Listener, Listener]:
    """Some ears (n, 3) at the frequencies of curves and at those that are judged."""
    curve_hz = CURVE_HZ[lined.modes.top_hz >= CURVE_HZ]
    both = np.concatenate([curve_hz, JUDGED_HZ])
    heard = hear(lined.modes, lined.overlaps, lined.admittances(both, room.medium), ears, both)
    rows = np.arange(len(both))
    return heard.only(rows[: len(curve_hz)]), heard.only(rows[len(curve_hz) :])


def line_room(scene: Scene, room: Room) -> LinedModes:
    """The modes of a scene's room with what lies on its walls.

    Raises
    ------
    SceneError
        If the room is so large that it holds too many modes.
    """
    check_bass(scene, room)
    return line_modes(room, find_modes(room, top_hz=reachable_hz(room)))


def hear_room(scene: Scene, room: Room, lined: LinedModes, *, moved: bool = False) -> HeardRoom:
    """A scene with its ears; `moved` takes those of the first seat moved along."""
    ears = zone_ears(scene, room, moved=moved)
    curve, judged = hear_at(lined, room, ears)
    goal = judged.only(ears=goal_ears(len(scene.seats)))
    return HeardRoom(scene, room, lined, ears, curve, judged, goal)


def seat_curves(scene: Scene, room: Room, pairs: Sequence[tuple[int, int]]) -> tuple[Floats, Floats]:
    """Level over pitch for some pairs of a speaker and a seat.

    Parameters
    ----------
    scene, room : Scene, Room
    pairs : sequence of (speaker, seat)
        Indices into the scene's lists.

    Returns
    -------
    frequencies_hz : (n,) float
    level_db : (n_pairs, n) float
        Re the free field at 1 m.
    """
    seats = sorted({seat for _, seat in pairs})
    lined = line_room(scene, room)
    curve_hz = CURVE_HZ[lined.modes.top_hz >= CURVE_HZ]
    ears = np.array([scene.seats[seat].ears for seat in seats])
    own = hear(lined.modes, lined.overlaps, lined.admittances(curve_hz, room.medium), ears, curve_hz)
    pressure = own.pressure([scene.speakers[speaker].position for speaker, _ in pairs])
    rows = [(k, seats.index(seat)) for k, (_, seat) in enumerate(pairs)]
    return curve_hz, np.array([level_db(pressure[:, k, seat]) for k, seat in rows])


def goal_energy(own: HeardRoom, places: Floats) -> Floats:
    """At the ears that places are judged by, from each place, (48, n_places, n_ears)."""
    return np.asarray(np.abs(own.goal.pressure(places)) ** 2)


def judged_place(own: HeardRoom, position: Floats, now_db: float) -> SubPlace:
    """A place (3,) with how even it is there, against how even it is now."""
    found = judge(goal_energy(own, position[None])[:, 0])
    curve = level_db(own.curve.pressure(position[None])[:, 0, 0])
    gain_db = now_db - found.deviation_db
    return SubPlace(position, found.deviation_db, gain_db, found.dip_db, found.dip_hz, curve)


def sub_height_m(sub: Speaker | None) -> float:
    """Height of a subwoofer's acoustic centre; of a usual one where there is none. [m]"""
    return USUAL_CENTRE_M if sub is None else float(sub.position[2])


def best_places(
    own: HeardRoom, sub: Speaker | None, now_db: float
) -> tuple[Floats, Floats, tuple[SubPlace, ...]]:
    """Places on the floor with how even each is; the best free one, and others that are better than now."""
    margin_m = 0.5 * max(sub_size_m(sub)[:2])
    floor = floor_grid(own.room, sub_height_m(sub), margin_m)
    spread = deviation_db(goal_energy(own, floor)) if len(floor) else np.empty(0)
    chosen: list[Floats] = []
    for position in _free_places(own, sub, floor, spread):
        if all(np.linalg.norm(position - other) >= _APART_M for other in chosen):
            chosen.append(position)
        if len(chosen) == _N_PLACES:
            break
    judged = [judged_place(own, position, now_db) for position in chosen]
    return floor, spread, tuple(place for k, place in enumerate(judged) if k == 0 or place.gain_db > 0.0)


def best_at_wall(
    own: HeardRoom, sub: Speaker | None, now_db: float, tried: tuple[Floats, Floats]
) -> SubPlace | None:
    """The best free place along a wall, of places (n, 3) on the floor with how even each is."""
    kept = is_at_wall(own.room, tried[0], sub)
    position = next(_free_places(own, sub, tried[0][kept], tried[1][kept]), None)
    return None if position is None else judged_place(own, position, now_db)


def _free_places(own: HeardRoom, sub: Speaker | None, floor: Floats, spread: Floats) -> Iterator[Floats]:
    """Places where a subwoofer can stand, the most even first."""
    for k in np.argsort(spread, kind="stable")[:_MOST_TRIED]:
        if is_free(own.scene, own.room, floor[k : k + 1], sub)[0]:
            yield floor[k]
