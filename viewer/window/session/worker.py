"""Work off the window's thread: the newest request wins, what is overtaken is dropped."""

import threading
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, Signal

Progress = Callable[[str, float], None]
Job = Callable[[Progress], Any]


class Overtaken(Exception):
    """A newer request waits; raised inside the job by its own progress calls."""


class Worker(QObject):
    """One thread that always does the newest of what it was asked.

    A job is called with a progress function `(text, share)` and ends early at its next call once a newer
    request waits. Results and failures arrive as signals in the thread of this object.
    """

    done = Signal(object, object)  # what it was asked as, result
    failed = Signal(object, object)  # what it was asked as, exception
    progressed = Signal(str, float)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._news = threading.Condition()
        self._waiting: tuple[Any, Job] | None = None
        self._busy = False
        self._ends = False
        self._thread = threading.Thread(target=self._run, name="hitspot-worker", daemon=True)
        self._thread.start()

    def ask(self, name: Any, job: Job) -> None:
        """Do this next, instead of anything that waits or runs."""
        with self._news:
            self._waiting = name, job
            self._news.notify()

    def drop(self) -> None:
        """Do nothing of what waits, and end what runs at its next chance."""
        self.ask(None, lambda _progress: None)

    @property
    def is_busy(self) -> bool:
        """Whether something waits or runs."""
        with self._news:
            return self._busy or self._waiting is not None

    def end(self) -> None:
        """End the thread, waiting for the job that runs to notice."""
        with self._news:
            self._ends, self._waiting = True, None
            self._news.notify()
        self._thread.join(timeout=30.0)

    def _run(self) -> None:
        while True:
            with self._news:
                self._busy = False
                while self._waiting is None and not self._ends:
                    self._news.wait()
                if self._ends:
                    return
                assert self._waiting is not None
                (name, job), self._waiting = self._waiting, None
                self._busy = True
            try:
                result = job(self._report)
            except Overtaken:
                continue
            except Exception as problem:  # whatever it is, the window has to say so
                self._emit(self.failed, name, problem)
            else:
                if name is not None:
                    self._emit(self.done, name, result)

    def _emit(self, signal: Any, name: Any, what: Any) -> None:
        with self._news:
            # Before the word is out: who hears it at once may ask whether there is anything left to do.
            self._busy = False
            if self._ends:
                return
        signal.emit(name, what)

    def _report(self, text: str, share: float) -> None:
        with self._news:
            if self._waiting is not None or self._ends:
                raise Overtaken
        self.progressed.emit(text, share)
