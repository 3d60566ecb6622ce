"""What is written for others of the scene that is open: asked for here, written in processes of their own."""

from html import escape
from pathlib import Path

from viewer.window.main_window import MainWindow
from viewer.window.questions import Questions
from viewer.window.screen import Screen
from viewer.window.session import Exporter, Session
from viewer.window.snapshot import keep_job


class Exporting:
    """The window's view as a picture, and the report of the scene as it stands."""

    def __init__(self, session: Session, screen: Screen, questions: Questions, main: MainWindow) -> None:
        self.exporter = Exporter(main)
        self._main = main
        self._room = main.room
        self._session = session
        self._screen = screen
        self._questions = questions
        self.exporter.said.connect(main.say)
        self.exporter.failed.connect(self._tell_failure)

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
            self.exporter.picture(job, Path(path).with_suffix(".png"))

    def ask_report(self) -> None:
        """Ask for a folder and write the report there."""
        if not self._session.is_open:
            return
        path = self._questions.file_to_write("Folder for the report", f"{self._stem}-report")
        if path:
            self._questions.folder = Path(path).parent
            draft = self._session.draft
            self.exporter.report(draft.text, draft.path, Path(path), self._main.units)

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
