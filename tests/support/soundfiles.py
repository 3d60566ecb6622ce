"""Sound files for tests: what an ideal microphone would have recorded, written as WAV."""

import numpy as np
import soundfile

from raytrace.reflections import band_window


def pulses(delays_s, levels, *, rate_hz=48_000, lead_s=0.050, lasts_s=0.3):
    """A response of ideal pulses, held to 200 Hz to 20 kHz so that it fits the rate, direct sound first."""
    n = round((lead_s + lasts_s) * rate_hz)
    frequency_hz = np.fft.rfftfreq(n, 1.0 / rate_hz)
    window = band_window(frequency_hz, 200.0, 0.42 * rate_hz)
    at_s = lead_s + np.asarray(delays_s)[:, None]
    turned = np.asarray(levels)[:, None] * np.exp(-2j * np.pi * at_s * frequency_hz)
    return np.fft.irfft(turned.sum(axis=0) * window, n)


# First-order delays after the direct sound [ms] and levels re it [dB] of a box 5.0 x 4.0 x 2.6 m, source at
# (1.0, 1.3, 1.2), receiver at (3.2, 2.0, 1.2), 343.2 m/s: closed forms (J. B. Allen, D. A. Berkley, JASA 65
# (1979) 943).
FIRST_ORDER = {
    "floor": (2.9764, -3.182),
    "ceiling": (3.8472, -3.929),
    "left wall": (4.8293, -4.700),
    "front wall": (5.6796, -5.317),
    "right wall": (8.3937, -7.035),
    "back wall": (10.2955, -8.064),
}


def first_order_pulses():
    """Direct sound and first-order pulses of that box."""
    delays_ms, levels_db = np.array([(0.0, 0.0), *FIRST_ORDER.values()]).T
    return pulses(1e-3 * delays_ms, 10.0 ** (levels_db / 20.0))


def noisy(samples, noise_db, *, seed):
    """A response with white noise, its mean re the top."""
    noise = np.random.default_rng(seed).normal(size=len(samples))
    return samples + np.abs(samples).max() * 10.0 ** (noise_db / 20.0) * noise


def wave_response(waves, place, *, rate_hz=48_000, lead_s=0.050):
    """What a full-wave solution has at one of its places, re its direct sound, as a response."""
    f = waves.frequency_hz
    solved = np.flatnonzero((f > 300.0) & (f < 11_500.0))
    window = band_window(f[solved], 500.0, 9500.0)
    time_s = np.arange(round((lead_s + 0.018) * rate_hz)) / rate_hz - lead_s
    turned = np.exp(2j * np.pi * time_s[:, None] * f[solved])
    return 2.0 * f[1] / rate_hz * np.real(turned @ (waves.transfer()[solved, place] * window))


def write_wav(path, samples, rate_hz=48_000, **form):
    """A sound file, floats unless told otherwise, at half of full scale."""
    soundfile.write(path, 0.5 * samples / np.abs(samples).max(), rate_hz, **{"subtype": "FLOAT", **form})
    return path
