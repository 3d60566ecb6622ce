"""Scans read and fitted off the window's thread."""

from pathlib import Path

from PySide6.QtCore import QObject, Signal

from raytrace import GrownScan, MeshError, PlaneEdits, ScanSettings, fit_scan, grow_scan
from viewer.window.session.worker import Job, Progress, Worker


class ScanDesk(QObject):
    """The room in one scan after another, and as its planes are changed."""

    grown = Signal(object, object)  # GrownScan, CleanRoom
    fitted = Signal(object, object)  # PlaneEdits, CleanRoom
    refused = Signal(str)  # why a file makes no room, or edits make none
    crashed = Signal(object)  # exception
    progressed = Signal(str, float)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._worker: Worker | None = None
        self._asked: object = None

    def read(self, path: Path, settings: ScanSettings) -> None:
        """Read a file and fit a room to it."""

        def job(progress: Progress) -> object:
            grown = grow_scan(path, settings, progress=progress)
            progress("fitting the room", 0.85)
            return grown, fit_scan(grown)

        self._ask((path, settings), job)

    def fit(self, grown: GrownScan, edits: PlaneEdits) -> None:
        """Fit the room anew with changed planes."""
        self._ask(edits, lambda _: fit_scan(grown, edits))

    def stop(self) -> None:
        """Let what is on its way come to nothing."""
        self._asked = None
        if self._worker is not None:
            self._worker.drop()

    def end(self) -> None:
        """Let go of the thread."""
        if self._worker is not None:
            self._worker.end()

    def _ask(self, asked: object, job: Job) -> None:
        if self._worker is None:
            self._worker = Worker(self)
            self._worker.done.connect(self._done)
            self._worker.failed.connect(self._failed)
            self._worker.progressed.connect(self.progressed)
        self._asked = asked
        self._worker.ask(asked, job)

    def _done(self, asked: object, found: object) -> None:
        if asked is not self._asked:
            return
        if isinstance(asked, PlaneEdits):
            self.fitted.emit(asked, found)
        elif isinstance(found, tuple):
            self.grown.emit(*found)

    def _failed(self, asked: object, problem: Exception) -> None:
        if asked is not self._asked:
            return
        if isinstance(problem, MeshError):
            self.refused.emit(str(problem))
        else:
            self.crashed.emit(problem)
