"""How the window's controls look, from the colours of its theme."""

from collections.abc import Sequence

from PySide6.QtGui import QColor, QIcon, QPalette, QShowEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QDialogButtonBox,
    QHeaderView,
    QPushButton,
    QTableWidget,
)

from viewer.window.state import Theme

TICKED = ("QCheckBox", "QMenu", "QListWidget")
EDGE_PERCENT = 127  # the style darkens by as much again


class FormDialog(QDialog):
    """A form that is as high as what it holds: left to Qt, it gets two thirds of the screen at most."""

    def showEvent(self, event: QShowEvent) -> None:
        """Only now is known how high its words are in the window's style."""
        super().showEvent(event)
        layout = self.layout()
        assert layout is not None
        self.setMinimumHeight(
            max(layout.totalHeightForWidth(self.width()), layout.totalMinimumSize().height())
        )


def switch(words: str) -> QPushButton:
    """A button that stays down until it is pressed once more."""
    button = QPushButton(words)
    button.setCheckable(True)
    return button


def plain(buttons: QDialogButtonBox) -> QDialogButtonBox:
    """A row of buttons without the style's own signs, which cannot be seen on a dark ground."""
    for button in buttons.buttons():
        button.setIcon(QIcon())
    return buttons


def enter_answers(form: QDialog, answers: QDialogButtonBox) -> None:
    """Enter gives the answer that goes on, whatever has the cursor: of a form in which all is in place."""
    for button in form.findChildren(QPushButton):
        # Left to Qt, the first button of a form would be the one, whether it can be pressed or not.
        button.setAutoDefault(False)
        button.setDefault(answers.buttonRole(button) == QDialogButtonBox.ButtonRole.AcceptRole)


def head(table: QTableWidget, columns: Sequence[tuple[str, str, int]]) -> None:
    """Head a table of whole rows: what each column is called, its tip, and its width, 0 for the rest. [px]"""
    table.setHorizontalHeaderLabels([words for words, _, _ in columns])
    table.verticalHeader().hide()
    table.setShowGrid(False)
    table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    header = table.horizontalHeader()
    header.setHighlightSections(False)
    for column, (_, tip, wide) in enumerate(columns):
        item = table.horizontalHeaderItem(column)
        assert item is not None  # set with the labels
        item.setToolTip(tip)
        mode = QHeaderView.ResizeMode.Fixed if wide else QHeaderView.ResizeMode.Stretch
        header.setSectionResizeMode(column, mode)
        if wide:
            table.setColumnWidth(column, wide)


def palette(theme: Theme) -> QPalette:
    """Colours of everything that the style draws itself."""
    role, group = QPalette.ColorRole, QPalette.ColorGroup
    colours = {
        role.Window: theme.paper,
        role.WindowText: theme.ink,
        role.Base: theme.field,
        role.AlternateBase: theme.paper,
        role.Text: theme.ink,
        role.Button: theme.paper,
        role.ButtonText: theme.ink,
        role.BrightText: theme.accent,
        role.Highlight: theme.chosen,
        role.HighlightedText: theme.ink,
        role.PlaceholderText: theme.muted,
        role.ToolTipBase: theme.ink,
        role.ToolTipText: theme.paper,
        role.Link: theme.ink,
        role.Mid: theme.hairline,
    }
    made = QPalette()
    for name, colour in colours.items():
        made.setColor(name, QColor(colour))
    for name in (role.WindowText, role.Text, role.ButtonText):
        made.setColor(group.Disabled, name, QColor(theme.muted))
    return made


def tick_palette(theme: Theme) -> QPalette:
    """The same where there are boxes to tick, whose edge the style makes of the ground's colour."""
    made = palette(theme)
    made.setColor(QPalette.ColorRole.Window, QColor(theme.muted).lighter(EDGE_PERCENT))
    return made


def stylesheet(theme: Theme) -> str:
    """What the palette cannot say: sizes, and buttons that are words."""
    return f"""
* {{ font-size: 13px; }}
QLabel#heading {{ font-size: 24px; font-weight: 600; }}
QLabel#subheading {{ font-size: 16px; font-weight: 600; }}
QLineEdit[wrong="true"] {{ border: 2px solid {theme.accent}; border-radius: 3px; }}
QLabel#trouble {{ color: {theme.accent}; }}
QLabel[objectName="trouble over"] {{ color: {theme.accent}; background: {theme.paper};
    border: 1px solid {theme.accent}; border-radius: 4px; padding: 6px 10px; }}
QLabel#hint {{ color: {theme.muted}; border-top: 1px solid {theme.hairline}; }}
QComboBox[wrong="true"] {{ border: 2px solid {theme.accent}; border-radius: 3px; }}
QTreeWidget {{ border-top: 1px solid {theme.hairline}; selection-background-color: {theme.chosen};
    selection-color: {theme.ink}; outline: none; }}
QMenuBar {{ border-bottom: 1px solid {theme.hairline}; padding: 2px 6px; }}
QMenuBar::item {{ padding: 4px 9px; background: transparent; }}
QMenuBar::item:selected {{ background: {theme.pressed}; }}
QPushButton, QToolButton {{ background: transparent; border: 1px solid transparent; border-radius: 4px;
    padding: 4px 9px; }}
QFileDialog QToolButton {{ padding: 2px; }}
QPushButton:hover, QToolButton:hover {{ border-color: {theme.hairline}; }}
QPushButton:checked {{ background: {theme.pressed}; }}
QPushButton:focus, QToolButton:focus {{ border: 1px solid {theme.muted}; }}
QToolButton::menu-indicator {{ image: none; }}
StartPage QPushButton, WishForm QPushButton, QMessageBox QPushButton, QDialogButtonBox QPushButton {{
    padding: 7px 14px; border: 1px solid {theme.hairline}; }}
QPushButton#main {{ background: {theme.ink}; color: {theme.paper}; padding: 8px 18px; font-weight: 600; }}
QTableView {{ border: none; border-top: 1px solid {theme.hairline}; border-bottom: 1px solid {theme.hairline};
    selection-background-color: {theme.chosen}; selection-color: {theme.ink}; outline: none; }}
QHeaderView::section {{ background: {theme.paper}; color: {theme.muted}; border: none; padding: 4px 6px; }}
QHeaderView {{ background: {theme.paper}; }}
QSplitter::handle {{ background: {theme.hairline}; }}
QSplitter::handle:horizontal {{ width: 1px; }}
QSplitter::handle:vertical {{ height: 1px; }}
QToolTip {{ background: {theme.ink}; color: {theme.paper}; border: none; padding: 6px; }}
QStatusBar QLabel {{ color: {theme.muted}; }}
"""
