"""A hundred responses held against the prediction, and the memory that an hour-long file takes.

python -m tests.bench.bench_measured
"""

import resource
import tempfile
import time
from pathlib import Path

import numpy as np
import soundfile

from raytrace import hold_against, load_scene
from raytrace.measured import Take, find_corrections, read_recording
from tests.support.scenes import SCENES
from tests.support.soundfiles import pulses, write_wav

N_SEATS = 50  # times two speakers


def many_seats(folder):
    """The box room with fifty seats in it."""
    head, _, seat = (SCENES / "box.toml").read_text(encoding="utf-8").partition("[[seats]]")
    rest = seat[seat.index("\n[") :] if "\n[" in seat else ""
    random = np.random.default_rng(0)
    places = random.uniform([1.5, 1.0, 1.1], [2.6, 2.0, 1.3], size=(N_SEATS, 3)).round(3)
    seats = "".join(f'[[seats]]\nname = "{k}"\nears = {p.tolist()}\n' for k, p in enumerate(places))
    (folder / "many.toml").write_text(head + seats + rest, encoding="utf-8")
    return load_scene(folder / "many.toml")


def megabytes():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def hour_long(folder):
    """A response somewhere in an hour of near silence."""
    noise = np.random.default_rng(0).normal(0.0, 1e-4, 48_000)
    with soundfile.SoundFile(folder / "hour.wav", "w", 48_000, 1, "PCM_16") as file:
        for second in range(3600):
            file.write(pulses([0.0], [0.5], lasts_s=0.95) if second == 2000 else noise)
    return folder / "hour.wav"


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        before_mb, start = megabytes(), time.perf_counter()
        path = hour_long(folder)
        start = time.perf_counter()
        read_recording(path)
        print(f"an hour: {time.perf_counter() - start:.1f} s, {megabytes() - before_mb:.0f} MB more")
        scene = many_seats(folder)
        random = np.random.default_rng(1)
        takes = []
        for speaker in range(2):
            for seat in range(N_SEATS):
                delays_s = [0.0, *np.sort(random.uniform(0.002, 0.015, 12))]
                samples = pulses(delays_s, [1.0, *random.uniform(0.1, 0.5, 12)], lasts_s=1.0)
                samples += random.normal(0.0, 1e-4, len(samples))
                takes.append(Take(speaker, seat, write_wav(folder / f"{speaker}-{seat}.wav", samples)))
        start, spent = time.perf_counter(), time.process_time()
        held = hold_against(scene, takes)
        took, used = time.perf_counter() - start, time.process_time() - spent
        print(f"{len(takes)} responses: {took:.1f} s, {used:.1f} s of CPU time, {megabytes():.0f} MB")
        start = time.perf_counter()
        find_corrections(scene, [held])
        print(f"corrections: {time.perf_counter() - start:.1f} s")


if __name__ == "__main__":
    main()
