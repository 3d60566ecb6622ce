"""Cutting never loses a part, never exceeds a length, and what is bought adds up."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from raytrace.nesting import KERF_M, nest

METRIC = (2.4, 3.0, 4.8)
lengths = st.lists(st.integers(20, 5200).map(lambda mm: mm / 1000), max_size=40)


@given(lengths)
def test_no_part_is_lost_and_none_is_cut_twice(parts):
    nesting = nest(parts, METRIC)
    cut = [k for stick in nesting.sticks for k in stick.parts]
    assert sorted([*cut, *nesting.too_long]) == list(range(len(parts)))
    assert [k for k in range(len(parts)) if parts[k] > 4.8] == list(nesting.too_long)


@given(lengths)
def test_parts_cuts_and_offcut_of_every_stick_add_up_to_its_length(parts):
    for stick in nest(parts, METRIC).sticks:
        assert stick.stock_m in METRIC
        used = sum(parts[k] for k in stick.parts)
        lost = stick.stock_m - used - stick.offcut_m
        n = len(stick.parts)
        # A last sliver thinner than the saw goes with its kerf; 1e-9 m is rounding.
        assert (n - 1) * KERF_M - 1e-9 <= lost <= n * KERF_M + 1e-9
        if stick.offcut_m > 0:
            assert lost == pytest.approx(n * KERF_M, abs=1e-9)


@given(lengths)
def test_what_is_bought_is_within_twice_the_least_that_could_do(parts):
    nesting = nest(parts, METRIC)
    needed = sum(length for length in parts if length <= 4.8)
    # Any two bins of a first fit hold more than one length together; the last bin may be nearly empty.
    assert nesting.stock_m <= 2 * (needed + KERF_M * len(parts)) + 4.8


def test_parts_that_fill_a_length_to_the_last_millimetre_fit():
    nesting = nest([1.2, 1.197], [2.4])
    assert len(nesting.sticks) == 1
    assert nesting.sticks[0].offcut_m == 0.0


def test_a_short_remainder_is_cut_from_a_shorter_length():
    assert sorted(stick.stock_m for stick in nest([4.0, 2.0], METRIC).sticks) == [2.4, 4.8]


def test_small_cases_are_cut_as_well_as_trying_everything_out_would():
    # By hand: 2 x 1.24 + 2 x 0.6 = 3.68 m and cuts do not fit 3.0 m, so 4.8 m, in one or in two of 2.4 m.
    assert nest([1.24, 1.24, 0.6, 0.6], METRIC).stock_m == pytest.approx(4.8)


def test_an_impossible_length_is_refused():
    with pytest.raises(ValueError, match="positive"):
        nest([0.0], METRIC)
