"""The main window: its parts, their layout, and the one function that draws a record."""

from collections.abc import Callable, Mapping, Sequence
from html import escape
from pathlib import Path
from typing import Any

from PySide6.QtCore import QMimeData, QPoint, QSettings, Qt, Signal
from PySide6.QtGui import QAction, QCloseEvent, QDragEnterEvent, QDropEvent, QKeySequence
from PySide6.QtWidgets import (
    QApplication,
    QComboBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QMainWindow,
    QMenu,
    QPlainTextEdit,
    QProgressBar,
    QPushButton,
    QSplitter,
    QStackedWidget,
    QToolTip,
    QVBoxLayout,
    QWidget,
)

from viewer.window.controls import (
    COMMANDS,
    MENUS,
    TICKED,
    ArrivalList,
    BassStrip,
    Contents,
    MeasuredPage,
    PlaceBar,
    ScanPage,
    SceneText,
    StartPage,
    TimeStrip,
    VariantPage,
    ViewBar,
    WaitingPage,
    in_own_language,
    palette,
    stylesheet,
    switch,
    tick_palette,
)
from viewer.window.room import Gestures, RoomView
from viewer.window.state import THEMES, OnScreen, counts_words, measure_words

START, WAITING, WORK, SCAN = 0, 1, 2, 3
WITH_SCAN = ("filing.ask_open", "scanning.ask_file", "main.close", "looking.toggle_dark", "show_keys")
ROOM_PX = 640  # what the line over the room needs
SIDE_PX = 380
WRITING_PX = 140
DROPPED = {
    "scene": (".toml",),
    "sounds": (".wav", ".flac"),
    "scan": (".obj", ".glb", ".gltf", ".stl", ".ply", ".dxf"),
}
"""Kinds of files that may be dropped on the window, by how their names end."""


class SideColumn(QWidget):
    """The column beside the room: one of several pages, and a line of words to choose it by."""

    turned = Signal(str)  # the page that is shown from now on

    def __init__(self, pages: Mapping[str, QWidget]) -> None:
        super().__init__()
        self._names = tuple(pages)
        self._pages = QStackedWidget()
        self.heads = {name: switch(name) for name in pages}
        line = QHBoxLayout()
        line.setContentsMargins(8, 5, 8, 5)
        line.setSpacing(4)
        for name, page in pages.items():
            self._pages.addWidget(page)
            self.heads[name].clicked.connect(lambda _=False, own=name: self.turn_to(own))
            line.addWidget(self.heads[name])
        line.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addLayout(line)
        layout.addWidget(self._pages, 1)
        self.turn_to(self._names[0])

    @property
    def current(self) -> str:
        """The name of the page that is shown."""
        return self._names[self._pages.currentIndex()]

    def turn_to(self, name: str) -> None:
        """Show a page."""
        self._pages.setCurrentIndex(self._names.index(name))
        for own, head in self.heads.items():
            head.setChecked(own == name)
        self.turned.emit(name)


class WritingBar(QWidget):
    """How far what is being written is, and a way to stop it; not there while nothing is."""

    def __init__(self) -> None:
        super().__init__()
        self.stop = QPushButton("Stop")
        self._words = QLabel(textFormat=Qt.TextFormat.PlainText)
        self._bar = QProgressBar(textVisible=False)
        self._bar.setAccessibleName("How far what is being written is")
        self._bar.setFixedSize(WRITING_PX, 8)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        for part in (self._words, self._bar, self.stop):
            row.addWidget(part)
        self.hide()

    def show_progress(self, text: str, share: float) -> None:
        """Show what is going on, and what share of it is done."""
        self._words.setText(text)
        self._bar.setRange(0, 100)
        self._bar.setValue(round(100 * share))

    def setVisible(self, visible: bool) -> None:
        """Begin anew whenever something begins to be written."""
        if visible and not self.isVisible():
            self._words.setText("")
            self._bar.setRange(0, 0)
        super().setVisible(visible)


class MainWindow(QMainWindow):
    """Room, tape and list round one `OnScreen`; what can be done with them is the workbench's.

    `may_close` is asked before the window closes.
    """

    file_dropped = Signal(str)
    sounds_dropped = Signal(object)  # list of Path
    scan_dropped = Signal(object)  # Path
    closed = Signal()
    dressed = Signal()  # in another theme or other units
    field_left = Signal()  # without what was typed in it

    def __init__(self, settings: QSettings) -> None:
        super().__init__()
        self.settings = settings
        self.may_close: Callable[[], bool] = lambda: True
        self.start = StartPage()
        self.waiting = WaitingPage()
        self.room = RoomView()
        self.strip = TimeStrip()
        self.bass = BassStrip()
        self.list = ArrivalList()
        self.contents = Contents()
        self.text = SceneText()
        self.variants = VariantPage()
        self.measured = MeasuredPage()
        self.scan = ScanPage()
        self._before_scan = START
        self._can: dict[str, bool] = {}  # what can be done again when the scan is left
        self.side = SideColumn(
            {
                "Reflections": self.list,
                "Contents": self.contents,
                "Text": self.text,
                "Variants": self.variants,
                "Measured": self.measured,
            }
        )
        self.views = ViewBar()
        self.place = PlaceBar()
        self.writing = WritingBar()
        self.state_line = QLabel(textFormat=Qt.TextFormat.PlainText)
        self.verdict_line = QLabel(textFormat=Qt.TextFormat.PlainText)
        self.verdict_line.setContentsMargins(12, 0, 0, 0)
        self.menu_actions: dict[str, QAction] = {}
        self.recent = QMenu("Open again", self)
        self.theme = str(self.settings.value("theme", "light"))
        self.units = str(self.settings.value("units", "metric"))
        self._lay_out()

    @property
    def hand(self) -> Gestures:
        """The hand over the room."""
        return self.room.hand

    @property
    def room_px(self) -> tuple[int, int]:
        """Width and height of the room's picture."""
        return self.room.size_px

    def _lay_out(self) -> None:
        room = QWidget()
        room.setMinimumWidth(ROOM_PX)
        column = QVBoxLayout(room)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.views)
        column.addWidget(self.room, 1)
        column.addWidget(self.place)
        self.upright = QSplitter(Qt.Orientation.Vertical)
        self.upright.addWidget(room)
        self.strips = QStackedWidget()
        self.strips.addWidget(self.strip)
        self.strips.addWidget(self.bass)
        self.upright.addWidget(self.strips)
        self.upright.setStretchFactor(0, 1)
        self.upright.setSizes([620, 230])
        self.across = QSplitter(Qt.Orientation.Horizontal)
        self.across.addWidget(self.upright)
        self.across.addWidget(self.side)
        self.across.setStretchFactor(0, 1)
        self.across.setSizes([930, 480])
        self.side.setMinimumWidth(SIDE_PX)
        self.across.setCollapsible(0, False)
        self.across.setCollapsible(1, False)
        self.upright.setCollapsible(0, False)
        self.pages = QStackedWidget()
        self.pages.addWidget(self.start)
        self.pages.addWidget(self.waiting)
        self.pages.addWidget(self.across)
        self.pages.addWidget(self.scan)
        self.setCentralWidget(self.pages)
        self.statusBar().addWidget(self.verdict_line)
        self.state_line.setContentsMargins(0, 0, 12, 0)
        self.statusBar().addPermanentWidget(self.state_line)
        self.statusBar().addPermanentWidget(self.writing)
        self.statusBar().setSizeGripEnabled(False)
        self.setAcceptDrops(True)
        self.resize(1440, 900)

    def fill_menus(self, deeds: Mapping[str, Callable[..., Any]]) -> None:
        """Make the menus of `COMMANDS`, each entry with the function of its name behind it."""
        menus: dict[str, Any] = {}
        for command in COMMANDS:
            if command.menu not in menus:
                menus[command.menu] = self.menuBar().addMenu(MENUS[command.menu])
            action = QAction(command.text, self)
            action.setCheckable(command.can_check)
            if command.keys:
                action.setShortcut(QKeySequence(command.keys))
            do = deeds[command.name]
            action.triggered.connect(do if command.can_check else lambda _=False, d=do: d())
            menus[command.menu].addAction(action)
            self.menu_actions[command.name] = action
            if command.name == "filing.ask_open":
                menus[command.menu].addMenu(self.recent)

    def offer(self, names: Sequence[str], add: Callable[[str], None]) -> None:
        """Offer what can be added, in a menu of its own and over the list; a name that is "" parts groups."""
        self.contents.offer(names)
        menu = QMenu(MENUS["Add"], self)
        for name in names:
            if name:
                menu.addAction(name).triggered.connect(lambda _=False, own=name: add(own))
            else:
                menu.addSeparator()
        menus = self.menuBar().actions()
        self.menuBar().insertMenu(menus[2], menu)

    def offer_recent(self, files: Callable[[], Sequence[Path]], open_file: Callable[[Path], object]) -> None:
        """Offer scene files that were open before, as they are when the menu is opened."""

        def fill() -> None:
            self.recent.clear()
            for number, path in enumerate(files(), 1):
                # A number to type; an ampersand of a name is doubled, else Qt takes it for a key.
                words = f"&{number % 10}  {path.name}   {path.parent}".replace("&", "&&").replace(
                    "&&", "&", 1
                )
                self.recent.addAction(words).triggered.connect(lambda _=False, own=path: open_file(own))
            if self.recent.isEmpty():
                self.recent.addAction(in_own_language("nothing yet")).setEnabled(False)

        self.recent.aboutToShow.connect(fill)

    def enable(self, name: str, can: bool) -> None:
        """Whether something can be done now."""
        self._can[name] = can
        if self.pages.currentIndex() != SCAN:
            self.menu_actions[name].setEnabled(can)

    def restore(self) -> None:
        """Layout, theme and units as they were left."""
        for name, widget in (("window", self), ("upright", self.upright), ("across", self.across)):
            state = self.settings.value(f"layout/{name}")
            if state is not None:
                restore = widget.restoreGeometry if name == "window" else widget.restoreState
                restore(state)
        self.dress()

    def dress(self, *, theme: str | None = None, units: str | None = None) -> None:
        """Put on theme and units, those it has where no others are given."""
        self.theme, self.units = theme or self.theme, units or self.units
        colours = THEMES[self.theme]
        QApplication.setPalette(palette(colours))
        for name in TICKED:
            QApplication.setPalette(tick_palette(colours), name)  # type: ignore[arg-type]  # bytes fail
        self.setStyleSheet(stylesheet(colours))
        self.place.set_theme(colours)
        self.room.set_theme(colours)
        self.menu_actions["looking.toggle_dark"].setChecked(self.theme == "dark")
        self.menu_actions["looking.toggle_imperial"].setChecked(self.units == "imperial")
        self.dressed.emit()

    def remember(self) -> None:
        """Keep layout, theme and units for the next time."""
        self.settings.setValue("theme", self.theme)
        self.settings.setValue("units", self.units)
        self.settings.setValue("layout/window", self.saveGeometry())
        self.settings.setValue("layout/upright", self.upright.saveState())
        self.settings.setValue("layout/across", self.across.saveState())

    def draw(self, shown: OnScreen, *, can_compare: bool, shows_before: bool) -> None:
        """Show a record everywhere."""
        self.room.draw(shown)
        self.strip.draw(shown)
        self.bass.draw(shown)
        self.strips.setCurrentIndex(int("bass" in shown.layers))
        self.list.draw(shown)
        self.measured.draw(shown)
        counted = counts_words(shown.study, shown.seat)
        if shown.measuring is not None:
            counted = measure_words(shown.measuring, shown.units)
        elif not shown.settled:
            counted = f"At the ears: {counted}"
        self.verdict_line.setText(counted)
        self.views.draw(shown, can_compare=can_compare, shows_before=shows_before)
        self.place.draw(shown, shows_before=shows_before)
        checks = {
            "looking.toggle_parallel": shown.eye.parallel,
            "looking.toggle_cut": shown.cut is not None,
            "looking.toggle_dimensions": "dimensions" in shown.layers,
            "looking.toggle_names": "names" in shown.layers,
            "selecting.measure": shown.measuring is not None,
            "looking.toggle_fronts": "fronts" in shown.layers,
            "bassing.toggle": "bass" in shown.layers,
            "selecting.toggle_over_only": shown.filter.over_only,
            "selecting.toggle_peaks": shown.as_peaks,
            "editing.toggle_before": shows_before,
            "editing.toggle_pairs": shown.in_pairs,
            "varying.toggle_compare": self.variants.compares,
        }
        for name, on in checks.items():
            self.menu_actions[name].setChecked(on)

    def entitle(self, name: str, *, dirty: bool) -> None:
        """Put the name of what is open into the title; "" for nothing."""
        self.setWindowTitle(f"{name}[*] – hitspot" if name else "hitspot")
        self.setWindowModified(dirty)

    def say(self, text: str) -> None:
        """Say in passing what is going on."""
        self.state_line.setText(in_own_language(text))

    def point_out(self, text: str, at: QPoint | None) -> None:
        """Show words beside a place on the screen; "" takes them away."""
        if text and at is not None:
            # Names are text, and Qt takes what looks like markup for it.
            words = f"<span>{escape(text, quote=False)}</span>" if "<" in text else text
            QToolTip.showText(at + QPoint(14, 14), words, self)
        else:
            QToolTip.hideText()

    def leave_field(self) -> bool:
        """Leave the field that is typed in, with what it held before; false where none is."""
        field: QWidget | None = self.focusWidget()
        if isinstance(field, QComboBox) and field.isEditable():
            field = field.lineEdit()
        if not isinstance(field, QLineEdit | QPlainTextEdit) or not field.isVisible():
            return False
        if isinstance(field, QLineEdit):
            field.setModified(False)
        self.room.take_keys()
        self.field_left.emit()
        return True

    def show_start(self) -> None:
        """The ways to begin, in place of a room."""
        self._turn_to(START)

    def wait_for(self, name: str, *, is_first_run: bool) -> None:
        """Say what is on its way where no room is shown yet."""
        if self._page != WORK:
            self.waiting.wait_for(name, is_first_run=is_first_run)
            self._turn_to(WAITING)

    def show_scan(self) -> None:
        """The scan that is looked over, in place of what is shown."""
        if self.pages.currentIndex() != SCAN:
            self._before_scan = self.pages.currentIndex()
            self._can = {name: action.isEnabled() for name, action in self.menu_actions.items()}
        for name, action in self.menu_actions.items():
            action.setEnabled(name in WITH_SCAN)  # the room behind it is not seen
        self.pages.setCurrentIndex(SCAN)

    def leave_scan(self) -> None:
        """What was shown before the scan."""
        for name, can in self._can.items():
            self.menu_actions[name].setEnabled(can)
        self.pages.setCurrentIndex(self._before_scan)

    def show_work(self) -> None:
        """The room and what stands round it."""
        self._turn_to(WORK)

    @property
    def _page(self) -> int:
        """What is shown, or will be when the scan before it is left."""
        own = self.pages.currentIndex()
        return self._before_scan if own == SCAN else own

    def _turn_to(self, page: int) -> None:
        if self.pages.currentIndex() == SCAN:
            self._before_scan = page
        else:
            self.pages.setCurrentIndex(page)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take files of a kind that can be dropped."""
        if any(_dropped(event.mimeData(), kind) for kind in DROPPED):
            event.setDropAction(Qt.DropAction.CopyAction)
            event.accept()

    def dropEvent(self, event: QDropEvent) -> None:
        """Hand on what was dropped: a scene alone, for others are of another room."""
        found = {kind: _dropped(event.mimeData(), kind) for kind in DROPPED}
        if any(found.values()):
            event.accept()
        if found["scene"]:
            self.file_dropped.emit(str(found["scene"][0]))
        elif found["sounds"]:
            self.sounds_dropped.emit(found["sounds"])
        elif found["scan"]:
            self.scan_dropped.emit(found["scan"][0])

    def closeEvent(self, event: QCloseEvent) -> None:
        """Ask whether it may be, remember the layout, let go of the graphics card."""
        if not self.may_close():
            event.ignore()
            return
        self.remember()
        self.closed.emit()
        self.room.end()
        event.accept()


def _dropped(told: QMimeData, kind: str) -> list[Path]:
    """Files of one kind of `DROPPED` among what is dropped."""
    paths = [Path(url.toLocalFile()) for url in told.urls() if url.isLocalFile()]
    return [path for path in paths if path.suffix.lower() in DROPPED[kind]]
