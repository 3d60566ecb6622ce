"""Whole-process times of hitspot's commands, beside bare imports in the same run.

    python -m tests.bench.bench_start

Each command runs in a process of its own, the opponents taking turns; medians of nine (the report: of
three) with their spread. Kernels are compiled and cached before the first measured run.
"""

import platform
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
HITSPOT = [sys.executable, "-m", "viewer.cli"]
BOX = "scenes/box.toml"


def seconds(command):
    start = time.perf_counter()
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    return time.perf_counter() - start


def compare(commands, rounds):
    """{name: times} of commands that take turns."""
    times = {name: [] for name in commands}
    for _ in range(rounds):
        for name, command in commands.items():
            times[name].append(seconds(command))
    return times


def line(name, values, beside=None):
    median = statistics.median(values)
    text = f"{name:<28}{median:7.3f} s  ({min(values):.3f} to {max(values):.3f})"
    return text + (f"  {median - beside:+.3f} s beside the bare imports" if beside is not None else "")


def main():
    print(f"{platform.processor() or platform.machine()}, Python {platform.python_version()}")
    seconds([*HITSPOT, "arrivals", BOX, "--json"])
    quick = compare(
        {
            "bare python": [sys.executable, "-c", "pass"],
            "--help": [*HITSPOT, "--help"],
            "import numba, pydantic": [sys.executable, "-c", "import numba, pydantic"],
            "arrivals, room 1": [*HITSPOT, "arrivals", BOX, "--json"],
        },
        9,
    )
    bare, imports = (statistics.median(quick[name]) for name in ("bare python", "import numba, pydantic"))
    for name, values in quick.items():
        print(line(name, values, {"--help": bare, "arrivals, room 1": imports}.get(name)))
    with tempfile.TemporaryDirectory() as folder:
        command = [*HITSPOT, "report", BOX, "--out", str(Path(folder) / "out")]
        print(line("report, room 1, 3 stills", [seconds(command) for _ in range(3)]))


if __name__ == "__main__":
    main()
