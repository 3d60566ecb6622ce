"""What the window writes for others, in processes of their own: a picture of the view, reports, drawings."""

import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QObject, QProcess, QProcessEnvironment, Signal

from viewer.processes import PROGRESS, PROGRESS_MARK, python_path


@dataclass(eq=False)
class _Running:
    """One process: what it writes, what it reads from, what it has said, whether it was stopped."""

    process: QProcess
    target: str
    scratch: Path
    has_note: bool
    said: str = ""
    is_stopped: bool = False


USERS_MISTAKE = 2
HELP = "hitspot --help"  # what a message for the terminal ends with


def _why(said: str, code: int) -> str:
    """Why a process has written nothing, in its own words; of a crash the last of them."""
    lines = [line for line in said.strip().splitlines() if not line.startswith(HELP)]
    if not lines:
        return f"ended with code {code}"
    return "\n".join(lines).removeprefix("hitspot: ") if code == USERS_MISTAKE else lines[-1]


class Exporter(QObject):
    """Runs exports beside the window."""

    said = Signal(str)
    failed = Signal(str)
    finished = Signal(str)  # what was written
    progressed = Signal(str, float)
    busy = Signal(bool)  # whether anything is being written now

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._running: list[_Running] = []

    @property
    def is_busy(self) -> bool:
        """Whether something is being written."""
        return bool(self._running)

    def write(
        self, command: str, draft: tuple[str, Path | None], target: Path, options: Sequence[str]
    ) -> None:
        """Write what a command does of a scene, as it stands in the window, to a folder or file.

        `draft` is its text and where it lies.
        """
        text, beside = draft
        with tempfile.NamedTemporaryFile(
            "w", prefix="hitspot-scene-", suffix=".toml", delete=False, encoding="utf-8", newline=""
        ) as file:
            file.write(text)
        # The scene keeps its name and place: files that it names are looked for beside it.
        scene = str(beside) if beside is not None else "room.toml"
        own = ["--text", file.name, "--out", str(target), *options]
        self._start(["-m", "viewer.cli", command, scene, *own], str(target), Path(file.name))

    def picture(self, job: Path, target: Path) -> None:
        """Draw a view as `viewpicture` has kept it in a job file."""
        arguments = ["-m", "viewer.window.snapshot", str(job), str(target)]
        self._start(arguments, str(target), job, has_note=True)

    def stop(self) -> None:
        """Write nothing of what is being written."""
        for own in self._running:
            own.is_stopped = True
            own.process.terminate()

    def _start(self, arguments: list[str], target: str, scratch: Path, *, has_note: bool = False) -> None:
        process = QProcess(self)
        environment = QProcessEnvironment.systemEnvironment()
        environment.insert("PYTHONPATH", python_path())
        environment.insert(PROGRESS, "1")
        process.setProcessEnvironment(environment)
        own = _Running(process, target, scratch, has_note)
        process.readyReadStandardError.connect(lambda: self._hear(own))
        process.finished.connect(lambda code, _status: self._end(own, code))
        process.errorOccurred.connect(lambda _: self._end(own, 1))
        self._running.append(own)
        self.said.emit(f"writing {target}")
        self.busy.emit(True)
        process.start(sys.executable, arguments)

    def _hear(self, own: _Running) -> None:
        """Take the lines of progress out of what a process says."""
        own.said += bytes(own.process.readAllStandardError().data()).decode(errors="replace")
        *lines, rest = own.said.split("\n")
        told = [line for line in lines if line.startswith(PROGRESS_MARK)]
        own.said = "".join(f"{line}\n" for line in lines if not line.startswith(PROGRESS_MARK)) + rest
        if told and not own.is_stopped:
            share, _, text = told[-1].removeprefix(PROGRESS_MARK).partition(" ")
            self.progressed.emit(text, float(share))

    def _end(self, own: _Running, code: int) -> None:
        if own not in self._running:
            return
        self._hear(own)
        self._running.remove(own)
        own.scratch.unlink(missing_ok=True)
        if own.is_stopped and code != 0:
            self.said.emit(f"stopped: {own.target} is not written")
        elif code == 0:
            told = bytes(own.process.readAllStandardOutput().data()).decode(errors="replace")
            note = told if own.has_note else ""
            self.said.emit(f"written: {own.target}. {note}" if note else f"written: {own.target}")
            self.finished.emit(own.target)
        else:
            self.failed.emit(_why(own.said, code))
        self.busy.emit(self.is_busy)
        own.process.deleteLater()

    def wait(self) -> None:
        """Wait for what is being written."""
        for own in list(self._running):
            own.process.waitForFinished(120_000)
