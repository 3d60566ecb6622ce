"""Exact paths by beams: against the plain search of image sources, and as rooms grow.

One thread, CPU time of it; the runs alternate. The plain search also looks for the shortest path of the
next order; asked for one order less it still visits every sequence of the order in question, so its time
is a lower bound of an unclipped tree's.
Run: OPENBLAS_NUM_THREADS=1 python -m tests.bench.bench_paths [--pairs 60] [--plot growth.png]
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from raytrace.reflections import BeamTree
from tests.bench.bench_finite import RUNS, machine
from tests.support.cuboids import free_points, room_with_boxes, tree_paths
from tests.support.oracles_images import image_paths, search_images

WINDOW_M = 0.030 * 343.2
SIDES = {18: (0.15, 0.6), 60: (0.15, 0.6), 198: (0.15, 0.6), 996: (0.05, 0.3)}
COLD = """
import sys, time
import numpy as np
from numba import njit
from tests.support.cuboids import free_points, room_with_boxes, tree_paths
@njit
def nothing(x):
    return x
nothing(np.zeros(1))
room = room_with_boxes(2, seed=1)
source, listener = free_points(room, 2, seed=3)
start = time.perf_counter()
tree_paths(room, source, listener, 2, 9.0)
print(time.perf_counter() - start)
"""


def room_of_size(n_facets):
    return room_with_boxes(n_facets // 6 - 1, seed=1, sides=SIDES[n_facets])


def measure(cases, runs=RUNS):
    """{name: ms} of alternating runs after two warm ones."""
    times = {name: [] for name in cases}
    for call in cases.values():
        call()
        call()
    for _ in range(runs):
        for name, call in cases.items():
            start = time.thread_time()
            call()
            times[name].append((time.thread_time() - start) * 1e3)
    return times


def show(times):
    for name, some in times.items():
        print(f"  {name:40s} median {np.median(some):9.3f} ms   {min(some):9.3f} to {max(some):9.3f}")


def unclipped(room, source, listener, order, within_m):
    """Time of every sequence of up to `order` facets: see the head of this file."""
    points, facets = np.empty((4096, order + 1, 3)), np.empty((4096, order - 1), np.int64)
    search_images(source, listener, order - 1, within_m, room.facet_arrays, room.tolerance_m, points, facets)


def against_the_plain_search(n_facets, order):
    room = room_of_size(n_facets)
    listener, source = free_points(room, 2, seed=3)
    within_m = np.linalg.norm(source - listener) + WINDOW_M
    tree = BeamTree(room.facet_arrays, room.tolerance_m)

    def fresh():
        tree.grow(listener, up_to_order=order, within_m=within_m, source=source)
        return tree.paths(source, within_m)

    times = measure(
        {
            "unclipped, a lower bound": lambda: unclipped(room, source, listener, order, within_m),
            "beams, tree made anew": lambda: tree_paths(room, source, listener, order, within_m),
            "beams, fresh search": fresh,
        }
    )
    print(f"\n{n_facets} facets, order {order}, 30 ms: {len(fresh().order)} paths")
    show(times)
    plain, made, search = (float(np.median(some)) for some in times.values())
    print(f"  unclipped / fresh {plain / search:.0f}, / made anew {plain / made:.0f}")


def equal_sets(n_pairs):
    room = room_of_size(60)
    ends = free_points(room, 2 * n_pairs, seed=9).reshape(n_pairs, 2, 3)
    n_paths = 0
    for source, listener in ends:
        within_m = float(np.linalg.norm(source - listener)) + WINDOW_M
        expected, _ = image_paths(room, source, listener, up_to_order=4, within_m=within_m)
        found = tree_paths(room, source, listener, 4, within_m)
        theirs, ours = set(expected), {tuple(row[row >= 0].tolist()) for row in found.facets}
        if theirs != ours:
            raise SystemExit(f"sets differ for {source} and {listener}: {theirs ^ ours}")
        n_paths += len(ours)
    print(f"\n{n_pairs} random pairs, 60 facets, order 4, 30 ms: equal sets, {n_paths} paths")


def growth():
    """Times of a fresh search [ms] by facets and order; a row ends when a search took two seconds."""
    table = {}
    print("\nfresh search [ms] by order\n  facets" + "".join(f"{order:>10d}" for order in range(1, 7)))
    for n_facets in SIDES:
        room = room_of_size(n_facets)
        listener, source = free_points(room, 2, seed=3)
        within_m = float(np.linalg.norm(source - listener)) + WINDOW_M
        tree, row = BeamTree(room.facet_arrays, room.tolerance_m), []
        for order in range(1, 7):

            def search(order=order, room_tree=tree, ends=(source, listener), reach=within_m):
                room_tree.grow(ends[1], up_to_order=order, within_m=reach, source=ends[0])
                room_tree.paths(ends[0], reach)

            row.append(float(np.median(measure({"": search}, 3)[""])))
            if row[-1] > 2000:
                break
        table[n_facets] = row
        print(f"  {n_facets:6d}" + "".join(f"{value:10.2f}" for value in row))
    return table


def plot(table, path):
    from matplotlib.figure import Figure

    axes = (figure := Figure(figsize=(7, 4.5), layout="constrained")).add_subplot()
    for n_facets, row in table.items():
        axes.semilogy(range(1, len(row) + 1), row, marker="o", label=f"{n_facets} facets")
    axes.set(xlabel="order", ylabel="fresh search [ms]")
    axes.grid(alpha=0.3)
    axes.legend()
    figure.savefig(path, dpi=150)


def compile_times():
    with tempfile.TemporaryDirectory() as cache:
        env = {**os.environ, "NUMBA_CACHE_DIR": cache}
        cold, cached = (
            float(
                subprocess.run(
                    [sys.executable, "-c", COLD],
                    cwd=Path(__file__).parents[2],
                    env=env,
                    check=True,
                    capture_output=True,
                ).stdout
            )
            for _ in range(2)
        )
    print(f"\nfirst call in a process beyond numba's own start: cold {cold:.1f} s, cached {cached:.2f} s")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--pairs", type=int, default=60)
    parser.add_argument("--plot", type=Path)
    options = parser.parse_args()
    print(machine())
    compile_times()
    against_the_plain_search(60, 4)
    against_the_plain_search(198, 3)
    table = growth()
    if options.plot:
        plot(table, options.plot)
    equal_sets(options.pairs)


if __name__ == "__main__":
    main()
