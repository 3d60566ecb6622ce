"""Scene files of the window: opening, saving, recovering, and the questions that go with them."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from html import escape
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from raytrace import SceneError, sketch_scene
from viewer.files import file_stem
from viewer.window.questions import Questions
from viewer.window.session import (
    Draft,
    Session,
    changed_on_disk,
    discard_recovery,
    find_recovery,
    open_draft,
    text_on_disk,
    variants_of,
)
from viewer.words import listed

EXAMPLE_TITLE = "Example room"
SCENE_FILES = "Scene files (*.toml)"
# Closing a question must lose nothing: its last answer stands for that.
TAKE_UP, AS_IT_IS, NOT_NOW = "Restore", "Discard, open the file as it is", "Cancel"


class Filing(QObject):
    """The ways of a scene from its file into the session and back."""

    opened = Signal()  # a scene has taken the place of what was there
    start_wanted = Signal()  # the questions of a tape sketch
    said = Signal(str)

    def __init__(self, session: Session, questions: Questions, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._questions = questions
        self.finish: Callable[[], str] = lambda: ""  # reads what was typed last; what is wrong with it
        session.overtaken_on_disk.connect(self._overtaken_on_disk)

    # Opening.

    def open(self, path: str | Path) -> bool:
        """Open a scene file; whatever keeps it from opening is said, and what was open stays."""
        path = Path(path)
        own = self._session.path
        if own is not None and path.resolve() == own.resolve():
            return self.reload()
        beside = None if own is None else _same_file(path, variants_of(own))
        if beside is not None:
            return self.turn_to(beside)
        draft = self._drafted(path)
        if draft is None or not self.begin(draft):
            return False
        if not draft.dirty:
            discard_recovery(path)
        self._questions.folder = path.resolve().parent
        self._questions.remember(path)
        return True

    def turn_to(self, path: Path) -> bool:
        """Go on with another variant of the room; changes of the one that is left are kept."""
        if path == self._session.path or not self._is_read("Not left"):
            return False
        if self._session.turn_to(path):
            return True
        draft = self._drafted(path)
        if draft is None or not self._take(draft, beside=True):
            return False
        if not draft.dirty:
            discard_recovery(path)
        return True

    def _drafted(self, path: Path) -> Draft | None:
        """The draft of a file as it is wanted; None for none: what keeps it from opening is said."""
        try:
            # What was kept of a file is offered even where the file itself is gone or no text any more.
            recovered = find_recovery(path)
            on_disk = open_draft(path) if recovered is None else _readable(path)
            return on_disk if recovered is None else self._choose(on_disk, recovered)
        except SceneError as problem:
            self._questions.tell("This file does not open", _as_typed(problem))
            return None

    def _choose(self, on_disk: Draft | None, recovered: Draft) -> Draft | None:
        """The file as it is, or with the changes that were kept of it; None for neither yet."""
        assert recovered.path is not None
        question = f"hitspot ended while {recovered.path} held changes that were not saved."
        if on_disk is None:
            question += " The file itself cannot be read any more."
        elif changed_on_disk(recovered):
            question += " The file itself has been changed since."
        answers = (TAKE_UP, NOT_NOW) if on_disk is None else (TAKE_UP, AS_IT_IS, NOT_NOW)
        answer = answers[self._questions.ask("Restore the unsaved changes?", question, answers)]
        if answer == NOT_NOW:
            self.said.emit("the unsaved changes are kept: open the file again to restore them")
            return None
        return on_disk if answer == AS_IT_IS else replace(recovered, saved_text=_text_of(recovered.path))

    def offer_unnamed(self) -> bool:
        """Ask about a room that was never saved before the program ended; true if none is kept any more."""
        recovered = find_recovery(None)
        if recovered is None:
            return True
        question = "hitspot ended while a new room was not saved yet."
        answer = self._questions.ask("Restore the new room?", question, ("Restore", "Discard", NOT_NOW))
        if answer == 0:
            self._take(Draft(None, recovered.text, ""))
        elif answer == 1:
            discard_recovery(None)
        else:
            self.said.emit("the new room is kept: it is offered again")
        return answer == 1

    def begin(self, draft: Draft) -> bool:
        """Open a draft in place of what is there; false where that stays."""
        # A room without a name would be kept where the one of an earlier crash still is.
        if not self.may_leave() or (draft.path is None and not self.offer_unnamed()):
            return False
        return self._take(draft)

    def _take(self, draft: Draft, *, beside: bool = False) -> bool:
        try:
            self._session.open(draft, beside=beside)
        except SceneError as problem:
            self._session.keep()
            self._questions.tell("This is not a scene", _as_typed(problem))
            return False
        if beside:
            self._session.turned.emit()
        else:
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

    def reload(self) -> bool:
        """Read the file again; what is there stays where that fails."""
        path = self._session.path
        return path is not None and self.may_leave(alone=True) and self._read_again(path)

    def _read_again(self, path: Path) -> bool:
        try:
            draft = open_draft(path)
        except SceneError as problem:
            self._session.keep()
            self._questions.tell("This file does not open", _as_typed(problem))
            return False
        if not self._take(draft, beside=True):
            return False
        discard_recovery(path)
        return True

    def _overtaken_on_disk(self) -> None:
        """Someone else has written the file: take that, unless changes of one's own would be lost."""
        draft = self._session.draft
        assert draft.path is not None
        if not draft.dirty:
            if self._read_again(draft.path):
                self.said.emit("read again: the file was changed on disk")
            return
        question = f"{draft.path} was changed by someone else while you were changing it here."
        answers = ("Read it and lose mine", "Keep mine")
        if self._questions.ask("Read the file again?", question, answers) == 0:
            self._read_again(draft.path)

    # Saving.

    def save(self) -> bool:
        """Write the scene file."""
        if not self._session.is_open or not self._is_read():
            return False
        return self.ask_save_as() if self._session.path is None else self._write(None)

    def ask_save_as(self) -> bool:
        """Ask for a name and write the scene file under it."""
        if not self._session.is_open or not self._is_read():
            return False
        own = self._session.path
        name = own.name if own else f"{file_stem(self._session.scene.title)}.toml"
        path = self._questions.file_to_write("Save as", name, SCENE_FILES)
        if not path:
            return False
        target = Path(path)
        return self._write(target if target.suffix == ".toml" else target.with_name(f"{target.name}.toml"))

    def _is_read(self, refusal: str = "Not saved") -> bool:
        """Whether what is typed is a scene; said where it is not."""
        wrong = self.finish()
        if wrong:
            self._questions.tell(refusal, f"The text beside the room is no scene yet: {wrong}")
        return not wrong

    def _write(self, path: Path | None) -> bool:
        try:
            self._session.save(path)
        except SceneError as problem:
            self._questions.tell("Not saved", str(problem))
            return False
        written = self._session.path
        assert written is not None
        self._questions.folder = written.resolve().parent
        self._questions.remember(written)
        self.said.emit(f"saved: {written}")
        return True

    def may_leave(self, *, alone: bool = False) -> bool:
        """Whether all that is open, or what is shown `alone`, may be closed: asks where it holds changes."""
        if not self._session.is_open:
            return True
        wrong = self.finish()
        if wrong:
            question = f"The text beside the room is no scene yet and cannot be kept: {wrong}"
            if self._questions.ask("Leave without it?", question, ("Leave without it", "Cancel")) == 1:
                return False
        drafts = (self._session.draft,) if alone else self._session.drafts
        dirty = [draft for draft in drafts if draft.dirty]
        answer = 1
        if dirty:
            names = listed([str(draft.path or "This room") for draft in dirty])
            question = f"{names} {'has' if len(dirty) == 1 else 'have'} changes that are not saved."
            answer = self._questions.ask("Save the changes?", question, ("Save", "Discard", "Cancel"))
        if answer == 0:
            return self._save_all(dirty)
        if answer == 1:
            for draft in drafts:
                discard_recovery(draft.path)
        return answer == 1

    def _save_all(self, dirty: Sequence[Draft]) -> bool:
        """Write what holds changes, the variants that were left first."""
        try:
            if len(dirty) > 1 or dirty[0] is not self._session.draft:
                self._session.save_left()
        except SceneError as problem:
            self._questions.tell("Not saved", str(problem))
            return False
        return not self._session.draft.dirty or self.save()


def _as_typed(problem: SceneError) -> str:
    """A message with the line it is about, each sign where it stands in the file."""
    return f"<pre>{escape(str(problem), quote=False)}</pre>"


def _same_file(path: Path, files: Sequence[Path]) -> Path | None:
    """Which of some files a path means."""
    return next((own for own in files if own.resolve() == path.resolve()), None)


def _readable(path: Path) -> Draft | None:
    """The draft of a file; None where it is gone or no text."""
    try:
        return open_draft(path)
    except SceneError:
        return None


def _text_of(path: Path) -> str:
    """What a file holds now, so that changes taken up are compared with that; "" where it cannot be read."""
    try:
        return text_on_disk(path)
    except OSError:
        return ""
