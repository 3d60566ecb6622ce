"""A field for a value of the scene: what was done last is undone in the scene, not in the field."""

from PySide6.QtCore import QEvent
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QLineEdit

_KEYS = (QKeySequence.StandardKey.Undo, QKeySequence.StandardKey.Redo)


class EntryLine(QLineEdit):
    """A line that keeps Undo and Redo to itself only while something is being typed in it."""

    def event(self, event: QEvent) -> bool:
        """Leave the keys of the window's history to the window."""
        is_asked = event.type() == QEvent.Type.ShortcutOverride and not self.isModified()
        if is_asked and isinstance(event, QKeyEvent) and any(event.matches(key) for key in _KEYS):
            event.ignore()
            return False
        return super().event(event)
