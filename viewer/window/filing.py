"""Files and the window: opening, saving, recovering, exporting, and the questions that go with them."""

import traceback
from dataclasses import replace
from pathlib import Path
from typing import Any

from PySide6.QtCore import QSettings, Qt
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QFileDialog, QMessageBox

from raytrace import SceneError, sketch_scene
from viewer.window.controls import keys_html, notes_html, show_page
from viewer.window.main_window import START, MainWindow
from viewer.window.session import (
    Draft,
    Exporter,
    Session,
    changed_on_disk,
    discard_recovery,
    find_recovery,
    open_draft,
)
from viewer.window.snapshot import keep_job
from viewer.window.state import OnScreen

EXAMPLE_TITLE = "Example room"
SCENE_FILES = "Scene files (*.toml)"


class Filing(MainWindow):
    """A main window with an open scene, and the ways in and out of files."""

    def __init__(self, settings: QSettings | None = None, session: Session | None = None) -> None:
        super().__init__(settings)
        self.session = session or Session()
        self.session.setParent(self)
        self.exporter = Exporter(self)
        self._set_aside: OnScreen | None = None  # the scene as it stands, while the file's own is shown
        self.session.crashed.connect(self._crashed)
        self.session.changed.connect(self._name_window)
        self.session.overtaken_on_disk.connect(self._overtaken_on_disk)
        self.exporter.said.connect(self.state.setText)
        self.exporter.failed.connect(lambda why: self.tell("That could not be written", why))
        self.start.file_wanted.connect(self.ask_open)
        self.start.example_wanted.connect(self.show_example)
        self._name_window()

    def change(self, **values: Any) -> None:
        """Show the record with some values changed."""
        if self.shown is not None:
            self.put(replace(self.shown, **values))

    def put(self, shown: OnScreen | None) -> None:
        """Show a record."""
        if shown is not None:
            history = self.session.history
            can_compare = history is not None and history.can_undo and self.session.first is not None
            self.draw(shown, can_compare=can_compare, shows_before=self._set_aside is not None)

    # Questions; tests answer them in place of a person.

    def ask(self, title: str, text: str, answers: tuple[str, ...]) -> int:
        """Which of the answers is taken; the last one stands for closing the question."""
        box = QMessageBox(self)
        box.setWindowTitle("hitspot")
        box.setText(f"<b>{title}</b>")
        box.setInformativeText(text)
        role = QMessageBox.ButtonRole
        buttons = [
            box.addButton(words, role.AcceptRole if i == 0 else role.ActionRole)
            for i, words in enumerate(answers)
        ]
        box.setDefaultButton(buttons[0])
        box.setEscapeButton(buttons[-1])
        box.exec()
        return buttons.index(box.clickedButton()) if box.clickedButton() in buttons else len(answers) - 1

    def tell(self, title: str, text: str) -> None:
        """Say something that has to be read."""
        self.ask(title, text, ("Close",))

    @property
    def folder(self) -> str:
        """The folder used last."""
        return str(self.settings.value("folder", str(Path.home())))

    @folder.setter
    def folder(self, path: str | Path) -> None:
        self.settings.setValue("folder", str(path))

    # Opening.

    def open(self, path: str | Path) -> bool:
        """Open a scene file; whatever keeps it from opening is said, and what was open stays."""
        path = Path(path)
        try:
            draft = open_draft(path)
            recovered = find_recovery(path)
            if recovered is not None:
                draft = self._choose_recovery(draft, recovered)
            opened = self.begin(draft)
        except SceneError as problem:
            self.tell("This file does not open", f"<pre>{_escaped(str(problem))}</pre>")
            return False
        if opened:
            self.folder = path.resolve().parent
        return opened

    def _choose_recovery(self, draft: Draft, recovered: Draft) -> Draft:
        moved_on = " The file itself has been changed since." if changed_on_disk(recovered) else ""
        question = f"hitspot ended while {recovered.path} held changes that were not saved.{moved_on}"
        answer = self.ask(
            "Take up the unsaved changes?", question, ("Take them up", "Open the file as it is")
        )
        if answer == 0:
            return replace(recovered, saved_text=draft.saved_text)
        discard_recovery(draft.path)
        return draft

    def offer_unnamed(self) -> None:
        """Ask about a room that was never saved before the program ended."""
        recovered = find_recovery(None)
        if recovered is None:
            return
        question = "hitspot ended while a new room was not saved yet."
        if self.ask("Take up the new room?", question, ("Take it up", "Forget it")) == 0:
            self.begin(Draft(None, recovered.text, ""))
        else:
            discard_recovery(None)

    def begin(self, draft: Draft) -> bool:
        """Open a draft in place of what is there; SceneError if it is no scene."""
        if not self.may_leave():
            return False
        try:
            self.session.open(draft)
        except SceneError as problem:
            self.tell("This is not a scene", f"<pre>{_escaped(str(problem))}</pre>")
            return False
        self.shown = self._set_aside = None
        self._name_window()
        return True

    def begin_new(self) -> None:
        """Back to the questions of a tape sketch."""
        if self.may_leave():
            self.pages.setCurrentIndex(START)

    def ask_open(self) -> None:
        """Ask for a scene file and open it."""
        path, _ = QFileDialog.getOpenFileName(self, "Open a scene file", self.folder, SCENE_FILES)
        if path:
            self.open(path)

    def show_example(self) -> None:
        """A room to look at before one has one's own."""
        text = sketch_scene(
            "box", {"door": "back, 0.3, 0.8", "window": "right, 1.9, 0.9, 1.2, 1.1"}, title=EXAMPLE_TITLE
        )
        self.begin(Draft(None, text, text))

    def reload(self) -> None:
        """Read the file again."""
        if self.session.history is not None and self.session.draft.path is not None:
            self.open(self.session.draft.path)

    def _overtaken_on_disk(self) -> None:
        """Someone else has written the file: take that, unless changes of one's own would be lost."""
        draft = self.session.draft
        if not draft.dirty:
            self.reload()
            self.state.setText("read again: the file was changed on disk")
            return
        question = f"{draft.path} was changed by someone else while you were changing it here."
        if self.ask("Read the file again?", question, ("Keep mine", "Read it and lose mine")) == 1:
            discard_recovery(draft.path)
            assert self.session.history is not None
            self.session.history.push(replace(draft, saved_text=draft.text))
            self.reload()

    # Saving.

    def save(self) -> bool:
        """Write the scene file."""
        if self.session.history is None:
            return False
        if self.session.draft.path is None:
            return self.ask_save_as()
        return self._write(None)

    def ask_save_as(self) -> bool:
        """Ask for a name and write the scene file under it."""
        if self.session.history is None:
            return False
        name = self.session.draft.path.name if self.session.draft.path else "room.toml"
        path, _ = QFileDialog.getSaveFileName(self, "Save as", str(Path(self.folder) / name), SCENE_FILES)
        if not path:
            return False
        target = Path(path)
        return self._write(target if target.suffix == ".toml" else target.with_name(f"{target.name}.toml"))

    def _write(self, path: Path | None) -> bool:
        try:
            self.session.save(path)
        except SceneError as problem:
            self.tell("Not saved", str(problem))
            return False
        assert self.session.draft.path is not None
        self.folder = self.session.draft.path.resolve().parent
        self.state.setText(f"saved: {self.session.draft.path}")
        return True

    def may_leave(self) -> bool:
        """Whether what is open may be closed: asks where it holds changes."""
        if self.session.history is None or not self.session.draft.dirty:
            return True
        name = self.session.draft.path or "This room"
        answer = self.ask(
            "Save the changes?", f"{name} has changes that are not saved.", ("Save", "Do not save", "Stay")
        )
        if answer == 0:
            return self.save()
        if answer == 1:
            discard_recovery(self.session.draft.path)
            return True
        return False

    # Exports.

    def ask_picture(self) -> None:
        """Ask for a name and draw the view as it is, in report quality."""
        if self.shown is not None:
            stem = self.session.draft.path.stem if self.session.draft.path else "room"
            default = str(Path(self.folder) / f"{stem}-{self.shown.view or 'view'}.png")
            path, _ = QFileDialog.getSaveFileName(self, "Picture of this view", default, "Pictures (*.png)")
            if path:
                self.folder = Path(path).parent
                job = keep_job(self.shown, self.room.size_px, is_before=self._set_aside is not None)
                self.exporter.picture(job, Path(path).with_suffix(".png"))

    def ask_report(self) -> None:
        """Ask for a folder and write the report there."""
        if self.session.history is not None:
            draft = self.session.draft
            stem = draft.path.stem if draft.path else "room"
            default = str(Path(self.folder) / f"{stem}-report")
            path, _ = QFileDialog.getSaveFileName(self, "Folder for the report", default)
            if path:
                self.folder = Path(path).parent
                self.exporter.report(draft.text, draft.path, Path(path), self.units)

    # The window itself.

    def show_keys(self) -> None:
        """Keys and gestures."""
        self.page = show_page(self, "Keys and gestures", keys_html())

    def show_notes(self) -> None:
        """Limits of validity and cautions."""
        if self.shown is not None:
            self.page = show_page(self, "What these figures rest on", notes_html(self.shown.study))

    def _name_window(self) -> None:
        history = self.session.history
        if history is None:
            self.setWindowTitle("hitspot")
        else:
            draft = history.current
            name = draft.path.name if draft.path else "not saved yet"
            self.setWindowTitle(f"{name}[*] – hitspot")
            self.setWindowModified(draft.dirty)
        for name, can in (("undo", history and history.can_undo), ("redo", history and history.can_redo)):
            self.actions_by_name[name].setEnabled(bool(can))

    def _crashed(self, problem: Exception) -> None:
        lines = "".join(traceback.format_exception_only(problem)).strip()
        self.tell("Something went wrong in hitspot", f"What is shown may be old. {_escaped(lines)}")

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take scene files that are dragged onto the window."""
        if any(url.toLocalFile().endswith(".toml") for url in event.mimeData().urls()):
            event.setDropAction(Qt.DropAction.CopyAction)
            event.accept()

    def dropEvent(self, event: QDropEvent) -> None:
        """Open the scene file that was dropped."""
        files = [url.toLocalFile() for url in event.mimeData().urls()]
        scenes = [file for file in files if file.endswith(".toml")]
        if scenes:
            event.accept()
            self.open(scenes[0])

    def closeEvent(self, event: QCloseEvent) -> None:
        """Ask about changes, remember the layout, let go of worker and graphics card."""
        if not self.may_leave():
            event.ignore()
            return
        self.remember()
        self.session.close()
        self.exporter.wait()
        self.room.end()
        event.accept()


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
