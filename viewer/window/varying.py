"""Variants of the room in the window: added, turned to, compared, renamed, deleted."""

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QFile

from raytrace import SceneError, Study
from viewer.window.filing import Filing
from viewer.window.main_window import MainWindow
from viewer.window.questions import Questions
from viewer.window.screen import Screen
from viewer.window.session import (
    Found,
    Session,
    VariantSearch,
    first_of,
    text_on_disk,
    variant_name,
    variants_of,
)
from viewer.window.state import Beside, VariantLine, VariantSheet

PAGE = "Variants"
NO_OTHER = "Add a variant first: there is none to compare with."


class Varying:
    """The variants of the room that is open, and the one of them that another is compared with."""

    def __init__(
        self, session: Session, screen: Screen, questions: Questions, filing: Filing, main: MainWindow
    ) -> None:
        self.sheet = VariantSheet()
        self.trash: Callable[[Path], bool] = _to_trash
        self._beside: Path | None = None
        self._session, self._screen, self._questions = session, screen, questions
        self._filing, self._main = filing, main
        self.search = VariantSearch(session)
        self.search.found.connect(self.show)
        self.search.crashed.connect(session.crashed)

    # What is shown.

    def follow(self, found: Found) -> None:
        """A study has arrived: what the variant comes to is told when it is whole."""
        if self._session.is_whole and found.settled:
            self.show()

    def show(self) -> None:
        """Show the variants that there are, and find out about them where the page is open."""
        session = self._session
        path = session.path
        if path is None:
            self._beside = None
            self._put(VariantSheet(theme=self._main.theme))
            return
        # What was left without changes is as its file is by now.
        texts = {draft.path: draft for draft in session.drafts if draft.dirty or draft.path == path}
        files = variants_of(path)
        files = files if path in files else (path, *files)
        known = [(own, texts[own].text if own in texts else _text_of(own)) for own in files]
        if (self._is_open or self._beside is not None) and self._session.is_whole:
            wanted = known if self._is_open else [own for own in known if own[0] in (path, self._beside)]
            self.search.ask(wanted, study=self._study(path))
        lines = tuple(
            VariantLine(
                own, variant_name(own), own in texts and texts[own].dirty, self.search.figures(own, text)
            )
            for own, text in known
        )
        beside = files.index(self._beside) if self._beside in files and self._beside != path else None
        self._put(VariantSheet(lines, files.index(path), beside, can_add=True, theme=self._main.theme))

    def _study(self, path: Path) -> tuple[tuple[Path, str], Study] | None:
        """What was computed of the variant that is shown, with its text."""
        shown = self._screen.editable
        if shown is None or not self._session.is_whole or shown.study.scene is not self._session.scene:
            return None
        return (path, self._session.draft.text), shown.study

    @property
    def _is_open(self) -> bool:
        return self._main.side.current == PAGE

    def _put(self, sheet: VariantSheet) -> None:
        self.sheet = sheet
        self._main.variants.draw(sheet)
        own = None if sheet.beside is None else sheet.variants[sheet.beside]
        beside = None if own is None else _beside(own)
        shown = self._screen.shown
        if shown is not None and shown.beside != beside:
            self._screen.change(beside=beside)

    # What is done.

    def add(self) -> None:
        """Go on with a copy of the scene as it stands, in a file beside it."""
        if not self._session.is_open or self._filing.finish():
            return
        if self._session.path is None and not self._filing.ask_save_as():
            return
        try:
            target = self._session.begin_variant(self._session.draft.text)
        except SceneError as problem:
            self._questions.tell("No variant was added", str(problem))
            return
        self._main.say(f"written: {target}")

    def turn_to(self, path: Path) -> None:
        """Go on with another variant; it is compared with the one that is left if that was so before."""
        if path == self._beside:
            self._beside = self._session.path
        if not self._filing.turn_to(path):
            self.show()

    def next(self) -> None:
        """Go on with the next variant; the first after the last."""
        variants = self.sheet.variants
        if len(variants) > 1:
            self.turn_to(variants[(self.sheet.current + 1) % len(variants)].path)

    def compare(self, path: Path | None) -> None:
        """Show what is different from another variant, in the room and in the curve; None for nothing."""
        self._beside = path
        self.show()
        self._screen.put(
            self._screen.shown
        )  # its tick in the menu, whether anything is known of it yet or not

    def toggle_compare(self, on: bool) -> None:
        """Compare with the first variant, the first with the next, or with nothing."""
        others = [own.path for k, own in enumerate(self.sheet.variants) if k != self.sheet.current]
        self.compare(others[0] if on and others else None)
        if on and not others:
            self._main.say(NO_OTHER)

    def rename(self) -> None:
        """Ask for another name of the variant that is shown."""
        path = self._session.path
        if path is None or path == first_of(path):
            return
        name = self._questions.ask_name("Name of the variant", variant_name(path))
        if name is None:
            return
        try:
            self._session.rename(path, name)
        except (ValueError, SceneError) as problem:
            self._questions.tell("The name stays", str(problem))

    def delete(self) -> None:
        """Put the variant that is shown away, and go on with the first one."""
        path = self._session.path
        if path is None or path == first_of(path):
            return
        question = f"{path.name} goes to the trash, with the changes that were made in it."
        if self._questions.ask(f"Delete variant {variant_name(path)}?", question, ("Delete", "Cancel")) != 0:
            return
        try:
            if self._session.draft.dirty:
                self._session.save()  # what is in the trash is all there was
        except SceneError as problem:
            self._questions.tell("Not deleted", str(problem))
            return
        if not self._filing.turn_to(first_of(path)):
            return
        if self.trash(path):
            self._session.forget(path)
            self._main.say(f"in the trash: {path.name}")
        else:
            self._questions.tell("Not deleted", f"{path.name} could not be put into the trash.")
        self.show()

    def end(self) -> None:
        """Let go of what works beside the window."""
        self.search.end()


def _beside(own: VariantLine) -> Beside | None:
    """A variant as one that is compared with; None until its study is there."""
    found = own.figures
    if found is None or found.study is None or found.stage is None:
        return None
    return Beside(own.name, found.study, found.stage)


def _text_of(path: Path) -> str:
    try:
        return text_on_disk(path)
    except OSError:
        return ""


def _to_trash(path: Path) -> bool:
    return QFile.moveToTrash(str(path))[0]
