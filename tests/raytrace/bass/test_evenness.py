"""Evenness of levels over places, and dips and peaks of curves."""

import numpy as np
import pytest

from raytrace.bass.evenness import JUDGED_HZ, deviation_db, extremes, judge


def test_a_curve_without_ups_and_downs_is_even():
    found = judge(np.full((48, 9), 0.3))
    assert found.deviation_db == pytest.approx(0.0, abs=1e-12)  # rounding
    assert found.dip_db == pytest.approx(0.0, abs=1e-12)


def test_unevenness_is_the_deviation_over_bands_and_places():
    # Half of the places 6 dB louder at all frequencies: 3 dB off the mean everywhere.
    energy = np.ones((48, 4))
    energy[:, 2:] = 10**0.6
    assert judge(energy).deviation_db == pytest.approx(3.0)
    assert deviation_db(np.stack([energy, np.ones_like(energy)], axis=1)) == pytest.approx([3.0, 0.0])


def test_the_worst_dip_is_where_the_mean_over_places_is_lowest():
    energy = np.ones((48, 3))
    energy[20:22] = 0.01
    found = judge(energy)
    assert found.dip_hz == pytest.approx(np.sqrt(JUDGED_HZ[20] * JUDGED_HZ[21]))
    assert found.dip_db == pytest.approx(-20.0 * 23 / 24)


def test_only_what_stands_out_on_both_sides_is_a_dip_or_a_peak():
    level = np.array([0, 0, 8, 3, 4, 0, -2, 0, -9, 0, 0.0])
    dips, peaks = extremes(level)
    assert peaks.tolist() == [2]  # 4 dB rises from 3
    assert dips.tolist() == [8]  # -2 dB has 0 beside it
