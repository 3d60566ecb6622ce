"""The bass of a scene: its modes, its curves and their causes, and better places for a subwoofer."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from raytrace.bass.causes import Extreme, boundary_dips_hz, explain, heard
from raytrace.bass.evenness import CURVE_HZ, JUDGED_HZ, deviation_db, extremes, judge
from raytrace.bass.floorplaces import USUAL_CENTRE_M, floor_grid, is_free, sub_size_m
from raytrace.bass.linings import LinedModes, line_modes
from raytrace.bass.modes import find_modes, reachable_hz
from raytrace.bass.notes import bass_notes
from raytrace.bass.records import Bass, Crossover, ModeLine, Pair, Place, Response, SeatEvenness
from raytrace.bass.response import Listener, hear, level_db
from raytrace.bass.settings import cross_over, tune
from raytrace.reflections import zone_points
from raytrace.room import Room, build_room
from raytrace.scene import Scene, Speaker

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Progress = Callable[[str, float], None]

_LEAST_TOP_HZ = 130.0  # what is judged goes up to 120 Hz
_ZONE = 9  # nodes of a head zone: the ears and its corners
_MOVED_M = 0.1
_N_PLACES = 5
_APART_M = 0.5  # between places that are told; nearer ones are the same place to whoever carries the thing
_MOST_TRIED = 400
_PAIR_STEP_M = 0.4
_STAND_M = 0.6  # how far a stand raises a subwoofer
_TO_60_DB = 3.0 * np.log(10.0)  # amplitude e^(-d t) falls by 60 dB in 6.9078 / d


@dataclass(frozen=True)
class _Room:
    """A scene with the modes of its room, and its listeners."""

    scene: Scene
    room: Room
    lined: LinedModes
    ears: Floats
    curve: Listener
    judged: Listener

    @property
    def goal(self) -> list[int]:
        """Ears that places are judged by: the first seat's head zone, and those of the other seats."""
        return [*range(_ZONE), *range(_ZONE, _ZONE * len(self.scene.seats), _ZONE)]


def find_bass(scene: Scene, room: Room, *, progress: Progress = lambda _text, _share: None) -> Bass:
    """What a scene's subwoofers, or its speakers, do below 200 Hz, and what other places would bring.

    Parameters
    ----------
    scene : Scene
    room : Room
        Built from the same scene.
    progress : callable
        Told what is being done and what share of it is.

    Returns
    -------
    Bass

    Raises
    ------
    SceneError
        If the room is so large that it holds too many modes.
    """
    progress("finding the modes of the room", 0.05)
    own = _listen(scene, room)
    subs = [speaker for speaker in scene.speakers if speaker.use == "sub"]
    mains = [speaker for speaker in scene.speakers if speaker.use == "main"]
    now = subs or mains
    progress("trying places on the floor", 0.6)
    pressure = own.judged.pressure([speaker.position for speaker in now]).sum(axis=1)
    energy = np.abs(pressure) ** 2
    now_db = float(deviation_db(energy[:, None, own.goal])[0])
    floor, floor_db, places = _best_places(own, subs[0] if subs else None, now_db)
    progress("trying two subwoofers", 0.8)
    pair = _best_pair(own, subs[0] if subs else None, now_db)
    zone = [slice(_ZONE * k, _ZONE * (k + 1)) for k in range(len(scene.seats))]
    return Bass(
        sources=tuple(speaker.name for speaker in now),
        has_sub=bool(subs),
        top_hz=own.lined.modes.top_hz,
        modes=_mode_lines(own, now[0]),
        frequencies_hz=own.curve.frequencies_hz,
        responses=_responses(own, [subs, mains]),
        evenness=tuple(
            SeatEvenness(s.name, judge(energy[:, z])) for s, z in zip(scene.seats, zone, strict=True)
        ),
        now_db=now_db,
        bare_db=_without_panels(own, now),
        places=places,
        raised=_raised(own, now[0], now_db) if len(subs) == 1 else None,
        pair=pair,
        crossover=_crossover(own, subs, mains),
        moved=_moved(own, energy),
        moved_m=_MOVED_M,
        stand_m=_STAND_M,
        floor_m=floor[:, :2],
        floor_db=floor_db,
        notes=bass_notes(scene, room, own.lined),
    )


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


def _listen(scene: Scene, room: Room) -> _Room:
    check_bass(scene, room)
    top_hz = reachable_hz(room)
    modes = find_modes(room, top_hz=top_hz)
    lined = line_modes(room, modes)
    zones = [zone_points(seat)[:_ZONE] for seat in scene.seats]
    steps = _MOVED_M * np.array([(-1.0, 0, 0), (1.0, 0, 0), (0, -1.0, 0), (0, 1.0, 0)])
    ears = np.concatenate([*zones, *(zones[0] + step for step in steps)])
    # What a zone reaches into is no air: the ears stand for it.
    ears = np.where(room.contains(ears)[:, None], ears, np.repeat(ears[::_ZONE], _ZONE, axis=0))
    curve_hz = CURVE_HZ[top_hz >= CURVE_HZ]
    listeners = [
        hear(modes, lined.overlaps, lined.admittances(f, room.medium), ears, f) for f in (curve_hz, JUDGED_HZ)
    ]
    return _Room(scene, room, lined, ears, *listeners)


def _without_panels(own: _Room, now: Sequence[Speaker]) -> float | None:
    """Deviation over the seats where the panels flat on walls are taken away; None where there are none."""
    if all(lining.panel is None for lining in own.lined.linings):
        return None
    scene = own.scene.without_panels()
    room = build_room(scene)
    lined = line_modes(room, own.lined.modes)
    admittances = lined.admittances(JUDGED_HZ, room.medium)
    bare = hear(lined.modes, lined.overlaps, admittances, own.ears[own.goal], JUDGED_HZ)
    pressure = bare.pressure([speaker.position for speaker in now]).sum(axis=1)
    return float(deviation_db(np.abs(pressure)[:, None] ** 2)[0])


def _mode_lines(own: _Room, source: Speaker) -> tuple[ModeLine, ...]:
    modes = own.lined.modes
    damping = own.lined.damping_per_s(own.room.medium)
    one = heard(own.curve, np.array(source.position), own.ears[0])
    lines = []
    for k in np.flatnonzero(modes.is_complete):
        t60 = float(_TO_60_DB / damping[k]) if damping[k] > 0.0 else np.inf
        levels = float(one.drive_db[k]), float(one.hear_db[k])
        lines.append(ModeLine(float(modes.frequencies_hz[k]), float(damping[k]), t60, *levels))
    return tuple(lines)


def _responses(own: _Room, kinds: Sequence[Sequence[Speaker]]) -> tuple[Response, ...]:
    """Every source alone, and those of each kind together."""
    result = []
    groups = [[one] for kind in kinds for one in kind] + [list(kind) for kind in kinds if len(kind) > 1]
    for group in groups:
        pressure = own.curve.pressure([speaker.position for speaker in group]).sum(axis=1)
        for k, seat in enumerate(own.scene.seats):
            level = level_db(pressure[:, _ZONE * k])
            found = _explained(own, group[0], level) if len(group) == 1 and k == 0 else ()
            result.append(Response(tuple(speaker.name for speaker in group), seat.name, level, found))
    return tuple(result)


def _explained(own: _Room, speaker: Speaker, level: Floats) -> tuple[Extreme, ...]:
    """Dips and peaks at the first seat, with what makes them."""
    source = np.array(speaker.position)
    one = heard(own.curve, source, own.ears[0])
    boundaries = boundary_dips_hz(own.room, source, own.ears[0])
    dips, peaks = extremes(level)
    rows = sorted(
        [(int(r), float(level[r]), True) for r in dips] + [(int(r), float(level[r]), False) for r in peaks]
    )
    return tuple(explain(one, row, boundaries) for row in rows)


def _energy(own: _Room, places: Floats) -> Floats:
    """At the ears that places are judged by, from each place, (48, n_places, n_ears)."""
    return np.asarray(np.abs(own.judged.pressure(places)[..., own.goal]) ** 2)


def _place(own: _Room, position: Floats, now_db: float) -> Place:
    found = judge(_energy(own, position[None])[:, 0])
    curve = level_db(own.curve.pressure(position[None])[:, 0, 0])
    gain_db = now_db - found.deviation_db
    return Place(position, found.deviation_db, gain_db, found.dip_db, found.dip_hz, curve)


def _height_m(sub: Speaker | None) -> float:
    return USUAL_CENTRE_M if sub is None else float(sub.position[2])


def _best_places(own: _Room, sub: Speaker | None, now_db: float) -> tuple[Floats, Floats, tuple[Place, ...]]:
    """All places on the floor with how even each is, and the best that are free."""
    margin_m = 0.5 * max(sub_size_m(sub)[:2])
    floor = floor_grid(own.room, _height_m(sub), margin_m)
    spread = deviation_db(_energy(own, floor)) if len(floor) else np.empty(0)
    chosen: list[Floats] = []
    for k in np.argsort(spread, kind="stable")[:_MOST_TRIED]:
        is_new = all(np.linalg.norm(floor[k] - other) >= _APART_M for other in chosen)
        if is_new and is_free(own.scene, own.room, floor[k : k + 1], sub)[0]:
            chosen.append(floor[k])
        if len(chosen) == _N_PLACES:
            break
    return floor, spread, tuple(_place(own, position, now_db) for position in chosen)


def _best_pair(own: _Room, sub: Speaker | None, now_db: float) -> Pair | None:
    """The best two free places of a coarser grid for two subwoofers with the same signal."""
    margin_m = 0.5 * max(sub_size_m(sub)[:2])
    floor = floor_grid(own.room, _height_m(sub), margin_m)
    low = floor.min(axis=0) if len(floor) else np.zeros(3)
    steps = np.round((floor[:, :2] - low[:2]) / _PAIR_STEP_M, 6)
    floor = floor[(steps == np.round(steps)).all(axis=1)]
    floor = floor[is_free(own.scene, own.room, floor, sub)]
    if len(floor) < 2:
        return None
    pressure = own.judged.pressure(floor)[..., own.goal]
    pairs = np.array(list(combinations(range(len(floor)), 2)))
    spread = np.concatenate(
        [deviation_db(np.abs(pressure[:, a] + pressure[:, b]) ** 2) for a, b in _portions(pairs)]
    )
    best = int(np.argmin(spread))
    a, b = pairs[best]
    even = float(spread[best])
    delay, level, _ = tune(pressure[:, a], pressure[:, b], JUDGED_HZ)
    turned = 10.0 ** (level / 20.0) * np.exp(-2j * np.pi * JUDGED_HZ * 1e-3 * delay)[:, None]
    tuned = float(deviation_db(np.abs(pressure[:, a] + turned * pressure[:, b])[:, None] ** 2)[0])
    if tuned >= even:  # single frequencies, by which it is tuned, are not twelfths, by which it is judged
        delay, level, tuned = 0.0, 0.0, even
    return Pair(floor[a], floor[b], even, now_db - even, delay, level, tuned)


def _portions(pairs: NDArray[np.int64]) -> list[tuple[NDArray[np.int64], NDArray[np.int64]]]:
    """Pairs in lots that memory holds."""
    lots = np.array_split(pairs, max(len(pairs) // 2000, 1))
    return [(lot[:, 0], lot[:, 1]) for lot in lots]


def _raised(own: _Room, speaker: Speaker, now_db: float) -> Place | None:
    """The subwoofer where it is, on a stand; None where there is no room for one."""
    position = np.add(speaker.position, (0.0, 0.0, _STAND_M))
    return _place(own, position, now_db) if own.room.contains(position[None])[0] else None


def _crossover(own: _Room, subs: Sequence[Speaker], mains: Sequence[Speaker]) -> Crossover | None:
    if not subs or not mains:
        return None
    low, high = (
        own.curve.pressure([speaker.position for speaker in kind])[..., own.goal].sum(axis=1)
        for kind in (subs, mains)
    )
    return cross_over(low, high, own.curve.frequencies_hz)


def _moved(own: _Room, energy: Floats) -> tuple[tuple[str, float], ...]:
    """Deviation at the first seat's head zone, moved."""
    first = _ZONE * len(own.scene.seats)
    names = ("to the front", "to the back", "to the left", "to the right")
    zones = (energy[:, None, first + _ZONE * k : first + _ZONE * (k + 1)] for k in range(len(names)))
    return tuple((name, float(deviation_db(zone)[0])) for name, zone in zip(names, zones, strict=True))
