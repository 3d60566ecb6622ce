"""Sweeps played by one clock and recorded by another: the smear is found and undone, and none is made up."""

import re

import numpy as np
import pytest
import soundfile
from scipy.interpolate import CubicSpline
from scipy.signal import fftconvolve, resample_poly

from raytrace.measured import Sweep, read_recording, read_response, sweep_file

DELAYS, LEVELS = np.array([300, 540, 816, 2700]), np.array([1.0, 0.5, -0.4, 0.3])  # samples


@pytest.fixture(scope="module")
def sweep(tmp_path_factory):
    path = tmp_path_factory.mktemp("clocks") / "sweep.wav"
    path.write_bytes(sweep_file(Sweep(3.0)))
    return read_recording(path, whole=True)


def heard(sweep, folder, millionths, *, crossover_hz=None):
    """What a recorder makes of the sweep in a room of four pulses, its clock so much too slow."""
    response = np.zeros(4800)
    response[DELAYS] = LEVELS
    sound = fftconvolve(sweep.samples, response)
    if crossover_hz is not None:  # what a crossover of fourth order does to phases: the tweeter leads
        f = 1j * np.fft.rfftfreq(len(sound), 1.0 / sweep.rate_hz) / crossover_hz
        turned = (1.0 - np.sqrt(2.0) * f + f**2) / (1.0 + np.sqrt(2.0) * f + f**2)
        sound = np.fft.irfft(np.fft.rfft(sound) * turned, len(sound))
    if millionths:
        fine = resample_poly(sound, 8, 1)
        n = int(len(sound) / (1.0 + 1e-6 * millionths)) - 1
        sound = CubicSpline(np.arange(len(fine)) / 8.0, fine)(np.arange(n) * (1.0 + 1e-6 * millionths))
    sound += np.random.default_rng(1).normal(0.0, 1e-4, len(sound))
    path = folder / "heard.wav"
    soundfile.write(path, sound, sweep.rate_hz, subtype="FLOAT")
    return read_response(path, sweep=sweep)


@pytest.mark.parametrize("millionths", [-800.0, 400.0, 2000.0])
def test_the_smear_of_two_clocks_is_undone_and_said(sweep, tmp_path, millionths):
    response = heard(sweep, tmp_path, millionths)
    told = next(str(note) for note in response.notes if "clocks" in str(note))
    # A sixth of a pulse over the search's band, 0.7 s of this sweep, is 28 millionths.
    assert float(re.search(r"are (\d+) mill", told)[1]) == pytest.approx(abs(millionths), abs=28)
    size = np.abs(response.samples)
    first = int(np.argmax(size))
    # In the recorder's own time, to a sample, and within what a pulse loses between two of them.
    places = first + np.rint((DELAYS - DELAYS[0]) / (1.0 + 1e-6 * millionths)).astype(int)
    near = [size[at - 1 : at + 2].max() for at in places]
    assert near / size[first] == pytest.approx(np.abs(LEVELS), abs=0.12)


@pytest.mark.parametrize("crossover_hz", [None, 2500.0])
def test_no_clock_is_blamed_for_what_one_clock_recorded(sweep, tmp_path, crossover_hz):
    response = heard(sweep, tmp_path, 0.0, crossover_hz=crossover_hz)
    assert not any("clocks" in str(note) for note in response.notes)
