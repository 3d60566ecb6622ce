"""A name of timber means an actual size."""

import pytest

from raytrace.making.timber import batten_for, frame_timber, yard_timber


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


def test_inch_timber_comes_in_feet_and_its_battens_too():
    nominal = frame_timber("1x4", 0.1)
    assert [round(length / 0.3048, 6) for length in nominal.stock_m] == [8, 12, 16]
    assert batten_for(nominal).stock_m == nominal.stock_m
    assert batten_for(frame_timber("20x50", 0.05)).stock_m == (2.4, 3.0, 4.8)


def test_a_metre_of_frame_timber_weighs_what_it_usually_does():
    # 0.9 to 1.0 kg per metre of 20 x 100 mm softwood: common practice, no source.
    assert 0.9 <= frame_timber("20x100", 0.1).kg_m <= 1.0


@pytest.mark.parametrize("depth_mm", [30, 45, 50, 75, 100, 150, 200])
def test_a_yards_timber_is_never_narrower_than_the_frame_it_is_ripped_for(depth_mm):
    timber = frame_timber(f"20x{depth_mm} mm", 0.05)
    sold = yard_timber(timber)
    thin, deep = map(int, sold.name.split("x"))
    assert thin == 1
    if timber.name != "20x45":  # rails: the usual batten does
        assert sold.depth_m >= timber.depth_m
        assert sold.is_ripped
        # The next narrower nominal width would not do.
        narrower = frame_timber(f"1x{max(n for n in (1, 2, 3, 4, 5, 6, 8, 10) if n < deep)}", 0.05)
        assert narrower.depth_m < timber.depth_m


def test_a_nominal_timber_is_sold_as_it_is():
    sold = yard_timber(frame_timber("1x3", 0.05))
    assert (sold.name, sold.is_ripped) == ("1x3", False)
    assert sold.depth_m == pytest.approx(2.5 * 0.0254)
