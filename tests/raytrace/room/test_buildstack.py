"""A build becomes the layers that sound meets."""

import numpy as np
import pytest

from raytrace.acoustics import Facing, Gap, Layer, Medium, Miki, reflection
from raytrace.room.buildstack import BOARD_M, CLOTH_KG_M2, depths_of, facing_note, stack_of
from raytrace.scene import Build, load_builds

AIR = Medium(343.2, 1.204)
WOOL = Build(size=(1.2, 0.6), thickness=0.1, flow_resistivity=12000)


def faced(**facing):
    return Build(size=(1.2, 0.6), thickness=0.1, flow_resistivity=12000, facing=facing)


def test_layers_stand_front_to_back_and_end_at_the_wall():
    build = faced(resistance=500, mass=0.2)
    assert stack_of(build, 0.05) == (Facing(500, 0.2), Layer(Miki(12000), 0.1), Gap(0.05))


def test_a_panel_right_on_the_wall_has_no_gap():
    assert stack_of(WOOL) == (Layer(Miki(12000), 0.1),)


def test_a_solid_back_makes_the_air_behind_it_meaningless():
    solid = WOOL.model_copy(update={"back": "solid"})
    assert stack_of(solid, 0.3) == stack_of(WOOL, 0.0)


def test_a_frame_deeper_than_its_slab_holds_air_behind_the_wool():
    deep = WOOL.model_copy(update={"frame": "20x140"})
    assert depths_of(deep).cavity_m == pytest.approx(0.04)
    assert depths_of(deep).outer_m == pytest.approx(0.14)
    for shallower in (WOOL, WOOL.model_copy(update={"frame": "20x90"})):
        assert depths_of(shallower).behind_m == 0.0
        assert depths_of(shallower).outer_m == pytest.approx(0.1)


def test_a_solid_back_closes_the_cavity_of_a_deep_frame():
    solid = WOOL.model_copy(update={"back": "solid", "frame": "20x140"})
    assert depths_of(solid).outer_m == pytest.approx(0.14 + BOARD_M)
    layer, gap = stack_of(solid, 0.3)
    assert layer == Layer(Miki(12000), 0.1)
    assert gap.depth_m == pytest.approx(0.04)


def test_cloth_that_can_be_breathed_through_is_no_layer_and_the_note_says_so():
    cotton = load_builds()["wool 100"]
    assert [type(part) for part in stack_of(cotton, 0.1)] == [Layer, Gap]
    assert '"cotton" is taken as an open cloth' in str(facing_note(cotton))
    assert "bare" in str(facing_note(WOOL))


def test_a_cloth_without_a_mass_is_weighed_as_upholstery_and_the_note_says_so():
    build = faced(resistance=800)
    assert stack_of(build)[0] == Facing(800, CLOTH_KG_M2)
    assert "not stated and taken 0.3 kg/m²" in str(facing_note(build))
    assert "not stated" not in str(facing_note(faced(resistance=800, mass=0.1)))


def test_air_behind_the_wool_helps_low_down():
    # The quarter wave of 100 mm wool and 200 mm air lies at 290 Hz, that of the wool alone at 860 Hz.
    spaced, flush = (abs(reflection(stack_of(WOOL, gap), 250.0, 1.0, AIR)) for gap in (0.2, 0.0))
    assert spaced < 0.7 * flush


@pytest.mark.parametrize("gap_m", [-0.01, np.inf, np.nan])
def test_an_impossible_gap_is_refused(gap_m):
    with pytest.raises(ValueError, match="depth_m"):
        stack_of(WOOL, gap_m)
