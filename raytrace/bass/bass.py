"""The bass of a scene: its modes, its curves and their causes, and better places for a subwoofer."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from raytrace.bass.causes import Extreme, boundary_dips_hz, explain, heard
from raytrace.bass.evenness import JUDGED_HZ, deviation_db, extremes, judge
from raytrace.bass.floorplaces import floor_grid, is_at_wall, is_free, sub_size_m
from raytrace.bass.linings import line_modes
from raytrace.bass.listening import (
    MOVED_M,
    ZONE,
    HeardRoom,
    best_at_wall,
    best_places,
    goal_ears,
    hear_room,
    judged_place,
    line_room,
    sources_now,
    sub_height_m,
)
from raytrace.bass.notes import bass_notes
from raytrace.bass.records import Bass, Crossover, ModeLine, Response, SeatEvenness, SubPair, SubPlace
from raytrace.bass.response import hear, level_db
from raytrace.bass.settings import cross_over, tune
from raytrace.room import Room, build_room
from raytrace.scene import Scene, Speaker

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Progress = Callable[[str, float], None]

_PAIR_STEP_M = 0.4
_STAND_M = 0.6  # how far a stand raises a subwoofer
_TO_60_DB = 3.0 * np.log(10.0)  # amplitude e^(-d t) falls by 60 dB in 6.9078 / d


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
    own = hear_room(scene, room, line_room(scene, room), moved=True)
    subs = [speaker for speaker in scene.speakers if speaker.use == "sub"]
    mains = [speaker for speaker in scene.speakers if speaker.use == "main"]
    now = sources_now(scene)
    progress("trying places on the floor", 0.6)
    goal = goal_ears(len(scene.seats))
    pressure = own.judged.pressure([speaker.position for speaker in now]).sum(axis=1)
    energy = np.abs(pressure) ** 2
    now_db = float(deviation_db(energy[:, None, goal])[0])
    sub = subs[0] if subs else None
    floor, floor_db, places = best_places(own, sub, now_db)
    progress("trying two subwoofers", 0.8)
    pair, wall_pair = _best_pairs(own, sub, now_db)
    zone = [slice(ZONE * k, ZONE * (k + 1)) for k in range(len(scene.seats))]
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
        at_wall=best_at_wall(own, sub, now_db, (floor, floor_db)),
        raised=_raised(own, now[0], now_db) if len(subs) == 1 else None,
        pair=pair,
        wall_pair=wall_pair,
        crossover=_crossover(own, subs, mains),
        moved=_moved(own, energy),
        moved_m=MOVED_M,
        stand_m=_STAND_M,
        floor_m=floor[:, :2],
        floor_db=floor_db,
        notes=bass_notes(scene, room, own.lined),
    )


def _without_panels(own: HeardRoom, now: Sequence[Speaker]) -> float | None:
    """Deviation over the seats where all panels are taken away; None where there are none."""
    if all(lining.panel is None for lining in own.lined.linings):
        return None
    scene = own.scene.without_panels()
    room = build_room(scene)
    lined = line_modes(room, own.lined.modes)
    admittances = lined.admittances(JUDGED_HZ, room.medium)
    bare = hear(lined.modes, lined.overlaps, admittances, own.ears[goal_ears(len(scene.seats))], JUDGED_HZ)
    pressure = bare.pressure([speaker.position for speaker in now]).sum(axis=1)
    return float(deviation_db(np.abs(pressure)[:, None] ** 2)[0])


def _mode_lines(own: HeardRoom, source: Speaker) -> tuple[ModeLine, ...]:
    modes = own.lined.modes
    damping = own.lined.damping_per_s(own.room.medium)
    one = heard(own.curve, np.array(source.position), own.ears[0])
    lines = []
    for k in np.flatnonzero(modes.is_complete):
        t60 = float(_TO_60_DB / damping[k]) if damping[k] > 0.0 else np.inf
        levels = float(one.drive_db[k]), float(one.hear_db[k])
        lines.append(ModeLine(float(modes.frequencies_hz[k]), float(damping[k]), t60, *levels))
    return tuple(lines)


def _responses(own: HeardRoom, kinds: Sequence[Sequence[Speaker]]) -> tuple[Response, ...]:
    """Every source alone, and those of each kind together."""
    result = []
    groups = [[one] for kind in kinds for one in kind] + [list(kind) for kind in kinds if len(kind) > 1]
    for group in groups:
        pressure = own.curve.pressure([speaker.position for speaker in group]).sum(axis=1)
        for k, seat in enumerate(own.scene.seats):
            level = level_db(pressure[:, ZONE * k])
            found = _explained(own, group[0], level) if len(group) == 1 and k == 0 else ()
            result.append(Response(tuple(speaker.name for speaker in group), seat.name, level, found))
    return tuple(result)


def _explained(own: HeardRoom, speaker: Speaker, level: Floats) -> tuple[Extreme, ...]:
    """Dips and peaks at the first seat, with what makes them."""
    source = np.array(speaker.position)
    one = heard(own.curve, source, own.ears[0])
    boundaries = boundary_dips_hz(own.room, source, own.ears[0])
    dips, peaks = extremes(level)
    rows = sorted(
        [(int(r), float(level[r]), True) for r in dips] + [(int(r), float(level[r]), False) for r in peaks]
    )
    return tuple(explain(one, row, boundaries) for row in rows)


def _best_pairs(own: HeardRoom, sub: Speaker | None, now_db: float) -> tuple[SubPair | None, SubPair | None]:
    """The best two free places of a coarser grid for two subwoofers with the same signal; so along walls."""
    margin_m = 0.5 * max(sub_size_m(sub)[:2])
    floor = floor_grid(own.room, sub_height_m(sub), margin_m)
    low = floor.min(axis=0) if len(floor) else np.zeros(3)
    steps = np.round((floor[:, :2] - low[:2]) / _PAIR_STEP_M, 6)
    floor = floor[(steps == np.round(steps)).all(axis=1)]
    floor = floor[is_free(own.scene, own.room, floor, sub)]
    at_wall = is_at_wall(own.room, floor, sub)
    return _best_pair(own, floor, now_db), _best_pair(own, floor[at_wall], now_db)


def _best_pair(own: HeardRoom, floor: Floats, now_db: float) -> SubPair | None:
    """The best two of some places (n, 3)."""
    if len(floor) < 2:
        return None
    pressure = own.goal.pressure(floor)
    pairs = np.column_stack(np.triu_indices(len(floor), 1))
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
    return SubPair(floor[a], floor[b], even, now_db - even, delay, level, tuned)


def _portions(pairs: NDArray[np.int64]) -> list[tuple[NDArray[np.int64], NDArray[np.int64]]]:
    """Pairs in lots that memory holds."""
    lots = np.array_split(pairs, max(len(pairs) // 2000, 1))
    return [(lot[:, 0], lot[:, 1]) for lot in lots]


def _raised(own: HeardRoom, speaker: Speaker, now_db: float) -> SubPlace | None:
    """The subwoofer where it is, on a stand; None where there is no room for one."""
    position = np.add(speaker.position, (0.0, 0.0, _STAND_M))
    return judged_place(own, position, now_db) if own.room.contains(position[None])[0] else None


def _crossover(own: HeardRoom, subs: Sequence[Speaker], mains: Sequence[Speaker]) -> Crossover | None:
    if not subs or not mains:
        return None
    goal = goal_ears(len(own.scene.seats))
    low, high = (
        own.curve.pressure([speaker.position for speaker in kind])[..., goal].sum(axis=1)
        for kind in (subs, mains)
    )
    return cross_over(low, high, own.curve.frequencies_hz)


def _moved(own: HeardRoom, energy: Floats) -> tuple[tuple[str, float], ...]:
    """Deviation at the first seat's head zone, moved."""
    first = ZONE * len(own.scene.seats)
    names = ("to the front", "to the back", "to the left", "to the right")
    zones = (energy[:, None, first + ZONE * k : first + ZONE * (k + 1)] for k in range(len(names)))
    return tuple((name, float(deviation_db(zone)[0])) for name, zone in zip(names, zones, strict=True))
