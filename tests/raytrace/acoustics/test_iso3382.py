"""Closed forms of exponential and two-slope decays (figures worked out from the definitions)."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from raytrace.acoustics.iso3382 import decay_curve, room_parameters

RATE_HZ = 48_000
BLACK = np.zeros(1)


def exponential(decay_s, until_s, step_s=1.0 / RATE_HZ):
    return np.exp(-np.arange(0.0, until_s, step_s) * 6 * np.log(10) / decay_s)[:, None]


def test_an_exponential_decay_has_one_decay_time():
    found = room_parameters(BLACK, exponential(0.3, 0.6), 1.0 / RATE_HZ)
    for seconds in (found.edt_s, found.t20_s, found.t30_s):
        assert_allclose(seconds, 0.3, atol=1e-7)  # what lies beyond 2 T
    assert_allclose(found.c50_db, 9.542425, atol=1e-4)  # 10 lg 9
    assert_allclose(found.c80_db, 15.889516, atol=1e-4)
    assert_allclose(found.d50, 0.9, atol=1e-6)
    assert_allclose(found.ts_s, 0.0217147, atol=1e-7)


def test_a_slow_exponential_decay():
    found = room_parameters(BLACK, exponential(1.0, 2.0), 1.0 / RATE_HZ)
    assert_allclose(found.c50_db, -0.020624, atol=1e-4)
    assert_allclose(found.c80_db, 3.053410, atol=1e-4)
    assert_allclose(found.d50, 0.498813, atol=1e-6)
    assert_allclose(found.ts_s, 0.0723824, atol=1e-6)  # what lies beyond 2 T


def test_a_decay_with_two_slopes():
    # E(t)/E(0) = 0.9 exp(-t/tau1) + 0.1 exp(-t/tau2), T1 = 0.2 s, T2 = 0.8 s.
    time = np.arange(0, 2 * RATE_HZ + 1) / RATE_HZ
    rest = 0.9 * 10.0 ** (-6 * time / 0.2) + 0.1 * 10.0 ** (-6 * time / 0.8)
    found = room_parameters(BLACK, -np.diff(rest)[:, None], 1.0 / RATE_HZ)
    assert_allclose(found.edt_s, 0.2475, atol=1e-3)
    assert_allclose(found.t20_s, 0.6066, atol=1e-3)
    assert_allclose(found.t30_s, 0.7133, atol=1e-3)
    assert_allclose(found.c50_db, 11.1920, atol=1e-3)
    assert_allclose(found.c80_db, 15.2944, atol=1e-3)
    assert_allclose(found.d50, 0.92937, atol=1e-5)
    assert_allclose(found.ts_s, 0.0188194, atol=1e-6)


def test_coarse_bins_agree_with_fine_ones():
    fine = exponential(0.3, 0.6)
    coarse = fine[: len(fine) // 48 * 48].reshape(-1, 48, 1).sum(axis=1)
    one, other = (room_parameters(BLACK, e, s) for e, s in ((fine, 1 / RATE_HZ), (coarse, 0.001)))
    assert_allclose(one.t20_s, other.t20_s, atol=1e-6)
    assert_allclose(one.c80_db, other.c80_db, atol=1e-3)
    assert_allclose(one.ts_s, other.ts_s, atol=1e-5)  # 1 ms bins carry their energy in their middle


def test_a_limit_within_a_bin_takes_its_share_of_the_bin():
    # Bins of 20 ms: 50 ms lie half way through the third, 80 ms on the edge of the fifth.
    energy = np.zeros((20, 1))
    energy[[2, 4]] = 1.0
    found = room_parameters(BLACK, energy, 0.02)
    assert_allclose(found.d50, 0.25, atol=1e-12)
    assert_allclose(found.c80_db, 0.0, atol=1e-12)


def test_the_direct_sound_counts_at_time_zero():
    found = room_parameters(np.array([9.0]), np.array([[0.0]] * 99 + [[1.0]]), 0.001)
    assert_allclose(found.d50, 0.9)
    assert_allclose(found.ts_s, 0.1 * 0.0995)
    assert_allclose(decay_curve([9.0], [[0.5], [0.5]]).ravel(), [10.0, 0.5, 0.0])


def test_no_decay_time_from_a_record_that_is_too_short():
    # 0.1 s of a decay over 0.3 s falls by 20 dB: cut off, the curve would bend.
    found = room_parameters(BLACK, exponential(0.3, 0.1, 0.001), 0.001)
    assert np.isnan(found.t20_s)
    assert np.isnan(found.t30_s)


def test_no_early_decay_time_where_the_direct_sound_drowns_the_rest():
    found = room_parameters(np.array([1e4]), exponential(0.3, 0.6, 0.001), 0.001)
    assert np.isnan(found.edt_s)


@pytest.mark.parametrize("step_s", [0.001, 0.0005, 0.00025])
@pytest.mark.parametrize("share", [0.0, 0.3, 1.0, 3.0, 6.0])
def test_the_direct_sound_before_an_exponential_decay_bends_no_line(share, step_s):
    # Sampled ever finer, one point at 0 dB counts for nothing beside the straight line behind it.
    energy = exponential(0.3, 0.9, step_s)
    found = room_parameters(share * energy.sum(axis=0), energy, step_s)
    for seconds in (found.edt_s, found.t20_s, found.t30_s):
        assert_allclose(seconds, 0.3, rtol=1e-6)  # what lies beyond 3 T


def finely_sampled_s(energy_of, direct, from_db, to_db):
    """ISO 3382-1 in so many words: a line through the levels of a curve at a million times."""
    time = (np.arange(1_000_000) + 0.5) * 1e-6
    level = 10.0 * np.log10(energy_of(time) / (energy_of(np.zeros(1))[0] + direct))
    used = (level <= from_db) & (level >= to_db)
    return -60.0 / np.polyfit(time[used], level[used], 1)[0]


@pytest.mark.parametrize("direct", [0.0, 1.0, 4.0])
def test_single_reflections_are_steps_at_their_own_time(direct):
    # Steps at odd times over a smooth decay, in bins that none of them ends with.
    delay_s, single = np.array([0.0123, 0.00437, 0.0301]), np.array([[0.3], [0.8], [0.2]])
    rate = 6 * np.log(10) / 0.4

    def still_to_come(time):
        steps = single.ravel() @ (delay_s[:, None] > time)
        return np.exp(-rate * time) + steps

    edges = np.arange(0.0, 1.2, 0.001)
    energy = -np.diff(np.exp(-rate * edges))[:, None]
    found = room_parameters(np.array([direct]), energy, 0.001, reflections=(delay_s, single))
    assert_allclose(found.edt_s, finely_sampled_s(still_to_come, direct, 0.0, -10.0), rtol=1e-3)
    assert_allclose(found.t20_s, finely_sampled_s(still_to_come, direct, -5.0, -25.0), rtol=1e-3)
    total = direct + 1.0 + single.sum()
    assert_allclose(found.d50, 1.0 - np.exp(-rate * 0.05) / total, rtol=1e-6)
    assert_allclose(found.ts_s, (1.0 / rate + delay_s @ single.ravel()) / total, rtol=1e-4)


def test_a_single_reflection_is_no_decay():
    # Level until it comes, and nothing after: steps at both ends, and no fall between them.
    found = room_parameters(np.ones(1), np.zeros((100, 1)), 0.001, reflections=([0.0123], [[0.2]]))
    assert np.isnan([found.edt_s, found.t20_s, found.t30_s]).all()


@pytest.mark.parametrize("shape", [(2, 3), (4,)])
def test_many_decays_at_once_equal_one_by_one(shape):
    energy = np.random.default_rng(0).random((*shape, 200, 8)) * exponential(0.2, 0.2, 0.001)
    many = room_parameters(np.ones(8), energy, 0.001)
    one = room_parameters(np.ones(8), energy[(1,) * len(shape)], 0.001)
    assert_allclose(many.c50_db[(1,) * len(shape)], one.c50_db, rtol=1e-12)
    assert many.t20_s.shape == (*shape, 8)
