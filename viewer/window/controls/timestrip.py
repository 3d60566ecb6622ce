"""The tape under the room: what reaches the seat over time, in milliseconds and in metres of detour."""

from typing import Any

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFont,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPixmap,
)
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from raytrace import Curve, format_length
from viewer.window.controls import heardmarks
from viewer.window.state import OnScreen, Theme, counts_by_itself, heard_rows, hidden_words
from viewer.words import NEAR, decibels, peak_of

LEFT_PX, RIGHT_PX, TOP_PX, TAPE_PX = 52, 16, 22, 46
FROM_S = -0.001
LOWEST_DB, HIGHEST_DB = -40.0, 3.0
DOT_PX, NEAR_PX = 4.0, 8.0
STEP_S = 0.0001
MARKS = {"over": "over the limit", "undecided": NEAR, "below": "below", "not judged": "not judged"}
SCALE_WORDS = "Level re direct sound, dB"
STRETCH = 32  # points of a curve drawn at a time: Qt needs five times as long for all of it at once


class TimeStrip(QWidget):
    """Energy-time curve, limit, arrivals and time cursor of an `OnScreen`."""

    way_pointed = Signal(object, object)  # row or None, where on the screen
    way_chosen = Signal(object)  # row or None
    measured_chosen = Signal(int)  # peak of the measurement that is shown
    time_moved = Signal(object)  # seconds after the direct sound, or None

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: OnScreen | None = None
        self._still: QPixmap | None = None
        self._still_of: tuple[Any, tuple[Any, ...]] = (None, ())
        self._scrubs = False
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.setMinimumHeight(150)
        self.setAccessibleName("What reaches the seat over time")

    def sizeHint(self) -> QSize:
        """As high as the tape needs to be read."""
        return QSize(800, 220)

    def draw(self, shown: OnScreen) -> None:
        """Show a record."""
        self._shown = shown
        self.update()

    def x_of(self, time_s: float) -> float:
        """Pixel of a time."""
        return LEFT_PX + (time_s - FROM_S) / (self._until_s - FROM_S) * self._width

    def time_of(self, x: float) -> float:
        """Time at a pixel, no later than the tape is long. [s]"""
        time_s = FROM_S + (x - LEFT_PX) / self._width * (self._until_s - FROM_S)
        return float(np.clip(time_s, FROM_S, self._until_s))

    def y_of(self, level_db: float) -> float:
        """Pixel of a level; what is below the lowest lies on the tape."""
        return float(self._y_of(np.array(level_db)))

    def _y_of(self, levels_db: np.ndarray) -> np.ndarray:
        share = (HIGHEST_DB - np.maximum(levels_db, LOWEST_DB)) / (HIGHEST_DB - LOWEST_DB)
        return np.asarray(TOP_PX + np.minimum(share, 1.0) * (self.height() - TOP_PX - TAPE_PX))

    def pixel_of_row(self, row: int) -> tuple[float, float]:
        """Where an arrival is drawn."""
        x, y = self._pixels(np.array([row]))[0]
        return float(x), float(y)

    def _pixels(self, rows: np.ndarray) -> np.ndarray:
        """Where arrivals are drawn, (n, 2)."""
        assert self._shown is not None
        table = self._shown.study.arrivals
        share = (table.delay_s[rows] - FROM_S) / (self._until_s - FROM_S)
        return np.stack([LEFT_PX + share * self._width, self._y_of(table.band_level_db[rows])], axis=1)

    @property
    def _until_s(self) -> float:
        return self._shown.until_s if self._shown else 0.030

    @property
    def _width(self) -> float:
        return max(self.width() - LEFT_PX - RIGHT_PX, 10)

    def _rows(self) -> np.ndarray:
        assert self._shown is not None
        return heard_rows(self._shown)

    # Drawing.

    def paintEvent(self, _event: QPaintEvent) -> None:
        """What a study says is drawn once; what is pointed at and the time lie over it."""
        shown, ratio = self._shown, self.devicePixelRatioF()
        if shown is None:
            return
        speaker = shown.chosen[0] if shown.chosen is not None else None
        dress = (
            shown.filter,
            shown.seat,
            speaker,
            shown.theme,
            shown.units,
            shown.until_s,
            None if shown.beside is None else id(shown.beside.study),
            (id(shown.measured), shown.measurement_at),
            self.size(),
            ratio,
        )
        if self._still is None or self._still_of[0] is not shown.study or self._still_of[1] != dress:
            self._still_of = shown.study, dress
            self._still = QPixmap(self.size() * ratio)
            self._still.setDevicePixelRatio(ratio)
            self._draw_still(self._still, shown.colours)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.drawPixmap(0, 0, self._still)
        painter.setClipRect(self._ground.adjusted(-6, -6, 6, 0))
        self._draw_marks(painter, shown.colours)
        painter.setClipping(False)
        self._draw_cursor(painter, shown.colours)
        painter.end()

    @property
    def _ground(self) -> QRectF:
        return QRectF(LEFT_PX, TOP_PX, self._width, self.height() - TOP_PX - TAPE_PX)

    def _draw_still(self, picture: QPixmap, theme: Theme) -> None:
        """Scale, curves, limit, arrivals and tape; a few hundred strokes."""
        picture.fill(QColor(theme.paper))
        painter = QPainter(picture)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(self.font())
        painter.fillRect(self._ground, QColor(theme.field))
        self._draw_scale(painter, theme)
        painter.setClipRect(self._ground.adjusted(-6, -6, 6, 0))
        self._draw_curves(painter, theme)
        self._draw_beside(painter, theme)
        self._draw_limit(painter, theme)
        self._draw_arrivals(painter, theme)
        self._draw_measured(painter)
        self._draw_limit_name(painter, theme)
        painter.setClipping(False)
        self._draw_key(painter, theme)
        self._draw_tape(painter, theme)
        painter.end()

    def _draw_scale(self, painter: QPainter, theme: Theme) -> None:
        for level in range(0, int(LOWEST_DB), -10):
            y = self.y_of(level)
            painter.setPen(QPen(QColor(theme.hairline), 1))
            painter.drawLine(QPointF(LEFT_PX, y), QPointF(LEFT_PX + self._width, y))
            painter.setPen(QColor(theme.muted))
            where = QRectF(0, y - 9, LEFT_PX - 8, 18)
            painter.drawText(
                where, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, decibels(level, 0)
            )
        painter.setPen(QColor(theme.muted))
        right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        where = QRectF(LEFT_PX, 2, self._width, 18)
        painter.drawText(where, right, SCALE_WORDS)

    def _curves(self) -> list[Curve]:
        """Curves that are drawn, last the one in front: of the selected reflection's speaker, if any."""
        assert self._shown is not None
        shown = self._shown
        own = [
            c
            for c in shown.study.curves
            if c.seat == shown.seat and shown.filter.speaker in (None, c.speaker)
        ]
        drawn = [c for c in own if shown.study.scene.speakers[c.speaker].use == "main"] or own
        chosen = shown.chosen[0] if shown.chosen is not None else -1
        first = chosen if chosen in [c.speaker for c in drawn] else drawn[0].speaker if drawn else -1
        return sorted(drawn, key=lambda c: c.speaker == first)

    def _draw_key(self, painter: QPainter, theme: Theme) -> None:
        """Whose curve is whose, and what is grey."""
        assert self._shown is not None
        metrics, curves = painter.fontMetrics(), self._curves()[::-1]
        x: float = LEFT_PX
        names = self._shown.study.scene.speakers
        for i, curve in enumerate(curves):
            painter.setPen(_curve_pen(theme, is_first=i == 0))
            painter.drawLine(QPointF(x, 11), QPointF(x + 22, 11))
            painter.setPen(QColor(theme.muted))
            words = names[curve.speaker].name
            painter.drawText(QPointF(x + 28, 15.5), words)
            x += 28 + metrics.horizontalAdvance(words) + 18
        if self.beside_curve() is not None and self._shown.beside is not None:
            painter.setPen(_beside_pen(theme))
            painter.drawLine(QPointF(x, 11), QPointF(x + 22, 11))
            painter.setPen(QColor(theme.muted))
            words = f"{names[curves[0].speaker].name} in {self._shown.beside.name}"
            painter.drawText(QPointF(x + 28, 15.5), words)
            x += 28 + metrics.horizontalAdvance(words) + 18
        x = heardmarks.draw_key(painter, self._shown, x)
        drawn = set(self._marks(self._rows()))
        end = self.width() - RIGHT_PX - metrics.horizontalAdvance(SCALE_WORDS) - 18
        for mark in (mark for mark in MARKS if mark in drawn):
            if x + 14 + metrics.horizontalAdvance(MARKS[mark]) > end:
                return
            _draw_mark(painter, QPointF(x + DOT_PX, 11), mark, theme, QColor(theme.unjudged))
            painter.setPen(QColor(theme.muted))
            painter.drawText(QPointF(x + 14, 15.5), MARKS[mark])
            x += 14 + metrics.horizontalAdvance(MARKS[mark]) + 18

    def _marks(self, rows: np.ndarray) -> list[str]:
        """Which of `MARKS` each arrival has: the verdict on the peak that it makes; "" for none."""
        assert self._shown is not None
        study, marks = self._shown.study, []
        judged = ~np.isnan(study.arrivals.level_re_limit_db[rows])
        for row, is_judged in zip(rows.tolist(), judged.tolist(), strict=True):
            peak = peak_of(study, row)
            makes_it = peak is not None and counts_by_itself(study, row, peak)
            marks.append(peak.verdict if peak and makes_it else "" if is_judged else "not judged")
        return marks

    def _draw_curves(self, painter: QPainter, theme: Theme) -> None:
        curves = self._curves()
        first = curves[-1].speaker if curves else -1
        for curve in curves:
            line, base = self._line(curve.time_s, curve.level_db), self.y_of(LOWEST_DB)
            pieces = [line[start : start + STRETCH + 1] for start in range(0, len(line) - 1, STRETCH)]
            if curve.speaker == first:
                painter.setPen(Qt.PenStyle.NoPen)
                painter.setBrush(QColor(theme.curve_fill))
                for piece in pieces:
                    feet = [QPointF(piece[-1].x(), base), QPointF(piece[0].x(), base)]
                    painter.drawPolygon([*piece, *feet])
            painter.setPen(_curve_pen(theme, is_first=curve.speaker == first))
            for piece in pieces:
                painter.drawPolyline(piece)

    def beside_curve(self) -> Curve | None:
        """Of the variant that is compared with: the curve of the speaker and seat in front; None without."""
        assert self._shown is not None
        curves, beside = self._curves(), self._shown.beside
        if beside is None or not curves:
            return None
        own, scene = self._shown.study.scene, beside.study.scene
        speaker, seat = own.speakers[curves[-1].speaker].name, own.seats[curves[-1].seat].name
        return next(
            (
                curve
                for curve in beside.study.curves
                if scene.speakers[curve.speaker].name == speaker and scene.seats[curve.seat].name == seat
            ),
            None,
        )

    def _draw_beside(self, painter: QPainter, theme: Theme) -> None:
        curve = self.beside_curve()
        if curve is not None:
            painter.setPen(_beside_pen(theme))
            line = self._line(curve.time_s, curve.level_db)
            for start in range(0, len(line) - 1, STRETCH):
                painter.drawPolyline(line[start : start + STRETCH + 1])

    @property
    def _places(self) -> tuple[heardmarks.Place, heardmarks.Place]:
        return self.x_of, self.y_of

    def _draw_measured(self, painter: QPainter) -> None:
        """What was measured, over what is predicted, until the record ends or noise begins."""
        assert self._shown is not None
        own = heardmarks.measured_here(self._shown)
        if own is not None:
            kept = own.curves.time_s <= own.until_s
            line = self._line(own.curves.time_s[kept], own.curves.level_db[kept])
            heardmarks.draw_measured(painter, self._shown, line, self._places)

    def _line(self, time_s: np.ndarray, levels_db: np.ndarray) -> list[QPointF]:
        """A curve with one point per pixel at most, the highest of each."""
        x = np.round(LEFT_PX + (time_s - FROM_S) / (self._until_s - FROM_S) * self._width).astype(int)
        kept = x <= LEFT_PX + self._width
        starts = np.flatnonzero(np.diff(x[kept], prepend=-1))
        highest = np.maximum.reduceat(levels_db[kept], starts)
        return [
            QPointF(*place) for place in zip(x[starts].tolist(), self._y_of(highest).tolist(), strict=True)
        ]

    @property
    def _is_judged(self) -> bool:
        """Whether a verdict is passed on any of the speakers whose curves are drawn."""
        assert self._shown is not None
        drawn = {(curve.speaker, curve.seat) for curve in self._curves()}
        return any(v.status == "judged" and (v.speaker, v.seat) in drawn for v in self._shown.study.verdicts)

    def _draw_limit(self, painter: QPainter, theme: Theme) -> None:
        """The limit; not where no verdict is passed, since no curve can be over or below it there."""
        assert self._shown is not None
        if not self._is_judged:
            return
        limits = self._shown.study.scene.limits
        start, end, y = self.x_of(0.0), self.x_of(limits.within_ms / 1e3), self.y_of(limits.level_db)
        pen = QPen(QColor(theme.accent), 1.6)
        pen.setDashPattern([6, 4])
        painter.setPen(pen)
        painter.drawPolyline([QPointF(start, y), QPointF(end, y), QPointF(end, y + 18)])

    def _draw_limit_name(self, painter: QPainter, theme: Theme) -> None:
        """Over the line's end, on a ground of its own: peaks may reach up to it. On top what is hidden."""
        assert self._shown is not None
        limits = self._shown.study.scene.limits
        right = min(self.x_of(limits.within_ms / 1e3), LEFT_PX + self._width)
        named = QPointF(right, self.y_of(limits.level_db) - 21)
        if self._is_judged:
            self._draw_words(painter, named, f"{limits.name}: {decibels(limits.level_db, 0)} dB", theme)
        hidden = hidden_words(self._shown.study, self._shown.seat)
        if hidden:
            self._draw_words(painter, QPointF(LEFT_PX + self._width, TOP_PX + 4), hidden, theme)

    def _draw_words(self, painter: QPainter, top_right: QPointF, words: str, theme: Theme) -> None:
        width = painter.fontMetrics().horizontalAdvance(words) + 8
        box = QRectF(top_right.x() - width, top_right.y(), width, 17)
        ground = QColor(theme.field)
        ground.setAlphaF(0.85)
        painter.fillRect(box, ground)
        painter.setPen(QColor(theme.accent))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)

    def _draw_arrivals(self, painter: QPainter, theme: Theme) -> None:
        assert self._shown is not None
        rows = self._rows()
        levels = self._shown.study.arrivals.level_re_limit_db[rows]
        colours = np.round(255 * theme.level_colours(levels)).astype(int).tolist()
        base, accent = self.y_of(LOWEST_DB), QPen(QColor(theme.accent), 1.6)
        of_rows = zip(self._pixels(rows).tolist(), self._marks(rows), colours, strict=True)
        for (x, y), mark, parts in of_rows:
            if y < base:
                dot = QColor(*parts)
                painter.setPen(accent if mark == "over" else dot)
                painter.drawLine(QPointF(x, base), QPointF(x, y))
                _draw_mark(painter, QPointF(x, y), mark, theme, dot)

    def _draw_marks(self, painter: QPainter, theme: Theme) -> None:
        """The reflection under the pointer and the selected one."""
        assert self._shown is not None
        base = self.y_of(LOWEST_DB)
        for row, filled in ((self._shown.pointed_row, False), (self._shown.chosen_row, True)):
            if row is not None:
                x, y = self.pixel_of_row(row)
                painter.setPen(QPen(QColor(theme.accent), 2.2))
                painter.setBrush(QColor(theme.accent) if filled else Qt.BrushStyle.NoBrush)
                painter.drawLine(QPointF(x, base), QPointF(x, y + DOT_PX))
                painter.drawEllipse(QPointF(x, y), DOT_PX + 2, DOT_PX + 2)
        heardmarks.draw_chosen(painter, self._shown, self._places)

    def _draw_tape(self, painter: QPainter, theme: Theme) -> None:
        """A tape measure: milliseconds on its upper edge, metres of detour on its lower one."""
        assert self._shown is not None
        top, bottom = self.height() - TAPE_PX, self.height() - 6
        tape = QRectF(LEFT_PX - 44, top, self._width + 44 + RIGHT_PX - 6, bottom - top)
        painter.setPen(QPen(QColor(theme.hairline), 1))
        painter.setBrush(QColor(theme.pressed))
        painter.drawRoundedRect(tape, 4, 4)
        centre = Qt.AlignmentFlag.AlignCenter
        for ms in range(0, round(self._until_s * 1e3) + 1):
            x, long = self.x_of(ms / 1e3), ms % 5 == 0
            painter.setPen(QPen(QColor(theme.ink if long else theme.muted), 1))
            painter.drawLine(QPointF(x, top), QPointF(x, top + (8 if long else 4)))
            if long:
                painter.drawText(QRectF(x - 30, top + 6, 60, 15), centre, f"{ms}")
        units, speed = self._shown.units, self._shown.study.room.speed_of_sound_m_s
        per_unit_m, name = (1.0, "m") if units == "metric" else (0.3048, "ft")
        n_units = int(self._until_s * speed / per_unit_m)
        every = 1 if n_units < 12 else 5
        for count in range(0, n_units + 1):
            x = self.x_of(count * per_unit_m / speed)
            painter.setPen(QPen(QColor(theme.muted), 1))
            painter.drawLine(QPointF(x, bottom), QPointF(x, bottom - (6 if count % every == 0 else 3)))
            if count % every == 0:
                words = f"{count} {name}" if count else "0"
                painter.drawText(QRectF(x - 25, bottom - 20, 50, 14), centre, words)
        small = QFont(self.font())
        small.setPixelSize(11)
        painter.setFont(small)
        for y, words in ((top + 6, "ms later"), (bottom - 20, "farther")):
            painter.drawText(QRectF(tape.left() + 8, y, 60, 15), Qt.AlignmentFlag.AlignVCenter, words)
        painter.setFont(self.font())

    def _draw_cursor(self, painter: QPainter, theme: Theme) -> None:
        assert self._shown is not None
        time_s = self._shown.time_s
        if time_s is None:
            return
        x = self.x_of(float(np.clip(time_s, FROM_S, self._until_s)))
        painter.setPen(QPen(QColor(theme.ink), 1.6))
        painter.drawLine(QPointF(x, TOP_PX - 6), QPointF(x, self.height() - TAPE_PX))
        speed = self._shown.study.room.speed_of_sound_m_s
        way = format_length(max(time_s, 0.0) * speed, units=self._shown.units, style="m")
        words = f"{time_s * 1e3:.1f} ms" + (f", {way} farther" if time_s >= 0 else "")
        painter.setBrush(QColor(theme.ink))
        width = painter.fontMetrics().horizontalAdvance(words) + 12
        left = min(max(x - width / 2, LEFT_PX), LEFT_PX + self._width - width)
        painter.drawRoundedRect(QRectF(left, 2, width, 18), 3, 3)
        painter.setPen(QColor(theme.paper))
        painter.drawText(QRectF(left, 2, width, 18), Qt.AlignmentFlag.AlignCenter, words)

    # The pointer.

    def _row_at(self, at: QPointF) -> int | None:
        rows = self._rows()
        if not len(rows):
            return None
        pixels = self._pixels(rows)
        away = np.hypot(pixels[:, 0] - at.x(), 0.35 * (pixels[:, 1] - at.y()))
        best = int(np.argmin(away))
        return int(rows[best]) if away[best] < NEAR_PX else None

    def _off_px(self, row: int, event: QMouseEvent) -> float:
        """How far the pointer is from an arrival."""
        x, y = self.pixel_of_row(row)
        return float(np.hypot(x - event.position().x(), y - event.position().y()))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Select an arrival, or begin to pull the time cursor."""
        if self._shown is None or event.button() != Qt.MouseButton.LeftButton:
            return
        row = None if event.position().y() > self.height() - TAPE_PX else self._row_at(event.position())
        measured, off_px = heardmarks.measured_at(self._shown, event.position(), self._places)
        if measured is not None and off_px < NEAR_PX and (row is None or off_px < self._off_px(row, event)):
            self.measured_chosen.emit(measured)
            return
        if row is not None:
            self.way_chosen.emit(row)
            return
        self._scrubs = True
        self.time_moved.emit(self.time_of(event.position().x()))

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Pull the time cursor, or tell what is under the pointer."""
        if self._shown is None:
            return
        if self._scrubs:
            self.time_moved.emit(self.time_of(event.position().x()))
            return
        row = self._row_at(event.position())
        self.way_pointed.emit(row, event.globalPosition().toPoint())

    def mouseReleaseEvent(self, _event: QMouseEvent) -> None:
        """Let go of the time cursor."""
        self._scrubs = False

    def leaveEvent(self, _event: object) -> None:
        """Nothing is under the pointer any more."""
        self.way_pointed.emit(None, None)
        QToolTip.hideText()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Arrow keys step the time cursor by a tenth of a millisecond, with Shift by one."""
        way = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}.get(Qt.Key(event.key()))
        if way is None or self._shown is None:
            super().keyPressEvent(event)
            return
        step = STEP_S * (10 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1)
        time_s = (self._shown.time_s or 0.0) + way * step
        self.time_moved.emit(float(np.clip(time_s, FROM_S, self._until_s)))


def _curve_pen(theme: Theme, *, is_first: bool) -> QPen:
    pen = QPen(QColor(theme.curve), 1.4 if is_first else 1.0)
    pen.setStyle(Qt.PenStyle.SolidLine if is_first else Qt.PenStyle.DotLine)
    return pen


def _beside_pen(theme: Theme) -> QPen:
    pen = QPen(QColor(theme.muted), 1.2)
    pen.setDashPattern([5, 3])
    return pen


def _draw_mark(painter: QPainter, at: QPointF, mark: str, theme: Theme, colour: QColor) -> None:
    """One of `MARKS`: a triangle over the limit, a lozenge too close, a disc below, a ring not judged.

    A small disc for what makes no peak of its own.
    """
    # A rim in the colour of words: weak levels are near the colour of the ground.
    painter.setPen(QPen(QColor(theme.muted), 0.7))
    painter.setBrush(colour)
    x, y, r = at.x(), at.y(), 1.3 * DOT_PX
    if mark == "over":
        painter.drawPolygon([QPointF(x, y - r), QPointF(x + r, y + 0.8 * r), QPointF(x - r, y + 0.8 * r)])
    elif mark == "undecided":
        painter.drawPolygon([QPointF(x, y - r), QPointF(x + r, y), QPointF(x, y + r), QPointF(x - r, y)])
    else:
        if mark == "not judged":
            painter.setBrush(QColor(theme.field))
        size = DOT_PX if mark else 0.6 * DOT_PX
        painter.drawEllipse(at, size, size)
