import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from raytrace.acoustics.porous import Layer, Medium, Miki
from raytrace.acoustics.ratings import THIRDS_HZ, rate, rate_stack, weigh

# Rules of ISO 11654:1997 from memory; worked by hand.
WORKED = [
    0.12,
    0.18,
    0.27,
    0.38,
    0.52,
    0.66,
    0.78,
    0.87,
    0.93,
    0.97,
    1.01,
    1.03,
    1.02,
    1.00,
    0.99,
    0.98,
    0.97,
    0.96,
]


def test_the_worked_sheet_rates_0_80_h_class_b_nrc_and_saa_0_85():
    found = rate(WORKED)
    assert found.practical.tolist() == [0.20, 0.50, 0.85, 1.00, 1.00, 0.95]
    assert str(found.weighted) == "0.80(H)"
    assert found.weighted.sound_class == "B"
    assert found.nrc == 0.85
    assert found.saa == 0.85


@pytest.mark.parametrize(
    ("practical", "text", "sound_class"),
    [
        ([0.25, 0.55, 0.80, 0.85, 0.80], "0.55(MH)", "D"),
        ([0.35, 0.95, 0.70, 0.60, 0.55], "0.60(M)", "C"),
        ([0.10, 0.25, 0.50, 0.80, 0.90], "0.30(H)", "D"),
        ([0.60, 0.60, 0.30, 0.25, 0.20], "0.30(LM)", "D"),
        ([0.45, 0.85, 1.00, 1.00, 1.00], "0.75(MH)", "C"),
        ([0.80, 1.00, 1.00, 1.00, 0.90], "1.00", "A"),
        ([0.00, 0.00, 0.00, 0.00, 0.00], "0.00", "not classified"),
    ],
)
def test_weighted_absorption_of_worked_curves(practical, text, sound_class):
    found = weigh(practical)
    assert (str(found), found.sound_class) == (text, sound_class)


def test_third_octaves_are_the_exact_ones():
    nominal = [
        100,
        125,
        160,
        200,
        250,
        315,
        400,
        500,
        630,
        800,
        1000,
        1250,
        1600,
        2000,
        2500,
        3150,
        4000,
        5000,
    ]
    np.testing.assert_allclose(THIRDS_HZ, nominal, rtol=0.01)  # nominal names differ by up to 0.9 %


@pytest.mark.parametrize(
    ("level", "nrc", "saa"), [(0.825, 0.85, 0.83), (0.824, 0.80, 0.82), (1.12, 1.10, 1.12)]
)
def test_nrc_and_saa_round_ties_upwards_and_may_exceed_one(level, nrc, saa):
    # ASTM C423 (from memory).
    found = rate([level] * 18)
    assert (found.nrc, found.saa) == (nrc, saa)


@given(st.lists(st.integers(0, 20), min_size=5, max_size=5), st.integers(0, 4))
def test_more_absorption_never_lowers_the_weighted_value(steps, band):
    more = [*steps]
    more[band] = min(20, steps[band] + 3)
    assert weigh(np.array(more) / 20).alpha_w >= weigh(np.array(steps) / 20).alpha_w


def test_thicker_wool_rates_higher():
    air = Medium(343.2, 1.204)
    thin, thick = (rate_stack((Layer(Miki(12_000.0), depth),), air) for depth in (0.03, 0.10))
    assert thick.weighted.alpha_w > thin.weighted.alpha_w
    assert thick.nrc > thin.nrc


@pytest.mark.parametrize("wrong", [[0.5] * 17, [-0.1] + [0.5] * 17, [np.nan] + [0.5] * 17])
def test_a_sheet_that_is_not_one_is_refused(wrong):
    with pytest.raises(ValueError, match="absorption"):
        rate(wrong)


@pytest.mark.parametrize("wrong", [[0.5] * 4, [0.52] * 5, [1.05] * 5, [np.nan] * 5])
def test_practical_values_off_the_steps_are_refused(wrong):
    with pytest.raises(ValueError, match="practical"):
        weigh(wrong)
