from dataclasses import replace

import numpy as np
import pytest

from raytrace import build_room, find_arrivals, run_study
from raytrace.acoustics import band_frequencies_hz
from raytrace.reflections.response import early_responses, energy_time_curves, transfer
from tests.support.scenes import BOX


def test_the_curve_shows_every_first_reflection_of_the_worked_room(scene_of):
    # Round trip of section 12.3 of the reference values: band 1-8 kHz, 0.01 ms and 0.5 dB.
    scene = scene_of(BOX)
    arrivals = find_arrivals(scene, build_room(scene), up_to_order=1)
    curve = energy_time_curves(scene, arrivals)[0]
    local = np.flatnonzero(
        (curve.level_db[1:-1] > curve.level_db[:-2]) & (curve.level_db[1:-1] > curve.level_db[2:])
    )
    peak_s, peak_db = curve.time_s[local + 1], curve.level_db[local + 1]
    for delay_s, level_db in zip(arrivals.delay_s, arrivals.band_level_db, strict=True):
        nearest = np.argmin(np.abs(peak_s - delay_s))
        assert peak_s[nearest] == pytest.approx(delay_s, abs=1.1e-5)  # one sample at 96 kHz
        assert peak_db[nearest] == pytest.approx(level_db, abs=0.5)  # side lobes of the others overlap


def test_the_phase_of_a_pressure_shifts_it_as_a_delay_does(scene_of):
    scene, shift_s = scene_of(BOX), 5e-5
    arrivals = find_arrivals(scene, build_room(scene), up_to_order=1)
    ears, missed = arrivals.at_ears[0], arrivals.near_misses.at_ears[0]
    turned = replace(ears, pressure=ears.pressure * np.exp(-2j * np.pi * band_frequencies_hz() * shift_s))
    later = replace(ears, delay_s=ears.delay_s + shift_s)
    f = np.geomspace(1000.0, 8000.0, 500)
    by_phase, by_delay = (transfer(own, missed, f) for own in (turned, later))
    # Phase is carried on over the logarithm of frequency: at 8 kHz 2.5 rad x (ln 2 / 24)^2 / 8 an arrival.
    bound = 2.7e-4 * np.abs(ears.pressure).max(axis=(1, 2)).sum()
    np.testing.assert_allclose(by_phase, by_delay, rtol=0, atol=bound)
    assert np.abs(by_phase - transfer(ears, missed, f)).max() > 0.5  # what a dropped phase would be off


def test_the_direct_sound_is_at_0_db_and_0_ms(scene_of):
    curve = run_study(scene_of(BOX), up_to_order=1).curves[0]
    strongest = int(np.argmax(curve.level_db))
    assert curve.time_s[strongest] == pytest.approx(0.0, abs=1e-9)
    assert curve.level_db[strongest] == pytest.approx(0.0, abs=0.1)  # side lobes of the reflections
    assert curve.time_s[0] == pytest.approx(-0.001, abs=1e-9)
    assert curve.time_s[-1] == pytest.approx(0.030, abs=2e-5)


def test_a_hidden_speaker_has_no_direct_pulse(scene_of):
    screen = """
[[objects]]
name = "screen"
shape = "box"
centre = [2.1, 1.65, 0.9]
size = [0.05, 1.2, 1.8]
material = "hard"
"""
    curve = run_study(scene_of(BOX + screen), up_to_order=1).curves[0]
    assert curve.level_db[np.abs(curve.time_s) < 0.0001].max() < -15.0


DEAD = BOX.replace('default = "hard"', 'default = "open"\nfloor = "hard"')


def test_one_bounce_draws_its_comb(scene_of):
    # |H| = |1 + a e^{-j w t}|: peaks n/t, dips (2n + 1)/(2t) (comb of one reflection, textbook). Worked
    # room, floor alone: 2.9764 ms, so the first dip above 200 Hz lies at 504 Hz, the spacing is 336 Hz.
    scene = scene_of(DEAD)
    arrivals = find_arrivals(scene, build_room(scene), up_to_order=1)
    response = early_responses(arrivals)[0]
    a = 10 ** (arrivals.level_db[np.argmax(arrivals.band_level_db), 3] / 20)
    t = arrivals.delay_s[np.argmax(arrivals.band_level_db)]
    low = response.frequency_hz < 1000
    across = response.frequency_hz[:, None] * 2.0 ** np.linspace(-1 / 24, 1 / 24, 401)
    exact = 10 * np.log10(np.mean(np.abs(1 + a * np.exp(-2j * np.pi * across * t)) ** 2, axis=1))
    assert (
        np.abs(response.level_db - exact)[low].max() < 0.4
    )  # lines 5 Hz apart, windows 12 Hz wide at 200 Hz
    dip = response.frequency_hz[low][np.argmin(response.level_db[low])]
    assert dip == pytest.approx(1.5 / t, rel=0.02)  # 48 steps to the octave


def test_the_smoothed_comb_tends_to_the_sum_of_energies(scene_of):
    # Teeth closer than the smoothing width average out to 1 + a^2.
    scene = scene_of(DEAD)
    arrivals = find_arrivals(scene, build_room(scene), up_to_order=1)
    response = early_responses(arrivals)[0]
    a2 = 10 ** (arrivals.level_db[np.argmax(arrivals.band_level_db), 7] / 10)
    top = response.frequency_hz > 7500
    assert np.mean(10 ** (response.level_db[top] / 10)) == pytest.approx(1 + a2, rel=0.15)  # a few teeth


def test_nothing_but_the_direct_sound_is_flat(scene_of):
    scene = scene_of(BOX.replace('default = "hard"', 'default = "open"'))
    for response in early_responses(find_arrivals(scene, build_room(scene), up_to_order=1)):
        assert np.allclose(response.level_db, 0.0, atol=1e-9)  # rounding


def test_the_dips_of_the_strongest_reflection_are_marked_as_far_as_they_can_be_seen(scene_of):
    scene = scene_of(DEAD)
    arrivals = find_arrivals(scene, build_room(scene), up_to_order=1)
    response = early_responses(arrivals)[0]
    assert response.strongest == int(np.argmax(arrivals.band_level_db))
    t = arrivals.delay_s[response.strongest]
    # 2.9764 ms: the dip at 168 Hz lies below the range; 16.8 half steps fit above a twelfth of an octave.
    assert response.dips_hz == pytest.approx((np.arange(1, 16) + 0.5) / t, rel=1e-12)  # rounding
    for dip_hz, next_hz in zip(response.dips_hz[:8], response.dips_hz[1:9], strict=True):
        near = np.abs(np.log2(response.frequency_hz / dip_hz)) < 1 / 48
        half_way = np.abs(np.log2(response.frequency_hz / (dip_hz + next_hz) * 2.0)) < 1 / 48
        assert response.level_db[near].min() < response.level_db[half_way].max() - 5.0  # smoothed


def test_a_weak_reflection_or_a_hidden_speaker_marks_no_dips(scene_of):
    weak = DEAD.replace(
        "absorption = [0, 0, 0, 0, 0, 0, 0, 0]", "absorption = [" + ", ".join(["0.97"] * 8) + "]"
    )
    screen = """
[[objects]]
name = "screen"
shape = "box"
centre = [2.1, 1.65, 0.9]
size = [0.05, 1.2, 1.8]
material = "hard"
"""
    for text in (weak, BOX + screen):
        scene = scene_of(text)
        for response in early_responses(find_arrivals(scene, build_room(scene), up_to_order=1)):
            assert not response.dips_hz.size
