"""Stands bear what they are built for: statics by hand, and again by virtual work."""

import numpy as np
import pytest

from raytrace import SceneError, Treatment, build_room, feet_notes, load_scene
from raytrace.making.framing import take_apart
from raytrace.making.stands import (
    CENTRE_MOST_M,
    FRICTION,
    GRAVITY_M_S2,
    PUSH_SHARE,
    TILT_TEST_DEG,
    find_stability,
    stand_body,
    why_unstable,
)
from tests.support.panelled import scene_text
from tests.support.scenes import SCENES

EXACT = {"rel": 1e-9}  # rounding of sums of a few kilograms
LEG_KG_M = 0.045 * 0.070 * 480  # softwood


def stand(**keys):
    """Upright in the middle of a room of 5 x 4 x 3.2 m, facing the front wall, unless turned."""
    given = {"name": "S", "build": "wool 50", "at": [4.0, 2.0], "yaw": 180, "turned": 90, **keys}
    rows = (f'{k} = "{v}"' if isinstance(v, str) else f"{k} = {v}" for k, v in given.items())
    return "\n[[stands]]\n" + "\n".join(rows) + "\n"


@pytest.fixture
def placed(scene_of):
    """The first stand of a scene, as it is placed and as it is built."""

    def build(job="", **keys):
        scene = scene_of(scene_text(job + stand(**keys)))
        room = build_room(scene)
        return room.panels[0], find_stability(scene, room)[0]

    return build


# What a stand may be: by itself, stacked, laid, before a wall, raised, of inch timber, leaning.
KINDS = [
    {},
    {"stacked": 2},
    {"turned": 0, "stacked": 3},
    {"at": [4.85, 2.0], "stacked": 2},
    {"at": [4.85, 2.0], "lift": 0.57},
    {"build": "wool 4 in"},
    {"build": "wool 200", "stacked": 2},
    {"lean": 8, "at": [4.77, 2.0]},
    {"lean": 20, "build": "wool 100"},
]


def test_by_hand_a_single_panel_on_feet(placed):
    _, found = placed()
    panel_kg = take_apart_kg("wool 50")
    # A frame of 1240 mm; 0.2 of the weight at 1.24 m asks for 248 mm either side of the middle, cut as 250.
    assert found.body.foot_m == pytest.approx(0.500, **EXACT)
    legs_kg, feet_kg = 2 * 1.24 * LEG_KG_M, 2 * 0.5 * LEG_KG_M
    assert found.mass_kg == pytest.approx(panel_kg + legs_kg + feet_kg, **EXACT)
    up_m = ((panel_kg + legs_kg) * 0.62 + feet_kg * 0.035) / found.mass_kg
    assert found.body.centre == pytest.approx([-0.025, up_m], **EXACT)
    assert found.body.push_n == pytest.approx(found.mass_kg * GRAVITY_M_S2 * 0.25 / 1.24, **EXACT)
    assert found.body.tips_at_deg == pytest.approx(np.degrees(np.arctan(0.25 / up_m)), **EXACT)


def take_apart_kg(name):
    from raytrace.scene import load_builds

    return take_apart(load_builds()[name], hung=False).mass_kg


def test_by_hand_a_leaning_panel_on_blocks(placed):
    _, found = placed(lean=15)
    body, (sine, cosine) = found.body, (np.sin(np.radians(15)), np.cos(np.radians(15)))
    panel_kg, block_kg = take_apart_kg("wool 50"), 2 * 0.14 * LEG_KG_M
    # From the rear lower edge: the panel's middle is 620 mm up along it and 25 mm before its back; the blocks
    # reach 140 mm ahead of that edge.
    panel_m = -0.62 * sine + 0.025 * cosine
    centre_m = (panel_kg * panel_m + block_kg * 0.07) / (panel_kg + block_kg)
    top_m = 1.24 * cosine + 0.05 * sine
    assert body.foot_m == pytest.approx(0.14, **EXACT)
    assert body.centre[0] - body.foot[0] == pytest.approx(centre_m, **EXACT)
    assert body.top_m == pytest.approx(top_m, **EXACT)
    expected_n = (panel_kg + block_kg) * GRAVITY_M_S2 * (0.14 - centre_m) / top_m
    assert body.push_n == pytest.approx(expected_n, **EXACT)


def energy_j(body, pivot, angle):
    """Potential energy of all parts, the stand turned about an edge on the floor, and where its top is."""
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    ups = [part.mass_kg * float((turn @ (part.middle - pivot))[1]) for part in body.parts]
    return GRAVITY_M_S2 * sum(ups)


@pytest.mark.parametrize("keys", KINDS)
def test_the_tipping_push_is_that_of_virtual_work(placed, keys):
    _, found = placed(**keys)
    body, step = found.body, 1e-6
    pushes, turns = [], []
    ends = [(body.foot[1], 1.0)] + ([] if body.at_wall else [(body.foot[0], -1.0)])
    for end, way in ends:
        pivot = np.array([end, 0.0])
        # The push moves as far as its height times the turn; the weight gains what that work puts in.
        gain_j = energy_j(body, pivot, way * step) - energy_j(body, pivot, -way * step)
        pushes.append(gain_j / (2 * step * body.push_height_m))
        angles = np.radians(np.linspace(0.0, 60.0, 60001))
        turns.append(
            np.degrees(angles[np.argmax([energy_j(body, pivot, way * a) for a in angles[::50]]) * 50])
        )
    # Sideways all parts come in pairs, so the middle is half the width from either edge.
    aside = GRAVITY_M_S2 * body.mass_kg * 0.5 * body.wide_m / body.push_height_m
    assert body.push_n == pytest.approx(
        min(*pushes, aside) if len(pushes) > 1 else min(pushes[0], aside), rel=1e-6
    )
    aside_deg = np.degrees(np.arctan(0.5 * body.wide_m / body.centre[1]))
    assert body.tips_at_deg == pytest.approx(min(*turns, aside_deg), abs=0.06)  # angles looked at: 0.05 apart


@pytest.mark.parametrize("keys", KINDS)
def test_every_stand_meets_both_limits_with_the_shortest_feet_that_do(placed, keys):
    panel, found = placed(**keys)
    body = found.body
    assert why_unstable(panel) is None
    assert body.push_n >= PUSH_SHARE * GRAVITY_M_S2 * body.mass_kg * (1 - 1e-9)  # rounding
    assert body.tips_at_deg >= TILT_TEST_DEG
    assert body.centre[1] <= CENTRE_MOST_M
    # One step of the saw less would not do, except where a foot is as short as can be screwed.
    step_m = 0.0127 if panel.build_name == "wool 4 in" else 0.010
    slack_m = body.arms_m[0] - PUSH_SHARE * body.push_height_m
    assert slack_m < 1.2 * step_m or body.foot_m == pytest.approx(0.14)  # feet shift the centre a little


def test_a_foot_ends_at_the_wall_that_stops_it(placed):
    _, free = placed(stacked=2)
    _, near = placed(stacked=2, at=[4.85, 2.0])  # 100 mm before the back wall
    assert not free.body.at_wall
    assert near.body.at_wall
    assert free.body.foot_m == pytest.approx(0.8)
    assert 4.85 - near.body.foot[0] == pytest.approx(4.985)  # whole centimetres from the frame's middle
    # Turned until its top touches the wall its middle still lies before the end of its foot: it falls back.
    turn = np.arctan(0.1 / near.body.top_m)
    assert near.body.centre[1] * np.sin(turn) < near.body.centre[0] - near.body.foot[0]


@pytest.mark.parametrize(("lift", "refused"), [(1.2, False), (1.9, True)])
def test_what_is_too_high_is_refused(placed, lift, refused):
    panel, found = placed(lift=lift, turned=0)
    assert bool(found.body.centre[1] > CENTRE_MOST_M) is refused
    reason = why_unstable(panel)
    assert (reason is not None) is refused
    assert not refused or "its centre of mass" in str(reason)


@pytest.mark.parametrize(("side", "refused"), [(0.6, False), (0.4, True)])
def test_what_is_too_narrow_is_refused(scene_of, side, refused):
    build = f"[builds.slim]\nsize = [1.2, {side}]\nthickness = 0.05\nflow_resistivity = 12000\ndensity = 60\n"
    room = build_room(scene_of(scene_text(build + stand(build="slim", stacked=2))))
    # 0.2 of the height of the push, 2 m, either side: 400 mm; the feet reach 110 mm beyond the slab.
    assert (0.5 * side + 0.11 < 0.4) is refused
    reason = why_unstable(room.panels[0])
    assert (reason is not None) is refused
    assert not refused or "tips sideways" in str(reason)


@pytest.mark.parametrize(("lean", "words"), [(2, "too little"), (5, None), (33, None), (40, "slides away")])
def test_what_leans_neither_falls_off_the_wall_nor_slides(placed, lean, words):
    panel, found = placed(lean=lean, build="wool 50")
    reason = why_unstable(panel)
    assert reason is None if words is None else words in str(reason)
    # The same by hand: rear lower edge at the origin, contact with the wall 1240 mm up along the back.
    cosine, body = np.cos(np.radians(lean)), found.body
    behind_m = body.foot[0] - body.centre[0]
    assert bool(behind_m < 0.0) is (words == "too little")
    assert bool(behind_m > FRICTION * 1.24 * cosine) is (words == "slides away")


@pytest.mark.parametrize(("at", "refused"), [([4.77, 2.0], False), ([4.5, 2.0], True)])
def test_a_scene_whose_panel_leans_on_nothing_is_refused_where_it_says_so(scene_of, at, refused):
    scene = scene_of(scene_text(stand(lean=8, at=at)))
    room = build_room(scene)
    if not refused:
        assert Treatment(scene, room).stability[0].leans
        return
    with pytest.raises(SceneError, match=r"stands\[1\].*leans on nothing: its top ends 278 mm before"):
        Treatment(scene, room)


def test_straps_are_for_walls_that_may_be_drilled_and_are_near(placed):
    counts = [
        placed(job=job, at=at)[1].n_straps
        for job, at in (
            ("", [4.85, 2.0]), ("[job]\ndrilling = false\n", [4.85, 2.0]), ("", [3.0, 2.0]),
        )
    ]  # fmt: skip
    assert counts == [2, 0, 0]


def test_parts_of_a_stand_add_up_in_the_lists(scene_of):
    scene = scene_of(scene_text(stand(stacked=2) + stand(name="T", at=[1.0, 3.0], yaw=0)))
    treatment = Treatment(scene, build_room(scene))
    goods = treatment.bill_of_materials
    assert goods.mass_kg == pytest.approx(sum(s.mass_kg for s in treatment.stability.values()), **EXACT)
    assert [batch.names for batch in goods.batches] == [("S a", "S b", "T")]
    cuts = {p.label: (round(p.length_m, 3), p.count) for cut in goods.timber for p in cut.parts}
    legs = [(p.length_m, p.count) for cut in goods.timber for p in cut.parts if p.label.startswith("leg")]
    assert sorted(legs) == [(pytest.approx(1.24), 2), (pytest.approx(2.48), 2)]
    assert cuts["cross foot, stands of wool 50"] == (0.5, 2)  # of T, the last that is listed
    carrying = [cut.parts for cut in goods.timber if cut.timber.name == "45x70"]
    timber_m = sum(part.length_m * part.count for parts in carrying for part in parts)
    assert timber_m == pytest.approx(2 * (2.48 + 1.24 + 0.8 + 0.5), **EXACT)
    told = {str(what): str(much) for what, much in goods.fixings}
    assert told["bolts M6 right through leg and foot, with washers and locking nut"] == "8"


def test_panels_one_above_the_other_leave_room_for_both_frames(placed):
    panel, found = placed(stacked=2)
    assert panel.height_m == pytest.approx(2 * 1.2 + 2 * 0.02, **EXACT)
    panels = [part for part in found.body.parts if part.name == "panel"]
    assert [float(np.ptp(part.side[:, 1])) for part in panels] == pytest.approx([1.24, 1.24])
    assert panels[0].side[:, 1].max() == pytest.approx(panels[1].side[:, 1].min())
    assert stand_body(panel).top_m == pytest.approx(2.48)


@pytest.mark.parametrize("path", sorted(SCENES.glob("*.toml")), ids=lambda path: path.stem)
def test_stands_of_every_shipped_scene_are_within_the_limits(path):
    scene = load_scene(path)
    room = build_room(scene)
    stands = Treatment(scene, room).stability  # refuses what does not stand
    assert len(stands) == len(scene.stands)
    assert feet_notes(scene, room) == ()
