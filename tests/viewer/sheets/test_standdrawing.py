"""A stand on paper is the stand of the records, at a scale."""

import numpy as np
import pytest

from raytrace import Treatment, build_room
from tests.support.panelled import scene_text
from viewer.sheets.standdrawing import StandDrawing, stand_strips
from viewer.sheets.treatedview import find_views

PAPER_MM = 1e-6  # marks are written to nine digits
STANDS = {
    "alone": "at = [2.5, 2.0]\nyaw = 180\nturned = 90\n",
    "stacked": "at = [0.2, 2.0]\nyaw = 0\nstacked = 3\n",
    "leaning": "at = [0.23, 2.0]\nyaw = 0\nturned = 90\nlean = 8\n",
}


@pytest.fixture(params=STANDS)
def treatment(request, scene_of):
    text = f'\n[[stands]]\nname = "S"\nbuild = "wool 50"\n{STANDS[request.param]}'
    scene = scene_of(scene_text(text))
    return Treatment(scene, build_room(scene))


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_views_are_to_scale(treatment, units):
    (found,) = treatment.stability.values()
    drawn = StandDrawing(found, units)
    k = 1000.0 / drawn.scale
    front = np.concatenate([mark.points for mark in drawn.front])
    side = np.concatenate([mark.points for mark in drawn.side])
    edges = np.concatenate([part.side for part in found.body.parts])
    assert np.ptp(front, axis=0) == pytest.approx([k * found.body.wide_m, k * found.body.top_m], abs=PAPER_MM)
    assert np.ptp(side, axis=0) == pytest.approx(k * np.ptp(edges, axis=0), abs=PAPER_MM)


def test_measures_tell_width_height_and_feet(treatment):
    (found,) = treatment.stability.values()
    written = {mark.text for mark in StandDrawing(found, "metric").measures if mark.text}
    body = found.body
    for metres in (
        body.wide_m,
        body.top_m,
        max(body.foot_m, body.foot[1] + treatment.room.panels[0].thickness_m),
    ):
        assert f"{1000 * metres:.0f}" in written


def test_centre_of_mass_and_push_are_those_of_the_statics(treatment):
    (found,) = treatment.stability.values()
    drawn = StandDrawing(found, "metric")
    (mark,) = [mark for mark in drawn.signs if mark.kind == "disc"]
    assert mark.points[0] == pytest.approx(
        drawn.from_side(found.body.centre[None])[0], abs=1e-3
    )  # three digits
    texts = {mark.text for mark in drawn.signs}
    assert {f"{found.body.push_n:.1f} N", f"{1000 * found.body.centre[1]:.0f} up"} <= texts


def test_nothing_leaves_the_column_and_parts_are_named_with_their_lengths(treatment):
    view = next(view for view in find_views(treatment) if view.kind == "floor")
    for units in ("metric", "imperial"):
        strips = stand_strips(view, treatment, units, 132.0)
        boxes = [mark.box for strip in strips for mark in strip.marks]
        assert max(box[2] for box in boxes) <= 132.0
        assert min(box[0] for box in boxes) >= -0.1
    (found,) = treatment.stability.values()
    words = " ".join(
        mark.text for strip in stand_strips(view, treatment, "metric", 132.0) for mark in strip.marks
    )
    for part in found.body.timber:
        assert f"{part.count} x {part.name} 45x70, {1000 * part.length_m:.0f} mm" in words.replace("  ", " ")


def test_feet_are_on_the_floor_plan_where_they_stand(treatment):
    (found,) = treatment.stability.values()
    view = next(view for view in find_views(treatment) if view.kind == "floor")
    assert len(view.feet) == 2
    for outline in view.feet:
        assert np.ptp(outline, axis=0).max() == pytest.approx(found.body.foot_m)
