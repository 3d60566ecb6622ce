"""One thread that does the newest of what it was asked."""

import threading

from PySide6.QtCore import Qt

from tests.support.windows import WAIT_MS
from viewer.window.session.worker import Worker


def test_of_many_requests_the_first_and_the_newest_are_done(qtbot):
    worker, hold, started = Worker(), threading.Event(), threading.Event()
    done = []
    worker.done.connect(lambda name, result: done.append((name, result)))

    def wait(_progress):
        started.set()
        hold.wait(WAIT_MS / 1e3)
        return "first"

    worker.ask(1, wait)
    assert started.wait(WAIT_MS / 1e3)
    for i in range(2, 50):
        worker.ask(i, lambda _progress, i=i: i)
    hold.set()
    qtbot.waitUntil(lambda: len(done) == 2, timeout=WAIT_MS)
    assert done == [(1, "first"), (49, 49)]
    worker.end()


def test_a_job_that_reports_progress_ends_early_when_a_newer_one_waits(qtbot):
    worker, started, waiting = Worker(), threading.Event(), threading.Event()
    done = []
    worker.done.connect(lambda name, _result: done.append(name))

    def long(progress):
        started.set()
        waiting.wait(WAIT_MS / 1e3)
        for _ in range(10):
            progress("still at it", 0.5)
        return "never"

    worker.ask("old", long)
    assert started.wait(WAIT_MS / 1e3)
    worker.ask("new", lambda _progress: None)
    waiting.set()
    qtbot.waitUntil(lambda: bool(done), timeout=WAIT_MS)
    worker.end()
    assert done == ["new"]


def test_what_goes_wrong_in_a_job_is_told_and_the_next_job_is_done(qtbot):
    worker, failed, done = Worker(), [], []
    worker.failed.connect(lambda name, problem: failed.append((name, str(problem))))
    worker.done.connect(lambda name, _result: done.append(name))

    def fails(_progress):
        raise ValueError("no such thing")

    worker.ask("bad", fails)
    qtbot.waitUntil(lambda: bool(failed), timeout=WAIT_MS)
    worker.ask("good", lambda _progress: None)
    qtbot.waitUntil(lambda: bool(done), timeout=WAIT_MS)
    assert failed == [("bad", "no such thing")]
    worker.end()


def test_whoever_hears_a_result_finds_nothing_left_to_do(qtbot):
    worker, busy = Worker(), []
    worker.done.connect(lambda *_: busy.append(worker.is_busy), Qt.ConnectionType.DirectConnection)
    for i in range(20):
        worker.ask(i, lambda _progress: None)
        qtbot.waitUntil(lambda n=i: len(busy) > n, timeout=WAIT_MS)
    worker.end()
    assert not any(busy)
