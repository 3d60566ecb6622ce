"""By how much speakers have to move so that a desk sends nothing over the limit, proven by the full run."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from raytrace.aiming.pointing import direction_deg
from raytrace.reflections import Arrivals, Progress, find_arrivals
from raytrace.room import Room, Shell, build_room, build_shell
from raytrace.scene import Scene, SceneError
from raytrace.study import Study, moved, run_study

Way = Literal["speakers up", "speakers back", "speakers forward", "seat back"]
_WAYS: dict[Way, tuple[float, float, float]] = {
    "speakers up": (0.0, 0.0, 1.0),
    "speakers back": (-1.0, 0.0, 0.0),
    "speakers forward": (1.0, 0.0, 0.0),
    "seat back": (1.0, 0.0, 0.0),
}
STEP_M = 0.005
_COARSE = 20  # steps between the places that are tried before the halving
DESK_MOVES_TO_M = 1.0
"""What needs more is another layout, not another place. [m]"""
_FARTHEST = round(DESK_MOVES_TO_M / STEP_M)  # steps
_MORE = 4  # steps that are added, one after the other, where the full run is not content
_BEFORE_EARS_M = 0.3  # nearer than that no pair of speakers stands before a head
_LIES_FLAT = 0.7  # cosine of 45 degrees: faces that a desk turns to a speaker above it


@dataclass(frozen=True)
class DeskMove:
    """The least move of all main speakers together, or of the seat, after which a desk keeps the limit.

    Attributes
    ----------
    desk : str
        The object.
    seat : int
    way : str
        Who moves where; "back" is towards the front wall for speakers, away from it for the seat.
    by_m : float or None
        How far; None where nothing up to a metre that the room allows is enough. [m]
    tilt_deg : float
        Of the first speaker towards the ears after the move, NaN without one.
    before_db, after_db : float
        Highest level over the head zone of what the desk alone sends there, re direct, in the limit's band;
        -inf where nothing is left, NaN for `after_db` without a move.
    is_clear : bool
        Whether after the move no mirror path over the desk is left in the head zone; otherwise it is there
        and below the limit.
    n_over_before, n_over_after : int
        Peaks over the limit at the seat, of all reflections.
    """

    desk: str
    seat: int
    way: Way
    by_m: float | None
    tilt_deg: float
    before_db: float
    after_db: float
    is_clear: bool
    n_over_before: int
    n_over_after: int


def find_desk_moves(scene: Scene, *, seat: int = 0, progress: Progress | None = None) -> tuple[DeskMove, ...]:
    """For each object that is over the limit by its own one-bounce paths, what moves put it below.

    Parameters
    ----------
    scene : Scene
    seat : int
        Whose head zone counts.
    progress : callable, optional
        Called with a text and the share done (0 to 1).

    Notes
    -----
    Places 100 mm apart are tried until one holds (bracket), then the last gap is halved down to 5 mm
    (bisect), both with paths of one bounce alone. What is found is run in full; where that does not hold,
    5 mm are added up to four times. Less may do as well where the level does not fall steadily.
    """
    study = run_study(scene, progress=progress)
    shell = build_shell(scene)
    desks = [name for name in _desks(study.room) if not _holds(scene, study.arrivals, study.room, name, seat)]
    tasks = [(name, way) for name in desks for way in _WAYS]
    moves = []
    for k, (name, way) in enumerate(tasks):
        if progress:
            progress(f"{way}, away from {name}", k / len(tasks))
        moves.append(_least_move(scene, study, shell, (name, seat), way))
    return tuple(moves)


def _desks(room: Room) -> list[str]:
    """Objects with a face that looks up, cabinets left out."""
    return list(
        dict.fromkeys(
            surface.owner
            for surface, is_cabinet in zip(room.surfaces, room.is_cabinet, strict=True)
            if surface.owner is not None
            and not is_cabinet
            and surface.frame.n[2] > _LIES_FLAT
            and surface.owner not in {group.name for group in room.free_groups}
        )
    )


def _least_move(scene: Scene, study: Study, shell: Shell, what: tuple[str, int], way: Way) -> DeskMove:
    """Bracket and bisect in steps, then the proof."""
    desk, seat = what

    def holds(steps: int) -> bool | None:
        """Whether a place keeps the limit; None where it cannot be."""
        try:
            at = _shifted(scene, seat, way, steps)
            room = build_room(at, shell if _same_cabinets(scene) else None)
            window_s = scene.limits.within_s
            return _holds(at, find_arrivals(at, room, up_to_order=1, within_s=window_s), room, desk, seat)
        except (SceneError, ValueError):
            return None

    steps = first_that_holds(holds)
    before = _level_db(study.arrivals, study.room, desk, seat)
    n_before = _n_over(study, seat)
    for more in range(_MORE + 1) if steps is not None else ():
        assert steps is not None
        try:
            proof = run_study(_shifted(scene, seat, way, steps + more))
        except SceneError:
            break
        if _holds(proof.scene, proof.arrivals, proof.room, desk, seat):
            after = _level_db(proof.arrivals, proof.room, desk, seat)
            clear = not _meets(proof.arrivals, proof.room, desk, seat)
            by_m = (steps + more) * STEP_M
            tilt = _tilt_deg(proof.scene, seat)
            return DeskMove(desk, seat, way, by_m, tilt, before, after, clear, n_before, _n_over(proof, seat))
    return DeskMove(desk, seat, way, None, math.nan, before, math.nan, False, n_before, n_before)


def first_that_holds(holds: Callable[[int], bool | None]) -> int | None:
    """The least number of steps that holds, by bracket and bisection; None where none does."""
    last = 0
    for steps in range(_COARSE, _FARTHEST + 1, _COARSE):
        answer = holds(steps)
        if answer is None:
            return None
        if answer:
            low, high = last, steps
            while high - low > 1:
                middle = (low + high) // 2
                low, high = (low, middle) if holds(middle) else (middle, high)
            return high
        last = steps
    return None


def _shifted(scene: Scene, seat: int, way: Way, steps: int) -> Scene:
    """All main speakers moved along, or the seat; ValueError where they would meet."""
    step = np.multiply(_WAYS[way], steps * STEP_M)
    mains = [k for k, speaker in enumerate(scene.speakers) if speaker.use == "main"]
    kind: Literal["seats", "speakers"] = "seats" if way == "seat back" else "speakers"
    for index in [seat] if kind == "seats" else mains:
        place = scene.seats[index].ears if kind == "seats" else scene.speakers[index].position
        scene = moved(scene, kind, index, tuple(float(x) for x in np.add(place, step)))
    if any(scene.speakers[k].position[0] > scene.seats[seat].ears[0] - _BEFORE_EARS_M for k in mains):
        raise ValueError("the speakers would be beside the ears")
    return scene


def _tilt_deg(scene: Scene, seat: int) -> float:
    """Of the first main speaker towards the ears."""
    main = next(speaker for speaker in scene.speakers if speaker.use == "main")
    return direction_deg(np.array(main.position), np.array(scene.seats[seat].ears))[1]


def _same_cabinets(scene: Scene) -> bool:
    return not any(isinstance(speaker.body, tuple) for speaker in scene.speakers)


def _rows(arrivals: Arrivals, room: Room, desk: str, seat: int) -> np.ndarray:
    """Arrivals of main speakers at a seat that bounce off a desk alone."""
    own = [k for k, surface in enumerate(room.surfaces) if surface.owner == desk]
    is_own = np.isin(arrivals.path_surfaces[:, 0], own) & (arrivals.order == 1) & (arrivals.seat == seat)
    return np.flatnonzero(is_own & np.isfinite(arrivals.zone_margin_db))


def _tables(arrivals: Arrivals) -> tuple[Arrivals, ...]:
    return (arrivals,) if arrivals.near_misses is None else (arrivals, arrivals.near_misses)


def _level_db(arrivals: Arrivals, room: Room, desk: str, seat: int) -> float:
    levels = [table.zone_worst_db[_rows(table, room, desk, seat)] for table in _tables(arrivals)]
    return float(np.concatenate([*levels, [-np.inf]]).max())


def _holds(scene: Scene, arrivals: Arrivals, room: Room, desk: str, seat: int) -> bool:
    return bool(scene.limits.margin_db(_level_db(arrivals, room, desk, seat)) >= 0.0)


def _meets(arrivals: Arrivals, room: Room, desk: str, seat: int) -> bool:
    """Whether any node of the head zone has a mirror path over the desk alone."""
    own = [k for k, facet in enumerate(room.facets) if room.surfaces[facet.surface].owner == desk]
    return any(
        bool((np.isin(point.paths.facets[:, 0], own) & (point.paths.order == 1)).any())
        for point in arrivals.at_points
        if point.seat == seat
    )


def _n_over(study: Study, seat: int) -> int:
    return sum(verdict.n_over for verdict in study.verdicts if verdict.seat == seat)
