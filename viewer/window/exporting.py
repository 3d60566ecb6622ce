"""What is written for others of the scene that is open: asked for here, written in processes of their own."""

from html import escape
from pathlib import Path
from tempfile import TemporaryDirectory

from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QImage, QPainter
from PySide6.QtPrintSupport import QPrinter

from viewer.window.controls import DRAWINGS, PAGE, REPORT, Output
from viewer.window.main_window import MainWindow
from viewer.window.questions import Questions
from viewer.window.screen import Screen
from viewer.window.session import Exporter, Session
from viewer.window.snapshot import keep_job


class Exporting:
    """The window's view as a picture; report, drawings and page of the scene as it stands."""

    def __init__(self, session: Session, screen: Screen, questions: Questions, main: MainWindow) -> None:
        self.exporter = Exporter(main)
        self._main = main
        self._room = main.room
        self._session = session
        self._screen = screen
        self._questions = questions
        self._prints: dict[str, tuple[QPrinter, TemporaryDirectory[str]]] = {}
        self.exporter.said.connect(main.say)
        self.exporter.finished.connect(self._print)
        self.exporter.failed.connect(self._tell_failure)
        self.exporter.busy.connect(main.writing.setVisible)
        self.exporter.progressed.connect(main.writing.show_progress)
        main.writing.stop.clicked.connect(lambda _: self.exporter.stop())

    def ask_picture(self) -> None:
        """Ask for a name and draw the view as it is, in report quality."""
        shown = self._screen.shown
        if shown is None:
            return
        name = f"{self._stem}-{shown.view or 'view'}.png"
        path = self._questions.file_to_write("Picture of this view", name, "Pictures (*.png)")
        if path:
            self._questions.folder = Path(path).parent
            job = keep_job(shown, self._room.size_px, is_before=self._screen.shows_before)
            target = Path(path)
            target = target if target.suffix == ".png" else target.with_name(f"{target.name}.png")
            self.exporter.picture(job, target)

    def ask_print(self) -> None:
        """Print the view as it is, as its picture has it."""
        shown = self._screen.shown
        printer = None if shown is None else self._questions.printer()
        if shown is not None and printer is not None:
            folder = TemporaryDirectory(prefix="hitspot-print-")
            target = Path(folder.name) / "view.png"
            self._prints[str(target)] = printer, folder
            job = keep_job(shown, self._room.size_px, is_before=self._screen.shows_before)
            self.exporter.picture(job, target)

    def _print(self, target: str) -> None:
        """Put a picture that was drawn for it on paper, as large as the page takes it."""
        if target not in self._prints:
            return
        printer, folder = self._prints.pop(target)
        image, painter = QImage(target), QPainter(printer)
        page = painter.viewport()
        size = image.size().scaled(page.size(), Qt.AspectRatioMode.KeepAspectRatio)
        painter.drawImage(QRect(page.topLeft(), size), image)
        painter.end()
        folder.cleanup()
        self._main.say("printed")

    def ask_report(self) -> None:
        """Write the report."""
        self._ask(REPORT)

    def ask_drawings(self) -> None:
        """Write the installer's drawings."""
        self._ask(DRAWINGS)

    def ask_page(self) -> None:
        """Write the page for a browser."""
        self._ask(PAGE)

    def _ask(self, output: Output) -> None:
        """Ask for the options of a command and for a place, and have it write there."""
        if not self._session.is_open:
            return
        options = self._questions.ask_output(output, self._session.scene, self._main.units)
        if options is None:
            return
        is_file = output.place.startswith(".")
        name = self._stem + output.place if is_file else f"{self._stem}-{output.place}"
        path = self._questions.file_to_write(output.title, name, output.kinds)
        if path:
            target = Path(path)
            if is_file and target.suffix != output.place:
                target = target.with_name(target.name + output.place)
            self._questions.folder = target.parent
            draft = self._session.draft
            self.exporter.write(output.command, (draft.text, draft.path), target, options)

    def end(self) -> None:
        """Wait for what is being written."""
        self.exporter.wait()

    def _tell_failure(self, why: str) -> None:
        # In a question Qt takes what looks like markup for it: said as text that is marked up.
        self._questions.tell("That could not be written", f"<span>{escape(why, quote=False)}</span>")

    @property
    def _stem(self) -> str:
        """What names of written files begin with."""
        path = self._session.path
        return path.stem if path else "room"
