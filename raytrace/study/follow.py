"""What changes while something is moved by hand: the ears at once, the head zone as soon as it rests."""

from dataclasses import replace
from operator import is_
from typing import Any

import numpy as np

from raytrace.facts import sentence
from raytrace.reflections import (
    USUAL_ORDER,
    ZONE_SLACK_S,
    Arrivals,
    Curve,
    Memory,
    PointArrivals,
    Progress,
    Reach,
    Reflectors,
    SeatPoints,
    energy_time_curve,
    find_point_arrivals,
    find_reflectors,
    tabulate,
)
from raytrace.room import PlacedPanel, Room, Shell, build_room, build_shell, cabinet_places, check_places
from raytrace.scene import Movable, Scene
from raytrace.study.study import Study
from raytrace.verdicts import (
    HeardPlace,
    Peak,
    compare_left_right,
    find_treatment_areas,
    heard_places,
    judge,
    peaks_at,
)

_MOVING = {"speakers", "seats"}
_HUNG = {"panels", "stands", "clouds"}
_PLACES = {
    "speakers": "position",
    "seats": "ears",
    "objects": "centre",
    "panels": "centre",
    "stands": "at",
    "clouds": "centre",
}

MOVING_NOTE = sentence(
    "While something moves only the limit's window is followed, up to four bounces, at the ears alone and "
    "without near misses beside edges."
)


class Follower:
    """Studies of one scene while things in it are moved, without computing again what stays the same.

    Walls and objects are kept as long as only panels, speakers and seats move, panels as long as only
    speakers and seats do, and what a seat hears of a speaker as long as neither moves nor turns.
    """

    def __init__(self) -> None:
        self._shell: tuple[tuple[Any, ...], Shell] | None = None
        self._room: tuple[tuple[Any, ...], Room, Reflectors] | None = None
        self._clear: tuple[Shell, Scene, tuple[PlacedPanel, ...]] | None = None
        self._memory = Memory()
        self._heard: dict[tuple[Any, ...], tuple[list[PointArrivals], list[PointArrivals]]] = {}
        self._known_curves: dict[int, tuple[PointArrivals, Curve]] = {}
        self._known_peaks: list[tuple[HeardPlace, tuple[Peak, ...]]] = []

    def ears(self, scene: Scene) -> Study:
        """What the ears alone hear in the limit's window, up to four bounces; no head zone, no patches.

        Raises
        ------
        SceneError
            Where something stands where it cannot.
        """
        return self._study(scene, ears_only=True, progress=None)

    def zone(self, scene: Scene, *, progress: Progress | None = None) -> Study:
        """The same for the whole head zone, with patches and verdicts.

        Raises
        ------
        SceneError
            Where something stands where it cannot.
        """
        return self._study(scene, ears_only=False, progress=progress)

    def judged(self, scene: Scene, *, up_to_order: int = USUAL_ORDER) -> tuple[Arrivals, tuple[Peak, ...]]:
        """What the whole head zone hears in the limit's window, and its peaks; nothing else is worked out.

        Parameters
        ----------
        scene : Scene
        up_to_order : int
            Largest number of bounces; `Reach.early_order` of a study finds the same peaks as it has.

        Raises
        ------
        SceneError
            Where something stands where it cannot.
        """
        room, reflectors = self._geometry(scene, False)
        arrivals = self._arrivals(scene, room, reflectors, False, None, up_to_order=up_to_order)
        return arrivals, self._peaks(scene, arrivals)

    def _study(self, scene: Scene, *, ears_only: bool, progress: Progress | None) -> Study:
        room, reflectors = self._geometry(scene, ears_only)
        arrivals = self._arrivals(scene, room, reflectors, ears_only, progress)
        peaks = self._peaks(scene, arrivals)
        within_s = arrivals.reach.within_s
        limit_db = scene.limits.level_db
        treatment_areas = (
            () if ears_only else find_treatment_areas(room, arrivals, limit_db=limit_db, within_s=within_s)
        )
        return Study(
            scene=scene,
            room=room,
            arrivals=arrivals,
            peaks=peaks,
            verdicts=judge(scene, arrivals, peaks),
            left_right=None if ears_only else compare_left_right(scene, arrivals),
            flutter=(),
            treatment_areas=treatment_areas,
            curves=self._curves(scene, arrivals),
            responses=(),
            room_notes=(MOVING_NOTE,),
            method_notes=(),
        )

    def _peaks(self, scene: Scene, arrivals: Arrivals) -> tuple[Peak, ...]:
        """Peaks in the limit's window, those known already of what has not changed."""
        known, self._known_peaks = self._known_peaks, []
        for place in heard_places(arrivals):
            own = next((peaks for before, peaks in known if _is_same(place, before)), None)
            if own is None:
                own = peaks_at(scene, place, until_s=scene.limits.within_s)
            self._known_peaks.append((place, own))
        found = (peak for _, own in self._known_peaks for peak in own)
        return tuple(sorted(found, key=lambda peak: (peak.speaker, peak.seat, peak.delay_s)))

    def _curves(self, scene: Scene, arrivals: Arrivals) -> tuple[Curve, ...]:
        """Energy-time curves, those known already of what has not changed."""
        assert arrivals.near_misses is not None
        until_s = arrivals.reach.within_s
        known, self._known_curves = self._known_curves, {}
        ears, near = arrivals.at_ears, arrivals.near_misses.at_ears
        for at_point, missed in zip(ears, near, strict=True):
            # Kept with what it was made of, so that no other can take its place in memory.
            curve = known.get(id(at_point)) or (
                at_point,
                energy_time_curve(scene, at_point, missed, until_s=until_s),
            )
            self._known_curves[id(at_point)] = curve
        return tuple(self._known_curves[id(at_point)][1] for at_point in ears)

    def _geometry(self, scene: Scene, ears_only: bool) -> tuple[Room, Reflectors]:
        """The room of a scene; the one before where nothing but places of speakers and seats differs."""
        names = [name for name in type(scene).model_fields if name not in _MOVING]
        cabinets = cabinet_places(scene)
        key = (*(getattr(scene, name) for name in names), cabinets)
        if self._room is not None and key == self._room[0]:
            check_places(scene, self._room[1])
            return self._room[1:]
        walls = tuple(getattr(scene, name) for name in names if name not in _HUNG | {"objects"})
        if self._shell is None or walls != self._shell[0]:
            self._shell, self._memory = (walls, build_shell(scene)), Memory()
        else:
            self._shell = walls, build_shell(scene, self._shell[1])
        room = self._built(scene, self._shell[1])
        reflectors = find_reflectors(room, None if self._room is None else self._room[1:])
        self._room = key, room, reflectors
        self._heard.clear()
        self._memory.turn()
        # Of the head zone nothing is asked twice.
        return room, replace(reflectors, memory=self._memory) if ears_only else reflectors

    def _built(self, scene: Scene, shell: Shell) -> Room:
        """The room; with shell, speakers and seats as before only panels that have moved are looked at."""
        clear: tuple[PlacedPanel, ...] = ()
        if self._clear is not None:
            before, last, panels = self._clear
            if before is shell and (last.speakers, last.seats) == (scene.speakers, scene.seats):
                clear = panels
        room = build_room(scene, shell, clear)
        self._clear = shell, scene, room.panels
        return room

    def _arrivals(
        self,
        scene: Scene,
        room: Room,
        reflectors: Reflectors,
        ears_only: bool,
        progress: Progress | None,
        *,
        up_to_order: int = USUAL_ORDER,
    ) -> Arrivals:
        within_s = scene.limits.within_s
        # Up to when nothing is missing is not searched for here; the study of the scene at rest says it.
        heard_s = within_s + ZONE_SLACK_S
        reach = Reach(up_to_order, heard_s, up_to_order, within_s, 0.0)
        known, self._heard = self._heard, {}
        at_points: list[PointArrivals] = []
        missed: list[PointArrivals] = []
        seats = [SeatPoints(scene, room, reflectors, seat, ears_only=ears_only) for seat in scene.seats]
        for i, speaker in enumerate(scene.speakers):
            for j, seat in enumerate(scene.seats):
                aimed_at = scene.seats[0].ears if speaker.aim == "seat" else speaker.aim
                key = (i, j, speaker, aimed_at, seat, ears_only, up_to_order)
                if key not in known:
                    if progress:
                        progress("head zone", len(at_points) / (len(scene.speakers) * len(scene.seats) * 9))
                    # No verdict is passed on a sub, so nobody asks for its head zone.
                    quick = ears_only or speaker.use == "sub"
                    known[key] = find_point_arrivals(
                        scene, seats[j], reach, speaker=i, seat=j, ears_only=quick
                    )
                self._heard[key] = known[key]
                at_points += known[key][0]
                missed += known[key][1]
        return tabulate(scene, room, at_points, missed, reach)


def _is_same(place: HeardPlace, before: HeardPlace) -> bool:
    """Whether a seat hears the very same of a speaker, in the same rows."""
    both = [(own.heard.found, own.heard.missed) for own in (place, before)]
    pairs = zip(*both, strict=True)
    return place.first_rows == before.first_rows and all(
        len(own) == len(other) and all(map(is_, own, other)) for own, other in pairs
    )


def moved(scene: Scene, kind: Movable, index: int, place: tuple[float, ...]) -> Scene:
    """A scene with one thing somewhere else, unchecked: `build_room` and `Follower` say what cannot be.

    Parameters
    ----------
    scene : Scene
    kind, index : str, int
        The list and the entry in it.
    place : tuple of float
        As `move_in_text` takes it; of a cloud its drop may follow. [m]
    """
    entries = list(getattr(scene, kind))
    entry = entries[index]
    name = _PLACES[kind]
    if kind == "objects" and not hasattr(entry, "centre"):
        name = "move"
    if kind == "clouds" and len(place) > 2:
        entry, place = entry.model_copy(update={"drop": float(place[2])}), place[:2]
    if kind == "clouds" and entry.panels:
        middle = np.mean([panel.centre for panel in entry.panels], axis=0)
        step = np.subtract(place, middle)
        shifted = tuple(p.model_copy(update={"centre": tuple(np.add(p.centre, step))}) for p in entry.panels)
        entries[index] = entry.model_copy(update={"panels": shifted})
    else:
        entries[index] = entry.model_copy(update={name: tuple(float(x) for x in place)})
    return scene.model_copy(update={kind: tuple(entries)})
