"""Modes of rooms and maps of their floors: time, against plain loops, and how near random boxes come.

python -m tests.bench.bench_bass [number of boxes]
"""

import resource
import subprocess
import sys
import time

import numpy as np

from raytrace import build_room, load_scene, zone_points
from raytrace.bass import find_modes
from raytrace.bass.linings import line_modes
from raytrace.bass.modes import reachable_hz
from raytrace.bass.response import hear
from tests.support.rooms import room_text
from tests.support.scenes import SCENES


def clock(work):
    """CPU time of the second of two calls, and what it gives. [s]"""
    work()
    start = time.process_time()
    result = work()
    return time.process_time() - start, result


def plain_map(listener, sources):
    """The same map as `Listener.pressure` makes, source by source, frequency by frequency."""
    modes = listener.modes
    values = modes.space.values_at(sources)
    shapes, rest = values @ modes.shapes, [values @ term for term in listener.rest]
    k2 = (2 * np.pi * listener.frequencies_hz / modes.speed_of_sound_m_s) ** 2
    result = np.empty((len(k2), len(sources), listener.answers.shape[2]), complex)
    for f, square in enumerate(k2):
        for s in range(len(sources)):
            for e in range(result.shape[2]):
                total = np.sum(shapes[s] * listener.answers[f, :, e])
                series = sum(term[s, e] * (square - modes.about.shift) ** i for i, term in enumerate(rest))
                result[f, s, e] = total + series
    return result


def speed():
    scene = load_scene(SCENES / "garage.toml")
    room = build_room(scene)
    tops_hz = iter((200.1, 200.0))  # modes to the same frequency are kept
    taken, modes = clock(lambda: find_modes(room, top_hz=next(tops_hz)))
    print(f"modes of the garage to 200 Hz: {taken:.2f} s, {modes.space.n_unknowns} unknowns")
    hz = np.geomspace(20.0, 200.0, 150)
    lined = line_modes(room, modes)
    ears = zone_points(scene.seats[0])[:9]
    admittances = lined.admittances(hz, room.medium)
    taken, listener = clock(lambda: hear(modes, lined.overlaps, admittances, ears, hz))
    print(f"nine ears at 150 frequencies: {taken:.2f} s")
    rng = np.random.default_rng(0)
    sources = np.column_stack([rng.uniform(0.2, 5.2, 2000), rng.uniform(0.2, 2.5, 2000), np.full(2000, 0.25)])
    taken, found = clock(lambda: listener.pressure(sources))
    few = sources[:20]
    plain, expected = clock(lambda: plain_map(listener, few))
    assert np.allclose(found[:, :20], expected)
    print(f"map of 2000 places: {taken:.2f} s, {100 * plain / taken:.0f} x faster than plain loops")


def large():
    """Modes of the classroom, as far up as they are found."""
    room = build_room(load_scene(SCENES / "classroom.toml"))
    start = time.process_time()
    modes = find_modes(room, top_hz=reachable_hz(room))
    taken = time.process_time() - start
    print(
        f"modes of the classroom to {modes.top_hz:.0f} Hz: {taken:.1f} s, {modes.space.n_unknowns} unknowns"
    )


def process():
    """CPU time of `hitspot bass` on the garage, the second of two runs. [s]"""
    command = [sys.executable, "-m", "viewer.cli", "bass", str(SCENES / "garage.toml"), "--json"]
    for _ in range(2):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
    taken = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    print(f"bass of the garage, whole process: {taken:.1f} s")


def boxes(count):
    """Errors of the modes of random boxes against c / 2 sqrt(sum (n / L)^2) (Rayleigh 1877)."""
    worst = np.zeros(2)
    for seed in range(count):
        size = np.round(np.random.default_rng(1000 + seed).uniform([2.2, 1.9, 1.9], [6.5, 4.5, 3.0]), 4)
        shape = 'shape = "box"\n' + "\n".join(
            f"{side} = {value}" for side, value in zip(("length", "width", "height"), size, strict=True)
        )
        text = room_text(shape, speaker="[0.4, 0.5, 0.6]", seat="[0.8, 0.7, 0.9]")
        modes = find_modes(build_room(load_scene("box.toml", text)))
        index = np.stack(np.meshgrid(*[np.arange(9)] * 3, indexing="ij"), -1).reshape(-1, 3)
        exact = np.sort(0.5 * modes.speed_of_sound_m_s * np.linalg.norm(index / size, axis=1))
        exact = exact[(exact > 0) & (exact < 200)]
        error = np.abs(modes.frequencies_hz[1 : len(exact) + 1] / exact - 1)
        worst = np.maximum(worst, [error[:10].max(), error.max()])
    print(f"{count} boxes: first ten modes within {worst[0]:.3%}, all to 200 Hz within {worst[1]:.3%}")


if __name__ == "__main__":
    speed()
    process()
    large()
    boxes(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
