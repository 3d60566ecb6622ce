"""A scan and the room fitted to it, in the window: turned by hand, a surface pulled along its normal."""

from PySide6.QtCore import QPointF, Qt, Signal
from PySide6.QtGui import QMouseEvent, QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from viewer.pictures import Camera
from viewer.window.room.canvas import Canvas
from viewer.window.scenery import place_names, scan_layers, scan_names
from viewer.window.state import ScanOnScreen, nearer, pulled, surface_at, turned

_STILL_PX = 3.0


class ScanView(QWidget):
    """The scan of a `ScanOnScreen`."""

    eye_moved = Signal(object)  # Eye
    chosen = Signal(object, bool)  # row or None, whether beside what is selected
    pulling = Signal(float)  # metres into the room, so far
    dropped = Signal()
    resized = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("The scan and the room fitted to it")
        QVBoxLayout(self).setContentsMargins(0, 0, 0, 0)
        self._canvas: Canvas | None = None  # few sessions ever see a scan
        self._shown: ScanOnScreen | None = None
        self._pressed: QPointF | None = None
        self._last = QPointF()
        self._row: int | None = None  # the surface in the hand

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height of the picture."""
        return max(self.width(), 16), max(self.height(), 16)

    @property
    def camera(self) -> Camera:
        """The camera of what is shown."""
        assert self._shown is not None
        assert self._shown.eye is not None
        return self._shown.eye.camera(self.size_px)

    def draw(self, shown: ScanOnScreen) -> None:
        """Show a record when the window is next painted."""
        canvas = self._canvas
        if canvas is None:
            canvas = self._canvas = Canvas(self)
            canvas.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
            canvas.wanted.connect(self._build)
            place = self.layout()
            assert place is not None  # set when the view was made
            place.addWidget(canvas)
        if self._shown is None or self._shown.theme != shown.theme:
            canvas.set_theme(shown.colours)
        self._shown = shown
        canvas.refresh()

    def _build(self) -> None:
        shown, canvas = self._shown, self._canvas
        if canvas is None or shown is None or shown.room is None or shown.eye is None:
            return
        camera = self.camera
        for name, layer in scan_layers(shown, camera).items():
            canvas.put(name, layer)
        canvas.aim(camera, shown.room.points)
        measure = self.fontMetrics().horizontalAdvance
        canvas.write(place_names(scan_names(shown, camera), camera, measure))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The room fills the new size."""
        super().resizeEvent(event)
        self.resized.emit()

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Nearer and farther."""
        if self._shown is not None and self._shown.eye is not None:
            self.eye_moved.emit(nearer(self._shown.eye, 1.0015 ** event.angleDelta().y()))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of the selected surface, or of the room."""
        shown = self._shown
        if shown is None or shown.eye is None:
            return
        self._pressed = self._last = event.position()
        at = surface_at(shown, self.camera, (event.position().x(), event.position().y()))
        self._row = at if shown.chosen == (at,) else None

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Pull the surface along its normal, or turn the room."""
        shown = self._shown
        if self._pressed is None or shown is None or shown.eye is None:
            return
        if self._row is not None:
            step = event.position() - self._pressed
            self.pulling.emit(pulled(shown, self.camera, self._row, (step.x(), step.y())))
        else:
            step = event.position() - self._last
            self.eye_moved.emit(turned(shown.eye, step.x(), step.y()))
        self._last = event.position()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Leave the surface there; a click selects one."""
        shown, start = self._shown, self._pressed
        self._pressed = None
        if shown is None or start is None or shown.eye is None:
            return
        step = event.position() - start
        if abs(step.x()) + abs(step.y()) <= _STILL_PX:
            at = surface_at(shown, self.camera, (start.x(), start.y()))
            beside = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
            self.chosen.emit(at, beside)
        elif self._row is not None:
            self.dropped.emit()
        self._row = None

    def end(self) -> None:
        """Let go of the graphics card; nothing can be drawn afterwards."""
        if self._canvas is not None:
            self._canvas.end()
