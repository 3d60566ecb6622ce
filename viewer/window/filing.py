"""Scene files of the window: opening, saving, recovering, and the questions that go with them."""

from dataclasses import replace
from html import escape
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from raytrace import SceneError, sketch_scene
from viewer.window.questions import Questions
from viewer.window.session import (
    Draft,
    Session,
    changed_on_disk,
    discard_recovery,
    find_recovery,
    open_draft,
)

EXAMPLE_TITLE = "Example room"
SCENE_FILES = "Scene files (*.toml)"


class Filing(QObject):
    """The ways of a scene from its file into the session and back."""

    opened = Signal()  # a scene has taken the place of what was there
    start_wanted = Signal()  # the questions of a tape sketch
    said = Signal(str)

    def __init__(self, session: Session, questions: Questions, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._questions = questions
        session.overtaken_on_disk.connect(self._overtaken_on_disk)

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
            self._questions.tell("This file does not open", _as_typed(problem))
            return False
        if opened:
            self._questions.folder = path.resolve().parent
        return opened

    def _choose_recovery(self, draft: Draft, recovered: Draft) -> Draft:
        moved_on = " The file itself has been changed since." if changed_on_disk(recovered) else ""
        question = f"hitspot ended while {recovered.path} held changes that were not saved.{moved_on}"
        answer = self._questions.ask(
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
        if self._questions.ask("Take up the new room?", question, ("Take it up", "Forget it")) == 0:
            self.begin(Draft(None, recovered.text, ""))
        else:
            discard_recovery(None)

    def begin(self, draft: Draft) -> bool:
        """Open a draft in place of what is there; false where that stays."""
        if not self.may_leave():
            return False
        try:
            self._session.open(draft)
        except SceneError as problem:
            self._questions.tell("This is not a scene", _as_typed(problem))
            return False
        self.opened.emit()
        return True

    def begin_sketched(self, text: str) -> None:
        """Open a room that was sketched from a tape."""
        self.begin(Draft(None, text, ""))

    def begin_new(self) -> None:
        """Back to the questions of a tape sketch."""
        if self.may_leave():
            self.start_wanted.emit()

    def ask_open(self) -> None:
        """Ask for a scene file and open it."""
        path = self._questions.file_to_open("Open a scene file", SCENE_FILES)
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
        path = self._session.path
        if path is not None:
            self.open(path)

    def _overtaken_on_disk(self) -> None:
        """Someone else has written the file: take that, unless changes of one's own would be lost."""
        draft = self._session.draft
        if not draft.dirty:
            self.reload()
            self.said.emit("read again: the file was changed on disk")
            return
        question = f"{draft.path} was changed by someone else while you were changing it here."
        answers = ("Keep mine", "Read it and lose mine")
        if self._questions.ask("Read the file again?", question, answers) == 1:
            discard_recovery(draft.path)
            self._session.forget_changes()
            self.reload()

    # Saving.

    def save(self) -> bool:
        """Write the scene file."""
        if not self._session.is_open:
            return False
        return self.ask_save_as() if self._session.path is None else self._write(None)

    def ask_save_as(self) -> bool:
        """Ask for a name and write the scene file under it."""
        if not self._session.is_open:
            return False
        own = self._session.path
        path = self._questions.file_to_write("Save as", own.name if own else "room.toml", SCENE_FILES)
        if not path:
            return False
        target = Path(path)
        return self._write(target if target.suffix == ".toml" else target.with_name(f"{target.name}.toml"))

    def _write(self, path: Path | None) -> bool:
        try:
            self._session.save(path)
        except SceneError as problem:
            self._questions.tell("Not saved", str(problem))
            return False
        written = self._session.path
        assert written is not None
        self._questions.folder = written.resolve().parent
        self.said.emit(f"saved: {written}")
        return True

    def may_leave(self) -> bool:
        """Whether what is open may be closed: asks where it holds changes."""
        if not self._session.is_open:
            return True
        draft = self._session.draft
        if not draft.dirty:
            return True
        question = f"{draft.path or 'This room'} has changes that are not saved."
        answer = self._questions.ask("Save the changes?", question, ("Save", "Do not save", "Stay"))
        if answer == 0:
            return self.save()
        if answer == 1:
            discard_recovery(draft.path)
            return True
        return False


def _as_typed(problem: SceneError) -> str:
    """A message with the line it is about, each sign where it stands in the file."""
    return f"<pre>{escape(str(problem), quote=False)}</pre>"
