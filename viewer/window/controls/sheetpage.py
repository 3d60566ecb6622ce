"""Drawings in a window of their own, beside the first: one to look at, others under tabs."""

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLabel, QScrollArea, QTabWidget, QVBoxLayout, QWidget

from viewer.window.controls.styling import plain

SHEET_PX = (1130, 820)
DRAWING_PX = 1080


def show_sheets(parent: QWidget, title: str, sheets: Sequence[tuple[str, bytes]]) -> QDialog:
    """Show drawings, each a title and its PNG."""
    page = QDialog(parent)
    page.setWindowTitle(title)
    page.resize(*SHEET_PX)
    tabs = QTabWidget()
    for name, png in sheets:
        picture = QPixmap()
        picture.loadFromData(png)
        drawing = QLabel()
        drawing.setPixmap(picture.scaledToWidth(DRAWING_PX, Qt.TransformationMode.SmoothTransformation))
        drawing.setAccessibleName(name)
        whole = QScrollArea()
        whole.setWidget(drawing)
        whole.setAlignment(Qt.AlignmentFlag.AlignCenter)
        tabs.addTab(whole, name.replace("&", "&&"))
    close = plain(QDialogButtonBox(QDialogButtonBox.StandardButton.Close))
    close.rejected.connect(page.close)
    layout = QVBoxLayout(page)
    layout.addWidget(tabs)
    layout.addWidget(close)
    page.show()
    return page
