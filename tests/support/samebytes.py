"""Everything a scene's outputs hold, made in processes that differ in all that must not matter."""

import os
import subprocess
import sys
from pathlib import Path

from tests.support.scenes import HARD_WALLS, ROOT

SMALL_SCENE = (
    HARD_WALLS
    + """
[[panels]]
name = "one"
surface = "left wall"
build = "wool 50"
centre = [3.0, 1.2]
"""
)

# A day later for whoever asks Python for the time.
_TOMORROW = """
import datetime, time
_time, _localtime, _strftime = time.time, time.localtime, time.strftime
time.time = lambda: _time() + 86_400.0
time.localtime = lambda seconds=None: _localtime(time.time() if seconds is None else seconds)
"""

# Hash seed, threads, locale and time zone; the second kind of process lives a day later.
KINDS = (
    {"PYTHONHASHSEED": "1", "NUMBA_NUM_THREADS": "1", "HITSPOT_CPUS": "1", "LC_ALL": "C.UTF-8", "TZ": "UTC"},
    {"PYTHONHASHSEED": "2", "LC_ALL": "C", "LANG": "de_DE.UTF-8", "TZ": "Pacific/Auckland"},
)


def write_outputs(scene: Path, ground: Path, kind: int, commands: list[list[str]]) -> dict[str, bytes]:
    """What commands write and print, by the name of the file, run in a folder of their own.

    A first word of a command such as "arrivals --csv" is followed by the scene; its printed output counts.
    """
    work = ground / f"kind {kind}" / "a" / ("b" * kind + "c")
    work.mkdir(parents=True)
    paths = [str(ROOT)]
    if kind == 1:
        later = ground / "later"
        later.mkdir(exist_ok=True)
        (later / "sitecustomize.py").write_text(_TOMORROW, encoding="utf-8")
        paths.insert(0, str(later))
    environment = {**os.environ, **KINDS[kind], "PYTHONPATH": os.pathsep.join(paths)}
    outputs = {}
    for command, *options in commands:
        words = [sys.executable, "-m", "viewer.cli", command, str(scene), *options]
        pinned = _one_cpu if "HITSPOT_CPUS" in KINDS[kind] else None
        done = subprocess.run(
            words, cwd=work, env=environment, capture_output=True, check=True, preexec_fn=pinned
        )
        outputs[" ".join([command, *options])] = done.stdout
    return {**outputs, **contents_of(work)}


def _one_cpu() -> None:
    """Bind a process to one processor: what asks how many there are gets one thread."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})


def contents_of(place: Path) -> dict[str, bytes]:
    """Bytes of every file in a folder by its name, or of the one file."""
    if place.is_file():
        return {place.name: place.read_bytes()}
    return {p.relative_to(place).as_posix(): p.read_bytes() for p in place.rglob("*") if p.is_file()}
