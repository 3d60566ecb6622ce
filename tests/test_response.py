import numpy as np
import pytest
from conftest import BOX

from raytrace import build_room, find_arrivals, run_study
from raytrace.response import energy_time_curves


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
