"""Sessions killed while edited lose at most one change; `python -m tests.support.killed_edits 30`."""

import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SCENE = Path(__file__).parents[2] / "scenes" / "box.toml"
ROOT = Path(__file__).parents[2]
MOST_MS = 40.0  # after a step that was told of: within the next ones
CHILD = """
import sys
from pathlib import Path
from PySide6.QtCore import QCoreApplication
from viewer.window.session import Session, open_draft
application = QCoreApplication([])
session = Session()
session.open(open_draft(Path(sys.argv[1])))
for step in range(1, 400):
    problem = session.change(session.draft.with_position("seats", 0, (1.8 + 0.001 * step, 1.5, 1.2)).text)
    assert problem is None, problem
    print(step, flush=True)
"""


def kill_once(seed, folder):
    """Kill a session after some of its steps: the last it told of, and the last that is found again."""
    drawn = random.Random(seed)
    path = folder / f"room-{seed}.toml"
    shutil.copy(SCENE, path)
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD, str(path)],
        cwd=ROOT, stdout=subprocess.PIPE, text=True, env={**os.environ, "XDG_STATE_HOME": str(folder)},
    )  # fmt: skip
    wanted = drawn.randint(1, 40)
    told = 0
    while told < wanted:
        told = int(child.stdout.readline())
    time.sleep(drawn.uniform(0.0, MOST_MS) / 1e3)
    child.send_signal(signal.SIGKILL)
    rest, _ = child.communicate()
    told = max([told, *map(int, rest.split("\n")[:-1])])
    return path, told


def step_found(path, find_recovery):
    """Which step the text has that is offered after the crash."""
    recovered = find_recovery(path)
    return round((recovered.scene().seats[0].ears[0] - 1.8) * 1e3)


def main():
    """Kill as many sessions as the command line says, and count what was lost."""
    with tempfile.TemporaryDirectory() as name:
        os.environ["XDG_STATE_HOME"] = name
        from viewer.window.session import find_recovery

        lost = []
        for seed in range(int(sys.argv[1])):
            path, told = kill_once(seed, Path(name))
            lost.append(told - step_found(path, find_recovery))
            print(f"killed after step {told}: lost {max(lost[-1], 0)}", flush=True)
        assert max(lost) <= 0, "a change was told of and is lost"


if __name__ == "__main__":
    main()
