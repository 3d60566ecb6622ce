"""What clears a desk holds in a full run of a scene that is written anew, and not a step earlier."""

import numpy as np
import pytest

from raytrace.aiming.deskclear import DESK_MOVES_TO_M, STEP_M, find_desk_moves, first_that_holds
from raytrace.scene import load_scene
from raytrace.study import run_study

# A shelf of 0.5 m between one speaker and the seat: raised, the spot runs off its front edge.
TEXT = """
title = "test room"
[room]
shape = "box"
length = 4.0
width = 3.0
height = 2.6
[surfaces]
default = "plasterboard"
[[objects]]
name = "desk"
shape = "box"
centre = [1.0, 1.5, {top_m}]
size = [0.5, 1.6, 0.03]
material = "{material}"
[[speakers]]
name = "left"
position = [{x!r}, 1.5, {z!r}]
[[seats]]
name = "mix"
ears = [{ears!r}, 1.5, 1.2]
zone = [0.05, 0.05, 0.05]
"""


def scene_at(*, x=0.6, z=1.1, ears=1.9, material="wood", top_m=0.735):
    return load_scene("room.toml", TEXT.format(x=x, z=z, ears=ears, material=material, top_m=top_m))


def desk_level_db(scene):
    """The most that the desk alone sends to the head zone, from the full run's own tables."""
    study = run_study(scene)
    arrivals = study.arrivals
    levels = [-np.inf]
    for table in (arrivals, arrivals.near_misses):
        for row in range(len(table.order)):
            name = study.room.surfaces[table.path_surfaces[row, 0]].name
            if table.order[row] == 1 and name.startswith("desk"):
                levels.append(table.zone_worst_db[row])
    return max(levels)


@pytest.fixture(scope="module")
def moves():
    return {move.way: move for move in find_desk_moves(scene_at())}


def test_the_height_that_it_tells_holds_and_a_step_less_does_not(moves):
    up = moves["speakers up"]
    limit_db = scene_at().limits.level_db
    assert up.before_db == pytest.approx(desk_level_db(scene_at()), abs=1e-9)  # the same figure
    assert up.before_db > limit_db
    after_db = desk_level_db(scene_at(z=1.1 + up.by_m))
    assert after_db <= limit_db
    assert up.after_db == pytest.approx(after_db, abs=1e-9)  # the same figure
    assert desk_level_db(scene_at(z=1.1 + up.by_m - STEP_M)) > limit_db
    # The ears are 0.1 m above the speaker and 1.3 m away: the tilt is told for the new height.
    assert up.tilt_deg == pytest.approx(np.degrees(np.arctan2(0.1 - up.by_m, 1.3)), abs=1e-9)  # rounding


def test_every_move_that_it_tells_holds_in_a_run_of_its_own(moves):
    limit_db = scene_at().limits.level_db
    places = {
        "speakers back": lambda by: {"x": 0.6 - by},
        "speakers forward": lambda by: {"x": 0.6 + by},
        "seat back": lambda by: {"ears": 1.9 + by},
    }
    told = {way: move.by_m for way, move in moves.items() if way in places and move.by_m is not None}
    assert told  # the seat moved back puts the spot past the front edge
    for way, by_m in told.items():
        assert desk_level_db(scene_at(**places[way](by_m))) <= limit_db
        assert 0.0 < by_m <= DESK_MOVES_TO_M


def test_of_a_desk_that_sends_little_nothing_is_told():
    assert find_desk_moves(scene_at(material="open")) == ()


@pytest.mark.parametrize("least", [1, 7, 20, 21, 113, 200])
def test_bracket_and_bisection_end_at_the_least_that_holds(least):
    assert first_that_holds(lambda steps: steps >= least) == least


def test_nothing_is_found_where_nothing_holds_or_the_room_ends():
    assert first_that_holds(lambda _steps: False) is None
    assert first_that_holds(lambda steps: None if steps > 60 else steps >= 90) is None
