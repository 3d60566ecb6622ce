"""What whole runs of hitspot's commands take, against bare Python and the libraries they cannot do without.

    python -m tests.bench.bench_start

Each command runs in a process of its own, the opponents taking turns; medians of nine (the report: of
three) with their spread, in CPU time of the process and its children, which other programs disturb little.
Kernels are compiled and byte code is kept before the first measured run, as in an installed program.
"""

import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
HITSPOT = [sys.executable, "-m", "viewer.cli"]
BOX = "scenes/box.toml"


def cpu_seconds(command, environment):
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, cwd=ROOT, env=environment, check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


def compare(commands, rounds, environment):
    """{name: times} of commands that take turns, after one run of each that is not counted."""
    times = {name: [] for name in commands}
    for turn in range(rounds + 1):
        for name, command in commands.items():
            taken = cpu_seconds(command, environment)
            if turn:
                times[name].append(taken)
    return times


def line(name, values, beside=""):
    return f"{name:<28}{statistics.median(values):7.3f} s  ({min(values):.3f} to {max(values):.3f}){beside}"


def main():
    print(f"{platform.processor() or platform.machine()}, Python {platform.python_version()}, CPU time")
    with tempfile.TemporaryDirectory() as folder:
        environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
        environment["PYTHONPYCACHEPREFIX"] = str(Path(folder) / "bytecode")
        quick = {
            "bare python": [sys.executable, "-c", "pass"],
            "--help": [*HITSPOT, "--help"],
            "import numba, pydantic": [sys.executable, "-c", "import numba, pydantic"],
            "arrivals, room 1": [*HITSPOT, "arrivals", BOX, "--json"],
        }
        times = compare(quick, 9, environment)
        for name, opponent in {"--help": "bare python", "arrivals, room 1": "import numba, pydantic"}.items():
            own, other = statistics.median(times[name]), statistics.median(times[opponent])
            print(line(opponent, times[opponent]))
            print(line(name, times[name], f"  {own - other:+.3f} s, {own / other:.1f} x {opponent}"))
        report = {"report, room 1, 3 stills": [*HITSPOT, "report", BOX, "--out", str(Path(folder) / "out")]}
        for name, values in compare(report, 3, environment).items():
            print(line(name, values))


if __name__ == "__main__":
    main()
