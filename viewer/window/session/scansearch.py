"""Scans read and fitted off the window's thread."""

from pathlib import Path

from PySide6.QtCore import Signal

from raytrace import GrownScan, MeshError, PlaneEdits, ScanSettings, fit_scan, grow_scan
from viewer.window.session.search import Search
from viewer.window.session.worker import Progress


class ScanSearch(Search):
    """The room in one scan after another, and as its planes are changed."""

    grown = Signal(object, object)  # GrownScan, CleanRoom
    fitted = Signal(object, object)  # PlaneEdits, CleanRoom

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

    def _answered(self, asked: object, found: object) -> None:
        if isinstance(asked, PlaneEdits):
            self.fitted.emit(asked, found)
        elif isinstance(found, tuple):
            self.grown.emit(*found)

    def _refusal(self, problem: Exception) -> str | None:
        return str(problem) if isinstance(problem, MeshError) else None
