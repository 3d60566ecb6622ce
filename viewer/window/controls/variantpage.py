"""Variants of the room side by side: what each comes to, and what can be done with them."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QColor, QFont
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from viewer.window.controls.language import in_own_language
from viewer.window.state import LINES, NOTES, VariantSheet, figure_words, has_peaks_over

COLUMN_PX = 92
HINT = (
    "A variant is a scene file of its own beside the first, with its own undo. Add one to try something "
    "else; panels that are proposed become one, too."
)
UNSAVED = "Save the room first: a variant is a file beside it."


class VariantPage(QWidget):
    """Table of a `VariantSheet`: a column for each variant, that of the one shown is selected."""

    variant_wanted = Signal(object)  # Path
    beside_wanted = Signal(object)  # Path or None
    add_wanted = Signal()
    rename_wanted = Signal()
    delete_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._sheet = VariantSheet()
        self._draws = False
        self.add, self.rename, self.delete = (QPushButton(words) for words in ("Add", "Rename", "Delete"))
        self.table = QTableWidget(len(LINES), 0)
        self.table.setAccessibleName("Variants of the room")
        self.table.setFrameShape(QTableWidget.Shape.NoFrame)
        self.table.setVerticalHeaderLabels(LINES)
        for row, line in enumerate(LINES):
            self.table.verticalHeaderItem(row).setToolTip(NOTES[line])
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectColumns)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.horizontalHeader().setDefaultSectionSize(COLUMN_PX)
        self.table.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.beside = QComboBox()
        self.beside.setAccessibleName("Variant to compare with")
        self.words = QLabel(wordWrap=True, textFormat=Qt.TextFormat.PlainText)
        self.words.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.hint = QLabel(HINT, wordWrap=True)
        self.hint.setObjectName("hint")
        self._lay_out()

    def _lay_out(self) -> None:
        buttons = QHBoxLayout()
        buttons.setSpacing(2)
        for button in (self.add, self.rename, self.delete):
            buttons.addWidget(button)
        buttons.addStretch(1)
        compare = QHBoxLayout()
        compare.addWidget(QLabel("Compare with"))
        compare.addWidget(self.beside, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 4, 8, 8)
        layout.addLayout(buttons)
        layout.addWidget(self.hint)
        layout.addWidget(self.table)
        layout.addLayout(compare)
        layout.addWidget(self.words)
        layout.addStretch(1)
        self.add.clicked.connect(lambda _: self.add_wanted.emit())
        self.rename.clicked.connect(lambda _: self.rename_wanted.emit())
        self.delete.clicked.connect(lambda _: self.delete_wanted.emit())
        self.table.itemSelectionChanged.connect(self._chose)
        self.beside.activated.connect(self._compare)

    @property
    def compares(self) -> bool:
        """Whether another variant is compared with, found out about or not yet."""
        return self._sheet.beside is not None

    def draw(self, sheet: VariantSheet) -> None:
        """Show a record."""
        self._draws, self._sheet = True, sheet
        variants = sheet.variants
        self.table.setColumnCount(len(variants))
        for column, own in enumerate(variants):
            head = QTableWidgetItem(own.name + (" *" if own.dirty else ""))
            head.setToolTip(own.path.name + (", with changes that are not saved" if own.dirty else ""))
            self.table.setHorizontalHeaderItem(column, head)
            for row, words in enumerate(figure_words(own.figures)):
                cell = self._cell(words, LINES[row], is_current=column == sheet.current)
                if row == 0 and has_peaks_over(own.figures):
                    cell.setForeground(QColor(sheet.colours.accent))
                self.table.setItem(row, column, cell)
        if variants:
            self.table.selectColumn(sheet.current)
        lines = sum(self.table.rowHeight(row) for row in range(len(LINES)))
        bar = self.table.horizontalScrollBar().sizeHint().height()
        self.table.setFixedHeight(lines + self.table.horizontalHeader().sizeHint().height() + bar + 2)
        self.beside.clear()
        self.beside.addItem(in_own_language("nothing"))
        for k, own in enumerate(variants):
            if k != sheet.current:
                self.beside.addItem(own.name, k)
        at = -1 if sheet.beside is None else self.beside.findData(sheet.beside)
        self.beside.setCurrentIndex(max(at, 0))
        self.beside.setEnabled(len(variants) > 1)
        self.words.setText(sheet.words)
        self.add.setEnabled(sheet.can_add)
        is_other = bool(variants) and sheet.current > 0
        self.rename.setEnabled(is_other)
        self.delete.setEnabled(is_other)
        self.hint.setText(in_own_language(HINT if sheet.can_add else UNSAVED))
        self._draws = False

    def _cell(self, words: str, line: str, *, is_current: bool) -> QTableWidgetItem:
        cell = QTableWidgetItem(words)
        cell.setToolTip(f"{words}: {NOTES[line]}")
        cell.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        if is_current:
            bold = QFont(self.font())
            bold.setBold(True)
            cell.setFont(bold)
        return cell

    def _chose(self) -> None:
        column = self.table.currentColumn()
        if not self._draws and 0 <= column < len(self._sheet.variants) and column != self._sheet.current:
            self.variant_wanted.emit(self._sheet.variants[column].path)

    def _compare(self, place: int) -> None:
        at = self.beside.itemData(place)
        self.beside_wanted.emit(None if at is None else self._sheet.variants[at].path)
