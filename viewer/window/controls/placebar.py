"""The line under the room: what is selected to be moved, and where it stands in typed numbers."""

from html import escape

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSizePolicy, QWidget

from raytrace import format_length, parse_length
from viewer.window.controls.entryline import EntryLine
from viewer.window.controls.levelkey import LevelKey
from viewer.window.state import (
    OnScreen,
    Placing,
    Theme,
    Thing,
    hold_words,
    is_free,
    is_from_above,
    partner_of,
    place_of,
    place_words,
    plan_of,
    thing_words,
)

FIELD_PX = 88


class PlaceBar(QWidget):
    """Name of the selected thing and a field for each of its lengths."""

    place_typed = Signal(object, object)  # Thing, tuple of float; None for what was not typed
    hold_typed = Signal(object)  # tuple of float: of what is held over the room
    put_wanted = Signal()
    refused = Signal(str)  # why what was typed is no length

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: OnScreen | None = None
        self.name = QLabel()
        self.words = [QLabel(textFormat=Qt.TextFormat.PlainText) for _ in range(3)]
        self.fields = [EntryLine() for _ in range(3)]
        self._key = LevelKey()
        layout = QHBoxLayout(self)
        layout.setContentsMargins(12, 4, 12, 4)
        layout.addWidget(self.name)
        for words, field in zip(self.words, self.fields, strict=True):
            field.setFixedWidth(FIELD_PX)
            field.setAccessibleName("Where it is")
            field.returnPressed.connect(self._entered)
            field.editingFinished.connect(self._typed)
            words.setBuddy(field)
            layout.addWidget(words)
            layout.addWidget(field)
        layout.addStretch(1)
        layout.addWidget(self._key)
        self.setFixedHeight(40)
        # Whatever is selected, the room keeps its width: else it would shift under the hand that selects.
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)

    def resizeEvent(self, _event: QResizeEvent) -> None:
        """The key has to go where there is room for lengths only."""
        self._fit()

    def _fit(self) -> None:
        self._key.show()
        layout = self.layout()
        assert layout is not None
        self._key.setVisible(layout.minimumSize().width() <= self.width())

    def draw(self, shown: OnScreen, *, shows_before: bool) -> None:
        """Show a record's selected thing."""
        self._shown = shown
        thing = shown.thing
        if shown.placing is not None:
            self._draw_hold(shown, shown.placing)
            return
        if thing is None:
            what = "a thing or a corner" if plan_of(shown.study) and is_from_above(shown) else "a thing"
            self.name.setText(f"Drag {what} to move it, anything else to turn the room.")
        else:
            self.name.setText(_name_html(shown, thing))
        places = () if thing is None else place_of(shown.study, thing)
        for i, (words, field) in enumerate(zip(self.words, self.fields, strict=True)):
            is_used = i < len(places) and not shows_before
            words.setVisible(is_used)
            field.setVisible(is_used)
            if is_used and thing is not None:
                words.setText(place_words(shown.study, thing)[i])
                field.setAccessibleName(words.text())
                if not field.hasFocus() or not field.isModified():
                    field.setText(format_length(float(places[i]), units=shown.units))
        self._fit()

    def _draw_hold(self, shown: OnScreen, placing: Placing) -> None:
        """Show what is held over the room."""
        on = "" if is_free(placing.starter) else f" on the {placing.surface}"
        on = f" on {placing.ground}" if placing.ground else on
        new = escape(f"New: {placing.name}{on}", quote=False)
        self.name.setText(f"<b>{new}</b>, click where it goes or type")
        along = hold_words(shown.study, placing)
        for i, (words, field) in enumerate(zip(self.words, self.fields, strict=True)):
            words.setVisible(i < 2)
            field.setVisible(i < 2)
            if i < 2:
                words.setText(along[i])
                field.setAccessibleName(along[i])
                if not (field.hasFocus() and field.isModified()):
                    field.setText(format_length(placing.place[i], units=shown.units))
        self._fit()

    def set_theme(self, theme: Theme) -> None:
        """Colours of the key of levels."""
        self._key.draw(theme)

    def type_first(self) -> None:
        """Put the cursor into the first field."""
        shown = self._shown
        if shown is not None and (shown.thing is not None or shown.placing is not None):
            self.fields[0].setFocus(Qt.FocusReason.ShortcutFocusReason)
            self.fields[0].selectAll()

    def _typed(self) -> None:
        shown = self._shown
        if shown is None or not any(f.isModified() for f in self.fields):
            return
        if shown.placing is None and shown.thing is None:
            return
        thing = shown.thing
        held = shown.placing
        # What was typed just before may not be in the study yet: the other lengths are left to the scene.
        count = 0 if thing is None else len(place_of(shown.study, thing))
        places: list[float | None] = [None] * count if held is None else list(map(float, held.place))
        for i, field in enumerate(self.fields[: len(places)]):
            if field.isModified():
                field.setModified(False)
                try:
                    places[i] = parse_length(_with_unit(field.text()))
                except ValueError as problem:
                    self.refused.emit(str(problem))
                    return
        if held is not None:
            self.hold_typed.emit(tuple(places))
        else:
            self.place_typed.emit(thing, tuple(places))

    def _entered(self) -> None:
        """Enter puts down what is held."""
        self._typed()
        if self._shown is not None and self._shown.placing is not None:
            self.put_wanted.emit()


def _name_html(shown: OnScreen, thing: Thing) -> str:
    """What is selected, and what moves with it."""
    name = f"<b>{escape(thing_words(shown.study, thing), quote=False)}</b>"
    partner = partner_of(shown.study, thing) if shown.in_pairs else None
    return name if partner is None else f"{name} and its mirror image"


def _with_unit(text: str) -> str | float:
    """A bare number is metres, as in a scene file."""
    try:
        return float(text)
    except ValueError:
        return text
