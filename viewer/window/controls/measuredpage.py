"""Measurements beside the room: whether it worked, what made each peak, what the drawing has wrong."""

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QColor
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QScrollArea,
    QSplitter,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from viewer.window.controls.styling import head
from viewer.window.state import OnScreen
from viewer.words import did_it_work, told

if TYPE_CHECKING:
    from raytrace import MeasuredRoom, Measurement

HEADS = ("ms", "dB", "made by", "pred.", "sure %")
TIPS = (
    "Delay after the direct sound",
    "Level as measured, against the direct sound",
    "What is drawn that made it, the strongest first",
    "Level as predicted, dB",
    "How likely that is, against all others and against nothing that is drawn",
)
_WORDED = 2
_WIDE_PX = (52, 52, 0, 52, 54)
HINT = (
    "Drop sound files of measurements on the window: WAV or FLAC, impulse responses or recordings of the "
    "sweep that hitspot sweep writes. A name that says speaker, seat and before or after needs no question."
)


class MeasuredPage(QWidget):
    """What an `OnScreen` has of measurements."""

    files_wanted = Signal()
    forget_wanted = Signal()
    corrections_wanted = Signal()
    stop_wanted = Signal()
    measurement_chosen = Signal(int)
    peak_chosen = Signal(object)  # row, or None

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._found: MeasuredRoom | None = None
        self._drawn: tuple[object, ...] = ()
        self._draws = False
        self.add, self.forget = QPushButton("Add files …"), QPushButton("Forget all")
        self.correct = QPushButton("Put likelier numbers into the scene")
        self.which = QComboBox()
        self.which.setAccessibleName("Which measurement")
        self.says = QLabel(wordWrap=True, textFormat=Qt.TextFormat.PlainText)
        self.says.setObjectName("trouble")
        self.words = QLabel(wordWrap=True, textFormat=Qt.TextFormat.PlainText)
        self.notes = QLabel(wordWrap=True, textFormat=Qt.TextFormat.PlainText)
        self.notes.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.table = QTableWidget(0, len(HEADS))
        self.bar, self.stop = QProgressBar(textVisible=False), QPushButton("Stop")
        self.bar.setAccessibleName("How far the measurement is held against the room")
        self.bar.setFixedHeight(8)
        self.going = QLabel(textFormat=Qt.TextFormat.PlainText)
        self.hint = QLabel(HINT, wordWrap=True)
        self.hint.setObjectName("hint")
        self._set_up_table()
        self._lay_out()
        self.show_progress("", None)

    def _set_up_table(self) -> None:
        table = self.table
        table.setAccessibleName("Measured peaks")
        table.horizontalHeader().setMinimumSectionSize(20)
        head(table, tuple(zip(HEADS, TIPS, _WIDE_PX, strict=True)))
        table.verticalHeader().setDefaultSectionSize(23)
        table.setWordWrap(False)
        table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)

    def _lay_out(self) -> None:
        buttons, going = QHBoxLayout(), QHBoxLayout()
        for button in (self.add, self.forget):
            buttons.addWidget(button)
        buttons.addStretch(1)
        for row in (self.going, self.bar, self.stop):
            going.addWidget(row)
        told = QWidget()
        lines = QVBoxLayout(told)
        lines.setContentsMargins(8, 8, 8, 8)
        lines.addWidget(self.notes)
        lines.addStretch(1)
        below = QScrollArea(widgetResizable=True)
        below.setAccessibleName("What the measurements say of the room")
        below.setFrameShape(QScrollArea.Shape.NoFrame)
        below.setWidget(told)
        parted = QSplitter(Qt.Orientation.Vertical)
        parted.addWidget(self.table)
        parted.addWidget(below)
        parted.setSizes([300, 220])
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 4, 8, 8)
        layout.addLayout(buttons)
        layout.addLayout(going)
        for part in (self.says, self.which, self.words, self.correct):
            layout.addWidget(part)
        layout.addWidget(parted, 1)
        layout.addWidget(self.hint)
        self.add.clicked.connect(lambda _: self.files_wanted.emit())
        self.forget.clicked.connect(lambda _: self.forget_wanted.emit())
        self.correct.clicked.connect(lambda _: self.corrections_wanted.emit())
        self.stop.clicked.connect(lambda _: self.stop_wanted.emit())
        self.which.activated.connect(self.measurement_chosen)
        self.table.itemSelectionChanged.connect(self._chose)

    def show_progress(self, text: str, share: float | None) -> None:
        """How far what is being found out is; None where nothing is."""
        for part in (self.going, self.bar, self.stop):
            part.setVisible(share is not None)
        self.going.setText(text)
        self.bar.setRange(0, 100 if share else 0)
        self.bar.setValue(round(100 * (share or 0.0)))

    def draw(self, shown: OnScreen) -> None:
        """Show a record."""
        own = shown.measurement
        drawn = (shown.measurement_at, shown.measured_says, shown.theme, shown.units)
        self._draws = True
        if self._found is not shown.measured or drawn != self._drawn:
            self._found, self._drawn = shown.measured, drawn
            self.says.setText(shown.measured_says)
            self.says.setVisible(bool(shown.measured_says))
            self._fill_words(shown)
            self._fill_table(shown, own)
            for part in (self.which, self.words, self.table, self.notes, self.forget):
                part.setVisible(own is not None)
            self.correct.setVisible(shown.measured is not None and bool(shown.measured.corrections))
        if shown.measured_chosen is None:
            self.table.clearSelection()
        elif self.table.currentRow() != shown.measured_chosen or not self.table.selectedItems():
            self.table.selectRow(shown.measured_chosen)
        self._draws = False

    def _fill_words(self, shown: OnScreen) -> None:
        from viewer.tables import heard_lines

        self.which.clear()
        if shown.measured is None or shown.held is None:
            return
        scene, found = shown.held.scene, shown.measured
        for own in shown.held.heard:
            take = own.take
            whose = f"{scene.speakers[take.speaker].name} at {scene.seats[take.seat].name}"
            self.which.addItem(f"{whose}: {take.file}")
        self.which.setCurrentIndex(shown.measurement_at)
        self.words.setText("\n".join(did_it_work(found)))
        own = shown.held.heard[shown.measurement_at]
        notes = [*heard_lines(shown.held, own), *(told(note, shown.units) for note in found.notes)]
        self.notes.setText("\n\n".join(notes))

    def _fill_table(self, shown: OnScreen, own: "Measurement | None") -> None:
        from viewer.tables import peak_rows

        rows = [] if own is None else peak_rows(own)
        self.table.setRowCount(len(rows))
        for k, row in enumerate(rows):
            peak = None if own is None else own.peaks[k]
            is_unexplained = peak is not None and peak.is_unexplained
            for column, words in enumerate(row.cells):
                cell = QTableWidgetItem(words)
                side = Qt.AlignmentFlag.AlignLeft if column == _WORDED else Qt.AlignmentFlag.AlignRight
                cell.setTextAlignment(side | Qt.AlignmentFlag.AlignVCenter)
                cell.setToolTip(words if column == _WORDED else TIPS[column])
                if is_unexplained and column == _WORDED:
                    cell.setForeground(QColor(shown.colours.accent))
                self.table.setItem(k, column, cell)

    def _chose(self) -> None:
        if not self._draws:
            rows = self.table.selectionModel().selectedRows()
            self.peak_chosen.emit(rows[0].row() if rows else None)
