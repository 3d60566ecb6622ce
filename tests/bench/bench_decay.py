"""Time of the energy loop: 100 000 rays, 100 bounces, eight bands, one seat, against numpy with Embree.

The opponent does the same work a bounce at a time on all rays: Embree finds the hits and the sight lines,
numpy absorbs, scatters, listens and adds up, in double precision like ours.

    python -m tests.bench.bench_decay [rays [rounds]]
"""

import os
import platform
import statistics
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene

from raytrace import build_room, load_scene
from raytrace.acoustics import DEFAULT_SCATTERING
from raytrace.decay.energy import BIN_S, N_GROUPS, RADIUS_M, Ears, Ends, Sampling, trace_energy
from raytrace.decay.raywalls import room_materials, scattering_groups

N_RAYS, N_BOUNCES, ROUNDS = 100_000, 100, 9
UNTIL_S = 3.0  # no ray is late before its hundredth bounce
SEAT, SOURCE = np.array([3.2, 2.0, 1.2]), np.array([1.0, 1.3, 1.2])

ROOM = """
title = "bench"
[room]
shape = "box"
length = 5.0
width = 4.0
height = 2.6
[surfaces]
default = "wall"
[materials.wall]
absorption = [0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1]
scattering = {scattering}
source = "invented for the bench"
[[speakers]]
name = "left"
position = [1.0, 1.3, 1.2]
[[seats]]
name = "mix"
ears = [3.2, 2.0, 1.2]
"""


def furniture(n):
    """Objects of six faces each in the corners of the room, out of the way of speaker and seat."""
    places = [(0.3 + 0.44 * (i % 10), 0.25 + 3.5 * (i // 10), 0.4) for i in range(n)]
    return "".join(
        f'[[objects]]\nname = "thing {i}"\nshape = "box"\ncentre = [{x}, {y}, {z}]\n'
        f'size = [0.3, 0.3, 0.6]\nyaw = {7 * i}\nmaterial = "wall"\n'
        for i, (x, y, z) in enumerate(places)
    )


def room_of(n_objects, scattering):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bench.toml"
        path.write_text(ROOM.format(scattering=scattering) + furniture(n_objects), encoding="utf-8")
        return build_room(load_scene(path))


def evenly(directions):
    return np.ones((len(directions), 8))


def ours(room, n_rays, threads):
    ears = Ears(SEAT[None], np.zeros(1), 0)
    ends = Ends(UNTIL_S, N_BOUNCES, quiet=0.0)
    rays = trace_energy(room, SOURCE, evenly, ears, ends, Sampling(n_rays, threads=threads))
    return rays.energy.mean(axis=0)[0]


class NumpyLoop:
    """The same estimate, a bounce at a time."""

    def __init__(self, room):
        self.scene = EmbreeScene()
        self.mesh = TriangleMesh(self.scene, room.triangles.astype(np.float32))
        self.facet, self.room = room.facet_of_triangle, room
        materials, area = room_materials(room)
        ((_, chance),) = scattering_groups(materials, area)
        absorption = np.array([m.absorption for m in materials])
        spread = np.array([m.scattering for m in materials])
        with np.errstate(divide="ignore", invalid="ignore"):
            mirrored = (1 - absorption) * (1 - spread) / (1 - chance[:, None])
            scattered = (1 - absorption) * spread / chance[:, None]
        self.kept = np.stack([np.nan_to_num(mirrored), np.nan_to_num(scattered)])
        assert len(materials) == 1
        self.material = np.zeros(len(room.facets), np.int64)
        self.normals, self.chance = room.facet_arrays.normals, chance

    def hits(self, origins, directions):
        """Distance and facet; a ray that slips through an edge stays where it is."""
        found = self.scene.run(origins.astype(np.float32), directions.astype(np.float32), output=True)
        reach, triangle = found["tfar"].astype(np.float64), found["primID"]
        return np.where(triangle < 0, 0.0, reach), self.facet[triangle]

    def __call__(self, n_rays):
        rng = np.random.default_rng(0)
        directions = rng.normal(size=(n_rays, 3))
        directions /= np.linalg.norm(directions, axis=1, keepdims=True)
        position = np.repeat(SOURCE[None], n_rays, axis=0)
        energy, travelled = np.full((n_rays, 8), 1.0 / n_rays), np.zeros(n_rays)
        heard, direct_m = np.zeros(n_rays, bool), float(np.linalg.norm(SEAT - SOURCE))
        bin_m = BIN_S * self.room.speed_of_sound_m_s
        histogram = np.zeros((int(UNTIL_S / BIN_S), 8))
        for _ in range(N_BOUNCES):
            reach, facet = self.hits(position, directions)
            self.listen(position, directions, reach, travelled, heard, energy, direct_m, bin_m, histogram)
            # Off the wall by a little, or single precision would find the same wall again.
            normal = self.normals[facet]
            position += reach[:, None] * directions + 1e-5 * normal
            travelled += reach
            material = self.material[facet]
            scattered = rng.random(n_rays) < self.chance[material]
            energy *= self.kept[scattered.astype(np.int64), material]
            directions -= 2.0 * np.einsum("ij,ij->i", directions, normal)[:, None] * normal
            rows = np.flatnonzero(scattered)
            if rows.size:
                self.rain(
                    position[rows], normal[rows], travelled[rows], energy[rows], direct_m, bin_m, histogram
                )
                sphere = rng.normal(size=(rows.size, 3))
                lambert = normal[rows] + sphere / np.linalg.norm(sphere, axis=1, keepdims=True)
                directions[rows] = lambert / np.linalg.norm(lambert, axis=1, keepdims=True)
            heard = ~scattered
        return histogram

    def listen(self, position, directions, reach, travelled, heard, energy, direct_m, bin_m, histogram):
        away = SEAT - position
        along = np.einsum("ij,ij->i", away, directions)
        beside = np.einsum("ij,ij->i", away, away) - along**2
        rows = np.flatnonzero(heard & (beside < RADIUS_M**2) & (along > 0.0) & (along < reach))
        length = np.sqrt((travelled[rows] + along[rows]) ** 2 + beside[rows])
        place = ((length - direct_m) / bin_m).astype(np.int64)
        weight = 3.0 * direct_m**2 / RADIUS_M**3 * 2.0 * np.sqrt(RADIUS_M**2 - beside[rows])
        inside = (place >= 0) & (place < len(histogram))
        np.add.at(histogram, place[inside], weight[inside, None] * energy[rows[inside]])

    def rain(self, position, normal, travelled, energy, direct_m, bin_m, histogram):
        away = SEAT - position
        distance = np.linalg.norm(away, axis=1)
        cosine = np.einsum("ij,ij->i", away, normal) / distance
        reach, _ = self.hits(position, away / distance[:, None])
        place = ((travelled + distance - direct_m) / bin_m).astype(np.int64)
        seen = (cosine > 0.0) & (reach >= distance) & (place >= 0) & (place < len(histogram))
        weight = 4.0 * cosine * (direct_m / distance) ** 2
        np.add.at(histogram, place[seen], weight[seen, None] * energy[seen])


def machine():
    """CPU model, its vector flags, Python and numpy."""
    lines = Path("/proc/cpuinfo").read_text().splitlines() if Path("/proc/cpuinfo").exists() else []
    facts = {key.strip(): value.strip() for key, _, value in (line.partition(":") for line in lines) if value}
    flags = [f for f in facts.get("flags", "").split() if f.startswith(("avx", "fma", "sse4"))]
    cores, model = os.cpu_count(), facts.get("model name", platform.processor())
    versions = f"Python {platform.python_version()}, numpy {np.__version__}"
    return f"{model}, {cores} cores, {' '.join(flags)}; {versions}"


def measure(cases, rounds):
    """{name: (wall times, CPU times)} of cases that take turns."""
    times = {name: ([], []) for name in cases}
    for _ in range(rounds):
        for name, run in cases.items():
            wall, cpu = time.perf_counter(), time.process_time()
            run()
            times[name][0].append(time.perf_counter() - wall)
            times[name][1].append(time.process_time() - cpu)
    return times


def main():
    n_rays, rounds = (*(int(x) for x in sys.argv[1:]), *(N_RAYS, ROUNDS)[len(sys.argv) - 1 :])
    print(machine())
    print(f"{n_rays} rays, {N_BOUNCES} bounces, 8 bands; median of {rounds}, spread in brackets")
    scatterings = (("0.05 to 0.10", DEFAULT_SCATTERING.tolist()), ("0.3", 0.3), ("1", 1.0))
    for n_objects, n_things in ((0, "no objects"), (10, "10 objects")):
        for words, scattering in scatterings:
            room = room_of(n_objects, scattering)
            loop = NumpyLoop(room)
            cases = {
                "numpy with Embree, one thread": lambda loop=loop: loop(n_rays),
                "ours, one thread": lambda room=room: ours(room, n_rays, 1),
                "ours, two threads": lambda room=room: ours(room, n_rays, 2),
            }
            mine, theirs = ours(room, max(N_GROUPS, n_rays // 10), 2), loop(n_rays // 10)
            ratio = mine[100:400].sum() / theirs[100:400].sum()
            print(
                f"\n{len(room.facets)} facets ({n_things}), scattering {words}; energies agree to {ratio:.3f}"
            )
            times = measure(cases, rounds)
            for name, (wall, cpu) in times.items():
                print(line(name, wall, cpu, times["numpy with Embree, one thread"]))


def line(name, wall, cpu, opponent):
    """Median, spread and ratio of the wall time; the same of CPU time, for a machine shared with others."""
    middle, used = statistics.median(wall), statistics.median(cpu)
    ratio = statistics.median(opponent[0]) / middle
    text = f"  {name:<30}{middle:7.3f} s ({min(wall):.3f} to {max(wall):.3f})  x {ratio:5.1f}"
    return text + f"   CPU {used:7.3f} s  x {statistics.median(opponent[1]) / used:5.1f}"


if __name__ == "__main__":
    main()
