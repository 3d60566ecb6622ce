"""Settings of delay, level and crossover."""

import numpy as np
import pytest

from raytrace.bass.evenness import CURVE_HZ
from raytrace.bass.settings import cross_over, tune


def test_a_late_and_weak_second_source_is_brought_back_in_step():
    f = np.linspace(30.0, 120.0, 60)
    first = np.ones((60, 2), complex)
    late = 10 ** (-3 / 20) * np.exp(2j * np.pi * f * 0.004)[:, None] * first
    delay, level, spread = tune(first, late, f)
    # 4 ms early: delayed by as much they add up to a flat curve whatever the level.
    assert delay == pytest.approx(4.0)
    assert spread == pytest.approx(0.0, abs=1e-9)  # rounding
    assert -6.0 <= level <= 6.0


def test_flat_sources_cross_over_flat():
    # The sum of both passes of a fourth-order Linkwitz-Riley filter is an all-pass.
    flat = np.ones((len(CURVE_HZ), 3), complex)
    found = cross_over(flat, flat, CURVE_HZ)
    assert found.plain_db == pytest.approx(0.0, abs=1e-9)  # rounding
    assert (found.delay_ms, found.level_db, found.is_inverted) == (0.0, 0.0, False)


def test_a_sub_with_its_poles_swapped_is_turned_back():
    flat = np.ones((len(CURVE_HZ), 3), complex)
    found = cross_over(-flat, flat, CURVE_HZ)
    assert found.is_inverted
    assert found.evenness_db < 0.1 < found.plain_db
