"""What one place of a seat is worth: a quick look at it, and the same in full, as tasks for any process."""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from raytrace.aiming import boundaries_of, boundary_response
from raytrace.bass import Layout, layout_of, layouts_db
from raytrace.reflections import Arrivals, find_arrivals, is_judged
from raytrace.room import Room, build_room, facet_distance_m, is_steep
from raytrace.scene import Scene, SceneError, load_scene
from raytrace.siting.workplace import SEAT
from raytrace.study import Setting, with_settings
from raytrace.verdicts import PEAK_WIDTH_S, compare_left_right, find_peaks, judge

Floats = NDArray[np.float64]
Task = dict[str, Any]
Found = dict[str, Any]

QUICK_BOUNCES = 2
"""Of a quick look."""
_LAYOUTS = 60  # of a lot: some seconds of work, of which the modes of the room are a small part


def task_of(scene: Scene, settings: tuple[Setting, ...], *, full: bool) -> Task:
    """A place to judge, as plain data that any process can take: the text of its scene and the edits.

    Parameters
    ----------
    scene : Scene
        Before the edits.
    settings : tuple of Setting
    full : bool
        All bounces, the whole head zone, the peaks that are judged, and the bass of that very scene.
    """
    edits = [[list(setting.key), _plain(setting.value)] for setting in settings]
    return {"path": str(scene.path), "text": scene.text, "edits": edits, "full": full}


def _plain(value: float | tuple[float, ...]) -> float | list[float]:
    return list(value) if isinstance(value, tuple) else value


def scene_of(task: Task) -> Scene:
    """The scene that a task is about.

    Raises
    ------
    SceneError
        If it does not hold together.
    """
    settings = [
        Setting(tuple(key), tuple(value) if isinstance(value, list) else value)
        for key, value in task["edits"]
    ]
    return with_settings(load_scene(task["path"], task["text"]), settings)


def judge_place(task: Task) -> Found:
    """What there is to say of a place, as plain data; what makes it none under "refused".

    Parameters
    ----------
    task : dict
        From `task_of`.

    Returns
    -------
    dict
        "margins_db" (per speaker the margins of what reaches the ears, or of the peaks), "left_right_db",
        "dip_db", "dip_hz", "dip_surfaces", "near_m", "near", and in full "n_over", "n_undecided",
        "worst_margin_db" and "evenness_db"; null where there is no number.
    """
    try:
        scene = scene_of(task)
        return _in_full(scene) if task["full"] else _quickly(scene)
    except SceneError as problem:
        return {"refused": str(problem).splitlines()[0]}


def bass_tasks(scene: Scene, layouts: Sequence[Layout]) -> list[Task]:
    """Layouts in one room as tasks: lots of some, so that each process finds the modes once for many."""
    plain = [{"sources": one.sources.tolist(), "ears": one.ears.tolist()} for one in layouts]
    lots = [plain[k : k + _LAYOUTS] for k in range(0, len(plain), _LAYOUTS)]
    return [{"path": str(scene.path), "text": scene.text, "layouts": lot} for lot in lots]


def judge_bass(task: Task) -> Found:
    """Standard deviation of the level from 30 to 120 Hz for each layout of a task, under "evenness_db"."""
    room = build_room(load_scene(task["path"], task["text"]))
    layouts = [Layout(np.array(one["sources"]), np.array(one["ears"])) for one in task["layouts"]]
    return {"evenness_db": layouts_db(room, layouts).tolist()}


def _quickly(scene: Scene) -> Found:
    """From the strongest reflections at the ears alone."""
    kept = tuple(s for s in scene.speakers if s.use == "main" or isinstance(s.body, tuple))
    few = scene.model_copy(update={"speakers": kept, "seats": (scene.seats[SEAT],)})
    room, within_s = build_room(few), scene.limits.within_s
    arrivals = find_arrivals(few, room, up_to_order=QUICK_BOUNCES, within_s=within_s)
    hidden = _hidden(few, arrivals)
    if hidden is not None:
        return {"refused": f"hidden: {hidden}"}
    mains = [k for k, speaker in enumerate(few.speakers) if speaker.use == "main"]
    margins = [_margins_db(few, arrivals, speaker) for speaker in mains]
    return {"margins_db": margins, **_common(few, room, arrivals)}


def _margins_db(scene: Scene, arrivals: Arrivals, speaker: int) -> list[float]:
    """Margins of what one speaker sends, at its worst in the head zone, with all that comes in step."""
    tables = [table for table in (arrivals, arrivals.near_misses) if table is not None]
    rows = [(table, table.at(speaker, 0)) for table in tables]
    delay_s = np.concatenate([table.delay_s[own] for table, own in rows])
    level_db = np.concatenate([table.zone_worst_db[own] for table, own in rows])
    order = np.argsort(delay_s, kind="stable")
    delay_s, pressure = delay_s[order], 10.0 ** (level_db[order] / 20.0)
    groups = np.cumsum(np.diff(delay_s, prepend=-np.inf) > PEAK_WIDTH_S)
    together = np.bincount(groups, pressure)[1:] if len(groups) else np.empty(0)
    margins = scene.limits.margin_db(20.0 * np.log10(np.maximum(together, 1e-9)))
    return [float(margin) for margin in margins]


def _in_full(scene: Scene) -> Found:
    """From the same search, peaks and verdicts as a run of the scene by itself."""
    room = build_room(scene)
    arrivals = find_arrivals(scene, room)  # what comes just after the limit's window still shapes its end
    hidden = _hidden(scene, arrivals)
    if hidden is not None:
        return {"refused": f"hidden: {hidden}"}
    peaks = find_peaks(scene, arrivals, until_s=scene.limits.within_s)
    verdicts = [v for v in judge(scene, arrivals, peaks) if v.seat == SEAT and v.status == "judged"]
    margins = [
        [
            p.margin_db
            for p in peaks
            if (p.speaker, p.seat) == (v.speaker, SEAT) and math.isfinite(p.margin_db)
        ]
        for v in verdicts
    ]
    return {
        "margins_db": margins,
        "n_over": sum(v.n_over for v in verdicts),
        "n_undecided": sum(v.n_undecided for v in verdicts),
        "worst_margin_db": min((m for own in margins for m in own), default=None),
        "evenness_db": float(layouts_db(room, [layout_of(scene)])[0]),
        **_common(scene, room, arrivals),
    }


def _hidden(scene: Scene, arrivals: Arrivals) -> str | None:
    """A main speaker on which no verdict is passed at the seat."""
    for own in arrivals.at_ears:
        speaker = scene.speakers[own.speaker]
        if own.seat == SEAT and speaker.use == "main" and not is_judged(scene, own):
            return speaker.name
    return None


def _common(scene: Scene, room: Room, arrivals: Arrivals) -> Found:
    """What a quick look and a full run find in the same way."""
    pair = compare_left_right(scene, arrivals, seat=SEAT)
    difference = float("nan") if pair is None else pair.difference_db
    near_m, near = _nearest_wall(room, np.array(scene.seats[SEAT].ears))
    return {
        "left_right_db": difference if math.isfinite(difference) else None,
        **_deepest_dip(scene),
        "near_m": near_m,
        "near": near,
    }


def _deepest_dip(scene: Scene) -> Found:
    """How far the lowest of direct sound and boundaries is below its mean, of the worst speaker."""
    boundaries = boundaries_of(scene)
    heard = [
        boundary_response(boundaries, speaker=k, seat=SEAT)
        for k, speaker in enumerate(scene.speakers)
        if speaker.use == "main"
    ]
    below = [one.level_db - np.mean(one.level_db) for one in heard]
    worst = min(range(len(heard)), key=lambda k: float(below[k].min()))
    row = int(np.argmin(below[worst]))
    named = [dip.surfaces for dip in heard[worst].combined if dip.hz == heard[worst].frequency_hz[row]]
    return {
        "dip_db": float(below[worst][row]),
        "dip_hz": float(heard[worst].frequency_hz[row]),
        "dip_surfaces": list(named[0]) if named else [],
    }


def _nearest_wall(room: Room, ears: Floats) -> tuple[float, str]:
    """Distance of the ears from the nearest wall, and its name. [m]"""
    walls = [
        (float(facet_distance_m(ears, facet)), room.surfaces[facet.surface].name)
        for facet in room.facets[: room.n_solid_facets]
        if room.is_room_surface[facet.surface] and is_steep(facet.normal)
    ]
    return min(walls)
