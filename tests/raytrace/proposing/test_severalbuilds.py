"""Several builds in one plan: one of them at a place, the fewest panels first, then the lowest price."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from raytrace import build_room, find_arrivals, load_scene
from raytrace.proposing.candidates import find_candidates
from raytrace.proposing.choice import Supply, excess_db, pose
from raytrace.proposing.ladder import ALLOWANCE_DB, choose
from raytrace.proposing.panelgrid import wanted_spots
from raytrace.proposing.surrogate import build_surrogate
from tests.raytrace.proposing.test_choice import engine_excess_db
from tests.support.scenes import HARD_WALLS

THIN = '\n[builds.thin]\nlike = "wool 30"\nthickness = "20 mm"\n[prices]\nthin = 40\n"wool 50" = 70\n'


@pytest.fixture(scope="module")
def two_builds():
    """A scene, its places for panels of both builds, and the problem of twelve of them."""
    scene = load_scene("two-builds.toml", HARD_WALLS + THIN)
    room = build_room(scene)
    arrivals = find_arrivals(scene, room, up_to_order=2)
    supplies = tuple(Supply(name, 0, True, price) for name, price in scene.prices.items())
    spots = wanted_spots(scene, room, arrivals)
    candidates, _ = find_candidates(scene, room, spots, list(scene.prices), axis_m=None)
    every = pose(build_surrogate(scene, room, arrivals, candidates), candidates, supplies, symmetric=False)
    helpful = sorted(range(len(candidates)), key=lambda k: (excess_db(every.levels_db((k,))), k))

    def twelve(step):
        some = tuple(candidates[k] for k in sorted(helpful[::step][:12]))
        return pose(build_surrogate(scene, room, arrivals, some), some, supplies, symmetric=False)

    return scene, every, twelve


def worth(problem, units, targets_db):
    """How much stays over the targets, how many panels it takes, what they cost."""
    short_db = excess_db(problem.levels_db(units), targets_db)
    return round(short_db, 2), problem.n_panels(units), problem.cost(units)


def test_the_choice_among_two_builds_is_the_best_of_all_sets(two_builds):
    scene, _, twelve = two_builds
    mixed = 0
    for step in (1, 2, 3, 4, 5, 8):
        problem = twelve(step)
        assert (problem.builds.sum(axis=0) > 0).all()
        sets = [own for count in range(13) for own in combinations(range(12), count) if problem.may(own)]
        goals_db = problem.goals_db
        least_db = problem.levels_db(min(sets, key=lambda units: worth(problem, units, goals_db)))
        # For a peak that no set brings down to its goal, what comes this near to the least will do.
        targets_db = np.where(least_db > goals_db, least_db + ALLOWANCE_DB, goals_db)
        best = min(worth(problem, units, targets_db) for units in sets)
        chosen = choose(problem)
        assert worth(problem, chosen, targets_db) == best
        mixed += len({problem.candidates[k].panel.build_name for k in problem.panels(chosen)}) > 1
    assert mixed >= 3  # else one build alone would have done and the test shows nothing
    assert engine_excess_db(scene, problem, chosen) == 0.0


def test_builds_at_one_place_exclude_each_other(two_builds):
    problem = two_builds[1]
    frame_m = 0.02  # what stands this near to another's middle is at its place
    middles = np.array(
        [c.panel.centre - 0.5 * c.panel.thickness_m * c.panel.normal for c in problem.candidates]
    )
    names = np.array([c.panel.build_name for c in problem.candidates])
    near = np.linalg.norm(middles[:, None] - middles[None], axis=2) < frame_m
    pairs = np.argwhere(np.triu(near & (names[:, None] != names[None])))
    assert len(pairs) > 20
    assert problem.clash[pairs[:, 0], pairs[:, 1]].all()


def test_what_costs_less_is_taken_where_it_does_as_much(two_builds):
    problem = two_builds[2](1)
    dear = replace(problem, supplies=tuple(replace(s, price=110.0 - s.price) for s in problem.supplies))
    n_thin = [
        sum(own.candidates[k].panel.build_name == "thin" for k in own.panels(choose(own)))
        for own in (problem, dear)
    ]
    assert n_thin[0] > n_thin[1]
