"""First hits of random rays against the Embree of embreex, in the same process.

One thread, CPU time of it; the runs alternate. Needs the test extras.
Run: OPENBLAS_NUM_THREADS=1 python -m tests.bench.bench_hits
"""

import time

import numpy as np
import trimesh
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene

from raytrace.kernels.packets import closest_in_packets, new_packet
from raytrace.kernels.tree import closest_in_tree
from raytrace.room import SLACK
from raytrace.room.rays import first_hits, index_facets, pack_tree
from tests.bench.bench_finite import RUNS, machine
from tests.support.cuboids import box_room, free_points, room_of, turned_box
from tests.support.oracles_images import first_hits_of_all

SIZE = np.array([6.0, 4.5, 2.8])
N_RAYS = 100_000


def furnished_room():
    """128 triangles in 64 facets: a room of ten facets, four of its walls in two halves, and nine boxes."""
    outlines = []
    for index, (a, b, c, d) in enumerate(box_room(SIZE)):
        m, n = (a + b) / 2, (c + d) / 2
        outlines += (
            [np.array([a, m, n, d]), np.array([m, b, c, n])] if index < 4 else [np.array([a, b, c, d])]
        )
    rng = np.random.default_rng(1)
    for _ in range(9):
        centre, sides = rng.uniform(0.08, 0.92, 3) * SIZE, rng.uniform(0.15, 0.6, 3)
        outlines += turned_box(centre, sides, yaw=rng.uniform(0, np.pi), pitch=rng.uniform(-0.3, 0.3))
    return room_of(outlines), room_of(box_room(SIZE) + outlines[10:])


def rough_room(n):
    """A closed room of 12 n^2 triangles whose six walls are rough, as a scan has them."""
    grid = np.linspace(-1, 1, n + 1)
    x, y = np.meshgrid(grid, grid, indexing="ij")
    triangles = []
    for axis in range(3):
        for side in (-1.0, 1.0):
            cube = np.empty((n + 1, n + 1, 3))
            cube[..., axis], cube[..., (axis + 1) % 3], cube[..., (axis + 2) % 3] = side, x, y
            wall = cube * SIZE / 2
            one, two = wall[..., [1, 2, 0]], wall[..., [2, 0, 1]]
            wall = (
                wall
                + 0.03 * np.sin(7 * one + 1) * np.cos(9 * two)
                + 0.004 * np.sin(151 * two) * np.sin(131 * one)
            )
            a, b, c, d = wall[:-1, :-1], wall[1:, :-1], wall[1:, 1:], wall[:-1, 1:]
            triangles += [np.stack([a, b, c], axis=2), np.stack([a, c, d], axis=2)]
    return np.concatenate([part.reshape(-1, 3, 3) for part in triangles]) + SIZE / 2


def embree(triangles, *, robust):
    scene = EmbreeScene(robust=robust)
    TriangleMesh(scene, np.ascontiguousarray(triangles, np.float32))
    return scene


def directions(rng):
    some = rng.normal(size=(N_RAYS, 3))
    return some / np.linalg.norm(some, axis=1)[:, None]


def measure(cases, runs=RUNS):
    """{name: ns per ray} of alternating runs after a warm one."""
    times = {name: [] for name in cases}
    for call in cases.values():
        call()
    for _ in range(runs):
        for name, call in cases.items():
            start = time.thread_time()
            call()
            times[name].append((time.thread_time() - start) * 1e9 / N_RAYS)
    return times


def report(title, times, ours, opponents):
    print(f"\n{title}, {N_RAYS} random interior rays; ns per ray")
    for name, some in times.items():
        print(f"  {name:34s} median {np.median(some):7.1f}   {min(some):7.1f} to {max(some):7.1f}")
    for mine in ours:
        for other in opponents:
            print(f"  {other} / {mine}: {np.median(times[other]) / np.median(times[mine]):.2f}")


def few_facets():
    room, same_boxes = furnished_room()
    rng = np.random.default_rng(0)
    origins = free_points(same_boxes, 2000, seed=1)[rng.integers(0, 2000, N_RAYS)]
    ways = directions(rng)
    start = time.perf_counter()
    index = index_facets(
        room.facet_arrays, room.triangles, room.facet_of_triangle, tolerance_m=room.tolerance_m
    )
    first_hits(index, origins[:64], ways[:64])
    first_s = time.perf_counter() - start
    part, margin = np.empty(N_RAYS, np.int32), np.empty(N_RAYS, np.float32)
    reach = np.full(N_RAYS, np.inf)
    distance, facet, slack = np.empty(N_RAYS), np.empty(N_RAYS, np.int64), np.float32(SLACK * index.size_m)
    packet, singles = new_packet(), (origins.astype(np.float32), ways.astype(np.float32))
    plain, robust = (embree(room.triangles, robust=kind) for kind in (False, True))
    cases = {
        "Embree": lambda: plain.run(*singles),
        "Embree robust": lambda: robust.run(*singles),
        "packets": lambda: closest_in_packets(
            origins, ways, reach, index.pieces, slack, packet, part, margin
        ),
        "first_hits, exact distance": lambda: first_hits(index, origins, ways),
    }
    times = measure(cases)
    exact = (origins, ways, room.facet_arrays, room.tolerance_m, distance, facet)
    times |= measure({"float64, all facets": lambda: first_hits_of_all(*exact)}, 3)
    title = f"{len(room.triangles)} triangles in {len(room.facets)} facets"
    report(title, times, ("packets", "first_hits, exact distance"), ("Embree", "Embree robust"))
    found = first_hits(index, origins, ways)
    print(
        f"  other facet than float64: {np.count_nonzero(found[1] != facet)} rays;"
        f" index and kernels {first_s:.2f} s"
    )


def many_triangles():
    triangles = rough_room(129)
    rng = np.random.default_rng(0)
    origins, ways = rng.uniform(0.1, 0.9, (N_RAYS, 3)) * SIZE, directions(rng)
    pack_tree(triangles[:64])
    start = time.perf_counter()
    tree = pack_tree(triangles)
    build_s = time.perf_counter() - start
    triangle, margin = np.empty(N_RAYS, np.int32), np.empty(N_RAYS, np.float32)
    reach = np.full(N_RAYS, np.inf)
    slack, singles = (
        np.float32(SLACK * np.linalg.norm(SIZE)),
        (origins.astype(np.float32), ways.astype(np.float32)),
    )
    plain, robust = (embree(triangles, robust=kind) for kind in (False, True))
    mesh = trimesh.Trimesh(*_shared_corners(triangles), process=False)
    cases = {
        "Embree": lambda: plain.run(*singles),
        "Embree robust": lambda: robust.run(*singles),
        "trimesh": lambda: mesh.ray.intersects_first(origins, ways),
        "tree": lambda: closest_in_tree(origins, ways, reach, tree, slack, triangle, margin),
    }
    report(f"{len(triangles)} triangles", measure(cases), ("tree",), ("Embree", "Embree robust", "trimesh"))
    differ = np.count_nonzero(triangle != plain.run(*singles))
    print(
        f"  tree built in {build_s:.2f} s; other triangle than Embree: {differ} rays;"
        f" none: {(triangle < 0).sum()}"
    )


def _shared_corners(triangles):
    return triangles.reshape(-1, 3), np.arange(3 * len(triangles)).reshape(-1, 3)


def main():
    print(machine())
    few_facets()
    many_triangles()


if __name__ == "__main__":
    main()
