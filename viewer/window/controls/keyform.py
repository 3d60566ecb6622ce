"""A form of the keys of what is selected, made from the classes of the scene: one line for each key."""

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import (
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from raytrace import Form, Key, KeyPath, format_length, parse_length
from viewer.window.controls.entryline import EntryLine
from viewer.window.controls.language import in_own_language

USUAL, MIXED = "usual: ", "several values"
LABEL_PX = 112
UNIT_WORDS = {"degC": "°C", "degrees": "°"}


class Choices(QComboBox):
    """A box of words that the wheel scrolls past, as long as it is not worked on."""

    def __init__(self) -> None:
        super().__init__()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(6)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Scroll the form, unless this box was clicked first."""
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()


class KeyRow(QObject):
    """The fields of one key, and why its last value was refused."""

    put = Signal(object, object)  # Key, list of what is typed in its fields
    dropped = Signal(object)  # Key that is not to be given any more
    pointed = Signal(object)  # Key whose field is worked on

    def __init__(self, key: Key, units: str) -> None:
        super().__init__()
        self.key, self._units = key, units
        self.label = QLabel(in_own_language(key.label), textFormat=Qt.TextFormat.PlainText, wordWrap=True)
        self.label.setFixedWidth(LABEL_PX)
        self.why = QLabel(textFormat=Qt.TextFormat.PlainText, wordWrap=True)
        self.why.setObjectName("trouble")
        self.why.hide()
        self.fields: list[QWidget] = []
        self.body = QWidget()
        row = QHBoxLayout(self.body)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(4)
        for index in range(key.form.count or 1):
            field = self._box() if _is_choice(key.form) else self._line(index)
            field.setAccessibleName(in_own_language(key.label) + (f" {index + 1}" if key.form.count else ""))
            line = field.lineEdit() if isinstance(field, QComboBox) else None
            if line is not None:
                line.setAccessibleName(field.accessibleName())
            field.installEventFilter(self)
            self.fields.append(field)
            row.addWidget(field, 1)
        self.label.setBuddy(self.fields[0])

    def _box(self) -> QComboBox:
        box, form = Choices(), self.key.form
        if form.kind != "choice":
            box.setLineEdit(EntryLine())
        box.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        if not self.key.is_required and form.kind == "choice":
            box.addItem(_usual_words(self.key, self._units))
        box.addItems([_written(choice, form, self._units) for choice in form.choices])
        box.activated.connect(lambda _: self._typed())
        line = box.lineEdit()
        if line is not None:
            line.setPlaceholderText(_usual_words(self.key, self._units))
            line.editingFinished.connect(lambda: self._typed() if line.isModified() else None)
        return box

    def _line(self, index: int) -> QLineEdit:
        line = EntryLine()
        line.setMinimumWidth(40)
        line.setPlaceholderText(_usual_words(self.key, self._units, index))
        line.editingFinished.connect(lambda: self._typed() if line.isModified() else None)
        return line

    def eventFilter(self, _watched: QObject, event: QEvent) -> bool:
        """Tell when a field is worked on; Escape puts back what was there and leaves it."""
        if event.type() == QEvent.Type.FocusIn:
            self.pointed.emit(self.key)
        return False

    def _typed(self) -> None:
        told = [_told(field) for field in self.fields]
        for field in self.fields:
            line = field.lineEdit() if isinstance(field, QComboBox) else field
            if isinstance(line, QLineEdit):
                line.setModified(False)
        # The first line of a choice that may be left out is what is usual.
        box, is_free = self.fields[0], not self.key.is_required and self.key.form.kind == "choice"
        is_usual = is_free and isinstance(box, QComboBox) and box.currentIndex() == 0
        if is_usual or not any(text.strip() for text in told):
            self.dropped.emit(self.key)
        else:
            self.put.emit(self.key, told)

    def draw(self, key: Key, *, is_mixed: bool, refused: str) -> None:
        """Show what the scene says, except in a field that is being typed in."""
        self.key = key
        values = key.value if key.form.count and isinstance(key.value, list) else [key.value]
        for index, field in enumerate(self.fields):
            value = values[index] if index < len(values) else None
            of = key.form.of or key.form
            text = "" if value is None or is_mixed else _written(value, of, self._units)
            line = field.lineEdit() if isinstance(field, QComboBox) else field
            if isinstance(line, QLineEdit):
                line.setPlaceholderText(MIXED if is_mixed else _usual_words(key, self._units, index))
                if not (line.hasFocus() and line.isModified()) and line.text() != text:
                    line.setText(text)
                    line.setCursorPosition(0)
            elif isinstance(field, QComboBox):
                field.setCurrentIndex(-1 if is_mixed else max(field.findText(text), 0) if text else 0)
            field.setProperty("wrong", bool(refused))
            field.style().polish(field)
        self.why.setText(refused)
        self.why.setVisible(bool(refused))


class KeyForm(QWidget):
    """Fields for every key of what is selected."""

    value_typed = Signal(object, object)  # Key, list of texts
    value_dropped = Signal(object)  # Key

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.rows: list[KeyRow] = []
        self._made: tuple[Any, ...] = ()
        self._units = "metric"
        self._area = QScrollArea(widgetResizable=True)
        self._area.setFrameShape(QScrollArea.Shape.NoFrame)
        self._area.setAccessibleName("Keys of what is selected")
        self._area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.heading = QLabel(textFormat=Qt.TextFormat.PlainText)
        self.heading.setObjectName("subheading")
        self.heading.setContentsMargins(12, 8, 12, 2)
        self.hint = QLabel(textFormat=Qt.TextFormat.PlainText, wordWrap=True)
        self.hint.setObjectName("hint")
        self.hint.setContentsMargins(12, 4, 12, 8)
        self.hint.setMinimumHeight(3 * self.hint.fontMetrics().lineSpacing() + 12)
        self.hint.setAlignment(Qt.AlignmentFlag.AlignTop)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.heading)
        layout.addWidget(self._area, 1)
        layout.addWidget(self.hint)

    def draw(
        self,
        heading: str,
        keys: Sequence[Key],
        *,
        units: str,
        mixed: frozenset[KeyPath] = frozenset(),
        refused: tuple[KeyPath, str] | None = None,
    ) -> None:
        """Show keys; fields that are there already keep the cursor that stands in them."""
        self.heading.setText(heading)
        made = (units, tuple((key.path, key.form, key.is_required) for key in keys))
        if made != self._made:
            self._made, self._units = made, units
            self._build(keys)
        for row, key in zip(self.rows, keys, strict=True):
            why = refused[1] if refused is not None and refused[0] == key.path else ""
            row.draw(key, is_mixed=key.path in mixed, refused=why)

    def _build(self, keys: Sequence[Key]) -> None:
        self.rows = [KeyRow(key, self._units) for key in keys]
        inside = QWidget()
        grid = QGridLayout(inside)
        grid.setContentsMargins(12, 4, 12, 8)
        grid.setVerticalSpacing(4)
        grid.setColumnStretch(1, 1)
        for place, row in enumerate(self.rows):
            grid.addWidget(row.label, 2 * place, 0)
            grid.addWidget(row.body, 2 * place, 1)
            unit = _unit_words(row.key.form)
            grid.addWidget(QLabel(unit), 2 * place, 2)
            grid.addWidget(row.why, 2 * place + 1, 0, 1, 3)
            row.put.connect(self.value_typed)
            row.dropped.connect(self.value_dropped)
            row.pointed.connect(self._hint)
        grid.setRowStretch(2 * len(self.rows), 1)
        self._area.setWidget(inside)
        self.hint.setText("")

    def _hint(self, key: Key) -> None:
        self.hint.setText(key_words(key, self._units))

    def row_of(self, name: str) -> KeyRow:
        """The row of a key by the last part of its path."""
        return next(row for row in self.rows if row.key.path[-1] == name)

    def type_first(self) -> None:
        """Put the cursor into the first field."""
        if self.rows:
            self.rows[0].fields[0].setFocus(Qt.FocusReason.ShortcutFocusReason)


def key_words(key: Key, units: str) -> str:
    """What a key says, what it takes and what holds without it, in one or two sentences."""
    form = key.form.of or key.form
    told = []
    if form.low is not None and form.high is not None:
        low, high = (_written(bound, form, units) for bound in (form.low, form.high))
        unit = "" if form.kind == "length" else UNIT_WORDS.get(form.unit, f" {form.unit}").rstrip()
        told.append(f"from {low} to {high}{unit}")
    elif form.kind == "other" and form.example is not None:
        told.append(f"as in the file, for example {_written(form.example, form, units)}")
    if key.usual not in (None, [], ""):
        told.append(_usual_words(key, units))
    elif not key.is_required:
        told.append("may be left empty")
    lead = f"{key.label}: {', '.join(told)}" if told else key.label
    told_of = key.help.rstrip(" .")
    return f"{lead}. {told_of}." if told_of else f"{lead}."


def typed_values(key: Key, told: Sequence[str]) -> Any:
    """The value that is meant by what is typed into the fields of a key.

    Raises
    ------
    ValueError
        If one of them is nothing of the key's form.
    """
    if key.form.of is None:
        return key.form.read(told[0], key.value)
    known = key.value if isinstance(key.value, list) else [None] * len(told)
    usual = key.usual if isinstance(key.usual, list) else [None] * len(told)
    read: Callable[[str, Any], Any] = key.form.of.read
    return [
        _entry_typed(read, text, before, rest) for text, before, rest in zip(told, known, usual, strict=True)
    ]


def _entry_typed(read: Callable[[str, Any], Any], text: str, before: Any, usual: Any) -> Any:
    """One entry of a list: as it was where its field is empty or still shows that."""
    if not text.strip():
        return usual if before is None else before
    return before if _is_as_before(text, before) else read(text, before)


def _is_as_before(text: str, before: Any) -> bool:
    """Whether a field still shows what the file has, as exactly as fields show it."""
    if before is None or isinstance(before, bool):
        return False
    try:
        return any(
            text == format_length(parse_length(before), units=units) for units in ("metric", "imperial")
        )
    except ValueError:
        return False


def _is_choice(form: Form) -> bool:
    return bool(form.choices)


def _told(field: QWidget) -> str:
    return field.currentText() if isinstance(field, QComboBox) else field.text()  # type: ignore[attr-defined]  # a line


def _unit_words(form: Form) -> str:
    unit = (form.of or form).unit
    return "" if unit == "m" else UNIT_WORDS.get(unit, unit)


def _usual_words(key: Key, units: str, index: int = 0) -> str:
    """What holds where nothing is given."""
    usual = key.usual
    if key.form.count and isinstance(usual, list) and index < len(usual):
        return _written(usual[index], key.form.of or key.form, units)
    if usual in (None, [], ""):
        return "" if key.is_required else f"{USUAL}none" if key.form.kind == "choice" else ""
    return f"{USUAL}{_written(usual, key.form, units)}"


def _written(value: Any, form: Form, units: str) -> str:
    """A value as a field shows it: lengths in the reader's units, texts without quotes."""
    if form.kind == "length" and not isinstance(value, bool):
        try:
            return format_length(parse_length(value), units=units)
        except ValueError:
            return str(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return f"[{', '.join(_toml_words(part) for part in value)}]"
    if isinstance(value, dict):
        return _toml_words(value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def _toml_words(value: Any) -> str:
    """A value as the file has it."""
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{key} = {_toml_words(part)}' for key, part in value.items())} }}"
    if isinstance(value, list):
        return f"[{', '.join(_toml_words(part) for part in value)}]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return (
        f'"{value}"' if isinstance(value, str) else f"{value:g}" if isinstance(value, float) else str(value)
    )
