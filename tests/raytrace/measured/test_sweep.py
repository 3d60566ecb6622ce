"""Sweeps against the closed forms of A. Farina, AES 108 (2000), preprint 5093."""

import numpy as np
import pytest
import soundfile
from scipy.signal import fftconvolve, resample_poly

from raytrace.measured import RecordingError, Sweep, read_recording, read_response, sweep_file


def test_sweep_and_inverse_make_one_pulse_that_is_flat_over_the_octaves():
    sweep = Sweep(5.0)
    made = fftconvolve(sweep.samples, sweep.inverse)
    assert int(np.argmax(np.abs(made))) == 239_999
    energy = np.abs(np.fft.rfft(made, 1 << 20)) ** 2
    frequency_hz = np.fft.rfftfreq(1 << 20, 1.0 / sweep.rate_hz)
    octaves_db = [
        10.0 * np.log10(energy[(frequency_hz >= hz / 2**0.5) & (frequency_hz < hz * 2**0.5)].mean())
        for hz in (63, 125, 250, 500, 1000, 2000, 4000, 8000)
    ]
    # 63 Hz is 0.006 dB up, the others even, printed to a thousandth.
    assert np.subtract(octaves_db, octaves_db[4]) == pytest.approx([0.006] + [0.0] * 7, abs=0.0015)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A sweep of 2 s, and a room's answer to it with distortion and noise."""
    folder = tmp_path_factory.mktemp("sweeps")
    (folder / "sweep.wav").write_bytes(sweep_file(Sweep(2.0)))
    played = read_recording(folder / "sweep.wav", whole=True).samples
    response = np.zeros(4800)
    response[[300, 540]] = 1.0, 0.5
    distorted = played + 0.8 * played**2  # 10 % of the second harmonic
    noise = np.random.default_rng(1)
    heard = np.concatenate([np.zeros(7000), fftconvolve(distorted, response)])
    np.save(folder / "heard.npy", heard + noise.normal(0.0, 1e-4, len(heard)))
    return folder


def answer(folder, change=None, rate_hz=48_000):
    heard = np.load(folder / "heard.npy")
    soundfile.write(
        folder / "heard.wav", heard if change is None else change(heard), rate_hz, subtype="FLOAT"
    )
    sweep = read_recording(folder / "sweep.wav", whole=True)
    return read_response(folder / "heard.wav", sweep=sweep)


def test_a_recorded_sweep_gives_the_response_without_distortion(folder):
    samples = answer(folder).samples
    direct = int(np.argmax(np.abs(samples)))
    # The band ends at 20 kHz, so that each pulse is a narrow sinc: 240 samples later half of it.
    assert samples[direct + 240] == pytest.approx(0.5 * samples[direct], rel=0.01)
    before = samples[: direct - 200]
    # The second harmonic (10 %) leads by 0.2 s and would stand here at a twentieth.
    assert np.abs(before).max() < 0.003 * samples[direct]


def test_two_sweeps_in_one_file_are_said(folder):
    read = answer(folder, lambda heard: np.concatenate([heard, heard]))
    assert "holds 2 sweeps; the first is taken" in str(read.notes[0])


def test_a_recording_at_another_rate_is_converted_and_said(folder):
    read = answer(folder, lambda heard: resample_poly(heard, 147, 160), 44_100)
    assert "it was converted" in str(read.notes[0])
    direct = int(np.argmax(np.abs(read.samples)))
    later = np.abs(read.samples[direct + 150 : direct + 300])
    # 5 ms later the reflection: within a sample of 220.5.
    assert abs(150 + int(np.argmax(later)) - 220.5) <= 1.0


def with_gap(heard):
    changed = heard.copy()
    changed[60_000:60_400] = 0.0
    return changed


def scrambled(heard):
    return np.random.default_rng(2).permutation(heard)


@pytest.mark.parametrize(
    ("change", "rate_hz", "words"),
    [
        (lambda heard: heard, 44_100, "says 44100 samples a second, but the sweep in it fits"),
        (lambda heard: heard[:80_000], 48_000, "is cut off: lasts 1.67 s, the sweep 2.00 s"),
        (with_gap, 48_000, "has a dropout of 8 ms at 1.25 s"),
        (scrambled, 48_000, "does not hold the sweep of sweep.wav"),
        (lambda heard: np.clip(20.0 * heard, -1.0, 1.0), 48_000, "is clipped"),
    ],
)
def test_what_spoils_a_sweep_is_said(folder, change, rate_hz, words):
    with pytest.raises(RecordingError, match=words):
        answer(folder, change, rate_hz)


def test_the_sweep_itself_is_not_taken_for_a_recording_of_it(folder):
    with pytest.raises(RecordingError, match="as it was played and no room"):
        read_response(folder / "sweep.wav", sweep=read_recording(folder / "sweep.wav", whole=True))
