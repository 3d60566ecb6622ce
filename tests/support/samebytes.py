"""Everything a scene's outputs hold, made in processes that differ in all that must not matter."""

import json
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

# Read by every Python process before anything else: how many threads there seem to be, and which day it is.
_START = """
import os, time
os.cpu_count = lambda: {threads}
_time, _localtime = time.time, time.localtime
time.time = lambda: _time() + {later_s}
time.localtime = lambda seconds=None: _localtime(time.time() if seconds is None else seconds)
"""
KINDS = (
    ({"threads": 1, "later_s": 0}, {"PYTHONHASHSEED": "1", "LC_ALL": "C.UTF-8", "TZ": "UTC"}),
    ({"threads": 2, "later_s": 86_400}, {"PYTHONHASHSEED": "2", "LC_ALL": "C", "TZ": "Pacific/Auckland"}),
)

# One process for all commands of a scene: what must not matter differs between processes alone.
_RUN = """
import contextlib, io, json, re, sys
from viewer.cli import run
said = {}
for command, words in json.load(sys.stdin).items():
    with contextlib.redirect_stdout(io.StringIO()) as out, contextlib.redirect_stderr(out):
        code = run(words)
    # How far a long run is, it says by the clock.
    told = re.sub(r"(?m)^hitspot: .* [(]\\d+ %[)]\\n", "", out.getvalue())
    said[command] = f"{code}\\n{told}"
json.dump(said, sys.stdout)
"""


def write_outputs(scene: Path, ground: Path, kind: int, commands: list[list[str]]) -> dict[str, bytes]:
    """What commands write and print, by the name of the file, run in a folder of their own.

    SCENE in a command is the scene, GIVEN the folder `ground`; how it ends and what it prints count too.
    """
    work = ground / f"kind {kind}" / "a" / ("b" * kind + "c")
    work.mkdir(parents=True)
    start, differing = KINDS[kind]
    (ground / f"start {kind}").mkdir()
    (ground / f"start {kind}" / "sitecustomize.py").write_text(_START.format(**start), encoding="utf-8")
    path = os.pathsep.join([str(ground / f"start {kind}"), str(ROOT)])
    environment = {**os.environ, **differing, "PYTHONPATH": path}
    own = {
        " ".join(command): [
            word.replace("SCENE", str(scene)).replace("GIVEN", str(ground)) for word in command
        ]
        for command in commands
    }
    done = subprocess.run(
        [sys.executable, "-c", _RUN],
        cwd=work,
        env=environment,
        input=json.dumps(own).encode(),
        capture_output=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode()
    said = {command: words.encode() for command, words in json.loads(done.stdout).items()}
    return {**said, **contents_of(work)}


def contents_of(place: Path) -> dict[str, bytes]:
    """Bytes of every file in a folder by its name, or of the one file."""
    if place.is_file():
        return {place.name: place.read_bytes()}
    return {p.relative_to(place).as_posix(): p.read_bytes() for p in place.rglob("*") if p.is_file()}
