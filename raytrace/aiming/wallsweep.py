"""How far from the wall behind them a pair of speakers plays the low end most evenly."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.aiming.boundaries import Boundaries, boundary_response
from raytrace.room import cabinet_size_m, facet_distance_m
from raytrace.scene import Scene
from raytrace.verdicts import speaker_pair

Floats = NDArray[np.float64]

STEP_M = 0.02
APART_M = 0.1
"""Nearer to each other two distances are the same advice. [m]"""
N_BEST = 3
_SHOWS_DB = 0.1  # the last digit that is told: what is better by less is not better
WIRES_M = 0.05
"""Behind a cabinet plugs and cables take this much: common practice, no source. [m]"""
FARTHEST_M = 1.2
"""Beyond, a small room has no place for speakers: common practice, no source. [m]"""
_NEAREST_EARS_M = 0.5
_ASIDE = 1.0  # tangent of 45 degrees: farther to the side of straight ahead a pair is none
_FACES_BACK = 0.7  # cosine of 45 degrees: what is turned less against x is the wall behind


@dataclass(frozen=True)
class WallPlace:
    """A distance of the acoustic centres from the wall behind, and how even the low end is there.

    Attributes
    ----------
    distance_m : float
        Of the first of the speakers, along the wall's normal.
    evenness_db : float
        Standard deviation of the level at 30 to 400 Hz, mean of the speakers.
    worst_db, worst_hz : float
        The lowest level of any of them re its mean, and where.
    """

    distance_m: float
    evenness_db: float
    worst_db: float
    worst_hz: float


@dataclass(frozen=True)
class WallSweep:
    """Speakers moved together towards the wall behind them and away from it, the seat left where it is.

    Attributes
    ----------
    speakers : tuple of int
        Who was moved; seat : int
    seat : int
    wall : str
    bounds_m : (float, float)
        Distances that were tried.
    now : WallPlace
    best : tuple of WallPlace
        Those that are better than now, most even first, at least `APART_M` apart; maybe none.
    places : tuple of WallPlace
        All that were tried.
    """

    speakers: tuple[int, ...]
    seat: int
    wall: str
    bounds_m: tuple[float, float]
    now: WallPlace
    best: tuple[WallPlace, ...]
    places: tuple[WallPlace, ...]


def sweep_to_wall(
    scene: Scene,
    boundaries: Boundaries,
    *,
    seat: int = 0,
    bounds_m: tuple[float | None, float | None] = (None, None),
) -> WallSweep | None:
    """Try a seat's pair at distances from the wall behind it; None without a wall, or built into it.

    Parameters
    ----------
    scene : Scene
    boundaries : Boundaries
        Of that scene.
    seat : int
    bounds_m : (float or None, float or None)
        Least and greatest distance of the acoustic centres; by default the cabinet's depth with 50 mm for
        plugs, and 1.2 m. [m]
    """
    pair = speaker_pair(scene, seat=seat)
    mains = pair or tuple(k for k, s in enumerate(scene.speakers) if s.use == "main")[:1]
    room, first = boundaries.room, np.array(scene.speakers[mains[0]].position)
    wall = _wall_behind(boundaries, first)
    if wall is None or any(len(room.faces_at(scene.speakers[k].position)) for k in mains):
        return None
    facet = room.facets[wall]
    now_m = float(facet.normal @ first - facet.offset)
    deep_m = max(float(cabinet_size_m(scene.speakers[k])[0]) for k in mains)
    low = deep_m + WIRES_M if bounds_m[0] is None else bounds_m[0]
    high = max(FARTHEST_M, low) if bounds_m[1] is None else bounds_m[1]
    steps = np.append(np.arange(low, high - 1e-9, STEP_M), high)
    shifts = {float(d): (float(d) - now_m) / float(facet.normal[0]) for d in steps}
    places = tuple(
        _place(boundaries, mains, seat, distance_m, _moved(boundaries, mains, step_m))
        for distance_m, step_m in shifts.items()
        if _may_stand(boundaries, _moved(boundaries, mains, step_m), seat)
    )
    if not places:
        return None
    now = _place(boundaries, mains, seat, now_m, _moved(boundaries, mains, 0.0))
    best: list[WallPlace] = []
    better = (place for place in places if place.evenness_db < now.evenness_db - _SHOWS_DB)
    for place in sorted(better, key=lambda p: (p.evenness_db, p.distance_m)):
        if len(best) < N_BEST and all(abs(place.distance_m - b.distance_m) > APART_M - 1e-9 for b in best):
            best.append(place)
    name = room.surfaces[facet.surface].name
    return WallSweep(mains, seat, name, (low, high), now, tuple(best), places)


def _wall_behind(boundaries: Boundaries, source: Floats) -> int | None:
    """The nearest face of the room straight behind a speaker that looks along x."""
    room = boundaries.room
    behind = [
        (facet_distance_m(source, facet), k)
        for k, facet in enumerate(room.facets[: room.n_solid_facets])
        if room.is_room_surface[facet.surface]
        and facet.normal[0] > _FACES_BACK
        and facet.normal @ source > facet.offset
    ]
    return min(behind)[1] if behind else None


def _moved(boundaries: Boundaries, speakers: tuple[int, ...], step_m: float) -> list[Floats]:
    """Places of some speakers moved along x."""
    step = np.array([step_m, 0.0, 0.0])
    return [np.array(boundaries.scene.speakers[k].position) + step for k in speakers]


def _may_stand(boundaries: Boundaries, places: list[Floats], seat: int) -> bool:
    """Whether speakers at some places are in the air, before the ears, not too near or far aside."""
    room, ears = boundaries.room, np.array(boundaries.scene.seats[seat].ears)
    ways = [ears - place for place in places]
    return (
        bool(room.contains(places).all())
        and all(bool(room.no_wall_between(place, ears[None])[0]) for place in places)
        and min(float(np.linalg.norm(way)) for way in ways) >= _NEAREST_EARS_M
        and all(way[0] > 0.0 and abs(way[1]) <= _ASIDE * way[0] for way in ways)
    )


def _place(
    boundaries: Boundaries, speakers: tuple[int, ...], seat: int, distance_m: float, places: list[Floats]
) -> WallPlace:
    """How even the low end of some speakers is at other places."""
    heard = [
        boundary_response(boundaries, speaker=k, seat=seat, at=place)
        for k, place in zip(speakers, places, strict=True)
    ]
    evenness = float(np.mean([one.evenness_db for one in heard]))
    below = [one.level_db - np.mean(one.level_db) for one in heard]
    worst = min(range(len(heard)), key=lambda k: float(below[k].min()))
    row = int(np.argmin(below[worst]))
    return WallPlace(distance_m, evenness, float(below[worst][row]), float(heard[worst].frequency_hz[row]))
