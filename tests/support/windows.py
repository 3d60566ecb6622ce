"""A window for tests: opened on a scene, driven by real mouse and key events, closed without questions."""

import os
import shutil
import sys
from pathlib import Path

import pytest

from tests.support.studies import known_study, shipped_study

SCENES = Path(__file__).parents[2] / "scenes"

if sys.platform.startswith("linux") and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
    pytest.skip("no display: the README's test command brings one", allow_module_level=True)
pytest.importorskip("PySide6", reason="the window needs PySide6-Essentials")

from PySide6.QtCore import QEvent, QMimeData, QPoint, QPointF, QSettings, Qt, QUrl  # noqa: E402 (after the reason to skip)
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QMouseEvent  # noqa: E402 (after the reason to skip)
from PySide6.QtWidgets import QApplication  # noqa: E402 (after the reason to skip)

from tests.support.pixels import is_resting  # noqa: E402 (after the reason to skip)
from viewer.window.workbench import Workbench  # noqa: E402 (after the reason to skip)

WAIT_MS = 300_000  # a machine with other work: nothing waits longer than it has to


class Driver:
    """A window with the hands of a person; a scene that another test had open is not run again."""

    def __init__(self, qtbot, tmp_path, monkeypatch):
        for module in ("session.session", "session.variantsearch"):
            monkeypatch.setattr(f"viewer.window.{module}.run_study", known_study)
        monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
        self.qtbot, self.folder = qtbot, tmp_path
        settings = QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat)
        self.window = Workbench(settings)
        self.lighten = self.window.light.ask
        self.window.light.ask = lambda _stage: (
            None
        )  # a second of work for each room; its own test asks for it
        self.answers, self.asked = [], []
        self.window.questions.ask = self._answer
        self.wishes = []
        self.window.questions.ask_wish = lambda *_: self.wishes.pop(0) if self.wishes else None
        self.options = []
        self.window.questions.ask_output = lambda *_: self.options
        self.window.main.resize(1200, 800)
        self.window.main.show()
        qtbot.waitExposed(self.window.main)

    def _answer(self, title, text, answers):
        self.asked.append((title, text))
        return self.answers.pop(0) if self.answers else len(answers) - 1

    def copy(self, name):
        """A copy of a scene that may be changed."""
        for file in SCENES.glob(f"{name}.*"):
            shutil.copy(file, self.folder)
        return self.folder / f"{name}.toml"

    def open(self, path):
        self.window.filing.open(path)
        self.rest()
        return self.window.shown

    def rest(self):
        """Wait until the whole study of the scene as it stands is shown."""
        self.qtbot.waitUntil(lambda: is_resting(self.window), timeout=WAIT_MS)
        self.qtbot.wait(20)

    @property
    def surface(self):
        """The widget of the room that the pointer is over."""
        return self.window.main.room.surface

    def send(
        self, widget, kind, at, buttons=Qt.MouseButton.NoButton, modifiers=Qt.KeyboardModifier.NoModifier
    ):
        button = Qt.MouseButton.NoButton if kind == QEvent.Type.MouseMove else Qt.MouseButton.LeftButton
        place = QPointF(*at)
        event = QMouseEvent(kind, place, QPointF(widget.mapToGlobal(place)), button, buttons, modifiers)
        QApplication.sendEvent(widget, event)

    def drop(self, *paths):
        """Files dragged onto the window and let go there; whether it takes them."""
        told, main = QMimeData(), self.window.main
        told.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
        how = Qt.DropAction.CopyAction, told, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
        enters = QDragEnterEvent(QPoint(400, 300), *how)
        QApplication.sendEvent(main, enters)
        if enters.isAccepted():
            QApplication.sendEvent(main, QDropEvent(QPointF(400.0, 300.0), *how))
        return enters.isAccepted()

    def point(self, widget, at):
        self.send(widget, QEvent.Type.MouseMove, at)

    def click(self, widget, at):
        held = Qt.MouseButton.LeftButton
        self.send(widget, QEvent.Type.MouseButtonPress, at, held)
        self.send(widget, QEvent.Type.MouseButtonRelease, at)

    def drag(self, start, step, modifiers=Qt.KeyboardModifier.NoModifier, moves=6, release=True):
        """Pull the pointer over the room in several moves, as a hand does."""
        held = Qt.MouseButton.LeftButton
        self.send(self.surface, QEvent.Type.MouseButtonPress, start, held, modifiers)
        for i in range(1, moves + 1):
            at = (start[0] + step[0] * i / moves, start[1] + step[1] * i / moves)
            self.send(self.surface, QEvent.Type.MouseMove, at, held, modifiers)
            self.qtbot.wait(5)
        if release:
            self.send(self.surface, QEvent.Type.MouseButtonRelease, at, modifiers=modifiers)

    def type(self, field, text):
        """Type into a field in place of what is there, and press Enter."""
        field.setFocus()
        field.selectAll()
        self.qtbot.keyClick(field, Qt.Key.Key_Delete)
        self.qtbot.keyClicks(field, text)
        self.qtbot.keyClick(field, Qt.Key.Key_Return)

    def close(self):
        self.window.filing.may_leave = lambda: True
        self.window.main.close()


@pytest.fixture
def driver(qtbot, tmp_path, monkeypatch):
    shipped_study("garage")  # compiles the kernels where this machine has none, before any wait begins
    made = Driver(qtbot, tmp_path, monkeypatch)
    yield made
    made.close()
