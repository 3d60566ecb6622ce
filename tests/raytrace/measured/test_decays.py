"""Decay parameters against closed forms: exponentials, two slopes, cut records, noise."""

from pathlib import Path

import numpy as np
import pytest

from raytrace import load_scene
from raytrace.acoustics import room_parameters
from raytrace.measured.decays import compensated, measured_decay
from raytrace.measured.recordings import Recording
from raytrace.measured.responses import find_response
from tests.support.scenes import SCENES

RATE_HZ = 48_000


def figures(energy):
    held = compensated(energy, RATE_HZ)
    found = room_parameters([0.0], held.energy[:, None], 0.001)
    return held, {name: float(getattr(found, name)[0]) for name in found.__dataclass_fields__}


def falling(time_s, lasts_s):
    return 10.0 ** (-6.0 * np.arange(round(lasts_s * RATE_HZ)) / RATE_HZ / time_s)


# C50, C80, D50, Ts of a pure exponential, ISO 3382-1's definitions worked out.
@pytest.mark.parametrize(
    ("time_s", "c50", "c80", "d50", "ts_s"),
    [
        (0.3, 9.542425, 15.889516, 0.9, 0.021714724),
        (1.0, -0.020624, 3.053410, 0.498813, 0.072382414),
    ],
)
@pytest.mark.parametrize("share", [2.0, 1.0, 0.7])
def test_an_exponential_gives_its_own_time_also_where_the_record_is_cut(time_s, c50, c80, d50, ts_s, share):
    held, found = figures(falling(time_s, share * time_s))
    assert held.is_cut
    # Energies lie in bins of 1 ms and the tail is carried on for 70 dB.
    assert [found[name] for name in ("edt_s", "t20_s", "t30_s")] == pytest.approx([time_s] * 3, rel=1e-4)
    assert [found["c50_db"], found["c80_db"]] == pytest.approx([c50, c80], abs=1e-3)
    assert found["d50"] == pytest.approx(d50, abs=1e-4)
    assert found["ts_s"] == pytest.approx(ts_s, abs=3e-5)  # half a sample and half a bin's slope


def test_two_slopes_give_the_times_of_the_backward_integral():
    k, time_s = 6.0 * np.log(10.0), np.arange(round(1.6 * RATE_HZ)) / RATE_HZ
    energy = 0.9 * k / 0.2 * np.exp(-time_s * k / 0.2) + 0.1 * k / 0.8 * np.exp(-time_s * k / 0.8)
    _, found = figures(energy)
    # By least squares on a sampled integral, to the last digit that it is printed with.
    assert [found[n] for n in ("edt_s", "t20_s", "t30_s")] == pytest.approx(
        [0.2475, 0.6066, 0.7133], abs=1e-4
    )
    assert [found["c50_db"], found["c80_db"]] == pytest.approx([11.1920, 15.2944], abs=3e-3)  # bins of 1 ms


@pytest.mark.parametrize(("noise_db", "least_db"), [(-60.0, 55.0), (-50.0, 45.0), (-40.0, 35.0)])
def test_noise_is_taken_out_and_its_range_told(noise_db, least_db):
    random = np.random.default_rng(0)
    sound = random.normal(size=RATE_HZ) * np.sqrt(falling(0.3, 1.0))
    noise = random.normal(size=RATE_HZ) * 10.0 ** (noise_db / 20.0)
    held, found = figures((sound + noise) ** 2)
    assert not held.is_cut
    assert least_db < held.range_db < -noise_db + 3.0
    assert found["t20_s"] == pytest.approx(0.3, rel=0.03)  # one stretch of noise of 0.1 s
    assert found["c50_db"] == pytest.approx(9.54, abs=0.5)


def test_a_record_that_hardly_falls_claims_no_range():
    held, _ = figures(falling(0.7, 0.1))
    assert held.is_cut
    assert held.range_db < 10.0  # 60 dB * 0.1 / 0.7 = 8.6, the mean of its end


def test_zeros_that_fill_up_a_file_are_no_silence_of_the_room():
    scene = load_scene(SCENES / "box.toml")
    random = np.random.default_rng(5)
    sound = random.normal(size=4800) * np.sqrt(falling(0.6, 0.1))
    sound[0] = 30.0
    held = np.concatenate([1e-3 * random.normal(size=2400), sound])

    def decay(n_zeros):
        samples = np.append(held, np.zeros(n_zeros))
        recording = Recording(Path("cut.wav"), RATE_HZ, samples, 0.0, len(samples) / RATE_HZ)
        return measured_decay(find_response(scene, recording))

    cut, filled = decay(0), decay(9600)
    # 100 ms of 0.6 s fall by 10 dB. With the zeros taken for silence the range was 120 dB, T30 0.23 s.
    assert filled.range_db == pytest.approx(cut.range_db, abs=1e-9)  # the same samples
    assert filled.range_db.max() < 25.0
    assert np.isnan(filled.parameters.t20_s).all()
