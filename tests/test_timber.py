"""A name of timber means an actual size."""

import pytest

from raytrace.timber import batten_for, frame_timber, names_a_size


@pytest.mark.parametrize(
    ("frame", "size_mm"),
    [
        ("20x100", (20, 100)),
        ("pine 100 x 20 mm, planed", (20, 100)),
        ("1x4", (19, 89)),
        ("1x6 cedar", (19, 140)),
        ("2 x 4", (38, 89)),
        ("3/4 ply", (20, 50)),
        (None, (20, 50)),
    ],
)
def test_nominal_inches_are_not_actual_millimetres_are(frame, size_mm):
    timber = frame_timber(frame, 0.05)
    # Sizes of the standard are given in whole millimetres.
    assert (round(1000 * timber.thickness_m), round(1000 * timber.depth_m)) == size_mm


def test_only_words_with_a_size_count_as_one():
    assert names_a_size("1x4")
    assert not names_a_size("pine")


def test_inch_timber_comes_in_feet_and_its_battens_too():
    nominal = frame_timber("1x4", 0.1)
    assert [round(length / 0.3048, 6) for length in nominal.stock_m] == [8, 12, 16]
    assert batten_for(nominal).stock_m == nominal.stock_m
    assert batten_for(frame_timber("20x50", 0.05)).stock_m == (2.4, 3.0, 4.8)


def test_a_metre_of_frame_timber_weighs_what_it_usually_does():
    # 0.9 to 1.0 kg per metre of 20 x 100 mm softwood: common practice, no source.
    assert 0.9 <= frame_timber("20x100", 0.1).kg_m <= 1.0
