"""Places for panels in rooms of the repository, found once for all tests of a process that look at them."""

from dataclasses import replace
from functools import cache

from raytrace import Arrivals, Room, Scene, build_room, find_arrivals, load_scene
from raytrace.proposing.candidates import Candidate, Refusal, find_candidates
from raytrace.proposing.choice import Problem, Supply, excess_db, pose
from raytrace.proposing.panelgrid import listening_axis, wanted_spots
from raytrace.proposing.surrogate import build_surrogate
from tests.support.scenes import HARD_WALLS, SCENES


@cache
def heard(name: str) -> Arrivals:
    """The arrivals of scenes/name.toml."""
    scene = load_scene(SCENES / f"{name}.toml")
    return find_arrivals(scene, build_room(scene))


def places_in(scene: Scene, arrivals: Arrivals) -> tuple[Room, tuple[Candidate, ...], tuple[Refusal, ...]]:
    """Where panels of wool may be in a scene, and why not elsewhere."""
    room = build_room(scene)
    spots = wanted_spots(scene, room, arrivals)
    return room, *find_candidates(scene, room, spots, ["wool 50"], axis_m=listening_axis(scene))


@cache
def shipped_places(name: str) -> tuple[Scene, Room, tuple[Candidate, ...], tuple[Refusal, ...]]:
    """The same of scenes/name.toml, with the scene."""
    scene = load_scene(SCENES / f"{name}.toml")
    return scene, *places_in(scene, heard(name))


def twelve_places(more: str = "") -> tuple[Scene, Problem]:
    """A scene and the problem of twelve places in it that overlap here and there; `more` ends its text.

    What the problem remembers of levels is each caller's own.
    """
    scene, problem = _twelve_places(more)
    return scene, replace(problem, _seen={})


@cache
def _twelve_places(more: str) -> tuple[Scene, Problem]:
    scene = load_scene("hard-walls.toml", HARD_WALLS + more)
    room = build_room(scene)
    arrivals = find_arrivals(scene, room, up_to_order=2)
    spots = wanted_spots(scene, room, arrivals)
    candidates, _ = find_candidates(scene, room, spots, ["wool 50"], axis_m=None)
    supplies = (Supply("wool 50", 0, True, 40.0),)
    every = pose(build_surrogate(scene, room, arrivals, candidates), candidates, supplies, symmetric=False)
    helpful = sorted(range(len(candidates)), key=lambda k: (excess_db(every.levels_db((k,))), k))
    twelve = tuple(candidates[k] for k in sorted(helpful[::3][:12]))
    return scene, pose(build_surrogate(scene, room, arrivals, twelve), twelve, supplies, symmetric=False)
