import numpy as np
import pytest

from raytrace.classical import (
    arau_s,
    decay_parameters,
    eyring_s,
    kuttruff_s,
    sabine_s,
    schroeder_hz,
    target_s,
)

# Worked room 5.0 x 4.0 x 2.6 m; values computed from the cited formulas (Sabine; Eyring; Arau-Puchades).
VOLUME = 52.0
AREAS = np.array([20.0, 20.0, 10.4, 10.4, 13.0, 13.0])
ALPHA = np.array([0.05, 0.40, 0.10, 0.50, 0.10, 0.10])
NORMALS = np.repeat(np.eye(3)[[2, 0, 1]], 2, axis=0)


def test_the_worked_room_gives_its_times():
    assert sabine_s(VOLUME, AREAS, ALPHA) == pytest.approx(0.46934, abs=1e-5)  # printed digits
    assert eyring_s(VOLUME, AREAS, ALPHA) == pytest.approx(0.41926, abs=1e-5)
    assert arau_s(VOLUME, AREAS, ALPHA, NORMALS) == pytest.approx(0.45495, abs=1e-5)
    assert kuttruff_s(VOLUME, 86.8, 0.205530, path_variance=0.4) == pytest.approx(0.43948, abs=1e-5)


def test_air_shortens_the_worked_times():
    assert sabine_s(VOLUME, AREAS, ALPHA, air_per_m=1.07e-3) == pytest.approx(0.46356, abs=1e-5)
    assert eyring_s(VOLUME, AREAS, ALPHA, air_per_m=1.07e-3) == pytest.approx(0.41464, abs=1e-5)


def test_the_target_follows_the_volume():
    # EBU Tech 3276: 0.25 s at 100 m3
    for volume, seconds in ((30, 0.1674), (50, 0.1984), (52, 0.2010), (100, 0.25), (200, 0.3150)):
        assert target_s(volume) == pytest.approx(seconds, abs=5e-5)  # printed digits


def test_the_schroeder_frequency_of_the_worked_room():
    assert schroeder_hz(0.25, 52.0) == pytest.approx(138.68, abs=0.005)  # printed digits


def test_an_exponential_decay_has_the_parameters_of_its_formula():
    # T = 0.3 s: C50 = 10 lg 9, D50 = 0.9, C80 15.8895 dB, Ts = tau = 21.7147 ms (ISO 3382-1 definitions)
    bin_s, tau = 1e-3, 0.3 / (6 * np.log(10))
    edges = bin_s * np.arange(901)
    energy = -np.diff(np.exp(-edges / tau))[:, None]
    p = decay_parameters(energy, bin_s)
    for value in (p.edt_s, p.t20_s, p.t30_s):
        assert value[0] == pytest.approx(0.3, rel=1e-4)  # 900 ms of record
    assert p.c50_db[0] == pytest.approx(9.542425, abs=1e-4)
    assert p.c80_db[0] == pytest.approx(15.889516, abs=1e-4)
    assert p.d50[0] == pytest.approx(0.9, abs=1e-6)
    assert p.ts_ms[0] == pytest.approx(21.7147, abs=0.01)  # bins of 1 ms against a smooth curve


def test_two_slopes_give_edt_t20_and_t30_of_their_own():
    # 0.9 of T = 0.2 s and 0.1 of T = 0.8 s: EDT 0.2475, T20 0.6066, T30 0.7133 s (least squares on 48 kHz)
    bin_s = 1 / 48000
    edges = bin_s * np.arange(int(4 / bin_s))
    tau1, tau2 = (t / (6 * np.log(10)) for t in (0.2, 0.8))
    energy = -np.diff(0.9 * np.exp(-edges / tau1) + 0.1 * np.exp(-edges / tau2))[:, None]
    p = decay_parameters(energy, bin_s)
    assert p.edt_s[0] == pytest.approx(0.2475, abs=1e-3)
    assert p.t20_s[0] == pytest.approx(0.6066, abs=1e-3)
    assert p.t30_s[0] == pytest.approx(0.7133, abs=1e-3)
    assert p.c50_db[0] == pytest.approx(11.1920, abs=1e-2)


def test_a_curve_that_does_not_reach_far_enough_has_no_time():
    energy = np.array([[1.0], [0.9], [0.8], [0.7]])
    assert np.isnan(decay_parameters(energy, 1e-3).t30_s[0])
