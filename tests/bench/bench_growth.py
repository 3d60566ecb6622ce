"""How time and memory of whole commands grow with what a scene holds: facets, objects, panels, corners.

    python -m tests.bench.bench_growth [NAME ...]

Each command runs in a process of its own with compiled kernels; CPU time over all threads, time by the
clock and the largest memory it had. Without names all rows are measured, with them those whose name
begins so.
"""

import math
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
HITSPOT = [sys.executable, "-m", "viewer.cli"]
PATIENCE_S = 240

HEAD = """
title = "growth"
[surfaces]
default = "plasterboard"
[[speakers]]
name = "left"
position = [1.3, -0.6, 1.2]
aim = "seat"
[[speakers]]
name = "right"
position = [1.3, 0.6, 1.2]
aim = "seat"
[[seats]]
name = "mix"
ears = [2.5, 0.0, 1.2]
"""


def obj(corners, faces):
    """An OBJ text from corners and (name, corner numbers from 0) of faces."""
    lines = [f"v {x:.6f} {y:.6f} {z:.6f}" for x, y, z in corners]
    for name, face in faces:
        lines += [f"o {name}", "f " + " ".join(str(k + 1) for k in face)]
    return "\n".join(lines) + "\n"


def drum(n_facets, height_m=2.6, radius_m=2.6):
    """A room of `n_facets` facets: floor, ceiling, and a wall round them of narrow strips."""
    n = n_facets - 2
    ring = [(2 * math.pi * k / n) for k in range(n)]
    corners = [
        (radius_m * (1 - math.cos(a)), radius_m * (1 + math.sin(a)), z) for z in (0.0, height_m) for a in ring
    ]
    walls = [(f"strip{k}", (k, k + n, (k + 1) % n + n, (k + 1) % n)) for k in range(n)]
    faces = [("floor", tuple(range(n))), ("ceiling", tuple(range(2 * n - 1, n - 1, -1))), *walls]
    return obj(corners, faces)


def loose(n_facets):
    """A box with loose triangles in its air, none of which touches another."""
    corners = [(x, y, z) for z in (0.0, 2.6) for x, y in ((0, 0), (5.2, 0), (5.2, 5.2), (0, 5.2))]
    sides = [(0, 1, 2, 3), (4, 7, 6, 5), (0, 4, 5, 1), (1, 5, 6, 2), (2, 6, 7, 3), (3, 7, 4, 0)]
    faces = [(f"side{k}", side) for k, side in enumerate(sides)]
    for k in range(n_facets - 6):
        x, y, z = 3.0 + 0.2 * (k % 10), 0.6 + 0.2 * (k // 10 % 20), 0.4 + 0.6 * (k // 200)
        lean = 0.05 * math.cos(2.4 * k)
        corners += [(x, y, z), (x + 0.12, y + lean, z + 0.03), (x + lean, y + 0.12, z + 0.08)]
        faces.append((f"scrap{k}", tuple(range(len(corners) - 3, len(corners)))))
    return obj(corners, faces)


def mesh_scene(folder, text):
    (folder / "room.obj").write_text(text)
    return placed(HEAD, 2.6) + '[room]\nshape = "mesh"\nfile = "room.obj"\nunit = "m"\nup = "z"\n'


def placed(text, y_m):
    """The scene moved to the left by `y_m`, for rooms whose left wall lies at y = 0."""
    return (
        text.replace("-0.6,", f"{y_m - 0.6},")
        .replace(" 0.6,", f" {y_m + 0.6},")
        .replace("[2.5, 0.0,", f"[2.5, {y_m},")
    )


def objects(n, pitch_m=1.0):
    """A hall of seats or tables that stand `pitch_m` apart, each turned a little otherwise."""
    side = math.ceil(math.sqrt(n))
    things = "".join(
        f'[[objects]]\nname = "thing {k}"\nshape = "box"\nmaterial = "wood door"\nyaw = {7 * k % 30}\n'
        f"centre = [{3.6 + pitch_m * (k % side):.3f}, {0.6 + pitch_m * (k // side):.3f}, 0.25]\n"
        "size = [0.45, 0.45, 0.5]\n"
        for k in range(n)
    )
    reach_m = pitch_m * side
    room = (
        f'[room]\nshape = "box"\nlength = {3.6 + reach_m}\nwidth = {max(reach_m + 0.6, 4.2)}\nheight = 2.8\n'
    )
    return placed(HEAD, 2.0) + room + things


def panels(n):
    side = math.ceil(n / 2 / 20)
    builds = '[builds."small"]\nlike = "wool 50"\nsize = ["300 mm", "100 mm"]\n'
    hung = "".join(
        f'[[panels]]\nname = "panel {k}"\nsurface = "{("left", "right")[k % 2]} wall"\nbuild = "small"\n'
        f"centre = [{0.4 + 0.5 * (k // 2 % side):.3f}, {0.2 + 0.25 * (k // 2 // side):.3f}]\n"
        for k in range(n)
    )
    room = f'[room]\nshape = "box"\nlength = {1.0 + 0.5 * side}\nwidth = 8.0\nheight = 5.4\n'
    return placed(HEAD, 4.0) + room + builds + hung


def plan(n):
    ring = [2 * math.pi * k / n for k in range(n)]
    reach = [3.0 + 0.3 * (k % 2) for k in range(n)]
    low = min(r * math.cos(a) for r, a in zip(reach, ring, strict=True))
    left = min(r * math.sin(a) for r, a in zip(reach, ring, strict=True))
    corners = ", ".join(
        f"[{r * math.cos(a) - low:.4f}, {r * math.sin(a) - left:.4f}]"
        for r, a in zip(reach, ring, strict=True)
    )
    return placed(HEAD, 3.0) + f'[room]\nshape = "plan"\nheight = 2.6\ncorners = [{corners}]\n'


ROWS = {
    **{f"drum {n}": (("check", "arrivals"), lambda f, n=n: mesh_scene(f, drum(n))) for n in (200, 300, 490)},
    "loose 494": (("check", "arrivals"), lambda f: mesh_scene(f, loose(494))),
    **{f"objects {n}": (("check", "arrivals"), lambda _, n=n: objects(n)) for n in (25, 50, 100)},
    **{f"panels {n}": (("check", "arrivals", "cutlist"), lambda _, n=n: panels(n)) for n in (1000, 2000)},
    "plan 200": (("check", "arrivals"), lambda _: plan(200)),
}


def measured(command, path):
    """(clock s, CPU s, MB, last line) of one command; None for a time that ran out."""
    began = time.monotonic()
    with tempfile.TemporaryFile() as said:
        child = subprocess.Popen([*HITSPOT, command, str(path)], cwd=ROOT, stdout=said, stderr=said)
        while True:
            pid, status, usage = os.wait4(child.pid, os.WNOHANG)
            if pid or time.monotonic() - began > PATIENCE_S:
                break
            time.sleep(0.01)
        if not pid:
            child.kill()
            _, status, usage = os.wait4(child.pid, 0)
        child.returncode = status
        said.seek(0)
        lines = said.read().decode(errors="replace").strip().splitlines() or [""]
    took_s = time.monotonic() - began
    return took_s, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024, "" if status == 0 else lines[-1]


def main(names):
    print(f"{'':<14}{'command':<10}{'clock s':>9}{'CPU s':>9}{'MB':>8}")
    for name, (commands, write) in ROWS.items():
        if names and not name.startswith(tuple(names)):
            continue
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "scene.toml"
            path.write_text(write(Path(folder)))
            for command in commands:
                clock, cpu, megabytes, said = measured(command, path)
                print(
                    f"{name:<14}{command:<10}{clock:>9.1f}{cpu:>9.1f}{megabytes:>8.0f}  {said[:90]}",
                    flush=True,
                )


if __name__ == "__main__":
    main(sys.argv[1:])
