"""Side sections are drawn to scale: what is measured on paper is what the records say."""

import numpy as np
import pytest

from raytrace import Treatment, build_room
from tests.support.panelled import cloud, panel, scene_text
from viewer.sheets.sidesection import SectionDrawing, section_of, section_strips
from viewer.sheets.treatedview import find_views

DEEP = """
[builds.deep]
size = ["48 in", "24 in"]
thickness = "4 in"
flow_resistivity = 10000
density = 45
frame = "1x6"
back = "{back}"
"""
STAND = '\n[[stands]]\nname = "S"\nbuild = "wool 50"\nat = [2.5, 2.0]\nyaw = 0\n'
PAPER_MM = 1e-6  # marks are written to nine digits


@pytest.fixture
def treated(scene_of):
    def build(more, back="open"):
        scene = scene_of(scene_text(DEEP.format(back=back) + more))
        return Treatment(scene, build_room(scene))

    return build


def spans(drawn, what):
    """From where to where a part reaches in depth, in metres from the surface."""
    axis = 1 if drawn.section.overhead else 0
    start = drawn.at(0.0, 0.0)[axis]
    found = {
        tuple(
            round((np.array(mark.points)[:, axis][[0, 1]] - start)[k] * drawn.scale / 1000.0, 9)
            for k in (0, 1)
        )
        for mark in drawn.marks[what]
    }
    (span,) = found  # the same at the upper and the lower end
    return span


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize("gap", [0.0, 0.0508])
def test_depths_on_paper_are_those_of_the_panel(treated, units, gap):
    treatment = treated(panel(build="deep", gap=gap))
    one, drawn = treatment.room.panels[0], SectionDrawing(section_of(treatment, 0), units)
    front_m = one.gap_m + one.thickness_m
    assert spans(drawn, "slab") == pytest.approx((one.gap_m, front_m), abs=PAPER_MM)
    assert spans(drawn, "frame") == pytest.approx((one.clear_m, front_m), abs=PAPER_MM)
    assert ("spacer" in drawn.marks) is (gap > 0.0)
    if gap:
        assert spans(drawn, "spacer") == pytest.approx((0.0, one.clear_m), abs=PAPER_MM)
    assert drawn.section.stops_m == pytest.approx([*([gap] if gap else []), one.gap_m, front_m])


def test_every_measure_is_written(treated):
    drawn = SectionDrawing(section_of(treated(panel(build="deep", gap=0.0508)), 0), "imperial")
    written = {mark.text for mark in drawn.marks["measures"] if mark.text}
    # 2 in of gap, 1 1/2 in of air in a frame of 5 1/2 in (1x6), 4 in of wool.
    assert written == {'2"', '3 1/2"', '7 1/2"'}


def test_a_board_lies_behind_the_frame(treated):
    drawn = SectionDrawing(section_of(treated(panel(build="deep", gap=0.05), back="solid"), 0), "metric")
    assert spans(drawn, "board") == pytest.approx((0.05, 0.056), abs=PAPER_MM)


def test_a_cloud_hangs_from_its_ceiling_by_its_rail(treated):
    treatment = treated(cloud(build="deep", drop=0.2))
    drawn = SectionDrawing(section_of(treatment, 0), "metric")
    one = treatment.room.panels[0]
    assert drawn.section.overhead
    assert spans(drawn, "slab") == pytest.approx((one.gap_m, one.gap_m + one.thickness_m), abs=PAPER_MM)
    rail, cord = drawn.marks["held"][:2]
    (_, top), (_, low) = cord.points
    # From the ceiling to the rail of 3/4 in that lies on the back of the frame.
    assert (low - top) * drawn.scale / 1000.0 == pytest.approx(
        0.2 - 0.01905, abs=1e-5
    )  # three digits on paper
    assert rail.box[3] == pytest.approx(drawn.at(0.2, 0.0)[1], abs=1e-3)


@pytest.mark.parametrize("width_mm", [57.0, 132.0])
@pytest.mark.parametrize("more", [panel(build="deep", gap=0.3), cloud(build="deep", drop=0.8), STAND])
def test_every_sheet_has_its_section_and_nothing_leaves_the_column(treated, more, width_mm):
    treatment = treated(more)
    for view in find_views(treatment):
        strips = section_strips(view, treatment, "metric", width_mm)
        assert any("ection, 1 :" in mark.text for strip in strips for mark in strip.marks)
        for strip in strips:
            boxes = [mark.box for mark in strip.marks]
            assert max(box[2] for box in boxes) <= width_mm
            assert max(box[3] for box in boxes) <= strip.height_mm + 0.5  # the depth of a letter
            assert min(min(box[0], box[1]) for box in boxes) >= -0.5


def test_a_raft_hangs_by_its_rails_and_carries_its_slab_on_bars(treated):
    treatment = treated(cloud(build="deep", rows=2, columns=2, drop=0.2) + "raft = true\n")
    (raft,) = treatment.rafts
    one = treatment.room.panels[3]
    own, drawn = section_of(treatment, 3), SectionDrawing(section_of(treatment, 3), "metric")
    front_m = one.gap_m + one.thickness_m
    assert spans(drawn, "bar") == pytest.approx((front_m, front_m + raft.bars.deep_m), abs=PAPER_MM)
    assert spans(drawn, "frame") == pytest.approx((front_m - raft.rail.depth_m, front_m), abs=PAPER_MM)
    assert own.held == "cord"
    assert drawn.marks["held"][0].kind == "line"
    assert own.stops_m[-1] == pytest.approx(treatment.room.bounds[1][2] - raft.underside[0, 2])
