"""The window's figures: first picture, a drag in the garage, memory after many openings.

Needs a display; says CPU time beside wall time, because the wall time of a shared machine says little. The
opponent of a drag's step is the whole run that it spares, in the same process: `runs_per_step` times as long.
Figures are printed as soon as they are known; `steps`, `window` or `first` measures that alone.
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


def paths_ms(name="garage", repeats=30):
    """CPU milliseconds for paths and levels of two speakers alone, where the seat moves."""
    from raytrace import load_scene, moved
    from raytrace.reflections import Reach, SeatPoints, find_point_arrivals, find_reflectors
    from raytrace.room import build_room

    scene = load_scene(SCENES / f"{name}.toml")
    room = build_room(scene)
    reflectors, reach = find_reflectors(room), Reach(4, 0.015, 4, 0.015, 0.0)
    rows = []
    for there in _places(scene, "seats", 0, repeats, moved):
        start = time.thread_time()
        ears = SeatPoints(there, room, reflectors, there.seats[0], ears_only=True)
        for speaker in (0, 1):
            find_point_arrivals(there, ears, reach, speaker=speaker, seat=0)
        rows.append(time.thread_time() - start)
    return 1e3 * float(np.median(rows[5:]))


def _places(scene, kind, index, repeats, moved):
    """A scene with one thing a little farther at each step."""
    from viewer.window.state import place_in

    start = np.array(place_in(scene, (kind, index)))
    for i in range(repeats):
        step = np.zeros(len(start))
        step[:2] = -0.0006 * (i + 1), -0.0003 * i  # small, so that nothing runs into anything
        yield moved(scene, kind, index, tuple(start + step))


def step_ms(name, kind, repeats=30, runs=2):
    """CPU milliseconds of a step of a drag with its stage; of the head zone at rest; of a whole run."""
    from raytrace import Follower, load_scene, moved, run_study
    from viewer.pictures import set_stage

    scene = load_scene(SCENES / f"{name}.toml")
    follower = Follower()
    follower.ears(scene)
    steps, stages, zones, whole = [], [], [], []
    for i, there in enumerate(_places(scene, kind, 0, repeats, moved)):
        t0 = time.thread_time()
        study = follower.ears(there)
        t1 = time.thread_time()
        if kind == "objects":  # only then the room itself is laid out anew
            set_stage(study)
        stages.append(time.thread_time() - t1)
        steps.append(t1 - t0)
        if i % 10 == 9:
            t0 = time.thread_time()
            follower.zone(there)
            zones.append(time.thread_time() - t0)
    for _ in range(runs):
        t0 = time.thread_time()
        run_study(there)
        whole.append(time.thread_time() - t0)
    return [1e3 * float(x) for x in (np.median(steps[5:]), np.median(stages), np.median(zones), min(whole))]


def drag(window, application, thing=("speakers", 0), seconds=6.0):
    """What a hand sees that pulls a thing about.

    Returns pictures per second (room, list and curve of a study that was not shown before) and the CPU
    milliseconds of each, of the window's own thread and of all threads.
    """
    from PySide6.QtCore import QEvent, QObject, QPointF, Qt, QTimer
    from PySide6.QtGui import QMouseEvent

    from tests.support.pixels import pixel_of_thing

    class Witness(QObject):
        def eventFilter(self, _watched, event):
            if event.type() == QEvent.Type.Paint:
                studies[id(window.shown.study)] = window.shown.study
            return False

    surface, held = window.main.room.surface, Qt.MouseButton.LeftButton
    x, y = pixel_of_thing(window, thing)
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


def wait_for(window, application, *, whole=True, at_most_s=120.0):
    """Until the whole study is shown, or a first picture."""
    from tests.support.pixels import is_resting

    end = time.perf_counter() + at_most_s
    while window.shown is None or (whole and not is_resting(window)):
        assert time.perf_counter() < end, "the machine is too busy to measure anything"
        application.processEvents()
        time.sleep(0.002)


def memory_mb():
    """Memory of this process now."""
    text = Path("/proc/self/statm").read_text()
    return int(text.split()[1]) * resource.getpagesize() / 2**20


def tell(**figures):
    """Print figures as soon as they are known."""
    print(json.dumps({name: round(value, 2) for name, value in figures.items()}), flush=True)


def measure_first():
    """From the command to the first picture."""
    wall_s, cpu_s = first_picture(SCENES / "garage.toml", repeats=3)
    tell(first_picture_wall_s=wall_s, first_picture_cpu_s=cpu_s)


def measure_steps():
    """A step of every kind of drag, and how many of them a whole run takes."""
    tell(two_speakers_cpu_ms=paths_ms())
    for name, kind in (
        ("garage", "speakers"),
        ("garage", "seats"),
        ("garage", "objects"),
        ("rented", "objects"),
        ("treated-box", "panels"),
    ):
        step, stage, zone, whole = step_ms(name, kind)
        own = f"{name}_{kind}"
        tell(**{f"{own}_step_ms": step, f"{own}_stage_ms": stage, f"{own}_zone_ms": zone})
        tell(**{f"{own}_whole_run_ms": whole, f"{own}_runs_per_step": whole / (step + stage)})


def measure_window():
    """Pictures a second, and memory after many rooms and edits."""
    from PySide6.QtCore import QSettings
    from PySide6.QtWidgets import QApplication

    from viewer.window.workbench import Workbench

    application = QApplication([])
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_STATE_HOME"] = folder
        window = Workbench(QSettings(f"{folder}/settings.ini", QSettings.Format.IniFormat))
        window.questions.ask = lambda *_: 1
        window.main.resize(1440, 900)
        window.main.show()
        window.filing.may_leave = lambda **_: True
        for name, thing in (("garage", "speakers"), ("garage", "objects"), ("treated-box", "panels")):
            window.filing.open(SCENES / f"{name}.toml")
            wait_for(window, application)
            per_s, own_ms, all_ms = drag(window, application, (thing, 0))
            tell(**{f"{name}_{thing}_pictures_per_s": per_s, f"{name}_{thing}_window_ms": own_ms})
            tell(**{f"{name}_{thing}_all_threads_ms": all_ms})
        rooms = ("box", "garage", "rented", "elbow")
        for i in range(24):
            window.filing.open(SCENES / f"{rooms[i % 4]}.toml")
            wait_for(window, application, whole=False)
            if i == 3:
                tell(memory_after_4_rooms_mb=memory_mb())
        tell(memory_after_20_more_mb=memory_mb())
        for i in range(200):
            window.editing.place(("seats", 0), (2.0 + 0.001 * (i % 7), 1.7, 1.2))
            application.processEvents()
        tell(memory_after_200_edits_mb=memory_mb())
        window.main.close()


def main():
    """Measure what is named on the command line, all of it where nothing is."""
    every = {"first": measure_first, "steps": measure_steps, "window": measure_window}
    for name in sys.argv[1:] or every:
        every[name]()


if __name__ == "__main__":
    main()
