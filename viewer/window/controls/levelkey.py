"""The key of the colours: level of a reflection against the limit."""

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from viewer import look
from viewer.window.state import Theme
from viewer.words import signed

BAR_PX, END_PX = 132, 30


class LevelKey(QWidget):
    """A bar of the level colours with its figures."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme: Theme | None = None
        self.setFixedSize(self.sizeHint())
        self.setToolTip(
            "Colour of a path: its own level against the limit, where the head zone hears it worst; what "
            "arrives together is judged together"
        )

    def sizeHint(self) -> QSize:
        """A bar with room for the last figure."""
        return QSize(84 + BAR_PX + END_PX // 2, 30)

    def draw(self, theme: Theme) -> None:
        """Show the colours of a theme."""
        self._theme = theme
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw bar and figures."""
        if self._theme is None:
            return
        painter = QPainter(self)
        small = QFont(self.font())
        small.setPixelSize(11)
        painter.setFont(small)
        painter.setPen(QColor(self._theme.muted))
        painter.drawText(QRectF(0, 0, 84, 16), Qt.AlignmentFlag.AlignVCenter, "against limit")
        colours = self._theme.levels
        left, step = 84.0, BAR_PX / len(colours)
        for i, colour in enumerate(colours):
            painter.fillRect(QRectF(left + i * step, 3, step + 0.5, 10), QColor(colour))
        for tick in look.LEVEL_TICKS_DB:
            share = (tick - look.LEVEL_FROM_DB) / (look.LEVEL_TO_DB - look.LEVEL_FROM_DB)
            words = signed(tick, 0) + (" dB" if tick == max(look.LEVEL_TICKS_DB) else "")
            where = QRectF(left + share * BAR_PX - END_PX, 14, 2 * END_PX, 15)
            painter.drawText(where, Qt.AlignmentFlag.AlignCenter, words)
        painter.end()
