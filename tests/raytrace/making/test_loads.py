"""Loads are those of statics by hand."""

import re

import numpy as np
import pytest

from raytrace import build_room
from raytrace.making.framing import take_apart
from raytrace.making.hanging import find_hooks
from raytrace.making.loads import GRAVITY_M_S2, PRACTICE, find_loads, find_stability
from raytrace.study import CAUTIONS
from tests.support.panelled import JOISTS, cloud, panel, scene_text


def loads_of(scene_of, more):
    scene = scene_of(scene_text(more))
    room = build_room(scene)
    return room, find_loads(room, find_hooks(scene, room))


def stand(**keys):
    given = {"at": [4.0, 2.0], "yaw": 180, **keys}
    return '\n[[stands]]\nname = "S"\nbuild = "wool 100"\n' + "".join(
        f"{k} = {v}\n" for k, v in given.items()
    )


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


def test_an_upright_stand_tips_about_its_lower_edge(scene_of):
    scene = scene_of(scene_text(stand(turned=90)))
    (found,) = find_stability(build_room(scene))
    mass = take_apart(scene.build("wool 100"), hung=False).mass_kg
    # 1.2 m high, 0.1 m deep: moment of the weight about the edge over the height of the push.
    assert found.push_n == pytest.approx(mass * GRAVITY_M_S2 * 0.05 / 1.2, **EXACT)
    assert found.tips_at_deg == pytest.approx(np.degrees(np.arctan(0.05 / 0.6)), **EXACT)
    assert found.foot_m == pytest.approx(2 * 0.6 * np.tan(np.radians(10)), **EXACT)
    assert not found.leans
    assert np.isnan(found.off_wall_n)


def test_a_leaning_panel_is_held_by_what_lies_behind_its_lower_edge(scene_of):
    (found,) = find_stability(build_room(scene_of(scene_text(stand(turned=90, lean=15)))))
    sine, cosine = np.sin(np.radians(15)), np.cos(np.radians(15))
    behind = 0.6 * sine - 0.05 * cosine
    top = 1.2 * cosine + 0.1 * sine
    assert found.leans
    assert found.off_wall_n == pytest.approx(found.mass_kg * GRAVITY_M_S2 * behind / top, **EXACT)


def test_a_leaning_panel_knows_how_far_its_top_is_from_the_wall(scene_of):
    # Room 5 m long: the front's foot at x = 4.5, yaw 180, leaning back 15 degrees from its rear lower edge.
    (found,) = find_stability(build_room(scene_of(scene_text(stand(turned=90, lean=15, at=[4.5, 2.0])))))
    sine, cosine = np.sin(np.radians(15)), np.cos(np.radians(15))
    assert found.to_wall_m == pytest.approx(0.5 - 1.2 * sine - 0.1 * cosine, **EXACT)


def test_a_panel_that_leans_too_little_does_not_rest_on_the_wall(scene_of):
    # atan(0.1 / 1.2) = 4.8 degrees is where its middle stands over its rear edge.
    (found,) = find_stability(build_room(scene_of(scene_text(stand(turned=90, lean=3)))))
    assert found.off_wall_n < 0


def test_legs_make_it_easier_to_tip(scene_of):
    on_floor, on_legs = (
        find_stability(build_room(scene_of(scene_text(stand(lift=lift)))))[0] for lift in (0.0, 0.5)
    )
    assert on_legs.push_n < on_floor.push_n
    assert on_legs.tips_at_deg < on_floor.tips_at_deg


def test_practice_is_stated_with_sources_and_never_as_a_promise():
    for text, source in PRACTICE:
        assert source
        assert not re.search(r"\bsafe", text + source, re.IGNORECASE)
    assert CAUTIONS[0].startswith("Local codes and licensed practice come first")
