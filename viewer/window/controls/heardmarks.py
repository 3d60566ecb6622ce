"""A measurement on the tape of time: its curve over the predicted one, and its peaks."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from viewer.window.state import OnScreen, Theme

if TYPE_CHECKING:
    from raytrace import Measurement

Place = Callable[[float], float]  # a pixel of a time, or of a level

CROSS_PX, RING_PX, CHOSEN_PX = 4.5, 5.0, 8.0
CURVE, NAMED, UNNAMED = "as measured", "measured peak", "nothing drawn explains it"


def measured_here(shown: OnScreen) -> "Measurement | None":
    """The measurement of the seat that is shown, and of its speaker if one is picked."""
    own = shown.measurement
    if own is None or own.take.seat != shown.seat:
        return None
    return own if shown.filter.speaker in (None, own.take.speaker) else None


def draw_measured(painter: QPainter, shown: OnScreen, line: list[QPointF], at: tuple[Place, Place]) -> None:
    """Curve and peaks of a measurement; `line` is its curve in pixels."""
    own, theme = measured_here(shown), shown.colours
    if own is None:
        return
    painter.setPen(curve_pen(theme))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawPolyline(QPolygonF(line))
    for peak in own.peaks:
        if not peak.is_speakers_own:
            place = QPointF(at[0](peak.peak.delay_s), at[1](peak.peak.level_db))
            draw_peak(painter, place, theme, is_named=not peak.is_unexplained)


def draw_key(painter: QPainter, shown: OnScreen, x: float) -> float:
    """What is measured, in the line over the tape from a pixel on; returns where that goes on."""
    own, theme = measured_here(shown), shown.colours
    if own is None:
        return x
    whose = f"{shown.study.scene.speakers[own.take.speaker].name} {CURVE}"
    signs = [("line", whose), ("cross", NAMED), *[("ring", UNNAMED)] * bool(own.unexplained)]
    for sign, words in signs:
        if sign == "line":
            painter.setPen(curve_pen(theme))
            painter.drawLine(QPointF(x, 11), QPointF(x + 22, 11))
        else:
            draw_peak(painter, QPointF(x + RING_PX, 11), theme, is_named=sign == "cross")
        x += 28 if sign == "line" else 16
        painter.setPen(QColor(theme.muted))
        painter.drawText(QPointF(x, 15.5), words)
        x += painter.fontMetrics().horizontalAdvance(words) + 18
    return x


def draw_chosen(painter: QPainter, shown: OnScreen, at: tuple[Place, Place]) -> None:
    """A ring about the peak that is selected."""
    peak = shown.measured_peak
    if measured_here(shown) is not None and peak is not None:
        painter.setPen(QPen(QColor(shown.colours.accent), 2.2))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        centre = QPointF(at[0](peak.peak.delay_s), at[1](peak.peak.level_db))
        painter.drawEllipse(centre, CHOSEN_PX, CHOSEN_PX)


def measured_at(shown: OnScreen, pixel: QPointF, at: tuple[Place, Place]) -> tuple[int | None, float]:
    """The measured peak nearest to a pixel, and how far it is off; None where there is none."""
    own = measured_here(shown)
    off = [
        (abs(complex(at[0](p.peak.delay_s) - pixel.x(), at[1](p.peak.level_db) - pixel.y())), k)
        for k, p in enumerate(() if own is None else own.peaks)
        if not p.is_speakers_own
    ]
    nearest_px, k = min(off, default=(float("inf"), -1))
    return (k if k >= 0 else None), nearest_px


def curve_pen(theme: Theme) -> QPen:
    """Of the measured curve: strong, over the pale ground of the predicted one."""
    return QPen(QColor(theme.ink), 2.0)


def draw_peak(painter: QPainter, place: QPointF, theme: Theme, *, is_named: bool) -> None:
    """A cross where what is drawn explains a measured peak, an empty ring where nothing does."""
    painter.setPen(QPen(QColor(theme.ink if is_named else theme.accent), 2.0))
    painter.setBrush(QColor(theme.field) if not is_named else Qt.BrushStyle.NoBrush)
    if not is_named:
        painter.drawEllipse(place, RING_PX, RING_PX)
        return
    for slope in (-1.0, 1.0):
        step = QPointF(CROSS_PX, slope * CROSS_PX)
        painter.drawLine(place - step, place + step)
