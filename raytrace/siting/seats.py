"""Where to sit in a room and which wall to face: every place that is free, the best of them proven."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from math import inf
from typing import Any

import numpy as np
from numpy.typing import NDArray

from raytrace.bass import Layout, check_bass, layout_of
from raytrace.facts import Sentence
from raytrace.room import Room, build_room
from raytrace.scene import Scene
from raytrace.siting.judging import Found, bass_tasks, judge_bass, judge_place, scene_of, task_of
from raytrace.siting.notes import seat_notes
from raytrace.siting.places import SIDES, Blocked, SeatPlace, View, find_places, place_at, view_to
from raytrace.siting.scoring import Terms, over_db, score_of, terms_of
from raytrace.siting.workplace import SEAT, Workplace, find_workplace
from raytrace.spreading import Crew, Hands, TaskRecord

Floats = NDArray[np.float64]
Progress = Callable[[str, float], None]

_MOST_PROVEN = 12
_N_BEST = 5
_TURNED = '# Turned to face what was called "{wall}"; comments below may name walls as they were.\n'
_APART_M = 0.25  # between places that are told, facing the same wall; nearer ones are the same advice


@dataclass(frozen=True)
class SeatWish:
    """What is asked for.

    Attributes
    ----------
    walls : tuple of str
        Surfaces that may be faced; empty for all.
    step_m : float or None
        Between depths; None for as little as keeps the number of places usual. [m]
    best : int
        How many places are told.
    """

    walls: tuple[str, ...] = ()
    step_m: float | None = None
    best: int = _N_BEST


@dataclass(frozen=True)
class JudgedSeat:
    """A place with what was found there.

    Attributes
    ----------
    place : SeatPlace
    ears : (3,) float
        In the room as it is now. [m]
    speakers : (n_speakers, 3) float
        The main speakers in the room as it is now. [m]
    is_proven : bool
        Whether it was run in full; the others are a quick look.
    over_db : float
        Early energy over the limit.
    left_right_db : float or None
        Left less right.
    evenness_db : float
    dip_db, dip_hz : float
        The lowest that boundaries make, re the mean, and where; `dip_surfaces` make it.
    dip_surfaces : tuple of str
    near_m, near : float, str
        Distance of the head from the nearest wall, as the room is now.
    n_over, n_undecided : int or None
        Peaks at the seat; None where it was not run in full.
    worst_margin_db : float or None
    terms : Terms
    score : float
        Points: the fewer the better.
    """

    place: SeatPlace
    ears: Floats
    speakers: Floats
    is_proven: bool
    over_db: float
    left_right_db: float | None
    evenness_db: float
    dip_db: float
    dip_hz: float
    dip_surfaces: tuple[str, ...]
    near_m: float
    near: str
    n_over: int | None
    n_undecided: int | None
    worst_margin_db: float | None
    terms: Terms
    score: float


@dataclass(frozen=True)
class Seats:
    """Where the first seat of a scene could be.

    Attributes
    ----------
    scene, room : Scene, Room
        As they are now.
    speakers, objects : tuple of str
        What goes with the seat.
    now : JudgedSeat or None
        Where it is, in full; None where a speaker is hidden there.
    best : tuple of JudgedSeat
        The best, proven, best first.
    others : tuple of JudgedSeat
        The other ones: proven first, best first.
    blocked : tuple of Blocked
        Where something is in the way.
    refused : tuple of (SeatPlace, str)
        Where a run found a speaker hidden or the scene impossible, and why.
    notes : tuple of Sentence
    """

    scene: Scene
    room: Room
    speakers: tuple[str, ...]
    objects: tuple[str, ...]
    now: JudgedSeat | None
    best: tuple[JudgedSeat, ...]
    others: tuple[JudgedSeat, ...]
    blocked: tuple[Blocked, ...]
    refused: tuple[tuple[SeatPlace, str], ...]
    notes: tuple[Sentence, ...]

    def text_of(self, one: JudgedSeat) -> str:
        """The text of the scene with the seat at a place, comments kept; of a turned room it says so."""
        search = SeatSearch.of(self.scene, self.room, (one.place.side,))
        text = scene_of(search.task(one.place, full=True)).text
        return text if one.place.side == "front" else _TURNED.format(wall=one.place.wall) + text


@dataclass(frozen=True)
class SeatSearch:
    """A scene with what goes with its seat, and the room as it is seen from each side."""

    scene: Scene
    room: Room
    workplace: Workplace
    views: dict[str, View]

    @classmethod
    def of(cls, scene: Scene, room: Room, sides: Sequence[str] = SIDES) -> "SeatSearch":
        """The search in a room seen from some of its sides."""
        views = {side: view_to(scene, room, side) for side in sides}
        return cls(scene, room, find_workplace(scene, room), views)

    def task(self, place: SeatPlace, *, full: bool) -> dict[str, Any]:
        """What a process has to know to judge a place."""
        view = self.views[place.side]
        is_now = not view.turn.quarters and np.array_equal(place.ears, self.workplace.ears)
        settings = self.workplace.settings(place.ears, turned=bool(view.turn.quarters))
        return task_of(view.scene, () if is_now else settings, full=full)

    def layout(self, place: SeatPlace) -> Layout:
        """What plays bass and who hears it, in the room as it is now."""
        view, ears = self.views[place.side], place.ears
        of = view.scene.model_copy(
            update={
                "speakers": tuple(
                    speaker
                    if k not in self.workplace.speakers
                    else speaker.model_copy(update={"position": tuple(at)})
                    for (k, speaker), at in self._speakers(view, ears)
                ),
                "seats": (
                    view.scene.seats[SEAT].model_copy(update={"ears": tuple(ears)}),
                    *view.scene.seats[SEAT + 1 :],
                ),
            }
        )
        turned = layout_of(of)
        return Layout(view.turn.back(turned.sources), view.turn.back(turned.ears))

    def _speakers(self, view: View, ears: Floats) -> list[tuple[tuple[int, Any], Floats]]:
        places = dict(zip(self.workplace.speakers, self.workplace.speaker_places(ears), strict=True))
        return [
            ((k, speaker), places.get(k, np.array(speaker.position)))
            for k, speaker in enumerate(view.scene.speakers)
        ]


_USUAL_WISH = SeatWish()
_ONE = Hands()


def find_seats(
    scene: Scene,
    wish: SeatWish = _USUAL_WISH,
    *,
    hands: Hands = _ONE,
    record: TaskRecord | None = None,
    progress: Progress = lambda _text, _share: None,
) -> Seats:
    """Where in its room the first seat of a scene could be, its speakers and desk with it.

    Parameters
    ----------
    scene : Scene
    wish : SeatWish
    hands : Hands
        Who judges the places.
    record : TaskRecord, optional
        Of places that were judged before.
    progress : callable
        Told what is being done and what share of it is.

    Returns
    -------
    Seats

    Raises
    ------
    SceneError
        If the scene does not hold together, or its room is too large for the bass.
    SpreadError
        If whoever judges the places is lost.

    Notes
    -----
    Every free place has a quick look: reflections of two bounces at the ears, boundaries, and the bass from
    one set of modes. The best of them are run in full, as each would be by itself.
    """
    room = build_room(scene)
    check_bass(scene, room)
    progress("turning the room", 0.0)
    search = SeatSearch.of(scene, room)
    now = place_at(search.views["front"], search.workplace.ears)
    free, blocked = find_places(search.workplace, list(search.views.values()), wish.step_m)
    free = tuple(place for place in free if not wish.walls or place.wall in wish.walls)
    blocked = tuple(one for one in blocked if not wish.walls or one.place.wall in wish.walls)
    with Crew(hands) as crew:
        lots = bass_tasks(scene, [search.layout(place) for place in free])
        found = crew.spread(judge_bass, lots, record=record, progress=progress, told="bass, lots of places")
        even = [value for lot in found for value in lot["evenness_db"]]
        judge = partial(crew.spread, judge_place, record=record, progress=progress)
        quick = judge([search.task(place, full=False) for place in free], told="places looked at")
        looked, refused = _sorted_out(search, free, quick, even)
        chosen = [one.place for one in looked[:_MOST_PROVEN]]
        tasks = [search.task(place, full=True) for place in (now, *chosen)]
        in_full = judge(tasks, told="best places run in full")
    own = _judged(search, now, in_full[0], None)
    proven, more = _sorted_out(search, chosen, in_full[1:], None)
    best = _apart(proven, wish.best)
    told = {id(one) for one in best}
    others = [one for one in proven if id(one) not in told] + looked[_MOST_PROVEN:]
    return Seats(
        scene,
        room,
        tuple(scene.speakers[k].name for k in search.workplace.speakers),
        search.workplace.object_names,
        own,
        tuple(best),
        tuple(others),
        blocked,
        (*refused, *more),
        seat_notes(scene, search.workplace),
    )


def _sorted_out(
    search: SeatSearch, places: Sequence[SeatPlace], found: Sequence[Found], even: Sequence[float] | None
) -> tuple[list[JudgedSeat], list[tuple[SeatPlace, str]]]:
    """Places that are some, best first, and those that are none with the reason."""
    judged, refused = list[JudgedSeat](), list[tuple[SeatPlace, str]]()
    for k, (place, one) in enumerate(zip(places, found, strict=True)):
        own = _judged(search, place, one, None if even is None else float(even[k]))
        if own is None:
            refused.append((place, str(one["refused"])))
        else:
            judged.append(own)
    # Of equals, as mirror images are to the last digits, the first in the grid.
    return sorted(judged, key=lambda one: round(one.score, 6)), refused


def _judged(search: SeatSearch, place: SeatPlace, found: Found, even: float | None) -> JudgedSeat | None:
    if "refused" in found:
        return None
    evenness = float(found["evenness_db"]) if even is None else even
    over = over_db(found["margins_db"])
    terms = terms_of(
        over=over,
        left_right=found["left_right_db"],
        evenness=evenness,
        dip=found["dip_db"],
        near_m=found["near_m"],
    )
    turn = search.views[place.side].turn
    return JudgedSeat(
        place=place,
        ears=turn.back(place.ears),
        speakers=turn.back(search.workplace.speaker_places(place.ears)),
        is_proven="n_over" in found,
        over_db=over,
        left_right_db=found["left_right_db"],
        evenness_db=evenness,
        dip_db=found["dip_db"],
        dip_hz=found["dip_hz"],
        dip_surfaces=tuple(turn.name_before(name) for name in found["dip_surfaces"]),
        near_m=found["near_m"],
        near=turn.name_before(found["near"]),
        n_over=found.get("n_over"),
        n_undecided=found.get("n_undecided"),
        worst_margin_db=found.get("worst_margin_db"),
        terms=terms,
        score=score_of(terms),
    )


def _apart(judged: Sequence[JudgedSeat], most: int) -> list[JudgedSeat]:
    """The best, no two of which are the same advice."""
    best: list[JudgedSeat] = []
    for one in judged:
        apart_m = min(
            (
                float(np.linalg.norm(one.ears - other.ears))
                for other in best
                if other.place.side == one.place.side
            ),
            default=inf,
        )
        if apart_m >= _APART_M and len(best) < most:
            best.append(one)
    return best
