"""Battens carry what no joist does, and a better place is named where there is one."""

import numpy as np
import pytest

from raytrace import build_room
from raytrace.making.battens import better_place, find_battens, hook_notes, why_not_held
from raytrace.making.fixings import mounting_rows
from raytrace.making.hanging import find_hooks
from tests.support.panelled import BOX_ROOM, GABLE_ROOM, JOISTS, cloud, panel, scene_text

ROUNDING_M = 1e-9  # of coordinates of a few metres


def hooks_of(scene_of, more, room=BOX_ROOM):
    scene = scene_of(scene_text(more, room))
    room = build_room(scene)
    return scene, room, find_hooks(scene, room)


def test_battens_run_from_joist_to_joist_and_carry_every_hook_that_needs_one(scene_of):
    scene, room, hooks = hooks_of(scene_of, JOISTS + cloud())
    battens = find_battens(scene, room, hooks)
    assert sorted(hook.name for batten in battens for hook in batten.hooks) == ["cloud A1 c", "cloud A1 d"]
    for batten in battens:
        # Joists at 1.8 and 2.2, 45 mm wide, with a batten over the full width of both.
        assert batten.ends_uv[:, 0] == pytest.approx([1.7775, 2.2225], abs=ROUNDING_M)
        assert batten.length_m == pytest.approx(0.445, abs=ROUNDING_M)


def test_hooks_in_one_line_and_neighbouring_bays_share_a_batten(scene_of):
    # 600 mm panel between joists 1.2 m apart, turned so that both its ends fall into one bay.
    joists = JOISTS.replace("spacing = 0.4", "spacing = 1.2").replace("first = 0.2", "first = 1.9")
    scene, room, hooks = hooks_of(scene_of, joists + cloud(build="wool 2 in square"))
    assert all(hook.batten for hook in hooks)
    assert [len(batten.hooks) for batten in find_battens(scene, room, hooks)] == [2, 2]


def test_without_joists_nothing_is_claimed(scene_of):
    scene, room, hooks = hooks_of(scene_of, cloud())
    assert not any(hook.batten or hook.joist is not None for hook in hooks)
    assert all(np.isnan(hook.to_joist_m) for hook in hooks)
    assert any("No joists" in str(note) and "ceiling" in str(note) for note in hook_notes(scene, room, hooks))


def test_assumed_joists_and_hooks_beyond_the_last_are_said(scene_of):
    joists = '[[joists]]\nsurface = "ceiling"\nalong = "v"\nfirst = 2.6\nspacing = 0.4\n'
    scene, room, hooks = hooks_of(scene_of, joists + cloud())
    notes = hook_notes(scene, room, hooks)
    assert any("assumed, not surveyed" in str(note) for note in notes)
    assert any("Outside the first or last known joist: cloud A1 c, cloud A1 d" in str(note) for note in notes)
    assert find_battens(scene, room, hooks[2:]) == ()


def test_a_cloud_right_under_the_ceiling_has_no_room_for_cords(scene_of):
    scene, room, hooks = hooks_of(scene_of, cloud(drop=0.01))
    assert any("No room for eyelet and hook" in str(note) for note in hook_notes(scene, room, hooks))


def test_a_cloud_moved_as_told_hangs_from_joists_alone(scene_of):
    # Hooks may be at 1.95 to 2.10 and 2.90 to 3.05, joists are at 1.8, 2.2, 2.6, 3.0: 0.1 m towards the back
    # brings 2.2 and 3.0 into reach.
    scene, room, hooks = hooks_of(scene_of, JOISTS + cloud())
    move_m, without = better_place(scene, room, hooks, "cloud")
    assert (move_m, without) == (pytest.approx(0.1), 0)
    _, _, moved = hooks_of(scene_of, JOISTS + cloud(centre=[2.5 + move_m, 2.0]))
    assert not any(hook.batten for hook in moved)
    # No shorter move does: 5 mm less leaves a hook without a joist.
    _, _, short = hooks_of(scene_of, JOISTS + cloud(centre=[2.5 + move_m - 0.005, 2.0]))
    assert any(hook.batten for hook in short)
    way = "back wall" if move_m > 0 else "front wall"
    sentence = (
        f'"cloud" moved {abs(1000 * move_m):.0f} mm towards the {way}: every hook would hold in a joist.'
    )
    assert sentence in map(str, hook_notes(scene, room, hooks))


def test_a_cloud_that_hangs_well_is_left_where_it_is(scene_of):
    scene, room, hooks = hooks_of(scene_of, JOISTS + cloud(centre=[2.6, 2.0]))
    assert not any(hook.batten for hook in hooks)
    assert better_place(scene, room, hooks, "cloud") is None


def test_a_hook_that_comes_out_in_a_keep_out_is_told(scene_of):
    # Straight above a level cloud under a slope lies another part of the slope than square to it.
    hung = cloud(surface="left slope", centre=[2.8, 2.2], drop=0.4)
    _, room, hooks = hooks_of(scene_of, hung, GABLE_ROOM)
    u, v = max((hook.anchor_uv for hook in hooks), key=lambda uv: uv[1])
    disc = f'\n[[keep_outs]]\nname = "cable"\nsurface = "left slope"\ncentre = [{u}, {v}]\nradius = 0.02\n'
    square = f'[[keep_outs]]\nname = "lamp"\nsurface = "left slope"\nat = [{u - 0.01}, {v - 0.01}]\n'
    scene, room, hooks = hooks_of(scene_of, disc + square + "size = [0.02, 0.02]\n" + hung, GABLE_ROOM)
    notes = hook_notes(scene, room, hooks)
    assert sum('comes out in the keep-out "cable"' in str(note) for note in notes) == 1
    assert sum('comes out in the keep-out "lamp"' in str(note) for note in notes) == 1


def test_wall_panels_are_not_told_to_move(scene_of):
    studs = JOISTS.replace("ceiling", "left wall").replace("spacing = 0.4", "spacing = 1.5")
    scene, room, hooks = hooks_of(scene_of, studs + panel(gap=0.05))
    assert any(hook.batten for hook in hooks)
    assert not any("moved" in str(note) for note in hook_notes(scene, room, hooks))


def test_no_cloud_is_told_to_move_through_a_wall_or_into_a_keep_out(scene_of):
    # Joists at 1.8, 2.2, 2.6, 3.0: 0.1 m towards the back brings two into reach, were there no lamp.
    lamp = '[[keep_outs]]\nname = "lamp"\nsurface = "ceiling"\nat = [3.15, 1.6]\nsize = [0.3, 0.8]\n'
    scene, room, hooks = hooks_of(scene_of, JOISTS + cloud() + lamp)
    move_m, _ = better_place(scene, room, hooks, "cloud")
    assert move_m < 0.0
    # 62 mm from the front wall, joists at 0.35 and every 0.625 m: joist 2 asks for 0.09 m towards the wall.
    joists = JOISTS.replace("first = 0.2", "first = 0.35").replace("spacing = 0.4", "spacing = 0.625")
    scene, room, hooks = hooks_of(scene_of, joists + cloud(centre=[0.6625, 2.0]))
    assert any(hook.batten for hook in hooks)
    better = better_place(scene, room, hooks, "cloud")
    assert better is None or better[0] > -0.0625


def test_the_move_is_judged_by_all_hooks_of_a_cloud_on_a_sheet_with_some_of_them(scene_of):
    scene, room, hooks = hooks_of(scene_of, JOISTS + cloud())
    told = [note for note in hook_notes(scene, room, hooks) if "moved" in str(note)]
    part = [hook for hook in hooks if hook.batten][:1]
    assert [note for note in hook_notes(scene, room, part) if "moved" in str(note)] == told != []


def test_a_batten_through_what_is_kept_free_is_told(scene_of):
    # The batten from joist 1.8 to joist 2.2 passes the disc although no hook lies in it.
    scene, room, hooks = hooks_of(scene_of, JOISTS + cloud())
    batten = find_battens(scene, room, hooks)[0]
    u, v = batten.ends_uv[0]
    disc = (
        f'[[keep_outs]]\nname = "detector"\nsurface = "ceiling"\ncentre = [{u - 0.02}, {v}]\nradius = 0.05\n'
    )
    scene, room, hooks = hooks_of(scene_of, JOISTS + cloud() + disc)
    told = [note for note in map(str, hook_notes(scene, room, hooks)) if 'keep-out "detector"' in note]
    assert len(told) == 1
    assert batten.hooks[0].name in told[0]


def held(scene_of, more, room=BOX_ROOM):
    scene, built, hooks = hooks_of(scene_of, more, room)
    return why_not_held(scene, built, hooks)


def test_what_cannot_be_held_is_told_with_the_reason(scene_of):
    assert held(scene_of, JOISTS + cloud()) is None
    assert held(scene_of, cloud()) is None  # no joists are known: nothing speaks against it
    few = JOISTS.replace("first = 0.2", "first = 2.6")
    assert 'beyond the first or last known joist of the "ceiling"' in str(held(scene_of, few + cloud()))
    # Battens 95 mm apart from the hooks' line run from 1.78 to 2.22 m at y = 1.75 and 2.25.
    alarm = '\n[[keep_outs]]\nname = "alarm"\nsurface = "ceiling"\ncentre = [1.8, 1.7]\nradius = 0.06\n'
    blocked = str(held(scene_of, JOISTS + alarm + cloud()))
    assert blocked == 'needs a batten through what is kept free for "alarm"'
    assert "no room for hook" in str(held(scene_of, JOISTS + cloud(drop=0.05)))  # 45 mm of it is the batten
    assert held(scene_of, cloud(drop=0.05)) is None


def test_a_panel_flat_on_a_slope_has_no_room_for_a_batten(scene_of):
    rafters = (
        JOISTS.replace("ceiling", "left slope").replace("first = 0.2", "first = 0.3").replace("0.4", "0.6")
    )
    flat = panel(surface="left slope", centre=[2.5, 1.4])
    off = panel(surface="left slope", centre=[2.5, 1.4], gap=0.05)
    scene, room, hooks = hooks_of(scene_of, rafters + flat, GABLE_ROOM)
    assert any(hook.batten for hook in hooks)
    assert "too near its surface for the batten" in str(why_not_held(scene, room, hooks))
    assert any("does not fit behind" in str(note) for note in hook_notes(scene, room, hooks))
    scene, room, hooks = hooks_of(scene_of, rafters + off, GABLE_ROOM)
    assert why_not_held(scene, room, hooks) is None
    assert not any("does not fit behind" in str(note) for note in hook_notes(scene, room, hooks))
    # Where a batten lies behind, 5 mm of the 50 mm of air are left for a spacer.
    spacers = [str(what) for what, _ in mounting_rows(room, hooks) if "spacers" in str(what)]
    assert spacers == [
        "spacers 50 mm deep, two at the top and two at the bottom; 45 mm less where a batten lies behind"
    ]
    scene, room, hooks = hooks_of(scene_of, off, GABLE_ROOM)
    assert not any("less where" in str(what) for what, _ in mounting_rows(room, hooks))


def test_hooks_of_two_panels_with_one_name_are_told_apart(scene_of):
    # A panel of the cloud "A" is called "A 1", as is one on the wall, whose hooks lie before the first stud.
    hung = (
        '\n[[clouds]]\nname = "A"\nsurface = "ceiling"\nbuild = "wool 50"\ndrop = 0.3\n'
        "panels = [{ centre = [2.5, 2.0] }]\n"
    )
    studs = JOISTS.replace("ceiling", "left wall").replace("first = 0.2", "first = 4.5")
    scene, room, hooks = hooks_of(scene_of, JOISTS + studs + hung + panel("A 1", gap=0.05))
    assert [p.name for p in room.panels] == ["A 1", "A 1"]
    carried = [hook for batten in find_battens(scene, room, hooks) for hook in batten.hooks]
    assert {room.panels[hook.panel].kind for hook in carried} == {"cloud"}
    notes = [str(note) for note in hook_notes(scene, room, hooks)]
    assert "Outside the first or last known joist: A 1 a, A 1 b. Find what carries them." in notes


WINDOW = """
[[openings]]
name = "roof window"
kind = "window"
surface = "ceiling"
at = [2.1, {v}]
size = [0.5, 0.6]
material = "glass"
"""


def test_a_batten_runs_on_past_a_joist_that_a_window_cuts_but_not_across_the_window(scene_of):
    # Joists at 0.3, 1.0, 1.7, 2.4, 3.1. The panel's hooks may be at 0.85 to 1.0 and at 1.8 to 1.95, at
    # y = 1.75 and 2.25: two hold in the joist at 1.0, two need a batten to that at 2.4, cut by the window.
    joists = JOISTS.replace("first = 0.2\nspacing = 0.4", "first = 0.3\nspacing = 0.7")
    hung = cloud(centre=[1.4, 2.0])
    for v, across in ((2.6, False), (1.7, True)):
        scene, room, hooks = hooks_of(scene_of, joists + WINDOW.format(v=v) + hung)
        assert [hook.batten for hook in hooks].count(True) == 2
        lengths = [batten.length_m for batten in find_battens(scene, room, hooks)]
        assert lengths == pytest.approx([(1.4 if across else 0.7) + 0.045] * 2, abs=ROUNDING_M)
        why = why_not_held(scene, room, hooks)
        assert (str(why) == 'needs a batten across the window "roof window"') is across
        assert (
            any('into the window "roof window"' in str(n) for n in hook_notes(scene, room, hooks)) is across
        )


def test_known_studs_rule_out_no_wall_panel_that_unknown_ones_would_let_be(scene_of):
    for first in (0.2, 1.0, 2.4, 3.9):
        studs = JOISTS.replace("ceiling", "left wall").replace("first = 0.2", f"first = {first}")
        scene, room, hooks = hooks_of(scene_of, studs + panel(gap=0.05))
        assert why_not_held(scene, room, hooks) is None
    # Overhead what is not known carries nothing.
    joists = JOISTS.replace("first = 0.2", "first = 2.6")
    scene, room, hooks = hooks_of(scene_of, joists + cloud())
    assert "beyond the first or last known joist" in str(why_not_held(scene, room, hooks))
