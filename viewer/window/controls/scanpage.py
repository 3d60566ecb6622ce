"""A scan before it is a scene: the room fitted to it, its surfaces as a list, what can be done with them."""

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QScrollArea,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from raytrace import CleanRoom
from viewer import look
from viewer.window.controls.styling import head
from viewer.window.room import ScanView
from viewer.window.state import UNITS, UPS, ScanOnScreen, reading_words, rooms_offered

HEADS = ("surface", "m²", "off, mm", "moved, mm")
TIPS = (
    "Its name; a double click or F2 takes another one",
    "Its area, what stands before it not taken off",
    "95 % of the scan's points lie so near to it",
    "How far it was moved by hand, + into the room",
)
_WIDE_PX = (0, 58, 76, 96)
COLUMN_PX = 400
HINT = (
    "Click a surface, then drag it along its normal; click it with Ctrl for a second one. Drag anything "
    "else to turn the room. U reads the numbers in another unit, Y with another axis upwards."
)


class ScanPage(QWidget):
    """Scan, list and buttons of a `ScanOnScreen`."""

    rows_chosen = Signal(object)  # tuple of int
    renamed = Signal(int, str)
    merge_wanted = Signal()
    aside_wanted = Signal()
    undo_wanted = Signal()
    reading_wanted = Signal(str, str)  # unit, upright axis
    room_wanted = Signal(int)  # of several in the file, from 1; 0 for all as one
    accept_wanted = Signal()
    cancel_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._draws = False
        self._told_of: CleanRoom | None = None
        self._rooms_of: object = self  # no scan yet
        self.view = ScanView()
        self.table = QTableWidget(0, len(HEADS))
        self.unit, self.up, self.room = QComboBox(), QComboBox(), QComboBox()
        self.unit.addItems(list(UNITS))
        self.up.addItems(list(UPS))
        self.unit.setAccessibleName("What the numbers of the scan count")
        self.up.setAccessibleName("Which axis of the scan points upwards")
        self.room.setAccessibleName("Which of the rooms in the scan")
        self.rooms = QLabel("Which room")
        self.merge, self.aside, self.undo = (
            QPushButton(words) for words in ("Make them one", "Take out of the room", "Undo")
        )
        self.accept, self.cancel = QPushButton("Write the scene …"), QPushButton("Cancel")
        self.accept.setObjectName("main")
        self.title, self.read, self.says, self.told = (
            QLabel(wordWrap=True, textFormat=Qt.TextFormat.PlainText) for _ in range(4)
        )
        self.title.setObjectName("subheading")
        self.says.setObjectName("trouble")
        self.told.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.going, self.bar = QLabel(textFormat=Qt.TextFormat.PlainText), QProgressBar(textVisible=False)
        self.bar.setAccessibleName("How far the scan is read")
        self.bar.setFixedHeight(8)
        self.hint = QLabel(HINT, wordWrap=True)
        self.hint.setObjectName("hint")
        self._set_up_table()
        self._lay_out()
        self._connect()

    def _set_up_table(self) -> None:
        table = self.table
        table.setAccessibleName("Surfaces of the room")
        head(table, tuple(zip(HEADS, TIPS, _WIDE_PX, strict=True)))
        table.verticalHeader().setDefaultSectionSize(24)
        table.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        table.setEditTriggers(
            QAbstractItemView.EditTrigger.DoubleClicked | QAbstractItemView.EditTrigger.EditKeyPressed
        )

    def _lay_out(self) -> None:
        reading, deeds, ends = QGridLayout(), QHBoxLayout(), QHBoxLayout()
        for column, (words, box) in enumerate((("Numbers are", self.unit), ("Upwards is", self.up))):
            reading.addWidget(QLabel(words), 0, 2 * column)
            reading.addWidget(box, 0, 2 * column + 1)
        reading.addWidget(self.rooms, 1, 0)
        reading.addWidget(self.room, 1, 1, 1, 4)
        reading.setColumnStretch(4, 1)
        for button in (self.merge, self.aside, self.undo):
            deeds.addWidget(button)
        deeds.addStretch(1)
        ends.addWidget(self.accept)
        ends.addWidget(self.cancel)
        ends.addStretch(1)
        below = QScrollArea(widgetResizable=True)
        below.setAccessibleName("What was made of the scan")
        below.setFrameShape(QScrollArea.Shape.NoFrame)
        below.setWidget(self.told)
        side = QWidget()
        side.setFixedWidth(COLUMN_PX)
        lines = QVBoxLayout(side)
        lines.setContentsMargins(16, 14, 12, 12)
        lines.setSpacing(8)
        lines.addWidget(self.title)
        lines.addWidget(self.read)
        lines.addLayout(reading)
        for part in (self.going, self.bar, self.says):
            lines.addWidget(part)
        lines.addWidget(self.table, 3)
        lines.addLayout(deeds)
        lines.addWidget(below, 2)
        lines.addWidget(self.hint)
        lines.addLayout(ends)
        whole = QHBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(self.view, 1)
        whole.addWidget(side)

    def _connect(self) -> None:
        for button, wanted in (
            (self.merge, self.merge_wanted),
            (self.aside, self.aside_wanted),
            (self.undo, self.undo_wanted),
            (self.accept, self.accept_wanted),
            (self.cancel, self.cancel_wanted),
        ):
            button.clicked.connect(lambda _=False, own=wanted: own.emit())
        for box in (self.unit, self.up):
            box.activated.connect(lambda _: self._read())
        self.room.activated.connect(lambda _: self.room_wanted.emit(self.room.currentData()))
        self.table.itemSelectionChanged.connect(self._chose)
        self.table.itemChanged.connect(self._typed)
        self.table.installEventFilter(self)

    def eventFilter(self, _watched: QObject, event: QEvent) -> bool:
        """Keys of the page before those of its table."""
        return isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress and self._key(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """One key reads the numbers otherwise, one turns the axes, one takes a step back."""
        if not self._key(event):
            super().keyPressEvent(event)

    def _key(self, event: QKeyEvent) -> bool:
        boxes = {Qt.Key.Key_U: self.unit, Qt.Key.Key_Y: self.up}
        box = boxes.get(Qt.Key(event.key()))
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            if event.key() == Qt.Key.Key_Z:
                self.undo_wanted.emit()
            return event.key() == Qt.Key.Key_Z
        if box is not None:
            self._next(box)
        return box is not None

    def show_progress(self, text: str, share: float | None) -> None:
        """How far the scan is read; None where nothing is."""
        for part in (self.going, self.bar):
            part.setVisible(share is not None)
        self.going.setText(text)
        self.bar.setRange(0, 100)
        self.bar.setValue(round(100 * (share or 0.0)))

    def draw(self, shown: ScanOnScreen) -> None:
        """Show a record."""
        self._draws = True
        self.view.draw(shown)
        self.title.setText(f"Scan {shown.file.name}")
        self.read.setText(reading_words(shown))
        self.says.setText(shown.says)
        self.says.setVisible(bool(shown.says))
        if shown.grown is not None:
            self.unit.setCurrentText(shown.grown.reading.unit)
            self.up.setCurrentText(shown.grown.reading.up)
        self._offer_rooms(shown)
        self._fill(shown)
        if shown.room is not self._told_of:
            self._told_of = shown.room
            self.told.setText("" if shown.room is None else "\n".join(_lines(shown.room)))
        self.merge.setEnabled(len(shown.chosen) == 2)
        self.aside.setEnabled(len(shown.chosen) == 1)
        self.undo.setEnabled(bool(shown.past))
        self.accept.setEnabled(shown.room is not None)
        self._draws = False

    def _offer_rooms(self, shown: ScanOnScreen) -> None:
        if shown.grown is self._rooms_of:
            return
        self._rooms_of, offered = shown.grown, rooms_offered(shown)
        for part in (self.rooms, self.room):
            part.setVisible(bool(offered))
        if offered and shown.grown is not None:
            self.room.clear()
            for number, words in offered:
                self.room.addItem(words, number)
            taken = shown.grown.chosen + 1 if shown.grown.rooms else 0
            self.room.setCurrentIndex(self.room.findData(taken))

    def _fill(self, shown: ScanOnScreen) -> None:
        surfaces = () if shown.room is None else shown.room.surfaces
        self.table.setRowCount(len(surfaces))
        for row, surface in enumerate(surfaces):
            cells = (surface.name, f"{surface.area_m2:.2f}", f"{surface.p95_mm:.0f}", _moved(shown, row))
            for column, words in enumerate(cells):
                cell = QTableWidgetItem(words)
                if column:
                    cell.setFlags(cell.flags() & ~Qt.ItemFlag.ItemIsEditable)
                    cell.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                else:
                    cell.setData(
                        Qt.ItemDataRole.DecorationRole,
                        QColor(look.scan_colour(row)),
                    )
                cell.setToolTip(TIPS[column])
                self.table.setItem(row, column, cell)
        self.table.clearSelection()
        for row in shown.chosen:
            own = [item for column in range(len(HEADS)) if (item := self.table.item(row, column)) is not None]
            self.table.scrollToItem(own[0])
            for item in own:
                item.setSelected(True)

    def _read(self) -> None:
        self.reading_wanted.emit(self.unit.currentText(), self.up.currentText())

    def _next(self, box: QComboBox) -> None:
        # Only by the box is a scan laid on its side: the key goes between the two that programs write.
        usual = 2 if box is self.up else box.count()
        box.setCurrentIndex((box.currentIndex() + 1) % usual)
        self._read()

    def _chose(self) -> None:
        if not self._draws:
            rows = sorted({index.row() for index in self.table.selectionModel().selectedRows()})
            self.rows_chosen.emit(tuple(rows))

    def _typed(self, cell: QTableWidgetItem) -> None:
        if not self._draws and cell.column() == 0:
            self.renamed.emit(cell.row(), cell.text().strip())


def _lines(room: CleanRoom) -> list[str]:
    """What stands in the room, what of the scan is not in it, and what was done."""
    from viewer.tables import scan_lines

    sizes = ((own.name, " x ".join(f"{size:.2f}" for size in own.size)) for own in room.objects)
    return [
        *(f"{name}: {size} m, cut off as furniture" for name, size in sizes),
        *scan_lines(room),
    ]


def _moved(shown: ScanOnScreen, row: int) -> str:
    by_mm = shown.moved_mm(row)
    return f"{by_mm:+d}" if by_mm else ""
