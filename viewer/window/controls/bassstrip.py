"""The bass under the room: the curve at the seat over frequency, the modes below it, the key of the floor."""

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from viewer.pictures import even_levels_db
from viewer.window.state import OnScreen, Theme
from viewer.words import decibels, listed

if TYPE_CHECKING:
    from raytrace import BassMap, BassNow

LEFT_PX, RIGHT_PX, TOP_PX, TAPE_PX = 60, 214, 22, 46
FROM_HZ, TO_HZ = 20.0, 200.0
TICKS_HZ = (20, 30, 40, 50, 60, 80, 100, 120, 150, 200)
JUDGED_HZ = (30.0, 120.0)
LOWEST_DB, STEP_DB = -30, 10
NEAR_PX = 7.0
PATCH_PX = 15
LINE_PX = 16  # what words are high, in a box of 18


class BassStrip(QWidget):
    """Bass at the seat of an `OnScreen`: now, with a sub at the best place, and the modes to choose from."""

    mode_chosen = Signal(object)  # row of a mode

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: OnScreen | None = None
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.setMinimumHeight(150)
        self.setAccessibleName("Bass at the seat over frequency, with the modes of the room")

    def sizeHint(self) -> QSize:
        """As high as the tape of time."""
        return QSize(800, 220)

    def draw(self, shown: OnScreen) -> None:
        """Show a record."""
        self._shown = shown
        if self.isVisible():
            self.update()

    @property
    def _width(self) -> float:
        return max(self.width() - LEFT_PX - RIGHT_PX, 10)

    @property
    def _ground(self) -> QRectF:
        return QRectF(LEFT_PX, TOP_PX, self._width, self.height() - TOP_PX - TAPE_PX)

    @property
    def _map(self) -> "BassMap | None":
        return None if self._shown is None else self._shown.bass

    def x_of(self, hz: float) -> float:
        """Pixel of a frequency."""
        return LEFT_PX + float(np.log(hz / FROM_HZ) / np.log(TO_HZ / FROM_HZ)) * self._width

    def box_of_level(self, y: float) -> QRectF:
        """Where the words of a level stand; the lowest keep off those of the modes below."""
        return QRectF(0, min(y - 9, self._ground.bottom() - LINE_PX), LEFT_PX - 8, 18)

    @property
    def box_of_modes(self) -> QRectF:
        """Where it says that the strokes beside are modes."""
        return QRectF(0, self.height() - TAPE_PX, LEFT_PX - 8, 18)

    def _highest_db(self, curves: list[np.ndarray]) -> float:
        top = max((float(curve.max()) for curve in curves), default=10.0)
        return max(STEP_DB * float(np.ceil(top / STEP_DB)), 10.0)

    # Drawing.

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Scale, curves, modes and keys."""
        shown, found = self._shown, self._map
        if shown is None:
            return
        theme = shown.colours
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(theme.paper))
        painter.fillRect(self._ground, QColor(theme.field))
        if found is None:
            self._say(painter, theme, shown.bass_says)
            painter.end()
            return
        curves = self._curves(shown, found)
        highest = self._highest_db([level for _, level, _ in curves])
        self._draw_scale(painter, theme, highest)
        painter.setClipRect(self._ground)
        for _, level, pen in curves:
            painter.setPen(pen)
            painter.drawPolyline(self._line(found.frequencies_hz, level, highest))
        painter.setClipping(False)
        self._draw_key(painter, theme, curves)
        self._draw_modes(painter, shown, found)
        self._draw_floor_key(painter, shown, found)
        painter.end()

    def _say(self, painter: QPainter, theme: Theme, words: str) -> None:
        painter.setPen(QColor(theme.muted))
        way = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
        painter.drawText(self._ground.adjusted(20, 0, -20, 0), int(way), words)

    def _curves(self, shown: OnScreen, found: "BassMap") -> list[tuple[str, np.ndarray, QPen]]:
        """Words, levels and pen of each curve, the one in front last."""
        theme, now = shown.colours, shown.bass_now or found.now
        seat = min(shown.seat, len(now.level_db) - 1)
        pale, strong = QPen(QColor(theme.muted), 1.3), QPen(QColor(theme.curve), 2.0)
        pale.setDashPattern([5, 3])
        rows: list[tuple[str, BassNow, QPen]] = []
        if found.best is not None:
            rows.append(("sub at place 1", found.best, pale))
        rows.append((f"{listed(found.sources)} now", now, strong))
        return [
            (f"{words}: uneven by {one.evenness_db:.1f} dB", one.level_db[seat], pen)
            for words, one, pen in rows
        ]

    def _line(self, hz: np.ndarray, level: np.ndarray, highest: float) -> QPolygonF:
        ground = self._ground
        x = LEFT_PX + np.log(hz / FROM_HZ) / np.log(TO_HZ / FROM_HZ) * self._width
        share = (highest - np.maximum(level, LOWEST_DB - STEP_DB)) / (highest - LOWEST_DB)
        y = ground.top() + share * ground.height()
        return QPolygonF([QPointF(*at) for at in zip(x.tolist(), y.tolist(), strict=True)])

    def _draw_scale(self, painter: QPainter, theme: Theme, highest: float) -> None:
        ground = self._ground
        low, high = (self.x_of(hz) for hz in JUDGED_HZ)
        judged = QColor(theme.pressed)
        judged.setAlphaF(0.45)
        painter.fillRect(QRectF(low, ground.top(), high - low, ground.height()), judged)
        for level in range(LOWEST_DB, int(highest) + 1, STEP_DB):
            y = ground.top() + (highest - level) / (highest - LOWEST_DB) * ground.height()
            painter.setPen(QPen(QColor(theme.hairline), 1))
            painter.drawLine(QPointF(ground.left(), y), QPointF(ground.right(), y))
            painter.setPen(QColor(theme.muted))
            right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
            unit = " dB" if level > highest - STEP_DB else ""
            painter.drawText(self.box_of_level(y), right, decibels(level, 0) + unit)
        centre = Qt.AlignmentFlag.AlignCenter
        for hz in TICKS_HZ:
            x, bottom = self.x_of(hz), self.height() - TAPE_PX
            painter.setPen(QPen(QColor(theme.hairline), 1))
            painter.drawLine(QPointF(x, ground.top()), QPointF(x, bottom))
            painter.setPen(QColor(theme.muted))
            painter.drawText(QRectF(x - 25, bottom + 22, 50, 18), centre, f"{hz}")
        at = QRectF(0, self.height() - TAPE_PX + 22, LEFT_PX - 18, 18)
        painter.drawText(at, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, "Hz")
        painter.drawText(
            self.box_of_modes, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, "modes"
        )

    def _draw_key(self, painter: QPainter, theme: Theme, curves: list[tuple[str, np.ndarray, QPen]]) -> None:
        """Whose curve is whose, and against what."""
        x, metrics = float(LEFT_PX), painter.fontMetrics()
        for words, _, pen in curves[::-1]:
            painter.setPen(pen)
            painter.drawLine(QPointF(x, 11), QPointF(x + 22, 11))
            painter.setPen(QColor(theme.ink))
            painter.drawText(QPointF(x + 28, 15.5), words)
            x += 28 + metrics.horizontalAdvance(words) + 18
        words = "dB re free field at 1 m; grey: judged"
        if x + metrics.horizontalAdvance(words) <= LEFT_PX + self._width:
            painter.setPen(QColor(theme.muted))
            right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
            painter.drawText(QRectF(LEFT_PX, 2, self._width, 18), right, words)

    def _draw_modes(self, painter: QPainter, shown: OnScreen, found: "BassMap") -> None:
        """A stroke for each mode; the one whose shape is shown strongly and with its figures."""
        theme, top = shown.colours, self.height() - TAPE_PX
        painter.setPen(QPen(QColor(theme.muted), 1.4))
        for hz in found.modes_hz:
            x = self.x_of(float(hz))
            painter.drawLine(QPointF(x, top + 2), QPointF(x, top + 17))
        if shown.mode is None or shown.mode >= len(found.modes_hz):
            return
        x = self.x_of(float(found.modes_hz[shown.mode]))
        painter.setPen(QPen(QColor(theme.accent), 2.4))
        painter.drawLine(QPointF(x, self._ground.top()), QPointF(x, top + 19))
        words = _mode_words(found, shown.mode)
        width = painter.fontMetrics().horizontalAdvance(words) + 12
        left = min(max(x - width / 2, LEFT_PX), LEFT_PX + self._width - width)
        box = QRectF(left, top + 21, width, 20)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.ink))
        painter.drawRoundedRect(box, 3, 3)
        painter.setPen(QColor(theme.paper))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)

    def _draw_floor_key(self, painter: QPainter, shown: OnScreen, found: "BassMap") -> None:
        """What the colours on the floor, or on the plane of the ears, say."""
        theme, left = shown.colours, LEFT_PX + self._width + 22
        if shown.mode is not None:
            rows = [(theme.plus, "+ plain: higher"), (theme.minus, "− hatched: lower")]
            heads = ["Pressure at ear height;", "half a swing later reversed:"]
        else:
            levels = even_levels_db(found.floor_db)
            rows = [
                (colour, f"{low:.1f} to {high:.1f} dB")
                for colour, low, high in zip(theme.even, levels[:-1], levels[1:], strict=True)
            ]
            rows[-1] = (rows[-1][0], f"{levels[-2]:.1f} dB and more")
            heads = ["Uneven with one sub there:"]
        small = QFont(painter.font())
        small.setPixelSize(12)
        painter.setFont(small)
        painter.setPen(QColor(theme.ink))
        for k, words in enumerate(heads):
            painter.drawText(QPointF(left, 15.5 + 17 * k), words)
        step = min((self.height() - 30.0 - 17 * len(heads)) / max(len(rows), 1), 21.0)
        for k, (colour, words) in enumerate(rows):
            y = 10.0 + 17 * len(heads) + k * step
            painter.setPen(QPen(QColor(theme.muted), 0.7))
            painter.setBrush(QColor(colour))
            painter.drawRect(QRectF(left, y, 26, min(PATCH_PX, step - 2)))
            if shown.mode is not None and colour == theme.minus:
                self._hatch(painter, QRectF(left, y, 26, min(PATCH_PX, step - 2)), theme)
            painter.setPen(QColor(theme.muted))
            painter.drawText(QPointF(left + 34, y + 11.5), words)
        if shown.bass_says:
            painter.drawText(QPointF(left, self.height() - 8.0), shown.bass_says)

    def _hatch(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        painter.setPen(QPen(QColor(theme.ink), 1.2))
        painter.setClipRect(box)
        for k in range(-2, 6):
            x = box.left() + 6.0 * k
            painter.drawLine(QPointF(x, box.bottom()), QPointF(x + box.height(), box.top()))
        painter.setClipping(False)

    # The pointer.

    def _mode_at(self, at: QPointF) -> int | None:
        found = self._map
        if found is None or not len(found.modes_hz) or at.y() < self.height() - TAPE_PX - 4:
            return None
        away = np.abs([self.x_of(float(hz)) - at.x() for hz in found.modes_hz])
        nearest = int(np.argmin(away))
        return nearest if away[nearest] < NEAR_PX else None

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Choose a mode; the same one again lets go of it."""
        mode = self._mode_at(event.position())
        if mode is not None and event.button() == Qt.MouseButton.LeftButton:
            self.mode_chosen.emit(mode)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Tell what is under the pointer."""
        mode, found = self._mode_at(event.position()), self._map
        if mode is None or found is None:
            QToolTip.hideText()
        else:
            words = f"Mode at {_mode_words(found, mode)}. Click: its shape at ear height."
            QToolTip.showText(event.globalPosition().toPoint(), words, self)

    def leaveEvent(self, _event: object) -> None:
        """Nothing is under the pointer any more."""
        QToolTip.hideText()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Arrow keys step from mode to mode."""
        way = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}.get(Qt.Key(event.key()))
        found, shown = self._map, self._shown
        if way is None or found is None or shown is None:
            super().keyPressEvent(event)
            return
        after = (0 if way > 0 else len(found.modes_hz) - 1) if shown.mode is None else shown.mode + way
        if 0 <= after < len(found.modes_hz):
            self.mode_chosen.emit(after)


def _mode_words(found: "BassMap", mode: int) -> str:
    """Frequency of a mode, and how long it rings."""
    t60_s = float(found.t60_s[mode])
    rings = f", rings {t60_s:.1f} s (60 dB)" if np.isfinite(t60_s) else ""
    return f"{found.modes_hz[mode]:.1f} Hz{rings}"
