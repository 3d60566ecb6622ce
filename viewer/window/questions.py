"""Questions of the window: what is asked in words, and which files are meant."""

from html import escape
from pathlib import Path

from PySide6.QtCore import QSettings
from PySide6.QtGui import QPageLayout
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QFileDialog, QInputDialog, QMessageBox, QWidget

from raytrace import Scene
from viewer.window.controls import Asked, Output, OutputForm, SoundForm, WishForm, in_own_language
from viewer.window.state import Sounds

N_RECENT = 10


class Questions:
    """Whatever stops for an answer; a test answers in place of a person."""

    def __init__(self, parent: QWidget, settings: QSettings) -> None:
        self._parent = parent
        self._settings = settings

    def ask(self, title: str, text: str, answers: tuple[str, ...]) -> int:
        """Which of the answers is taken; the last one stands for closing the question."""
        box = QMessageBox(self._parent)
        box.setWindowTitle("hitspot")
        box.setText(f"<b>{in_own_language(title)}</b>")
        box.setInformativeText(text)
        role = QMessageBox.ButtonRole
        buttons = [
            box.addButton(in_own_language(words), role.AcceptRole if i == 0 else role.ActionRole)
            for i, words in enumerate(answers)
        ]
        box.setDefaultButton(buttons[0])
        box.setEscapeButton(buttons[-1])
        box.exec()
        clicked = box.clickedButton()
        return next((i for i, own in enumerate(buttons) if own == clicked), len(answers) - 1)

    def ask_plain(self, title: str, text: str, answers: tuple[str, ...]) -> int:
        """The same of words that may hold what looks like markup."""
        lines = escape(text, quote=False).replace("\n", "<br>")
        return self.ask(escape(title, quote=False), f"<span>{lines}</span>", answers)

    def tell_plain(self, title: str, text: str) -> None:
        """Say something of which any sign is meant as it is."""
        self.ask_plain(title, text, ("Close",))

    def tell(self, title: str, text: str) -> None:
        """Say something that has to be read."""
        self.ask(title, text, ("Close",))

    def ask_wish(self, scene: Scene, units: str, *, asks_reach: bool = True) -> Asked | None:
        """Which panels are to be proposed for a scene; None for no proposal."""
        form = WishForm(scene, units, self.file_to_open, asks_reach=asks_reach, parent=self._parent)
        return form.asked() if form.exec() else None

    def ask_name(self, title: str, name: str) -> str | None:
        """Another name in place of one; None for no answer."""
        told, is_told = QInputDialog.getText(self._parent, "hitspot", title, text=name)
        return told.strip() if is_told else None

    def ask_output(self, output: Output, scene: Scene, units: str) -> list[str] | None:
        """With which options an output is to be written of a scene; None for none."""
        form = OutputForm(
            output,
            units,
            choose_file=self.file_to_open,
            ask_wish=lambda: self.ask_wish(scene, units, asks_reach=False),
            parent=self._parent,
        )
        return form.asked() if form.exec() else None

    def ask_sounds(self, scene: Scene, sounds: Sounds) -> Sounds | None:
        """Of which speaker and seat sound files are; None for no answer."""
        form = SoundForm(scene, sounds, self.file_to_open, self._parent)
        return form.asked() if form.exec() else None

    @property
    def recent(self) -> list[Path]:
        """Scene files opened or saved before that are still there, the last one first."""
        kept = self._settings.value("recent", [])
        one_alone = [kept] if isinstance(kept, str) else []  # which comes back as a text
        names = kept if isinstance(kept, list) else one_alone
        return [path for path in map(Path, names) if path.is_file()]

    def remember(self, path: str | Path) -> None:
        """A scene file was opened or saved."""
        path = Path(path).resolve()
        names = [str(own) for own in self.recent if own != path]
        self._settings.setValue("recent", [str(path), *names][:N_RECENT])

    def printer(self) -> QPrinter | None:
        """The printer that is meant, its page lying; None for none."""
        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        printer.setPageOrientation(QPageLayout.Orientation.Landscape)
        return printer if QPrintDialog(printer, self._parent).exec() else None

    @property
    def folder(self) -> str:
        """The folder used last, where questions about files begin."""
        return str(self._settings.value("folder", str(Path.home())))

    @folder.setter
    def folder(self, path: str | Path) -> None:
        self._settings.setValue("folder", str(path))

    def file_to_open(self, title: str, kinds: str) -> str:
        """A file that is there; "" for none."""
        path, _ = QFileDialog.getOpenFileName(self._parent, title, self.folder, kinds)
        return path

    def files_to_open(self, title: str, kinds: str) -> list[str]:
        """Files that are there."""
        paths, _ = QFileDialog.getOpenFileNames(self._parent, title, self.folder, kinds)
        return paths

    def file_to_write(self, title: str, name: str, kinds: str = "") -> str:
        """A file or folder to be written, `name` if nothing else is wanted; "" for none."""
        path, _ = QFileDialog.getSaveFileName(self._parent, title, str(Path(self.folder) / name), kinds)
        return path
