"""Time of the weight K: one panel, one path, one listening point or all nine, eight bands.

The opponent is the same edge integral in plain numpy, every frequency on the nodes the highest needs.
Run on one thread: OPENBLAS_NUM_THREADS=1 python -m tests.bench.bench_finite
"""

import os
import platform
import statistics
import time
from pathlib import Path

import numpy as np

from raytrace.acoustics import band_frequencies_hz, kirchhoff_weight

C = 343.2
RUNS = 9


def machine():
    """CPU model, its vector flags, Python and numpy."""
    lines = Path("/proc/cpuinfo").read_text().splitlines() if Path("/proc/cpuinfo").exists() else []
    facts = {key.strip(): value.strip() for key, _, value in (line.partition(":") for line in lines) if value}
    flags = [f for f in facts.get("flags", "").split() if f.startswith(("avx", "fma", "sse4"))]
    cores, model = os.cpu_count(), facts.get("model name", platform.processor())
    versions = f"Python {platform.python_version()}, numpy {np.__version__}"
    return f"{model}, {cores} cores, {' '.join(flags)}; {versions}"


def rectangle(width, height, x=0.0):
    half_w, half_h = width / 2, height / 2
    return np.array(
        [[x - half_w, -half_h, 0], [x + half_w, -half_h, 0], [x + half_w, half_h, 0], [x - half_w, half_h, 0]]
    )


def numpy_weight(outline, image, receiver, wavenumber, nodes=80):
    """The edge integral with one set of nodes for all frequencies (k,) [1/m]."""
    x, w = np.polynomial.legendre.leggauss(nodes)
    straight = np.linalg.norm(receiver - image)
    total = 0.0
    for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        points = a + 0.5 * (1.0 + x[:, None]) * (b - a)
        u, v = points - image, receiver - points
        product, dot = np.linalg.norm(u, axis=1) * np.linalg.norm(v, axis=1), (u * v).sum(axis=1)
        cross = np.cross(u, v)
        turn = -0.5 * w * straight * (cross @ (b - a)) / (cross**2).sum(axis=1)
        detour = 2.0 * (product - dot) / (np.linalg.norm(u, axis=1) + np.linalg.norm(v, axis=1) + straight)
        total = total + (2.0 - (1.0 + dot / product) * np.exp(-1j * wavenumber[:, None] * detour)) @ turn
    return total / (4.0 * np.pi)


def measure(cases):
    """{name: run times} of nine alternating rounds, each call repeated for about 20 ms.

    CPU time of this thread, so that other work on the machine counts as little as it can.
    """
    repeats = {}
    for name, call in cases.items():
        call()
        start = time.thread_time()
        call()
        repeats[name] = max(1, int(0.02 / max(time.thread_time() - start, 1e-7)))
    times = {name: [] for name in cases}
    for _ in range(RUNS):
        for name, call in cases.items():
            start = time.thread_time()
            for _ in range(repeats[name]):
                call()
            times[name].append((time.thread_time() - start) / repeats[name])
    return times


def main():
    image, ears = np.array([-0.7, 0.2, -1.1]), np.array([0.9, -0.1, 1.3])
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) * [0.15, 0.2, 0.05]
    zone = np.vstack([ears, ears + corners])
    bands = band_frequencies_hz()
    k = 2.0 * np.pi * bands.ravel() / C
    panel, beside, cloud = rectangle(1.2, 0.6), rectangle(1.2, 0.6, 0.9), rectangle(2.4, 1.2)
    worst = max(
        abs(
            kirchhoff_weight(p, image, ears, bands, speed_of_sound_m_s=C).ravel()
            - numpy_weight(p, image, ears, k, 400)
        ).max()
        for p in (panel, beside, cloud)
    )
    cases = {
        "1.2 x 0.6 m on the spot, one point": lambda: kirchhoff_weight(
            panel, image, ears, bands, speed_of_sound_m_s=C
        ),
        "1.2 x 0.6 m beside the spot, one point": lambda: kirchhoff_weight(
            beside, image, ears, bands, speed_of_sound_m_s=C
        ),
        "2.4 x 1.2 m on the spot, one point": lambda: kirchhoff_weight(
            cloud, image, ears, bands, speed_of_sound_m_s=C
        ),
        "1.2 x 0.6 m on the spot, nine points": lambda: kirchhoff_weight(
            panel, image, zone, bands, speed_of_sound_m_s=C
        ),
        "the same, numpy, one point": lambda: numpy_weight(panel, image, ears, k),
    }
    print(machine())
    print(f"eight bands of 24 frequencies, one thread; largest error against 400 nodes {worst:.1e}")
    print(f"median of {RUNS} alternating runs (fastest to slowest), microseconds per call:")
    taken = measure(cases)
    for name, times in taken.items():
        low, high = 1e6 * min(times), 1e6 * max(times)
        print(f"  {name:45s} {1e6 * statistics.median(times):10.1f}  ({low:.1f} to {high:.1f})")
    ours, *_, numpys = (statistics.median(times) for times in taken.values())
    print(f"  numpy / ours, on the spot, one point: {numpys / ours:.1f}")


if __name__ == "__main__":
    main()
