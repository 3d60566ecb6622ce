"""The scene as text beside the room: what is selected is marked in it, what is typed is checked in place."""

import re

from PySide6.QtCore import QEvent, Qt, QTimer, Signal
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontDatabase,
    QKeyEvent,
    QKeySequence,
    QSyntaxHighlighter,
    QTextCharFormat,
    QTextCursor,
    QTextDocument,
)
from PySide6.QtWidgets import QLabel, QPlainTextEdit, QTextEdit, QVBoxLayout, QWidget

from raytrace import KeyPath, SceneError, entry_spans
from viewer.window.state import SceneState, Theme

PAUSE_MS = 400  # after the last key the text is read
_COMMENT = re.compile(r"#.*")
_HEADER = re.compile(r"\s*\[.*\]\s*(?:#.*)?$")
_STRING = re.compile(r"\"(?:[^\"\\]|\\.)*\"|'[^']*'")


class Colours(QSyntaxHighlighter):
    """Headers in bold, remarks in grey."""

    def __init__(self, document: QTextDocument) -> None:
        super().__init__(document)
        self.muted = QColor("grey")

    def highlightBlock(self, text: str) -> None:
        """Colour one line."""
        bold, grey = QTextCharFormat(), QTextCharFormat()
        bold.setFontWeight(QFont.Weight.Bold)
        grey.setForeground(self.muted)
        if _HEADER.match(text):
            self.setFormat(0, len(text), bold)
        # A # in a text begins no remark.
        blank = _STRING.sub(lambda found: "x" * len(found[0]), text)
        remark = _COMMENT.search(blank)
        if remark is not None:
            self.setFormat(remark.start(), len(text) - remark.start(), grey)


class Page(QPlainTextEdit):
    """The text itself; steps are taken back in the scene's own history."""

    def event(self, event: QEvent) -> bool:
        """Leave the keys of undo and redo to the window."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            own = (QKeySequence.StandardKey.Undo, QKeySequence.StandardKey.Redo)
            if any(event.matches(key) for key in own):
                event.ignore()
                return False
        return super().event(event)


class SceneText(QWidget):
    """The text of a `SceneState`, to be read and typed in."""

    typed = Signal(str)  # the whole plain text
    pointed = Signal(object)  # KeyPath the cursor stands in

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.page = Page()
        self.page.setFont(QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont))
        self.page.setFrameShape(QPlainTextEdit.Shape.NoFrame)
        self.page.setLineWrapMode(QPlainTextEdit.LineWrapMode.NoWrap)
        self.page.setUndoRedoEnabled(False)
        self.page.setTabChangesFocus(True)
        self.page.setAccessibleName("The scene as text")
        self.colours = Colours(self.page.document())
        self.trouble = QLabel(textFormat=Qt.TextFormat.PlainText, wordWrap=True)
        self.trouble.setObjectName("trouble")
        self.trouble.setContentsMargins(12, 6, 12, 8)
        self.trouble.hide()
        self.problem: SceneError | None = None
        self._state: SceneState | None = None
        self._draws = False
        self._pause = QTimer(self, interval=PAUSE_MS, singleShot=True)
        self._pause.timeout.connect(self.finish)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.page, 1)
        layout.addWidget(self.trouble)
        self.page.textChanged.connect(lambda: self._draws or self._pause.start())
        self.page.cursorPositionChanged.connect(self._moved)

    @property
    def is_waiting(self) -> bool:
        """Whether something was typed that was not read yet."""
        return self._pause.isActive()

    def finish(self) -> None:
        """Hand on what was typed at once."""
        self._pause.stop()
        self.typed.emit(self.page.toPlainText())

    def draw(self, state: SceneState) -> None:
        """Show a record's text, and what of it is selected."""
        before, self._state = self._state, state
        self._draws = True
        text = state.scene.text
        self.colours.muted = QColor(state.colours.muted)
        if self.page.toPlainText() != text:
            self._pause.stop()
            at, bar = self.page.textCursor().position(), self.page.verticalScrollBar().value()
            self.page.setPlainText(text)
            cursor = self.page.textCursor()
            cursor.setPosition(min(at, self.page.document().characterCount() - 1))
            self.page.setTextCursor(cursor)
            self.page.verticalScrollBar().setValue(bar)
        self._say(None)
        is_new = before is None or before.chosen != state.chosen
        self._mark(scroll=is_new and not self._has_cursor())
        if before is None or before.theme != state.theme:
            self.colours.rehighlight()
        self._draws = False

    def refuse(self, problem: SceneError) -> None:
        """Say what is wrong with the text that is typed, and mark its line."""
        self._say(problem)
        self._mark(scroll=False)

    def _has_cursor(self) -> bool:
        """Whether it is the part of its window that is typed in, be the window in front or not."""
        return self.window().focusWidget() is self.page

    def _say(self, problem: SceneError | None) -> None:
        self.problem = problem
        words = "" if problem is None else problem.why
        if problem is not None and problem.line:
            key = f"{problem.key}: " if problem.key else ""
            words = f"Line {problem.line}: {key}{problem.why}"
        self.trouble.setText(words)
        self.trouble.setVisible(bool(words))

    def _mark(self, *, scroll: bool) -> None:
        assert self._state is not None
        theme, marked = self._state.colours, []
        if self.problem is None:
            spans = entry_spans(self._state.scene.text)
            for path in self._state.chosen:
                span = spans.get(path or ("title",))
                if span is not None:
                    marked.append(self._selection(*span, theme))
            if scroll and marked:
                first = QTextCursor(self.page.document())
                first.setPosition(marked[0].cursor.selectionStart())
                self.page.setTextCursor(first)
                self.page.centerCursor()
        elif self.problem.line:
            line = QTextEdit.ExtraSelection()
            block = self.page.document().findBlockByNumber(self.problem.line - 1)
            line.cursor = QTextCursor(block)
            line.cursor.movePosition(QTextCursor.MoveOperation.EndOfBlock, QTextCursor.MoveMode.KeepAnchor)
            line.format.setUnderlineStyle(QTextCharFormat.UnderlineStyle.WaveUnderline)
            line.format.setUnderlineColor(QColor(theme.accent))
            marked.append(line)
        self.page.setExtraSelections(marked)

    def _selection(self, start: int, stop: int, theme: Theme) -> QTextEdit.ExtraSelection:
        """A stretch of the text on the ground of what is selected."""
        assert self._state is not None
        text = self._state.scene.text
        made = QTextEdit.ExtraSelection()
        cursor = QTextCursor(self.page.document())
        cursor.setPosition(_units(text[:start]))
        cursor.setPosition(_units(text[:stop]), QTextCursor.MoveMode.KeepAnchor)
        made.cursor = cursor
        made.format.setBackground(QColor(theme.chosen))
        return made

    def _moved(self) -> None:
        """Select what the cursor stands in."""
        if self._draws or self._state is None or self.is_waiting or not self._has_cursor():
            return
        if self.problem is None and self.page.toPlainText() == self._state.scene.text:
            text, at = self._state.scene.text, self.page.textCursor().position()
            found = path_at(text, at)
            if found is not None and found not in self._state.chosen:
                self.pointed.emit(found)


def path_at(text: str, at: int) -> KeyPath | None:
    """The table or entry that a place in the text, counted as Qt counts, belongs to."""
    inside = [
        (stop - start, path)
        for path, (start, stop) in entry_spans(text).items()
        if _units(text[:start]) <= at <= _units(text[:stop])
    ]
    return min(inside)[1] if inside else None


def _units(text: str) -> int:
    """How long a text is for Qt, which counts in UTF-16."""
    return len(text.encode("utf-16-le")) // 2
