"""The hand over the window's room: pointer and keys become what is asked for."""

from typing import Any

import numpy as np
from PySide6.QtCore import QEvent, QObject, QPointF, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QNativeGestureEvent, QWheelEvent
from PySide6.QtWidgets import QWidget

from viewer.pictures import Camera
from viewer.window.scenery import CutGrip, cut_at, main_rows, pulled_cut
from viewer.window.state import (
    Grip,
    OnScreen,
    along_floor,
    corner_at,
    glides_on,
    moved_to,
    nearer,
    nearest_line,
    nearest_point,
    on_floor,
    plan_of,
    point_of,
    shifted,
    thing_at,
    turned,
)

CLICK_PX = 4.0
BROAD = {"objects", "panels", "stands", "clouds"}  # sound touches them: a click there means the spot, too
NUDGES = {
    Qt.Key.Key_Left: (-1, 0, 0),
    Qt.Key.Key_Right: (1, 0, 0),
    Qt.Key.Key_Up: (0, -1, 0),
    Qt.Key.Key_Down: (0, 1, 0),
    Qt.Key.Key_PageUp: (0, 0, 1),
    Qt.Key.Key_PageDown: (0, 0, -1),
}
PATH_PX, SPOT_PX = 7.0, 12.0
SCROLL_PX = 0.25  # of a pull with the pointer, for each eighth of a degree that fingers go sideways


class Gestures(QObject):
    """What pointer and keys over one widget mean for the `OnScreen` that is drawn there."""

    eye_moved = Signal(object)  # Eye
    way_pointed = Signal(object, object)  # row or None, where on the screen
    way_chosen = Signal(object)  # row or None
    thing_chosen = Signal(object)  # Thing or None
    thing_moving = Signal(object, object)  # Thing, (3,) place
    thing_dropped = Signal(object)  # Thing
    nudged = Signal(int, int, int)  # steps to the right, back and up
    hold_pointed = Signal(object, object)  # pixel, where on the screen
    hold_dropped = Signal(object)  # pixel
    put_wanted = Signal()
    corner_moving = Signal(int, object, object)  # which corner of the plan, (3,) place, where on the screen
    corner_dropped = Signal(int)
    end_measured = Signal(object)  # pixel
    cut_moving = Signal(object, object)  # Cut, where on the screen
    cut_dropped = Signal()
    resized = Signal()

    def __init__(self, surface: QWidget) -> None:
        super().__init__(surface)
        self.shown: OnScreen | None = None
        self._surface = surface
        self._pressed: QPointF | None = None
        self._last = QPointF()
        self.over: tuple[float, float] | None = (
            None  # the pixel under the pointer; None while it is elsewhere
        )
        self._grip: Grip | None = None
        self._corner: int | None = None
        self._slice: CutGrip | None = None
        self._turns = False
        self._pulls = False
        surface.installEventFilter(self)
        surface.setMouseTracking(True)
        surface.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height of the picture."""
        return max(self._surface.width(), 16), max(self._surface.height(), 16)

    @property
    def camera(self) -> Camera:
        """The camera of what is shown."""
        assert self.shown is not None, "nothing is shown yet"
        return self.shown.eye.camera(self.size_px)

    def let_go(self) -> bool:
        """Hold nothing any more, though the button is down; false where nothing was held."""
        if self._grip is None and self._corner is None and self._slice is None:
            return False
        self._pressed = self._grip = self._corner = self._slice = None
        self._pulls = False
        return True

    def end(self) -> None:
        """Leave the widget alone from now on."""
        self._surface.removeEventFilter(self)

    def eventFilter(self, _watched: Any, event: QEvent) -> bool:
        """Keep pointer and keys from VTK and turn them into gestures."""
        kind = event.type()
        if kind == QEvent.Type.Resize:
            QTimer.singleShot(0, self.resized.emit)
            return False
        if self.shown is None:
            return False
        if isinstance(event, QWheelEvent):
            self._scroll(event)
            return True
        if isinstance(event, QNativeGestureEvent):
            return self._pinch(event)
        if kind == QEvent.Type.Leave:
            self.over = None
        if isinstance(event, QMouseEvent):
            self.over = event.position().x(), event.position().y()
            if kind == QEvent.Type.MouseButtonPress:
                self._press(event)
            elif kind == QEvent.Type.MouseMove:
                self._move(event)
            elif kind == QEvent.Type.MouseButtonRelease:
                self._release(event)
            return True
        if isinstance(event, QKeyEvent):
            return kind == QEvent.Type.KeyPress and self._key(event)
        return kind == QEvent.Type.Enter

    def _scroll(self, event: QWheelEvent) -> None:
        """Up and down goes nearer and farther; two fingers on a touchpad that go sideways turn the room."""
        assert self.shown is not None
        across, along = event.angleDelta().x(), event.angleDelta().y()
        if abs(across) > abs(along):
            self.eye_moved.emit(turned(self.shown.eye, SCROLL_PX * across, 0.0))
        else:
            self.eye_moved.emit(nearer(self.shown.eye, 1.0015**along))

    def _pinch(self, event: QNativeGestureEvent) -> bool:
        """Fingers on a touchpad that part go nearer."""
        assert self.shown is not None
        is_pinch = event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture
        if is_pinch:
            self.eye_moved.emit(nearer(self.shown.eye, max(1.0 + event.value(), 0.1)))
        return is_pinch

    def _key(self, event: QKeyEvent) -> bool:
        """Arrow keys move what is selected, else they turn the room."""
        assert self.shown is not None
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.shown.placing is not None:
            self.put_wanted.emit()
            return True
        steps = NUDGES.get(Qt.Key(event.key()))
        if steps is None:
            return False
        right, back, up = steps
        if self.shown.thing is not None or self.shown.placing is not None:
            self.nudged.emit(right, back, up)
        else:
            self.eye_moved.emit(turned(self.shown.eye, 15.0 * right, 15.0 * (back - up)))
        return True

    def _press(self, event: QMouseEvent) -> None:
        assert self.shown is not None
        self._pressed = self._last = event.position()
        self._surface.setFocus()
        self._turns = event.button() == Qt.MouseButton.LeftButton
        pixel = event.position().x(), event.position().y()
        grips = self._turns and self.shown.placing is None and self.shown.measuring is None
        thing = thing_at(self.shown.study, self.camera, pixel) if grips else None
        if thing is not None:
            self._grip = Grip(thing, point_of(self.shown.study, thing), pixel)
            self.thing_chosen.emit(thing)
        elif grips:
            self._corner = corner_at(self.shown, self.camera, pixel)
            self._slice = cut_at(self.shown, self.camera, pixel) if self._corner is None else None

    def _move(self, event: QMouseEvent) -> None:
        assert self.shown is not None
        at = event.position()
        if self._pressed is None and self.shown.placing is not None:
            self.hold_pointed.emit((at.x(), at.y()), event.globalPosition().toPoint())
            return
        if self._pressed is None:
            self._show_grip(at)
            self.way_pointed.emit(self._row_at(at), event.globalPosition().toPoint())
            return
        step, self._last = at - self._last, at
        is_upright = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if self._grip is not None:
            self._pulls |= (at - self._pressed).manhattanLength() >= CLICK_PX
            if not self._pulls:
                return
            along = glides_on(self.shown.study, self._grip.thing)
            place = moved_to(self.camera, self._grip, (at.x(), at.y()), upright=is_upright, along=along)
            self.thing_moving.emit(self._grip.thing, place)
        elif self._corner is not None:
            self._pull_corner(self._corner, self._pressed, event)
        elif self._slice is not None:
            cut = pulled_cut(self._slice, self.shown.study.room, self.camera, (at.x(), at.y()))
            self.cut_moving.emit(cut, event.globalPosition().toPoint())
        elif self._turns and not is_upright:
            self.eye_moved.emit(turned(self.shown.eye, step.x(), step.y()))
        else:
            self.eye_moved.emit(shifted(self.shown.eye, step.x(), step.y(), self.size_px[1]))

    def _show_grip(self, at: QPointF) -> None:
        """The pointer shows where a section can be pulled."""
        assert self.shown is not None
        is_cut = self.shown.cut is not None and cut_at(self.shown, self.camera, (at.x(), at.y())) is not None
        self._surface.setCursor(Qt.CursorShape.SizeAllCursor if is_cut else Qt.CursorShape.ArrowCursor)

    def _pull_corner(self, index: int, pressed: QPointF, event: QMouseEvent) -> None:
        assert self.shown is not None
        at, start = event.position(), on_floor(self.shown.study, plan_of(self.shown.study))[index]
        self._pulls |= (at - pressed).manhattanLength() >= CLICK_PX
        if self._pulls:
            place = along_floor(self.camera, start, (pressed.x(), pressed.y()), (at.x(), at.y()))
            self.corner_moving.emit(index, place, event.globalPosition().toPoint())

    def _release(self, event: QMouseEvent) -> None:
        assert self.shown is not None
        pressed, self._pressed = self._pressed, None
        grip, self._grip = self._grip, None
        corner, self._corner = self._corner, None
        cut, self._slice = self._slice, None
        still = pressed is not None and (event.position() - pressed).manhattanLength() < CLICK_PX
        pulled, self._pulls = self._pulls, False
        if self.shown.placing is not None:
            if still and self._turns:
                self.hold_dropped.emit((event.position().x(), event.position().y()))
        elif corner is not None and pulled:
            self.corner_dropped.emit(corner)
        elif cut is not None and not still:
            self.cut_dropped.emit()
        elif self.shown.measuring is not None:
            if still and self._turns:
                self.end_measured.emit((event.position().x(), event.position().y()))
        elif grip is not None and pulled:
            self.thing_dropped.emit(grip.thing)
        elif still and self._turns and (grip is None or grip.thing[0] in BROAD):
            row = self._row_at(event.position())
            if grip is None or row is not None:
                self.way_chosen.emit(row)
            if grip is None and row is None:
                self.thing_chosen.emit(None)

    def _row_at(self, at: QPointF) -> int | None:
        """The reflection under the pointer: a spot of it first, else its path."""
        assert self.shown is not None
        main, faint = main_rows(self.shown)
        drawn = [("paths", main), ("weaker", faint)]
        rows = np.concatenate([rows for layer, rows in drawn if layer in self.shown.layers] or [main[:0]])
        if not len(rows):
            return None
        table, pixel = self.shown.study.arrivals, (at.x(), at.y())
        first = rows[table.order[rows] == 1]
        spot = nearest_point(self.camera, table.path_points[first, 1], pixel, SPOT_PX)
        if spot is not None:
            return int(first[spot])
        lines = [table.path_points[row][~np.isnan(table.path_points[row, :, 0])] for row in rows]
        line = nearest_line(self.camera, lines, pixel, PATH_PX)
        return None if line is None else int(rows[line])
