"""The main window: its parts, their layout, and the one function that draws a record."""

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QSettings, Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import (
    QApplication,
    QLabel,
    QMainWindow,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from viewer.window.controls import (
    COMMANDS,
    ArrivalList,
    PlaceBar,
    StartPage,
    TimeStrip,
    ViewBar,
    palette,
    stylesheet,
)
from viewer.window.room import RoomView
from viewer.window.state import THEMES, OnScreen

START, WORK = 0, 1
ROOM_PX = 640  # what the line over the room needs


class MainWindow(QMainWindow):
    """Room, tape and list round one `OnScreen`; what can be done with them is `Workbench`."""

    def __init__(self, settings: QSettings | None = None) -> None:
        super().__init__()
        self.settings = settings or QSettings("hitspot", "hitspot")
        self.shown: OnScreen | None = None
        self.start = StartPage()
        self.room = RoomView()
        self.strip = TimeStrip()
        self.list = ArrivalList()
        self.views = ViewBar()
        self.place = PlaceBar()
        self.state = QLabel()
        self.actions_by_name: dict[str, QAction] = {}
        self.theme = str(self.settings.value("theme", "light"))
        self.units = str(self.settings.value("units", "metric"))
        self._lay_out()
        self._make_menus()

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
        self.upright.addWidget(self.strip)
        self.upright.setStretchFactor(0, 1)
        self.upright.setSizes([620, 230])
        self.across = QSplitter(Qt.Orientation.Horizontal)
        self.across.addWidget(self.upright)
        self.across.addWidget(self.list)
        self.across.setStretchFactor(0, 1)
        self.across.setSizes([960, 450])
        self.list.setMinimumWidth(380)
        self.across.setCollapsible(0, False)
        self.across.setCollapsible(1, False)
        self.upright.setCollapsible(0, False)
        self.pages = QStackedWidget()
        self.pages.addWidget(self.start)
        self.pages.addWidget(self.across)
        self.setCentralWidget(self.pages)
        self.statusBar().addPermanentWidget(self.state)
        self.statusBar().setSizeGripEnabled(False)
        self.setAcceptDrops(True)
        self.resize(1440, 900)

    def _make_menus(self) -> None:
        menus: dict[str, Any] = {}
        for command in COMMANDS:
            if command.menu not in menus:
                menus[command.menu] = self.menuBar().addMenu(command.menu)
            action = QAction(command.text, self)
            action.setCheckable(command.can_check)
            if command.keys:
                action.setShortcut(QKeySequence(command.keys))
            do: Callable[..., Any] = getattr(self, command.name)
            action.triggered.connect(do if command.can_check else lambda _=False, d=do: d())
            menus[command.menu].addAction(action)
            self.actions_by_name[command.name] = action

    def restore(self) -> None:
        """Layout, theme and units as they were left."""
        for name, widget in (("window", self), ("upright", self.upright), ("across", self.across)):
            state = self.settings.value(f"layout/{name}")
            if state is not None:
                restore = widget.restoreGeometry if name == "window" else widget.restoreState
                restore(state)
        self.dress()

    def dress(self) -> None:
        """Put on the theme."""
        theme = THEMES[self.theme]
        QApplication.setPalette(palette(theme))
        self.setStyleSheet(stylesheet(theme))
        self.place.key.draw(theme)
        self.room.surface.set_theme(theme)
        self.actions_by_name["toggle_dark"].setChecked(self.theme == "dark")
        self.actions_by_name["toggle_imperial"].setChecked(self.units == "imperial")

    def remember(self) -> None:
        """Keep layout, theme and units for the next time."""
        self.settings.setValue("theme", self.theme)
        self.settings.setValue("units", self.units)
        self.settings.setValue("layout/window", self.saveGeometry())
        self.settings.setValue("layout/upright", self.upright.saveState())
        self.settings.setValue("layout/across", self.across.saveState())

    def draw(self, shown: OnScreen, *, can_compare: bool, shows_before: bool) -> None:
        """Show a record everywhere."""
        self.shown = shown
        self.room.draw(shown)
        self.strip.draw(shown)
        self.list.draw(shown)
        self.views.draw(shown, can_compare=can_compare, shows_before=shows_before)
        self.place.draw(shown, shows_before=shows_before)
        checks = {
            "toggle_parallel": shown.eye.parallel,
            "toggle_cut": shown.cut is not None,
            "toggle_dimensions": "dimensions" in shown.layers,
            "toggle_names": "names" in shown.layers,
            "toggle_over_only": shown.filter.over_only,
            "toggle_peaks": shown.as_peaks,
            "toggle_before": shows_before,
        }
        for name, on in checks.items():
            self.actions_by_name[name].setChecked(on)
