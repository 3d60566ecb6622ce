"""Kills each command at many moments and compares folders: old or new, never half, and nothing left over.

`python -m tests.bench.kill_moments [MOMENTS] [COMMAND ...]`; a table on standard output, exit code 1 if a
row is not clean. Out of the default run, for it takes MOMENTS times half of each command.
"""

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from tests.support.samebytes import SMALL_SCENE, contents_of
from viewer.files.unfinished import sweep

# Where each command writes, and how it is called; the first run of a row is in feet, so that old differs.
COMMANDS = {
    "drawings": ("out", ["--out", "out"]),
    "page": ("out.html", ["--order", "1", "--out", "out.html"]),
    "stills": ("out", ["--order", "1", "--size", "300x300", "--out", "out"]),
    "report": ("out", ["--order", "1", "--size", "300x300", "--out", "out"]),
    "propose": ("out.toml", ["--order", "1", "--panels", "1", "--out", "out.toml", "--replace"]),
}
SIGNALS = (signal.SIGKILL, signal.SIGTERM, signal.SIGHUP)


def start(ground: Path, command: str, *options: str) -> "subprocess.Popen[bytes]":
    """One command in a folder of its own, with a temporary folder of its own."""
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2]), "TMPDIR": str(ground / "tmp")}
    return subprocess.Popen(
        [sys.executable, "-m", "viewer.cli", command, "scene.toml", *COMMANDS[command][1], *options],
        cwd=ground,
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def finish(ground: Path, command: str, *options: str) -> float:
    """Run to the end; how long it took. [s]"""
    begun = time.monotonic()
    assert start(ground, command, *options).wait() == 0, f"{command} fails by itself"
    return time.monotonic() - begun


def fresh(ground: Path, scene: str) -> Path:
    """An empty ground with the scene and a temporary folder in it."""
    shutil.rmtree(ground, ignore_errors=True)
    (ground / "tmp").mkdir(parents=True)
    (ground / "scene.toml").write_text(scene, encoding="utf-8")
    return ground


def judge(ground: Path, command: str, old: dict[str, bytes], new: dict[str, bytes], killed: int) -> str:
    """What a killed run left: "old" or "new", or what is wrong with it."""
    target = COMMANDS[command][0]
    beside = sorted(p.name for p in ground.iterdir() if p.name not in (target, "scene.toml", "tmp"))
    if killed != signal.SIGKILL and beside:
        return f"left {beside[0]}"
    sweep(ground)  # what the next run does first
    if len(list(ground.iterdir())) > 3 or list((ground / "tmp").iterdir()):
        return "leftovers after the next run"
    found = contents_of(ground / target)
    return "old" if found == old else "new" if found == new else "half"


def run_row(ground: Path, command: str, moments: int) -> Counter[str]:
    """Kill one command at so many moments of its run."""
    scene = SMALL_SCENE
    second = () if command == "propose" else ("--units", "imperial")
    finish(fresh(ground, scene), command)
    old = contents_of(ground / COMMANDS[command][0])
    kept = ground.with_name("kept")
    shutil.rmtree(kept, ignore_errors=True)
    shutil.copytree(ground, kept)
    lasts_s = finish(ground, command, *second)
    new = contents_of(ground / COMMANDS[command][0])
    counts: Counter[str] = Counter()
    for moment in range(moments):
        shutil.rmtree(ground)
        shutil.copytree(kept, ground)
        number = SIGNALS[moment % len(SIGNALS)]
        child = start(ground, command, *second)
        try:
            child.wait(timeout=lasts_s * (moment + 0.5) / moments)
        except subprocess.TimeoutExpired:
            child.send_signal(number)
            child.wait()
            time.sleep(0.1)  # a child of the killed run finds its pipe closed
        counts[judge(ground, command, old, new, number)] += 1
    return counts


def main() -> int:
    """Print a row for each command."""
    chosen = sys.argv[1:]
    moments = int(chosen.pop(0)) if chosen and chosen[0].isdecimal() else 30
    is_clean = True
    with tempfile.TemporaryDirectory() as folder:
        for command in chosen or COMMANDS:
            counts = run_row(Path(folder) / "ground", command, moments)
            is_clean &= set(counts) <= {"old", "new"}
            words = (f"{count} {what}" for what, count in sorted(counts.items()))
            print(f"{command:<10}", *words, flush=True)
    return 0 if is_clean else 1


if __name__ == "__main__":
    sys.exit(main())
