"""What is drawn is what the room holds, where the set-out frame says it is."""

import numpy as np
import pytest

from raytrace import Treatment, build_room
from tests.support.panelled import GABLE_ROOM, JOISTS, cloud, panel, scene_text
from tests.support.treatedrooms import treated_text
from viewer.sheets.treatedview import find_views
from viewer.sheets.treatment import foot

ROUNDING_M = 1e-9  # of coordinates of a few metres


@pytest.fixture
def views_of(scene_of):
    def find(text):
        scene = scene_of(text)
        treatment = Treatment(scene, build_room(scene))
        return treatment, {view.title: view for view in find_views(treatment)}

    return find


def test_a_room_without_panels_needs_no_drawings(views_of):
    assert views_of(scene_text(""))[1] == {}


def test_every_treated_surface_has_a_drawing_and_no_other(views_of):
    names = {name: list(views_of(treated_text(name))[1]) for name in ("box", "lean-to", "ridge", "rented")}
    assert names == {
        "box": ["Reflected ceiling plan", "Left wall", "Right wall"],
        "lean-to": ["Reflected ceiling plan", "Ceiling, true shape", "Left wall"],
        "ridge": ["Reflected ceiling plan", "Left slope, true shape", "Right slope, true shape", "Back wall"],
        "rented": ["Floor plan of what stands"],
    }


def test_the_ceiling_plan_has_the_front_wall_on_top_and_the_left_wall_on_the_left(views_of):
    _, views = views_of(scene_text(cloud(centre=[1.4, 3.0])))
    view = views["Reflected ceiling plan"]
    # Room 5.0 long, 4.0 wide; slab 1.2 along the room, 0.6 across.
    assert (view.width_m, view.height_m) == (4.0, 5.0)
    (outline,) = view.panels.values()
    assert outline.min(axis=0) == pytest.approx([2.7, 0.8], abs=ROUNDING_M)
    assert outline.max(axis=0) == pytest.approx([3.3, 2.0], abs=ROUNDING_M)


def test_a_wall_is_drawn_as_its_viewer_sees_it(views_of):
    _, views = views_of(scene_text(panel(centre=[1.0, 1.2])))
    view = views["Left wall"]
    # Facing the left wall, the back wall is on the left: u = 1.0 from it, 3.2 m high.
    (outline,) = view.panels.values()
    assert outline.min(axis=0) == pytest.approx([0.4, 3.2 - 1.5], abs=ROUNDING_M)
    assert view.face.neighbours == ("back wall", "front wall", "ceiling", "floor")


def test_outlines_of_clouds_are_plumbed_up_onto_a_slope_and_hold_their_hooks(views_of):
    more = cloud(surface="left slope", centre=[2.8, 1.6], drop=0.4)
    _, views = views_of(scene_text(more, GABLE_ROOM))
    view = views["Left slope, true shape"]
    pitch = np.arctan2(4.2 - 2.1, 2.2)
    (outline,) = view.panels.values()
    # Level, 1.2 along the slope's foot and 0.6 in plan up it: on the slope 0.6 / cos(pitch).
    assert np.ptp(outline, axis=0) == pytest.approx([1.2, 0.6 / np.cos(pitch)], abs=ROUNDING_M)
    for hook, place in view.hooks:
        assert (outline.min(axis=0) < place).all()
        assert (place < outline.max(axis=0)).all()
        assert view.height_m - place[1] == pytest.approx(hook.anchor[1] / np.cos(pitch), abs=ROUNDING_M)


def test_the_level_line_of_a_slope_lies_where_the_slope_reaches_its_height(views_of):
    _, views = views_of(scene_text(cloud(surface="left slope", centre=[2.8, 1.6], drop=0.4), GABLE_ROOM))
    w, height = views["Left slope, true shape"].level
    up = views["Left slope, true shape"].height_m - w
    slope = np.hypot(4.2 - 2.1, 2.2) / (4.2 - 2.1)
    assert height == 2.25  # the first quarter metre that the slope, from 2.1 m, reaches with 0.1 m to spare
    assert up == pytest.approx((2.25 - 2.1) * slope, abs=ROUNDING_M)


def test_joists_end_at_the_outline_and_lie_where_they_were_surveyed(views_of):
    _, views = views_of(scene_text(JOISTS + cloud()))
    joists = views["Reflected ceiling plan"].joists
    # Along v, that is across the room: level lines at 0.2, 0.6, ... 4.6 from the front wall.
    assert [joist.number for joist in joists] == list(range(1, 13))
    for joist in joists:
        assert joist.ends[:, 1] == pytest.approx([0.2 + 0.4 * (joist.number - 1)] * 2, abs=1e-6)
        assert sorted(joist.ends[:, 0]) == pytest.approx([0.0, 4.0], abs=ROUNDING_M)


def test_a_panel_across_a_corner_is_on_the_drawings_of_both_walls_that_hold_it(views_of):
    trap = panel("trap", surface="front wall", centre=[0.2, 1.2], turned=90, across_corner="left wall")
    treatment, views = views_of(scene_text(trap))
    assert {title: view.listed for title, view in views.items()} == {"Front wall": (0,), "Left wall": ()}
    shown = [hook.name for view in views.values() for hook, _ in view.hooks]
    assert sorted(shown) == sorted(hook.name for hook in treatment.hooks)
    assert all(list(view.panels) == [0] for view in views.values())


def test_a_leaning_panel_rests_on_the_edge_at_its_back_and_an_upright_one_on_its_front(views_of):
    treatment, _ = views_of(treated_text("rented"))
    standing, leaning = treatment.room.panels
    assert foot(treatment, 0) == pytest.approx(standing.corners[:2])
    assert foot(treatment, 1) == pytest.approx(leaning.back[:2])
    # The lowest edge of the leaning one is on the floor.
    assert foot(treatment, 1)[:, 2] == pytest.approx([0.0, 0.0], abs=ROUNDING_M)


def test_rafters_are_not_drawn_across_a_roof_window(views_of):
    rafters = """
[[joists]]
surface = "left slope"
along = "v"
first = 0.7
spacing = 0.6
[[openings]]
name = "roof window"
kind = "window"
surface = "left slope"
at = [1.5, 1.0]
size = [0.7, 0.9]
material = "glass"
"""
    _, views = views_of(scene_text(rafters + panel(surface="left slope", centre=[3.4, 1.0]), GABLE_ROOM))
    view = views["Left slope, true shape"]
    heights = {}
    for joist in view.joists:
        heights.setdefault(joist.number, []).append(sorted(view.height_m - joist.ends[:, 1]))
    (below, above) = sorted(heights[3])  # at u = 1.9
    assert [*below, *above] == pytest.approx([0.0, 1.0, 1.9, view.height_m], abs=ROUNDING_M)
    assert all(len(pieces) == 1 for number, pieces in heights.items() if number != 3)


def test_the_timbers_of_a_raft_lie_round_and_under_its_slabs(views_of):
    treatment, views = views_of(scene_text(cloud(rows=2, columns=3) + "raft = true\n"))
    view = views["Reflected ceiling plan"]
    ((_, timbers),) = view.rafts.items()
    assert len(timbers) == sum(part.count for part in treatment.rafts[0].piece.parts)
    slabs = np.concatenate(list(view.panels.values()))
    thick = treatment.rafts[0].rail.thickness_m
    every = np.concatenate(timbers)
    assert every.min(axis=0) == pytest.approx(slabs.min(axis=0) - thick, abs=ROUNDING_M)
    assert every.max(axis=0) == pytest.approx(slabs.max(axis=0) + thick, abs=ROUNDING_M)
