"""The drawing itself: dimensions are the edges of what is set out, signs in it are explained beside it."""

import pytest

from raytrace import Treatment, build_room
from tests.support.treatedrooms import treated_text
from viewer.sheets.panelplan import LAYERS, PanelPlan, borders_mm, stops_m
from viewer.sheets.treatedview import find_views


@pytest.fixture
def plan_of(scene_of):
    def draw(name, title, scale=20):
        scene = scene_of(treated_text(name))
        treatment = Treatment(scene, build_room(scene))
        (view,) = [v for v in find_views(treatment) if v.title == title]
        return treatment, view, PanelPlan(treatment, view, scale, "metric")

    return draw


def test_running_dimensions_hold_every_edge_and_the_whole(plan_of):
    treatment, view, plan = plan_of("box", "Reflected ceiling plan")
    across, along = stops_m(treatment, view)
    edges = [x for p in treatment.room.panels if p.kind == "cloud" for x in p.corners[:, 1]]
    assert {round(x, 6) for x in across} == {0.0, 3.0, *(round(float(x), 6) for x in edges)}
    figures = [m.text for m in plan.layers["dimensions"] if m.kind == "text"]
    assert figures == [f"{1000 * x:.0f}" for x in (*across[1:], *along[1:])]


def test_the_drawing_takes_what_its_borders_say(plan_of):
    treatment, view, plan = plan_of("ridge", "Back wall", 25)
    left, top, right, bottom = borders_mm(treatment, view, "metric")
    assert plan.size_mm == pytest.approx((left + right + 4400 / 25, top + bottom + 2600 / 25))
    assert plan.datum_mm == pytest.approx((left, top + 2600 / 25))  # walls count from the floor


def test_every_mark_is_on_a_known_layer_and_keep_outs_are_hatched(plan_of):
    _, _, plan = plan_of("box", "Left wall")
    assert set(plan.layers) == set(LAYERS)
    hatching = [m for m in plan.layers["keep-outs"] if m.kind == "line"]
    (outline,) = [m for m in plan.layers["keep-outs"] if m.kind == "area"]
    left, top, right, bottom = outline.box
    assert hatching
    for mark in hatching:
        assert left - 1e-3 <= mark.box[0]  # hatching is rounded to three digits
        assert mark.box[2] <= right + 1e-3
        assert top - 1e-3 <= mark.box[1]
        assert mark.box[3] <= bottom + 1e-3
