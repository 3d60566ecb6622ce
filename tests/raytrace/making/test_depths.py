"""Sound, set-out, spacers and data sheets count the depth of a panel by one rule."""

import numpy as np
import pytest

from raytrace import Treatment, build_room
from raytrace.acoustics import (
    Gap,
    Layer,
    Medium,
    Miki,
    air_density_kg_m3,
    band_frequencies_hz,
    random_absorption,
    speed_of_sound_m_s,
)
from raytrace.making import list_datasheets
from raytrace.scene import Air
from tests.support.panelled import cloud, panel, scene_text

# A slab of 100 mm in a frame of 140 mm: 40 mm of air behind the wool, inside the frame.
DEEP = """
[builds.deep]
size = [1.2, 0.6]
thickness = "100 mm"
flow_resistivity = 10000
density = 45
frame = "20x140"
back = "{back}"
"""
ROUNDING_M = 1e-9  # of coordinates of a few metres


def treated(scene_of, more, back="open"):
    scene = scene_of(scene_text(DEEP.format(back=back) + more))
    return Treatment(scene, build_room(scene))


@pytest.mark.parametrize(("gap", "depth_m"), [(0.0, 0.140), (0.05, 0.190)])
def test_depth_to_the_wall_is_the_same_for_set_out_sound_spacers_and_data_sheet(scene_of, gap, depth_m):
    treatment = treated(scene_of, panel(build="deep", gap=gap))
    (one,), (sheet,) = treatment.room.panels, list_datasheets(treatment.scene, treatment.room)
    assert one.centre[1] == pytest.approx(depth_m, abs=ROUNDING_M)  # the left wall is y = 0
    assert sheet.own.depth_m == pytest.approx(depth_m, abs=ROUNDING_M)
    assert one.gap_m == pytest.approx(gap + 0.04, abs=ROUNDING_M)
    assert one.clear_m == pytest.approx(gap, abs=ROUNDING_M)
    spacers = [str(what) for what, _ in treatment.bill_of_materials.fixings if "spacers" in str(what)]
    assert len(spacers) == (1 if gap else 0)
    assert all("50 mm deep" in what for what in spacers)
    # Wool on all the air that is behind it, gap and frame together.
    air = Air()
    medium = Medium(speed_of_sound_m_s(air.temperature), air_density_kg_m3(air.temperature, air.pressure))
    stack = (Layer(Miki(10000), 0.1), Gap(gap + 0.04))
    expected = random_absorption(stack, band_frequencies_hz(), medium).mean(axis=-1)
    assert sheet.own.random == pytest.approx(expected, abs=1e-12)  # the same sum in the same order


def test_a_deep_frame_is_explained(scene_of):
    notes = map(str, treated(scene_of, panel(build="deep")).bill_of_materials.notes)
    assert any("40 mm deeper than the slab" in note and "air is behind the wool" in note for note in notes)


def test_a_cloud_drops_to_the_top_of_its_frame(scene_of):
    treatment = treated(scene_of, cloud(build="deep", drop=0.3))
    (one,) = treatment.room.panels
    assert one.rear[:, 2] == pytest.approx(np.full(4, 2.9), abs=ROUNDING_M)  # a ceiling at 3.2 m
    assert one.centre[2] == pytest.approx(2.9 - 0.14, abs=ROUNDING_M)
    assert [hook.cord_m for hook in treatment.hooks] == pytest.approx([0.3] * 4, abs=ROUNDING_M)


def test_a_board_is_part_of_the_depth(scene_of):
    (one,) = treated(scene_of, panel(build="deep", gap=0.0), back="solid").room.panels
    assert one.centre[1] == pytest.approx(0.146, abs=ROUNDING_M)  # 6 mm of plywood behind the frame
