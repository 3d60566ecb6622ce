"""The column beside the room: what reaches the seat, as a list to sort and filter, and one of it in full."""

from collections.abc import Sequence
from html import escape
from typing import Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QPersistentModelIndex,
    Qt,
    Signal,
)
from PySide6.QtGui import QColor, QFont, QPainter
from PySide6.QtWidgets import (
    QAbstractItemView,
    QCheckBox,
    QComboBox,
    QGridLayout,
    QHeaderView,
    QLabel,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from raytrace import Peak, peak_surface_names
from viewer.tables import verdict_sentence
from viewer.window.controls.spotcard import SpotCard
from viewer.window.state import (
    NOBODY_WORDS,
    Column,
    OnScreen,
    Theme,
    counts_by_itself,
    hidden_words,
    limit_column,
    listed_peaks,
    listed_rows,
    seat_verdicts,
)
from viewer.words import (
    decibels,
    in_column,
    joined_names,
    named_rows,
    path_text,
    peak_of,
    seat_words,
    surface_words,
    where_heard,
)

COLUMNS: tuple[tuple[Column, str, str], ...] = (
    ("delay", "ms", "Delay after the direct sound"),
    ("speaker", "from", "Which speaker it comes from"),
    ("way", "by way of", "What it meets on its way"),
    (
        "level",
        "dB",
        "Level against the direct sound, 1–8 kHz or the limit's own band: of one reflection at the ears; "
        "of a peak what it exceeds at a tenth of the head positions, the level that is judged",
    ),
    ("limit", "limit, dB", "How far over or below the limit it is, with all that arrives at the same moment"),
)
AnyIndex = QModelIndex | QPersistentModelIndex

CELL_PX = 4  # left and right of the text of a cell
VERDICT_LINES = 5.8  # a heading, and two lines on each of a pair of speakers
WIDEST_NAME_PX = 110
WORDED = (1, 2)  # columns of words; figures stand at the right
LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


class ArrivalModel(QAbstractTableModel):
    """The listed arrivals or peaks of an `OnScreen` as a table."""

    def __init__(self) -> None:
        super().__init__()
        self._shown: OnScreen | None = None
        self._peaks: tuple[Peak | None, ...] = ()
        self.rows: list[int | None] = []  # None: no path to the ears

    def draw(self, shown: OnScreen) -> None:
        """List a record's arrivals."""
        self.beginResetModel()
        self._shown = shown
        if shown.as_peaks:
            peaks = listed_peaks(shown)
            self.rows = [named_rows(shown.study, peak)[0] if peak.arrivals else None for peak in peaks]
            self._peaks = peaks
        else:
            rows = listed_rows(shown).tolist()
            self.rows, self._peaks = rows, tuple(peak_of(shown.study, row) for row in rows)
        self.endResetModel()

    def rowCount(self, parent: AnyIndex | None = None) -> int:
        """How many are listed."""
        return 0 if parent is not None and parent.isValid() else len(self.rows)

    def columnCount(self, _parent: AnyIndex | None = None) -> int:
        """As many as `COLUMNS`."""
        return len(COLUMNS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> Any:
        """What stands over a column."""
        if orientation == Qt.Orientation.Horizontal and role == Qt.ItemDataRole.DisplayRole:
            name, heading, _ = COLUMNS[section]
            if self._shown is None or self._shown.sort != name:
                return heading
            return f"{heading} {'▾' if self._shown.falling else '▴'}"
        if orientation == Qt.Orientation.Horizontal and role == Qt.ItemDataRole.TextAlignmentRole:
            side = Qt.AlignmentFlag.AlignLeft if section in WORDED else Qt.AlignmentFlag.AlignRight
            return side | Qt.AlignmentFlag.AlignVCenter
        if orientation == Qt.Orientation.Horizontal and role == Qt.ItemDataRole.ToolTipRole:
            return COLUMNS[section][2]
        return None

    def data(self, index: AnyIndex, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Text of a cell; how it looks says `CellPainter`."""
        if self._shown is None or not index.isValid():
            return None
        column, place = COLUMNS[index.column()][0], index.row()
        if role == Qt.ItemDataRole.DisplayRole:
            return self._text(column, place)
        if role == Qt.ItemDataRole.ToolTipRole and column == "way":
            return self._text(column, place)
        return None

    def cell(self, place: int, column: Column) -> tuple[str, bool, Theme]:
        """Text of a cell, whether what it stands for is over the limit, and the colours it is drawn in."""
        assert self._shown is not None
        peak = self._peaks[place]
        row, is_over = self.rows[place], False
        if peak is not None and peak.over_limit:
            as_peaks = self._shown.as_peaks
            is_over = row is None or as_peaks or counts_by_itself(self._shown.study, row, peak)
        return self._text(column, place), is_over, self._shown.colours

    def _text(self, column: Column, place: int) -> str:
        assert self._shown is not None
        study, row, peak = self._shown.study, self.rows[place], self._peaks[place]
        if self._shown.as_peaks and peak is not None:
            return self._peak_text(column, peak)
        assert row is not None
        texts = {
            "delay": f"{study.arrivals.delay_s[row] * 1e3:.2f}",
            "speaker": study.arrivals.speaker_names[study.arrivals.speaker[row]],
            "level": decibels(float(study.arrivals.band_level_db[row])),
            "limit": limit_column(study, row, peak),
        }
        return path_text(study, row) if column == "way" else texts[column]

    def _peak_text(self, column: Column, peak: Peak) -> str:
        assert self._shown is not None
        study = self._shown.study
        if column == "way" and peak.arrivals:
            rows = named_rows(study, peak)
            n_more = len(rows) - 1 or len(joined_names(study, peak))
            return path_text(study, rows[0]) + (f" and {n_more} more" if n_more else "")
        texts = {
            "delay": f"{peak.delay_s * 1e3:.2f}",
            "speaker": study.arrivals.speaker_names[peak.speaker],
            "level": decibels(peak.level_db),
            "limit": in_column(peak),
        }
        names = " › ".join(peak_surface_names(study, peak))
        return f"{names}, {where_heard(peak)}" if column == "way" else texts[column]


class CellPainter(QStyledItemDelegate):
    """Draws the cells of an `ArrivalModel`: Qt itself asks seven times for each of them."""

    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        index: AnyIndex,
    ) -> None:
        """Text on the ground of its row; over the limit it is bold and its figure in the accent."""
        column, model, box = COLUMNS[index.column()][0], index.model(), option.rect
        assert isinstance(model, ArrivalModel)
        text, is_over, theme = model.cell(index.row(), column)
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(box, QColor(theme.chosen))
        font = QFont(option.font)
        font.setBold(is_over and column in ("limit", "way"))
        painter.setFont(font)
        painter.setPen(QColor(theme.accent if is_over and column == "limit" else theme.ink))
        box.adjust(CELL_PX, 0, -CELL_PX, 0)
        if column in ("way", "speaker"):
            text = painter.fontMetrics().elidedText(text, Qt.TextElideMode.ElideRight, box.width())
            painter.drawText(box, LEFT, text)
        else:
            painter.drawText(box, RIGHT, text)


class ArrivalTable(QTableView):
    """The list itself; keys move the selection, a click on a heading sorts."""

    def __init__(self) -> None:
        super().__init__()
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(23)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setMouseTracking(True)
        self.setItemDelegate(CellPainter(self))
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        header = self.horizontalHeader()
        header.setSectionsClickable(True)
        header.setHighlightSections(False)
        header.setSortIndicatorShown(False)  # it would lie over the headings at the right
        self.setAccessibleName("Reflections that reach the seat")

    def lay_out(self) -> None:
        """The way takes what the figures leave."""
        header, metrics = self.horizontalHeader(), self.fontMetrics()
        header.setMinimumSectionSize(20)
        for i, sample in enumerate(("00.00 ▾", "right sp", "", "−00.0 ▾", "too close to say")):
            if sample:
                header.setSectionResizeMode(i, QHeaderView.ResizeMode.Fixed)
                self.setColumnWidth(i, metrics.horizontalAdvance(sample) + 16)
            else:
                header.setSectionResizeMode(i, QHeaderView.ResizeMode.Stretch)

    def fit_names(self, names: Sequence[str]) -> None:
        """Room for the speakers' names, as long as they leave some for the way."""
        widest = max(self.fontMetrics().horizontalAdvance(name) for name in (*names, "from ▾"))
        self.setColumnWidth(1, min(widest, WIDEST_NAME_PX) + 16)


class ArrivalList(QWidget):
    """Verdict, filters, list and card of an `OnScreen`."""

    row_chosen = Signal(object)  # row or None
    row_pointed = Signal(object, object)  # row or None, no place
    filtered = Signal(str, object)  # part of the filter, value
    sorted = Signal(str)
    peaks_wanted = Signal(bool)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.model = ArrivalModel()
        self.table = ArrivalTable()
        self.table.setModel(self.model)
        self.table.lay_out()
        self.card = SpotCard()
        self.verdict = QLabel(wordWrap=True, textFormat=Qt.TextFormat.RichText)
        self.verdict.setContentsMargins(12, 10, 12, 6)
        self.combos = {name: QComboBox() for name in ("speaker", "seat", "order", "surface")}
        self.over_only = QCheckBox("only over or too close")
        self.as_peaks = QCheckBox("group what arrives together")
        self._names: tuple[Any, ...] = ()
        self._listed: tuple[Any, Any] | None = None
        self._draws = False
        self._build()

    @property
    def rows(self) -> list[int]:
        """Arrivals in the sequence in which they are listed."""
        return [row for row in self.model.rows if row is not None]

    def _build(self) -> None:
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        # The list does not jump when the words over it grow fewer, as while something is moved.
        self.verdict.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.verdict.setMinimumHeight(round(VERDICT_LINES * self.verdict.fontMetrics().lineSpacing()) + 18)
        layout.addWidget(self.verdict)
        filters = QGridLayout()
        filters.setContentsMargins(12, 2, 12, 8)
        filters.setSpacing(6)
        for i, (name, combo) in enumerate(self.combos.items()):
            combo.setAccessibleName(f"Show only one {name}")
            combo.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
            filters.addWidget(combo, i // 2, i % 2)
            combo.activated.connect(lambda index, n=name: self.filtered.emit(n, self._value(n, index)))
        filters.addWidget(self.over_only, 2, 0)
        filters.addWidget(self.as_peaks, 2, 1)
        layout.addLayout(filters)
        layout.addWidget(self.table, 1)
        layout.addWidget(self.card)
        self.over_only.toggled.connect(
            lambda on: None if self._draws else self.filtered.emit("over_only", on)
        )
        self.as_peaks.toggled.connect(lambda on: None if self._draws else self.peaks_wanted.emit(on))
        self.table.selectionModel().currentRowChanged.connect(self._chose)
        self.table.horizontalHeader().sectionClicked.connect(lambda i: self.sorted.emit(COLUMNS[i][0]))
        self.table.entered.connect(lambda index: self.row_pointed.emit(self.model.rows[index.row()], None))

    def draw(self, shown: OnScreen) -> None:
        """Show a record."""
        self._draws = True
        self.verdict.setText(_verdict_html(shown))
        self._fill_combos(shown)
        self.over_only.setChecked(shown.filter.over_only)
        self.as_peaks.setChecked(shown.as_peaks)
        listed = (shown.filter, shown.sort, shown.falling, shown.as_peaks, shown.theme)
        if self._listed is None or self._listed[0] is not shown.study or self._listed[1] != listed:
            self._listed = shown.study, listed
            self.model.draw(shown)
        row = shown.chosen_row
        if row is not None and row in self.model.rows:
            index = self.model.index(self.model.rows.index(row), 0)
            if index.row() != self.table.currentIndex().row():
                self.table.setCurrentIndex(index)
                self.table.scrollTo(index)
        elif self.table.currentIndex().isValid():
            self.table.setCurrentIndex(QModelIndex())
        self.card.draw(shown)
        self._draws = False

    def _fill_combos(self, shown: OnScreen) -> None:
        table, study = shown.study.arrivals, shown.study
        met = {name for row in range(len(table.order)) for name in surface_words(study, row)}
        orders = [str(n) for n in range(1, table.path_surfaces.shape[1] + 1)]
        names = (table.speaker_names, table.seat_names, tuple(orders), tuple(sorted(met)))
        if names != self._names:
            self._names = names
            self.table.fit_names(table.speaker_names)
            heads = ("every speaker", "every seat", "any number of bounces", "every surface")
            for (name, combo), head, entries in zip(self.combos.items(), heads, names, strict=True):
                combo.clear()
                combo.addItem(head)
                combo.addItems([_bounces(e) for e in entries] if name == "order" else list(entries))
        chosen = shown.filter
        places = (
            -1 if chosen.speaker is None else chosen.speaker,
            -1 if chosen.seat is None else chosen.seat,
            -1 if chosen.order is None else chosen.order - 1,
            names[3].index(chosen.surface) if chosen.surface in names[3] else -1,
        )
        for combo, place in zip(self.combos.values(), places, strict=True):
            combo.setCurrentIndex(place + 1)

    def _value(self, name: str, index: int) -> int | str | None:
        """What a filter is set to by an entry of its box."""
        if index == 0:
            return None
        if name == "surface":
            return str(self._names[3][index - 1])
        return index if name == "order" else index - 1

    def _chose(self, index: QModelIndex, _before: QModelIndex) -> None:
        if not self._draws and index.isValid():
            self.row_chosen.emit(self.model.rows[index.row()])


def _bounces(count: str) -> str:
    return "one bounce" if count == "1" else f"{count} bounces"


def _verdict_html(shown: OnScreen) -> str:
    """The verdict on each main speaker at the seat shown; while things move only that, and what is hidden."""
    study = shown.study
    seat = escape(seat_words(study, shown.seat), quote=False)
    lines = [f'<span style="font-size:15px; font-weight:600">What reaches the {seat}</span>']
    verdicts = seat_verdicts(study, shown.seat)
    if not shown.settled:
        lines.append(
            "At the ears only, so far. The head zone and what is bent past edges (near misses) take "
            "longer: they follow as soon as nothing moves."
        )
        lines.append(escape(hidden_words(study, shown.seat), quote=False))
    else:
        for verdict in verdicts:
            name = escape(study.scene.speakers[verdict.speaker].name, quote=False)
            lines.append(f"<b>{name}</b>: {escape(verdict_sentence(study, verdict), quote=False)}")
    if not verdicts:
        lines.append(f"{NOBODY_WORDS[0].upper()}{NOBODY_WORDS[1:]}.")
    return "<br>".join(line for line in lines if line)
