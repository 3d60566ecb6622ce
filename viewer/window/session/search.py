"""One search at a time off the window's thread: what was asked last counts, older answers are let go."""

from typing import Any

from PySide6.QtCore import QObject, Signal

from viewer.window.session.worker import Job, Worker


class Search(QObject):
    """What is sought for one question after another, in a thread of its own that begins with the first."""

    refused = Signal(str)  # why what was asked has no answer
    crashed = Signal(object)  # exception
    progressed = Signal(str, float)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._worker: Worker | None = None
        self._asked: Any = None

    @property
    def is_busy(self) -> bool:
        """Whether something is on its way, or not yet let go of."""
        return self._worker is not None and self._worker.is_busy

    def forget(self) -> None:
        """Seek anew what is asked for next, whatever it is; what is on its way is let go."""
        self._asked = None

    def stop(self) -> None:
        """Let what is on its way come to nothing."""
        self.forget()
        if self._worker is not None:
            self._worker.drop()

    def end(self) -> None:
        """Let go of the thread."""
        if self._worker is not None:
            self._worker.end()

    def _ask(self, asked: Any, job: Job) -> None:
        if self._worker is None:
            self._worker = Worker(self)
            self._worker.done.connect(self._done)
            self._worker.failed.connect(self._failed)
            self._worker.progressed.connect(self.progressed)
        self._asked = asked
        self._worker.ask(asked, job)

    def _answered(self, asked: Any, found: Any) -> None:
        """Hand on what was found for the question that counts."""
        raise NotImplementedError

    def _refusal(self, _problem: Exception) -> str | None:
        """What to say where the question is at fault; None where the program is."""
        return None

    def _done(self, asked: Any, found: Any) -> None:
        if asked is self._asked:
            self._answered(asked, found)

    def _failed(self, asked: Any, problem: Exception) -> None:
        if asked is not self._asked:
            return
        why = self._refusal(problem)
        if why is None:
            self.crashed.emit(problem)
        else:
            self.refused.emit(why)
