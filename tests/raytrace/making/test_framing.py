"""What a panel is made of, and that its masses add up."""

import pytest

from raytrace.making.framing import mass_notes, take_apart
from raytrace.scene import Build, load_builds

CLOUD = Build(size=(2.4, 1.2), thickness=0.1, flow_resistivity=15000, density=60, frame="20x100")


def test_a_large_cloud_weighs_what_it_does_by_hand():
    # 100 mm at 60 kg/m3, by hand (common practice, no source): wool 17.28 kg, 7.28 m of frame at 0.96
    # and a cross-bar of 1.24 m at 0.43 kg/m, cloth 2.2 kg with its wrap: 27.0 kg, rounded to a tenth.
    piece = take_apart(CLOUD, hung=False)
    assert piece.wool_kg == pytest.approx(17.28, abs=1e-9)
    # Cloth as it is cut: 2.74 x 1.54 m in front, round the frame, and 2.44 x 1.24 m behind.
    assert piece.cloth_kg == pytest.approx((2.74 * 1.54 + 2.44 * 1.24) * 0.3, abs=1e-9)
    assert piece.mass_kg == pytest.approx(27.0, abs=0.1)


def test_the_inside_of_the_frame_is_the_slab():
    piece = take_apart(load_builds()["wool 50"], hung=False)
    long, short = piece.parts
    # Butt joints: the short sides stand between the long ones.
    assert short.length_m == pytest.approx(0.6)
    assert long.length_m - 2 * long.timber.thickness_m == pytest.approx(1.2)
    assert piece.outer_m == pytest.approx((1.24, 0.64, 0.05))


@pytest.mark.parametrize(
    ("length_m", "hung", "n_bars"),
    [(1.2, False, 0), (1.6, False, 1), (1.2, True, 2), (1.6, True, 3), (2.4, True, 3)],
)
def test_long_frames_get_a_bar_and_hung_ones_rails(length_m, hung, n_bars):
    piece = take_apart(CLOUD.model_copy(update={"size": (length_m, 0.6)}), hung=hung)
    assert sum(part.count for part in piece.parts) == 4 + n_bars


def test_timber_weighs_its_volume_times_its_density():
    piece = take_apart(CLOUD, hung=True)
    volume = sum(p.count * p.length_m * p.timber.thickness_m * p.timber.depth_m for p in piece.parts)
    assert piece.timber_kg == pytest.approx(480 * volume)  # softwood; rounding only


def test_cloth_wraps_round_the_frame_and_fifty_millimetres_more():
    piece = take_apart(CLOUD, hung=False)
    # 2.44 + 2 (0.1 + 0.05) by 1.24 + 2 (0.1 + 0.05)
    assert piece.front_cloth_m == pytest.approx((2.74, 1.54))


def test_a_solid_back_adds_a_board_over_the_whole_frame():
    solid = take_apart(load_builds()["wool 100 solid back"], hung=False)
    bare = take_apart(load_builds()["wool 100"], hung=False)
    assert solid.board_m == pytest.approx((1.24, 0.64))
    # 6 mm of plywood, 650 kg/m3
    assert solid.mass_kg - bare.mass_kg == pytest.approx(1.24 * 0.64 * 0.006 * 650)


def test_a_facing_that_states_its_mass_is_weighed_with_it():
    faced = Build(
        size=(1.2, 0.6), thickness=0.05, flow_resistivity=15000, facing={"resistance": 9, "mass": 1.3}
    )
    # Front 1.24 + 2 (0.05 + 0.05) by 0.64 + the same, in the facing; back 1.24 by 0.64, in usual cloth.
    expected = 1.44 * 0.84 * 1.3 + 1.24 * 0.64 * 0.3
    assert take_apart(faced, hung=False).cloth_kg == pytest.approx(expected)


def test_the_middle_of_a_panel_is_that_of_its_parts():
    # Wool 100 in 20 x 120: wool 50 mm behind the front, 3.68 m of timber and the cloth 60 mm.
    deep = load_builds()["wool 100"].model_copy(update={"frame": "20x120"})
    piece = take_apart(deep, hung=False)
    wool, timber = 0.72 * 0.1 * 45, (2 * 1.24 + 2 * 0.6) * 0.02 * 0.12 * 480
    expected = (wool * 0.05 + (timber + piece.cloth_kg) * 0.06) / (wool + timber + piece.cloth_kg)
    assert piece.middle_m == pytest.approx(expected)


def test_whatever_was_assumed_is_said():
    bare = Build(size=(1.2, 0.6), thickness=0.1, flow_resistivity=12000)
    assert ["density" in str(note) or "timber" in str(note) for note in mass_notes(bare)] == [True, True]
    shallow = mass_notes(CLOUD.model_copy(update={"frame": "1x4"}))
    assert len(shallow) == 1
    assert "11 mm shallower" in str(shallow[0])
    deep = mass_notes(CLOUD.model_copy(update={"frame": "20x120"}))
    assert len(deep) == 1
    assert "20 mm deeper" in str(deep[0])
    assert mass_notes(CLOUD) == ()
