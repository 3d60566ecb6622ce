"""Loads are those of statics by hand."""

import re

import numpy as np
import pytest

from raytrace import build_room
from raytrace.making.hanging import find_hooks
from raytrace.making.loads import PRACTICE, find_loads
from raytrace.study import CAUTIONS
from tests.support.panelled import JOISTS, cloud, panel, scene_text


def loads_of(scene_of, more):
    scene = scene_of(scene_text(more))
    room = build_room(scene)
    return room, find_loads(room, find_hooks(scene, room))


# Rounding of sums of a few kilograms.
EXACT = {"rel": 1e-9}


def test_by_hand_a_level_panel_on_four_hooks_is_shared_by_four_or_by_two(scene_of):
    _, (load,) = loads_of(scene_of, cloud())
    mass = load.piece.mass_kg
    assert load.even_kg == pytest.approx([mass / 4] * 4, **EXACT)
    assert load.worst_kg == pytest.approx(mass / 2, **EXACT)


def test_by_hand_a_tilted_panel_leans_on_its_upper_hooks(scene_of):
    # Wool 100 tilted 30 degrees: its middle is 50 mm square below the back, so it moves 50 mm sin(30) = 25 mm
    # sideways against the eyelets, which are 1.1 m cos(30) apart in plan.
    tilt = '{towards = "front wall", deg = 30}'
    room, (load,) = loads_of(scene_of, cloud(build="wool 100", tilt=tilt, drop=0.5))
    mass = load.piece.mass_kg
    share = 0.025 / (1.1 * np.cos(np.radians(30)))
    expected = sorted([0.25 - share / 2] * 2 + [0.25 + share / 2] * 2)
    assert sorted(load.even_kg / mass) == pytest.approx(expected, **EXACT)
    # The lower edge swings towards the other side: what carries more is known from the sign alone.
    heavy = max(range(4), key=lambda k: load.even_kg[k])
    middle = room.panels[0].centre - 0.5 * 0.1 * room.panels[0].normal
    hooks_x = [hook.eyelet[0] for hook in load.hooks]
    assert (hooks_x[heavy] - np.mean(hooks_x)) * (middle[0] - np.mean(hooks_x)) > 0


def test_by_hand_hooks_off_the_corners_follow_the_lever(scene_of):
    # Hooks at x = 1.95 (corner) and x = 3.0 (on a joist) about the middle 2.5: moments about either give
    # 0.55 / 1.05 of the mass on the side of x = 3.0.
    _, (load,) = loads_of(scene_of, JOISTS + cloud())
    mass = load.piece.mass_kg
    assert load.even_kg[:2].sum() == pytest.approx(mass * 0.55 / 1.05, **EXACT)
    assert load.even_kg.sum() == pytest.approx(mass, **EXACT)
    # Two opposite hooks, (3.0, y +- 0.25) and (1.95, y -+ 0.25): foot of the middle on the line between them.
    along = np.array([1.05, 0.5])
    share = (np.array([0.55, 0.25]) @ along) / (along @ along)
    assert load.worst_kg == pytest.approx(mass * max(share, 1 - share), **EXACT)


def test_a_wall_panel_may_hang_on_one_of_its_two_points_and_pulls_at_it(scene_of):
    _, (load,) = loads_of(scene_of, panel(build="wool 100", gap=0.05))
    mass = load.piece.mass_kg
    assert load.worst_kg == pytest.approx(mass, **EXACT)
    # Its middle is 0.05 + 0.05 m before the wall, the hooks 0.55 m above the lower edge.
    assert load.pull_kg == pytest.approx(mass * 0.1 / 0.55, **EXACT)


def test_what_must_hold_follows_the_stated_practice(scene_of):
    # Worked case: 27 kg on four hangers, two carry 13.5 kg each: a working load limit of 27 kg by halving, or
    # a breaking force of 135 kg of wire or 189 kg of textile (DGUV Information 215-313, 1.4; coefficients of
    # Directive 2006/42/EC, from memory).
    build = "[builds.big]\nsize = [2.4, 1.2]\nthickness = 0.1\nflow_resistivity = 12000\ndensity = 60\n"
    _, (load,) = loads_of(scene_of, build + cloud(build="big"))
    assert load.worst_kg == pytest.approx(load.piece.mass_kg / 2, **EXACT)
    assert load.working_load_kg / load.worst_kg == pytest.approx(27 / 13.5, **EXACT)
    assert load.breaking_kg["wire rope"] / load.worst_kg == pytest.approx(135 / 13.5, **EXACT)
    assert load.breaking_kg["textile cord"] / load.worst_kg == pytest.approx(189 / 13.5, **EXACT)
    assert load.breaking_kg["chain"] / load.worst_kg == pytest.approx(8.0, **EXACT)


def test_practice_is_stated_with_sources_and_never_as_a_promise():
    for text, source in PRACTICE:
        assert source
        assert not re.search(r"\bsafe", str(text) + source, re.IGNORECASE)
    assert CAUTIONS[0].startswith("Local codes and licensed practice come first")
