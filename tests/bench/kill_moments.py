"""Kills each command at many moments and compares folders: old or new, never half, and nothing left over.

`python -m tests.bench.kill_moments [MOMENTS] [COMMAND ...]`; a table on standard output, exit code 1 if a
row is not clean. Out of the default run, for it takes MOMENTS times half of each command. Beside what was
found stands the longest that a run went on after its signal, half a second at most on an idle machine.
"""

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import suppress
from functools import partial
from pathlib import Path

from tests.support.rooms import MEASURED_PLAN, room_text
from tests.support.samebytes import SMALL_SCENE, contents_of
from tests.support.scans import Rough, gable_room, obj_text, scan_of
from tests.support.soundfiles import pulses, write_wav
from viewer.files.unfinished import sweep

SEATS = ("ears = [1.79, 1.5, 1.1]", "ears = [1.9, 1.5, 1.1]")
SMALL = ("--order", "1", "--size", "300x300")
# The words of each command. It runs once on the first of two givens and is killed on the second, so that
# old and new differ; TURN in a word is 1, then 2. Everything that it writes goes into the folder out.
COMMANDS = {
    "drawings": ("scene.toml", "--out", "out/drawn", "--replace"),
    "page": ("scene.toml", "--order", "1", "--out", "out/page.html", "--replace"),
    "stills": ("scene.toml", *SMALL, "--out", "out/stills", "--replace"),
    "report": ("scene.toml", *SMALL, "--out", "out/report", "--replace"),
    "propose": ("scene.toml", "--order", "1", "--panels", "1", "--out", "out/new.toml", "--replace"),
    "new": ("out/new.toml", "--shape", "box"),
    "cutlist": ("scene.toml",),
    "export": ("scene.toml", "--to", "out/room.glb", "--replace"),
    "clean": ("scan.obj", "--out", "out/scan.toml", "--picture", "out/scan.png", "--replace"),
    "sweep": ("--seconds", "TURN", "--out", "out/sweep.wav", "--replace"),
    "compare": (
        *("scene.toml", "--measured", "left=left.wav", "--order", "1", "--out", "out/tables"),
        *("--write", "out/corrected.toml", "--replace"),
    ),
    "seats": (
        *("scene.toml", "--wall", "front wall", "--step", "1 m", "--best", "1", "--write", "out/seat.toml"),
        *("--picture", "out/seats.svg", "--replace"),
    ),
    "film": ("scene.toml", "--order", "1", "--until", "5", "--out", "out/film.webp", "--replace"),
    "survey": ("plan.toml", "--write", "out/adjusted.toml", "--replace"),
    "aim": ("scene.toml", "--plan", "out/plan.pdf", "--replace"),
    "bass": ("scene.toml", "--picture", "out/bass.png", "--replace"),
}
SIGNALS = (signal.SIGKILL, signal.SIGTERM, signal.SIGHUP, signal.SIGINT)
GIVEN = ("scene.toml", "plan.toml", "scan.obj", "left.wav")
OWN = {*GIVEN, "out", "state", "tmp"}


def start(ground: Path, command: str, turn: int) -> "subprocess.Popen[bytes]":
    """One command in a folder of its own, with temporary and state folders of its own."""
    environment = {
        **os.environ,
        "PYTHONPATH": str(Path(__file__).parents[2]),
        "TMPDIR": str(ground / "tmp"),
        "XDG_STATE_HOME": str(ground / "state"),
    }
    return subprocess.Popen(
        [
            *(sys.executable, "-m", "viewer.cli", command),
            *(word.replace("TURN", str(turn)) for word in COMMANDS[command]),
        ],
        cwd=ground,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )


def finish(ground: Path, command: str, turn: int) -> float:
    """Run to the end; how long it took. [s]"""
    begun = time.monotonic()
    assert start(ground, command, turn).wait() == 0, f"{command} fails by itself"
    return time.monotonic() - begun


def give(ground: Path, turn: int) -> None:
    """What the commands read, in one of two forms."""
    scene = SMALL_SCENE.replace(SEATS[0], SEATS[turn - 1])
    (ground / "scene.toml").write_text(scene, encoding="utf-8")
    plan = room_text(MEASURED_PLAN.replace("2.44", f"2.4{turn}"))
    (ground / "plan.toml").write_text(plan, encoding="utf-8")
    truth = gable_room(4.0 + 0.2 * turn, 3.0, eaves=2.0, ridge=2.9)
    (ground / "scan.obj").write_text(obj_text(*scan_of(truth, Rough(seed=turn, edge=0.3))), encoding="utf-8")
    write_wav(ground / "left.wav", pulses([0.0, 0.004, 0.006 + 0.001 * turn], [1.0, 0.4, 0.3]))


def fresh(ground: Path) -> Path:
    """An empty ground with what is given, in its first form."""
    shutil.rmtree(ground, ignore_errors=True)
    for name in ("out", "state", "tmp"):
        (ground / name).mkdir(parents=True)
    give(ground, 1)
    return ground


def unfinished(ground: Path) -> list[str]:
    """What stands where nothing is to be left."""
    beside = {path.name for path in ground.iterdir()} - OWN
    passing = {path.name for path in (ground / "tmp").iterdir()}
    return sorted(beside | passing | {path.name for path in (ground / "out").glob(".hitspot-*")})


def judge(ground: Path, old: dict[str, bytes], new: dict[str, bytes]) -> str:
    """What a killed run left: "old" or "new", or what is wrong with it."""
    sweep(ground / "out")  # what the next run does first
    if left := unfinished(ground):
        return f"left {left[0]} after the next run"
    found = contents_of(ground / "out")
    if found in (old, new):
        return "old" if found == old else "new"
    whole = all(found.get(name) in (old.get(name), new.get(name)) for name in old.keys() | new.keys())
    return "some of each" if whole else "half"


def killed_at(ground: Path, command: str, after_s: float, number: int) -> float:
    """A run that is killed, and whatever it had started gone as well; how long it went on. [s]"""
    child, went_on_s = start(ground, command, 2), 0.0
    try:
        child.wait(timeout=after_s)
    except subprocess.TimeoutExpired:
        sent_s = time.monotonic()
        # Ctrl-C reaches all that a terminal runs, a kill the one process.
        (child.send_signal if number != signal.SIGINT else partial(os.killpg, child.pid))(number)
        child.wait()
        went_on_s = time.monotonic() - sent_s
    for _ in range(100):  # 10 s: a child of the killed run finds its pipe closed
        with suppress(ProcessLookupError):
            os.killpg(child.pid, 0)
            time.sleep(0.1)
            continue
        return went_on_s
    os.killpg(child.pid, signal.SIGKILL)
    raise AssertionError(f"{command}: a process that it started lives on")


def run_row(ground: Path, command: str, moments: int) -> tuple[Counter[str], float]:
    """Kill one command at many moments of its run, then let it run to its end; the longest it went on [s]."""
    if command == "new":
        fresh(ground)
    else:
        finish(fresh(ground), command, 1)
    old = contents_of(ground / "out")
    give(ground, 2)
    kept = ground.with_name("kept")
    shutil.rmtree(kept, ignore_errors=True)
    shutil.copytree(ground, kept)
    lasts_s = finish(ground, command, 2)
    new = contents_of(ground / "out")
    assert command == "cutlist" or old != new, f"{command}: old and new cannot be told apart"
    counts: Counter[str] = Counter()
    longest_s = 0.0
    for moment in range(moments):
        shutil.rmtree(ground)
        shutil.copytree(kept, ground)
        number = SIGNALS[moment % len(SIGNALS)]
        longest_s = max(longest_s, killed_at(ground, command, lasts_s * (moment + 0.5) / moments, number))
        counts[judge(ground, old, new)] += 1
    if command != "new" or not contents_of(ground / "out"):
        finish(ground, command, 2)
    left = unfinished(ground)
    after = f"left {left[0]}" if left else judge(ground, new, new)
    if after != "old" or contents_of(ground / "state"):
        counts[f"the run after it: {after}"] += 1
    return counts, longest_s


def main() -> int:
    """Print a row for each command."""
    chosen = sys.argv[1:]
    signal.signal(
        signal.SIGINT, signal.default_int_handler
    )  # a shell has what it runs beside it ignore Ctrl-C
    moments = int(chosen.pop(0)) if chosen and chosen[0].isdecimal() else 30
    is_clean = True
    with tempfile.TemporaryDirectory() as folder:
        for command in chosen or COMMANDS:
            counts, longest_s = run_row(Path(folder) / "ground", command, moments)
            is_clean &= set(counts) <= {"old", "new"}
            words = (f"{count} {what}" for what, count in sorted(counts.items()))
            print(f"{command:<10}", ", ".join(words), f"; went on {longest_s:.2f} s at most", flush=True)
    return 0 if is_clean else 1


if __name__ == "__main__":
    sys.exit(main())
