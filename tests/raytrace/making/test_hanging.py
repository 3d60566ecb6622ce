"""Hooks hold where they can, and cords are as long as the room says."""

import numpy as np
import pytest

from raytrace import build_room
from raytrace.making.hanging import INSET_M, SHIFT_M, cuts_m, find_hooks, joist_lines, standing_lines
from raytrace.making.loads import find_loads
from tests.support.panelled import GABLE_ROOM, JOISTS, cloud, mesh_box, panel, scene_text

ROUNDING_M = 1e-9  # of coordinates of a few metres


def hooks_of(scene_of, more, room=None):
    scene = scene_of(scene_text(more) if room is None else scene_text(more, room))
    room = build_room(scene)
    return scene, room, find_hooks(scene, room)


def test_a_level_cloud_hangs_on_four_equal_cords_at_its_corners(scene_of):
    _, room, hooks = hooks_of(scene_of, cloud())
    assert [hook.name for hook in hooks] == [f"cloud A1 {letter}" for letter in "abcd"]
    for hook, corner in zip(hooks, room.panels[0].back, strict=True):
        # Back and top are the same: the cord is the drop.
        assert hook.cord_m == pytest.approx(0.3, abs=ROUNDING_M)
        assert np.abs(hook.eyelet - corner) == pytest.approx([INSET_M, INSET_M, 0.0], abs=ROUNDING_M)
        assert hook.anchor[:2] == pytest.approx(hook.eyelet[:2], abs=ROUNDING_M)
        assert hook.anchor[2] == pytest.approx(3.2, abs=ROUNDING_M)


@pytest.mark.parametrize("size", [[2.4, 0.6], [0.6, 2.4]])
def test_a_long_cloud_hangs_on_six_with_opposite_ones_half_a_ring_apart(scene_of, size):
    build = f"[builds.long]\nsize = {size}\nthickness = 0.05\nflow_resistivity = 12000\n"
    _, room, hooks = hooks_of(scene_of, build + cloud(build="long"))
    assert len(hooks) == 6
    centre = room.panels[0].back.mean(axis=0)
    for k in range(3):
        assert 0.5 * (hooks[k].eyelet + hooks[k + 3].eyelet) == pytest.approx(centre, abs=ROUNDING_M)


def test_cords_under_a_slope_are_what_trigonometry_says(scene_of):
    # Slope from 2.1 m at y = 0 to 4.2 m at y = 2.2 m. A cloud hung level under it: each cord is the height of
    # the slope at its own y, less the height of the eyelets.
    _, room, hooks = hooks_of(scene_of, cloud(surface="left slope", centre=[2.8, 2.2], drop=0.4), GABLE_ROOM)
    assert len({round(hook.eyelet[2], 9) for hook in hooks}) == 1
    for hook in hooks:
        slope_m = 2.1 + (4.2 - 2.1) / 2.2 * hook.eyelet[1]
        assert hook.cord_m == pytest.approx(slope_m - hook.eyelet[2], abs=ROUNDING_M)
        assert room.surfaces[hook.surface].name == "left slope"
        assert room.surfaces[hook.surface].frame.to_room(hook.anchor_uv) == pytest.approx(hook.anchor)
    assert max(h.cord_m for h in hooks) - min(h.cord_m for h in hooks) > 0.3


def test_a_cloud_along_the_slope_has_equal_cords_longer_than_its_drop(scene_of):
    _, _, hooks = hooks_of(
        scene_of, cloud(surface="left slope", centre=[2.8, 1.5], drop=0.1, level="along"), GABLE_ROOM
    )
    # The drop is square to the slope, the cord upright: drop / cos(pitch).
    pitch = np.arctan2(4.2 - 2.1, 2.2)
    assert [hook.cord_m for hook in hooks] == pytest.approx([0.1 / np.cos(pitch)] * 4, abs=ROUNDING_M)


def test_a_tilted_cloud_has_longer_cords_where_it_sinks(scene_of):
    tilt = '{towards = "front wall", deg = 12}'
    _, _, hooks = hooks_of(scene_of, cloud(tilt=tilt, drop=0.4))
    by_x = sorted(hooks, key=lambda hook: hook.eyelet[0])
    # Eyelets 1.1 m apart on a panel of 1.2 m; looking at the front wall, its back end hangs lower.
    assert by_x[-1].cord_m - by_x[0].cord_m == pytest.approx(1.1 * np.sin(np.radians(12)), abs=ROUNDING_M)


def test_hooks_move_to_joists_in_reach_and_no_further(scene_of):
    # Joists along y at 0.2, 0.6, ...; the panel from x = 1.9 to 3.1 could have hooks at 1.95 to 2.10 and
    # 2.90 to 3.05: no joist is there but 3.0.
    _, room, hooks = hooks_of(scene_of, JOISTS + cloud())
    assert [round(float(hook.anchor[0]), 6) for hook in hooks] == [3.0, 3.0, 1.95, 1.95]
    assert [hook.joist for hook in hooks] == [7, 7, None, None]
    assert [hook.batten for hook in hooks] == [False, False, True, True]
    assert [round(hook.to_joist_m, 6) for hook in hooks] == [0.0, 0.0, 0.15, 0.15]
    for hook, corner in zip(hooks, room.panels[0].back, strict=True):
        away = np.abs(hook.eyelet - corner)[:2]
        assert (away <= INSET_M + SHIFT_M + ROUNDING_M).all()


def test_a_panel_on_a_wall_holds_at_two_points_near_its_top(scene_of):
    _, room, hooks = hooks_of(scene_of, panel(gap=0.05))
    top = room.panels[0].back[2, 2]
    assert [hook.kind for hook in hooks] == ["fixed", "fixed"]
    for hook in hooks:
        assert hook.eyelet[2] == pytest.approx(top - INSET_M, abs=ROUNDING_M)
        # Straight back to the wall, across the gap.
        assert hook.anchor == pytest.approx(hook.eyelet - [0.0, 0.05, 0.0], abs=ROUNDING_M)
        assert np.isnan(hook.cord_m)


def test_a_panel_right_under_the_ceiling_holds_at_four_and_a_stand_at_none(scene_of):
    more = panel(surface="ceiling", centre=[2.5, 2.0], gap=0.05)
    more += '\n[[stands]]\nname = "S"\nbuild = "wool 50"\nat = [4.0, 2.0]\nyaw = 180\n'
    _, room, hooks = hooks_of(scene_of, more)
    assert [room.panels[hook.panel].name for hook in hooks] == ["P"] * 4


def test_a_cloud_across_the_ridge_hangs_from_both_slopes(scene_of):
    more = cloud(surface="left slope", centre=[2.8, 2.9], drop=0.5)
    _, room, hooks = hooks_of(scene_of, more, GABLE_ROOM)
    for hook in hooks:
        name = "left slope" if hook.anchor[1] < 2.2 else "right slope"
        assert room.surfaces[hook.surface].name == name
        # Both slopes rise as 2.1 m on 2.2 m from eaves at 2.1 m.
        height = 4.2 - 2.1 / 2.2 * abs(hook.anchor[1] - 2.2)
        assert hook.anchor[2] == pytest.approx(height, abs=ROUNDING_M)


def test_a_cloud_hangs_from_an_object_above_it_that_has_its_name(scene_of, tmp_path):
    name = "cloud 2 of 3"
    beam = mesh_box(tmp_path, name, (1.5, 1.0, 3.0), (3.5, 3.0, 3.1))
    _, room, hooks = hooks_of(scene_of, beam + cloud(name, drop=0.6))
    assert {room.surfaces[hook.surface].owner for hook in hooks} == {name}
    assert [hook.cord_m for hook in hooks] == pytest.approx([0.4] * 4, abs=ROUNDING_M)


# Under the slope of GABLE_ROOM: rafters at u = 0.7, 1.3, 1.9, ... and a window that cuts the one at 1.9.
RAFTERS = """
[[joists]]
surface = "left slope"
along = "v"
first = 0.7
spacing = 0.6
known = "surveyed"
[[openings]]
name = "roof window"
kind = "window"
surface = "left slope"
at = [1.5, 1.0]
size = [0.7, 0.9]
material = "glass"
"""


def test_rafters_end_at_a_roof_window_and_nothing_is_held_there(scene_of):
    _, room, _ = hooks_of(scene_of, RAFTERS, GABLE_ROOM)
    surface = room.surfaces[room.surface_index("left slope")]
    scene, _, _ = hooks_of(scene_of, RAFTERS, GABLE_ROOM)
    (entry,) = scene.joists
    lines = joist_lines(entry, surface.frame)
    assert [cuts_m(surface, entry, float(line)) for line in lines[:5]] == [
        [], [], [(1.0, 1.9)], [], []
    ]  # fmt: skip
    beside, numbers = standing_lines(surface, entry, 1.5)
    assert 1.9 not in beside.round(6)
    assert numbers.tolist()[:4] == [0, 1, 3, 4]
    assert len(standing_lines(surface, entry, 0.9)[0]) == len(lines)


def test_no_hook_is_said_to_hold_in_a_rafter_where_a_roof_window_cuts_it(scene_of):
    # A cloud across the ridge, hooks on the right slope at x 2.25 to 2.4 and 3.2 to 3.35, rafters at 2.3 and
    # 3.3; the window takes the one at 2.3 away where the hook would be.
    more = cloud(surface="left slope", centre=[2.8, 2.9], drop=0.5)
    more += RAFTERS.partition("[[openings]]")[0].replace("left", "right").replace("0.6", "1.0")
    more = more.replace("first = 0.7", "first = 0.3")
    window = RAFTERS[RAFTERS.index("[[openings]]") :].replace("left", "right").replace("1.5, 1.0", "2.0, 2.1")
    for text, joists in ((more, {2, 3}), (more + window, {3, None})):
        _, room, hooks = hooks_of(scene_of, text, GABLE_ROOM)
        right = [hook for hook in hooks if room.surfaces[hook.surface].name == "right slope"]
        assert {hook.joist for hook in right} == joists


def test_two_plates_of_a_wall_panel_meet_studs_anywhere_along_its_top(scene_of):
    # Studs 600 mm apart, at 2.2 and 2.8 behind a panel from 1.9 to 3.1.
    studs = JOISTS.replace("ceiling", "left wall").replace("0.4", "0.6").replace("first = 0.2", "first = 0.4")
    _, room, hooks = hooks_of(scene_of, studs + panel(centre=[2.5, 1.2], gap=0.05))
    assert sorted(round(float(hook.anchor_uv[0]), 6) for hook in hooks) == [2.2, 2.8]
    assert not any(hook.batten for hook in hooks)
    # Off the middle the nearer one carries more: arms of 0.2 and 0.4 m, so two thirds and one third.
    _, room, hooks = hooks_of(scene_of, studs + panel(centre=[2.4, 1.2], gap=0.05))
    (load,) = find_loads(room, hooks)
    shares = {round(float(h.anchor_uv[0]), 6): kg for h, kg in zip(hooks, load.even_kg, strict=True)}
    assert shares[2.2] == pytest.approx(2.0 / 3.0 * load.piece.mass_kg)
    assert shares[2.8] == pytest.approx(1.0 / 3.0 * load.piece.mass_kg)
