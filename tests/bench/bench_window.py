"""The window's figures: first picture, a drag in the garage, memory after many openings.

Needs a display; says CPU time beside wall time, because the wall time of a shared machine says little. The
opponent of a drag's step is the whole run that it spares, in the same process: `run_per_step` times as long.
"""

import itertools
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
SCENES = ROOT / "scenes"
FIRST = """
import sys, time
from pathlib import Path
from viewer.cli.display import begin_probe
from raytrace import load_scene
probe = begin_probe()
load_scene(sys.argv[1])
why = probe.answer()
assert not why, why
from viewer.window.opening import make_window
application, window = make_window(Path(sys.argv[1]))
window.main.show()
def look():
    if window.shown is not None:
        window.main.room.surface.repaint()
        print(time.process_time())
        window.main.close()
        application.quit()
from PySide6.QtCore import QTimer
timer = QTimer(interval=5)
timer.timeout.connect(look)
timer.start()
application.exec()
"""


def first_picture(scene, repeats=5):
    """Wall and CPU seconds from the command to the first picture with its paths, best of some warm runs."""
    rows = []
    with tempfile.TemporaryDirectory() as folder:  # what a crash has left would be asked about first
        environment = {**os.environ, "XDG_STATE_HOME": folder}
        for _ in range(repeats):
            start = time.perf_counter()
            done = subprocess.run(
                [sys.executable, "-c", FIRST, str(scene)],
                cwd=ROOT, env=environment, capture_output=True, text=True, check=True,
            )  # fmt: skip
            rows.append((time.perf_counter() - start, float(done.stdout.split()[-1])))
    return [float(x) for x in np.min(rows[1:], axis=0)]


def compute_ms(name="garage", kind="seats", repeats=60):
    """CPU milliseconds of a drag: paths and levels alone; all that one step shows; at rest; a whole run.

    With a seat all of it is found anew; with a speaker what the other sends stays.
    """
    from raytrace import Follower, load_scene, moved, run_study
    from raytrace.reflections import Reach, SeatPoints, find_point_arrivals, find_reflectors
    from raytrace.room import build_room

    scene = load_scene(SCENES / f"{name}.toml")
    room = build_room(scene)
    reflectors = find_reflectors(room)
    follower, reach = Follower(), Reach(4, 0.015, 4, 0.015, 0.0)
    start = np.array(scene.seats[0].ears if kind == "seats" else scene.speakers[0].position)
    rows, whole_s = [], []
    for i in range(repeats):
        there = moved(scene, kind, 0, tuple(start + np.array([0.003 * (i + 1), 0.002 * i, 0.0])))
        t0 = time.thread_time()
        ears = SeatPoints(there, room, reflectors, there.seats[0], ears_only=True)
        for speaker in (0, 1):
            find_point_arrivals(there, ears, reach, speaker=speaker, seat=0)
        t1 = time.thread_time()
        follower.ears(there)
        t2 = time.thread_time()
        follower.zone(there)
        t3 = time.thread_time()
        if i % 10 == 9:
            run_study(there)
            whole_s.append(time.thread_time() - t3)
        rows.append((t1 - t0, t2 - t1, t3 - t2))
    return [float(x) * 1e3 for x in (*np.median(rows[5:], axis=0), np.median(whole_s))]


def drag(window, application, seconds=8.0):
    """What a hand sees that pulls a speaker about.

    Returns pictures per second (room, list and curve of a study that was not shown before) and the CPU
    milliseconds of each, of the window's own thread and of all threads.
    """
    from PySide6.QtCore import QEvent, QObject, QPointF, Qt, QTimer
    from PySide6.QtGui import QMouseEvent

    class Witness(QObject):
        def eventFilter(self, _watched, event):
            if event.type() == QEvent.Type.Paint:
                studies[id(window.shown.study)] = window.shown.study
            return False

    surface, held = window.main.room.surface, Qt.MouseButton.LeftButton
    x, y = window.main.room.pixel_of_thing(("speakers", 0))
    moves, studies = itertools.count(), {}

    def send(kind, at):
        button = Qt.MouseButton.NoButton if kind == QEvent.Type.MouseMove else held
        place = QPointF(*at)
        event = QMouseEvent(
            kind, place, QPointF(surface.mapToGlobal(place)), button, held, Qt.KeyboardModifier.NoModifier
        )
        application.sendEvent(surface, event)

    def move():
        i = next(moves)
        send(QEvent.Type.MouseMove, (x + 20 * np.sin(i / 19), y + 12 * np.sin(i / 27)))

    send(QEvent.Type.MouseButtonPress, (x, y))
    hand, witness = QTimer(interval=8), Witness()
    hand.timeout.connect(move)
    surface.installEventFilter(witness)
    start, own, all_threads = time.perf_counter(), time.thread_time(), time.process_time()
    hand.start()
    QTimer.singleShot(round(1000 * seconds), application.exit)  # quit() would close the window
    application.exec()
    hand.stop()
    surface.removeEventFilter(witness)
    wall, n = time.perf_counter() - start, len(studies)
    used = (time.thread_time() - own) / n * 1e3, (time.process_time() - all_threads) / n * 1e3
    send(QEvent.Type.MouseButtonRelease, (x, y))
    return n / wall, *used


def wait_for(window, application):
    """Until the whole study is shown."""
    while window.shown is None or not window.session.is_resting or window.session.first is None:
        application.processEvents()
        time.sleep(0.002)


def memory_mb():
    """Memory of this process now."""
    text = Path("/proc/self/statm").read_text()
    return int(text.split()[1]) * resource.getpagesize() / 2**20


def main():
    """Measure everything and print it as JSON."""
    figures = dict(
        zip(
            ("first_picture_wall_s", "first_picture_cpu_s"),
            first_picture(SCENES / "garage.toml"),
            strict=True,
        )
    )
    names = ("two_speakers_cpu_ms", "step_cpu_ms", "zone_at_rest_cpu_ms", "whole_run_cpu_ms")
    figures |= dict(zip(names, compute_ms(), strict=True))
    figures["run_per_step"] = figures["whole_run_cpu_ms"] / figures["step_cpu_ms"]
    for kind in ("speakers", "seats"):
        box_names = (f"box_{kind}_{name}" for name in names)
        figures |= dict(zip(box_names, compute_ms("box", kind, repeats=25), strict=True))

    from PySide6.QtCore import QSettings
    from PySide6.QtWidgets import QApplication

    from viewer.window.workbench import Workbench

    application = QApplication([])
    with tempfile.TemporaryDirectory() as folder:
        window = Workbench(QSettings(f"{folder}/settings.ini", QSettings.Format.IniFormat))
        window.questions.ask = lambda *_: 1
        window.main.resize(1440, 900)
        window.main.show()
        window.filing.open(SCENES / "garage.toml")
        wait_for(window, application)
        names = ("drag_pictures_per_s", "drag_window_cpu_ms", "drag_all_threads_cpu_ms")
        figures |= dict(zip(names, drag(window, application), strict=True))
        window.filing.may_leave = lambda: True
        kept = []
        for i in range(21):
            window.filing.open(SCENES / "box.toml")
            wait_for(window, application)
            if i in (2, 20):
                kept.append(memory_mb())
        figures["memory_after_3_mb"], figures["memory_after_20_more_mb"] = kept
        window.main.close()
    print(json.dumps({name: round(value, 2) for name, value in figures.items()}, indent=1))


if __name__ == "__main__":
    main()
