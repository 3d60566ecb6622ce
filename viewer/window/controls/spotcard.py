"""The selected reflection in full: words, spots to measure, level per octave band."""

import numpy as np
from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from viewer.window.state import OnScreen, band_levels, counts_by_itself, level_words, peak_lines, spot_lines
from viewer.words import decibels, path_text, peak_of

BANDS_PX = 112  # height of the bars of the card with their words
HEIGHT_PX = 304
LOWEST_DB = 40.0


class SpotCard(QWidget):
    """The selected reflection in full: words, spots to measure, level per octave band."""

    def __init__(self) -> None:
        super().__init__()
        self._shown: OnScreen | None = None
        self.setMinimumHeight(HEIGHT_PX)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("The selected reflection")

    def sizeHint(self) -> QSize:
        """Room for the words, four bounces and the bands."""
        return QSize(380, HEIGHT_PX)

    def draw(self, shown: OnScreen) -> None:
        """Show a record's selected reflection, else the one under the pointer."""
        self._shown = shown
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw words and bars."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self._shown is not None:
            row = self._shown.pointed_row if self._shown.chosen_row is None else self._shown.chosen_row
            painter.fillRect(self.rect(), QColor(self._shown.colours.field))
            if row is None:
                self._draw_hint(painter)
            else:
                self._draw_words(painter, row)
                self._draw_bands(painter, row)
        painter.end()

    def _draw_hint(self, painter: QPainter) -> None:
        assert self._shown is not None
        painter.setPen(QColor(self._shown.colours.muted))
        words = "Point at a path, a spot or the tape,\nor select a line above, to read it here."
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, words)

    def _draw_words(self, painter: QPainter, row: int) -> None:
        assert self._shown is not None
        study, theme, width = self._shown.study, self._shown.colours, self.width() - 24
        table = study.arrivals
        bold = QFont(self.font())
        bold.setBold(True)
        painter.setFont(bold)
        painter.setPen(QColor(theme.ink))
        metrics, line = painter.fontMetrics(), self.fontMetrics().height() + 3
        title = metrics.elidedText(path_text(study, row), Qt.TextElideMode.ElideRight, width)
        painter.drawText(QRectF(12, 8, width, line), title)
        painter.setFont(self.font())
        speaker = table.speaker_names[table.speaker[row]]
        seat = table.seat_names[table.seat[row]]
        words = [f"{table.delay_s[row] * 1e3:.2f} ms, from {speaker} to {seat}"]
        words += level_words(study, row)
        words += peak_lines(study, row)
        top = 8 + line
        peak = peak_of(study, row)
        may_be_over = peak is not None and peak.may_be_over and counts_by_itself(study, row, peak)
        wrap = int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignTop)
        for i, text in enumerate(words):
            painter.setPen(QColor(theme.accent if i > 1 and may_be_over else theme.ink))
            place = QRectF(12, top, width, self.height() - BANDS_PX - top)
            painter.drawText(place, wrap, text)
            top += 3 + round(painter.boundingRect(place, wrap, text).height())
        painter.setPen(QColor(theme.muted))
        rest = QRectF(12, top + 3, width, self.height() - BANDS_PX - top - 6)
        painter.drawText(rest, wrap, "\n".join(spot_lines(study, row, self._shown.units)))

    def _draw_bands(self, painter: QPainter, row: int) -> None:
        """Bars that hang from 0 dB, as a level below the direct sound does."""
        assert self._shown is not None
        study, theme = self._shown.study, self._shown.colours
        levels = band_levels(study, row)
        small = QFont(self.font())
        small.setPixelSize(11)
        painter.setFont(small)
        line = painter.fontMetrics().height()
        top, bottom = self.height() - BANDS_PX + line + 4, self.height() - 2 * line - 6
        step = (self.width() - 24) / len(levels)
        painter.setPen(QColor(theme.muted))
        painter.drawText(
            QRectF(12, top - line - 4, self.width() - 24, line), "dB re direct, per octave band in Hz"
        )
        painter.setPen(QColor(theme.hairline))
        painter.drawLine(12, top, self.width() - 12, top)
        centre = Qt.AlignmentFlag.AlignCenter
        for i, (name, level) in enumerate(levels):
            left = 12 + i * step
            depth = min(max(-level, 0.0), LOWEST_DB) / LOWEST_DB if np.isfinite(level) else 1.0
            bar = QRectF(left + 0.25 * step, top, 0.5 * step, max(depth * (bottom - top), 1.0))
            painter.fillRect(bar, QColor(theme.curve))
            painter.setPen(QColor(theme.ink))
            painter.drawText(QRectF(left, bottom + 1, step, line), centre, decibels(level))
            painter.setPen(QColor(theme.muted))
            painter.drawText(QRectF(left, bottom + line, step, line), centre, name)
