"""What the window writes for others, in processes of their own: a picture of the view, the report."""

import sys
import tempfile
from pathlib import Path

from PySide6.QtCore import QObject, QProcess, QProcessEnvironment, Signal

from viewer.processes import python_path


class Exporter(QObject):
    """Runs one export after the other beside the window."""

    said = Signal(str)
    failed = Signal(str)
    finished = Signal(str)  # what was written

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._running: list[QProcess] = []

    @property
    def is_busy(self) -> bool:
        """Whether something is being written."""
        return bool(self._running)

    def report(self, text: str, beside: Path | None, folder: Path, units: str) -> None:
        """Write the report of a scene, as it stands in the window, into a folder."""
        with tempfile.NamedTemporaryFile(
            "w", prefix="hitspot-scene-", suffix=".toml", delete=False, encoding="utf-8", newline=""
        ) as file:
            file.write(text)
        # The scene keeps its name and place: files that it names are looked for beside it.
        scene = str(beside) if beside is not None else "room.toml"
        options = ["--text", file.name, "--out", str(folder), "--units", units]
        self._start(["-m", "viewer.cli", "report", scene, *options], str(folder), Path(file.name))

    def picture(self, job: Path, target: Path) -> None:
        """Draw a view as `viewpicture` has kept it in a job file."""
        arguments = ["-m", "viewer.window.snapshot", str(job), str(target)]
        self._start(arguments, str(target), job, has_note=True)

    def _start(self, arguments: list[str], target: str, scratch: Path, *, has_note: bool = False) -> None:
        process = QProcess(self)
        environment = QProcessEnvironment.systemEnvironment()
        environment.insert("PYTHONPATH", python_path())
        process.setProcessEnvironment(environment)
        process.finished.connect(lambda code, _status: self._end(process, code, target, scratch, has_note))
        process.errorOccurred.connect(lambda _: self._end(process, 1, target, scratch, has_note))
        self._running.append(process)
        self.said.emit(f"writing {target}")
        process.start(sys.executable, arguments)

    def _end(self, process: QProcess, code: int, target: str, scratch: Path, has_note: bool) -> None:
        if process not in self._running:
            return
        self._running.remove(process)
        scratch.unlink(missing_ok=True)
        if code == 0:
            note = bytes(process.readAllStandardOutput().data()).decode(errors="replace") if has_note else ""
            self.said.emit(f"written: {target}. {note}" if note else f"written: {target}")
            self.finished.emit(target)
        else:
            words = bytes(process.readAllStandardError().data()).decode(errors="replace").strip()
            self.failed.emit(words.splitlines()[-1] if words else f"ended with code {code}")
        process.deleteLater()

    def wait(self) -> None:
        """Wait for what is being written."""
        for process in list(self._running):
            process.waitForFinished(120_000)
