"""The room in the window: holds one plotter, draws what a record shows, says what the pointer does."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pyvista as pv
from PySide6.QtCore import QEvent, QPointF, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QWheelEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget
from pyvistaqt import QtInteractor

from viewer import look, scenery
from viewer.camera import Camera
from viewer.drafting import font_folder
from viewer.handling import Grip, glides_on, moved_to, point_of, thing_at
from viewer.layers import Layer
from viewer.pointing import nearest_line, nearest_point
from viewer.roomnames import Name, find_names, place_names
from viewer.shown import OnScreen, Thing
from viewer.turning import Eye, nearer, shifted, turned

REST_MS = 160  # after the last move the picture is drawn once more, in full quality
CLICK_PX = 4.0
NUDGES = {
    Qt.Key.Key_Left: (-1, 0, 0),
    Qt.Key.Key_Right: (1, 0, 0),
    Qt.Key.Key_Up: (0, -1, 0),
    Qt.Key.Key_Down: (0, 1, 0),
    Qt.Key.Key_PageUp: (0, 0, 1),
    Qt.Key.Key_PageDown: (0, 0, -1),
}
AROUND_M, NEAREST_M = 2.0, 0.02  # of the room what is drawn besides; nearest to the eye
PATH_PX, SPOT_PX = 7.0, 12.0
CULLED = {"walls", "furniture"}
TUBE_SIDES = {"paths": 12, "chosen": 12, "pointed": 12}
LIGHTS = {"wall": look.WALL_LIGHT, "solid": look.SOLID_LIGHT, "flat": look.FLAT_LIGHT}


class RoomView(QWidget):
    """The room of an `OnScreen`; every gesture leaves as a signal and comes back as a new record."""

    eye_moved = Signal(object)  # Eye
    way_pointed = Signal(object, object)  # row or None, where on the screen
    way_chosen = Signal(object)  # row or None
    thing_chosen = Signal(object)  # Thing or None
    thing_moving = Signal(object, object)  # Thing, (3,) place
    thing_dropped = Signal(object)  # Thing
    nudged = Signal(int, int, int)  # steps to the right, back and up
    resized = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._plotter: Any = QtInteractor(self, multi_samples=0, auto_update=False, lighting="none")
        self._plotter.setAcceptDrops(False)  # a scene file dropped here belongs to the window
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._plotter)
        self._plotter.installEventFilter(self)
        self._plotter.setMouseTracking(True)
        self._plotter.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        for direction, strength in look.LIGHTS:
            light = pv.Light(
                position=direction, focal_point=(0, 0, 0), intensity=strength, light_type="camera light"
            )
            light.positional = False
            self._plotter.add_light(light)
        self._actors: dict[str, Any] = {}
        self._texts: list[Any] = []
        self._keys: dict[str, tuple[Any, ...]] = {}
        self._shown: OnScreen | None = None
        self._pressed: QPointF | None = None
        self._last = QPointF()
        self._grip: Grip | None = None
        self._turns = False
        self._pulls = False
        self._fine = True
        self._rest = QTimer(self, singleShot=True, interval=REST_MS)
        self._rest.timeout.connect(lambda: self._set_quality(fine=True))
        self.n_drawn = 0

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height of the picture."""
        return max(self._plotter.width(), 16), max(self._plotter.height(), 16)

    @property
    def camera(self) -> Camera:
        """The camera of what is shown."""
        assert self._shown is not None, "nothing is shown yet"
        return self._shown.eye.camera(self.size_px)

    def draw(self, shown: OnScreen) -> None:
        """Show a record; only what differs from the last one is built anew."""
        moved = self._shown is not None and shown.eye != self._shown.eye
        self._shown = shown
        for name, key, make in self._parts(shown):
            if not _same(key, self._keys.get(name)):
                self._keys[name] = key
                for part, layer in make().items():
                    self._put(part, layer)
        self._aim(shown.eye)
        self._cut(shown)
        self._write(find_names(shown))
        if moved or not shown.settled:
            self._set_quality(fine=False)
            self._rest.start()
        self.n_drawn += 1
        self._plotter.update()

    def _parts(self, shown: OnScreen) -> list[tuple[str, tuple[Any, ...], Callable[[], dict[str, Layer]]]]:
        """Groups of layers with what each depends on."""
        stage, study, theme = shown.stage, shown.study, shown.colours
        camera = self.camera
        seen = tuple(scenery.seen_facets(stage, camera).tolist())
        inside = shown.view == "seat"
        listed = (study, shown.seat, shown.filter, shown.theme, shown.layers, inside)
        return [
            ("walls", (stage.faces, shown.theme, shown.layers), lambda: scenery.walls(shown)),
            ("edges", (stage.edges, seen, shown.theme, shown.layers), lambda: scenery.edges(shown, camera)),
            ("panes", (stage.faces, shown.theme), lambda: scenery.panes(stage, theme)),
            (
                "speakers",
                (study.scene.speakers, study.scene.seats, shown.thing, shown.theme),
                lambda: scenery.speakers(shown),
            ),
            (
                "seats",
                (study.scene.seats, shown.thing, shown.theme, inside, shown.seat),
                lambda: scenery.seats(shown),
            ),
            (
                "panels",
                (study.room, seen, shown.thing, shown.theme, shown.layers),
                lambda: scenery.panels(shown, camera),
            ),
            ("sound", listed, lambda: scenery.sound(shown)),
            ("spots", listed, lambda: scenery.spots(shown)),
            ("areas", (*listed, shown.chosen), lambda: scenery.areas(shown)),
            ("out", (study, shown.chosen, shown.pointed, shown.theme), lambda: scenery.picked_out(shown)),
            ("balls", (*listed, shown.time_s), lambda: scenery.balls(shown)),
            (
                "measures",
                (study.scene, shown.thing, shown.theme, shown.layers, seen, shown.view),
                lambda: scenery.measures(shown),
            ),
        ]

    def _put(self, name: str, layer: Layer) -> None:
        """Show a layer under its name in place of the one before."""
        actor = self._actors.get(name)
        if not layer.mesh.n_cells:
            if actor is not None:
                actor.visibility = False
            return
        mesh = _coloured(layer, TUBE_SIDES.get(name, 6))
        if actor is None:
            actor = self._plotter.add_mesh(
                mesh,
                scalars="colour",
                rgb=True,
                opacity=layer.opacity,
                smooth_shading=bool(layer.radius_m),
                show_scalar_bar=False,
                culling="back" if name in CULLED else None,
                reset_camera=False,
                render=False,
                **LIGHTS[layer.light],
            )
            self._actors[name] = actor
            self._keys.pop("cut", None)
        else:
            # VTK's own setter: pyvista's looks through all arrays of both meshes.
            actor.mapper.SetInputDataObject(mesh)
            actor.visibility = True

    def _aim(self, eye: Eye) -> None:
        camera = eye.camera(self.size_px)
        # VTK's own setters: pyvista's work out the clipping range anew after each.
        assert self._shown is not None
        depth = camera.depth(self._shown.stage.corners)
        low, high = float(depth.min()) - AROUND_M, float(depth.max()) + AROUND_M
        # In parallel projection the eye may stand anywhere along the view: in front of everything.
        back = max(NEAREST_M - low, 0.0) if camera.parallel else 0.0
        lens = self._plotter.camera
        lens.SetPosition(*(camera.position - back * camera.forward))
        lens.SetFocalPoint(*(camera.position + camera.forward))
        lens.SetViewUp(*camera.up)
        lens.SetParallelProjection(camera.parallel)
        if camera.parallel:
            lens.SetParallelScale(camera.half_height)
        else:
            lens.SetViewAngle(float(2 * np.degrees(np.arctan(camera.half_height))))
        lens.SetClippingRange(max(low + back, NEAREST_M), high + back)

    def _cut(self, shown: OnScreen) -> None:
        """Take away what lies beyond the section plane, names and numbers excepted."""
        from vtkmodules.vtkCommonDataModel import vtkPlane, vtkPlaneCollection

        key = (shown.cut, shown.stage.faces, len(self._actors))
        if _same(key, self._keys.get("cut")):
            return
        self._keys["cut"] = key
        planes = vtkPlaneCollection()
        if shown.cut is not None:
            low, high = shown.study.room.bounds
            normal, origin = np.zeros(3), np.array(low)
            normal[shown.cut.axis] = 1.0 if shown.cut.keeps_far else -1.0
            origin[shown.cut.axis] += shown.cut.share * (high - low)[shown.cut.axis]
            plane = vtkPlane()
            plane.SetNormal(*normal)
            plane.SetOrigin(*origin)
            planes.AddItem(plane)
        for actor in self._actors.values():
            actor.mapper.SetClippingPlanes(planes)

    def _write(self, names: list[Name]) -> None:
        """Names beside what they name, none over another."""
        ratio = self._plotter.devicePixelRatioF()
        placed = place_names(names, self.camera, self.fontMetrics().horizontalAdvance)
        while len(self._texts) < len(placed):
            self._texts.append(self._new_text())
        theme = self._shown.colours if self._shown else None
        for actor, entry in zip(self._texts, placed, strict=False):
            actor.SetInput(entry.text)
            actor.SetDisplayPosition(
                round(entry.left * ratio), round((self.size_px[1] - entry.bottom + entry.descent) * ratio)
            )
            style = actor.GetTextProperty()
            # VTK takes points, and the plotter has told it how many of them make a pixel.
            style.SetFontSize(round(entry.size_px * ratio * 72.0 / self._plotter.ren_win.GetDPI()))
            style.SetColor(*look.rgb(theme.accent if entry.is_strong else theme.ink))
            style.SetBackgroundColor(*look.rgb(theme.ground))
            actor.SetVisibility(True)
        for actor in self._texts[len(placed) :]:
            actor.SetVisibility(False)

    def _new_text(self) -> Any:
        from vtkmodules.vtkCommonCore import VTK_FONT_FILE
        from vtkmodules.vtkRenderingCore import vtkTextActor

        actor = vtkTextActor()
        style = actor.GetTextProperty()
        style.SetFontFamily(VTK_FONT_FILE)
        style.SetFontFile(str(font_folder() / look.FONT_FILES["regular"]))
        style.SetBackgroundOpacity(0.72)
        style.SetUseTightBoundingBox(False)
        self._plotter.renderer.AddViewProp(actor)
        return actor

    def _set_quality(self, *, fine: bool) -> None:
        """Smooth edges and sorted glass at rest; neither while things move."""
        if fine == self._fine and self.n_drawn:
            return
        self._fine = fine
        self._plotter.renderer.SetUseFXAA(fine)
        self._plotter.renderer.SetUseDepthPeeling(fine)
        self._plotter.update()

    def set_ground(self, colour: str) -> None:
        """Colour behind the room."""
        self._plotter.set_background(colour)

    def picture(self) -> np.ndarray:
        """What is on the screen, (height, width, 3) uint8."""
        self._set_quality(fine=True)
        return np.asarray(self._plotter.screenshot(return_img=True))

    def close_plotter(self) -> None:
        """Let go of the graphics card; nothing can be drawn afterwards."""
        self._rest.stop()
        self._plotter.removeEventFilter(self)
        self._plotter.close()

    # The pointer.

    def eventFilter(self, _watched: Any, event: QEvent) -> bool:
        """Keep pointer and keys from VTK and turn them into gestures."""
        kind = event.type()
        if kind == QEvent.Type.Resize:
            QTimer.singleShot(0, self.resized.emit)
            return False
        if self._shown is None:
            return False
        if isinstance(event, QWheelEvent):
            self.eye_moved.emit(nearer(self._shown.eye, 1.0015 ** event.angleDelta().y()))
            return True
        if isinstance(event, QMouseEvent):
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

    def _key(self, event: QKeyEvent) -> bool:
        """Arrow keys move what is selected, else they turn the room."""
        assert self._shown is not None
        steps = NUDGES.get(Qt.Key(event.key()))
        if steps is None:
            return False
        right, back, up = steps
        if self._shown.thing is not None:
            self.nudged.emit(right, back, up)
        else:
            self.eye_moved.emit(turned(self._shown.eye, 15.0 * right, 15.0 * (back - up)))
        return True

    def take_keys(self) -> None:
        """Arrow keys go to the room from now on."""
        self._plotter.setFocus()

    def _press(self, event: QMouseEvent) -> None:
        assert self._shown is not None
        self._pressed = self._last = event.position()
        self._plotter.setFocus()
        self._turns = event.button() == Qt.MouseButton.LeftButton
        pixel = event.position().x(), event.position().y()
        thing = thing_at(self._shown.study, self.camera, pixel) if self._turns else None
        if thing is not None:
            self._grip = Grip(thing, point_of(self._shown.study, thing), pixel)
            self.thing_chosen.emit(thing)

    def _move(self, event: QMouseEvent) -> None:
        assert self._shown is not None
        at = event.position()
        if self._pressed is None:
            self.way_pointed.emit(self._row_at(at), event.globalPosition().toPoint())
            return
        step, self._last = at - self._last, at
        is_upright = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if self._grip is not None:
            self._pulls |= (at - self._pressed).manhattanLength() >= CLICK_PX
            if not self._pulls:
                return
            along = glides_on(self._shown.study, self._grip.thing)
            place = moved_to(self.camera, self._grip, (at.x(), at.y()), upright=is_upright, along=along)
            self.thing_moving.emit(self._grip.thing, place)
        elif self._turns and not is_upright:
            self.eye_moved.emit(turned(self._shown.eye, step.x(), step.y()))
        else:
            self.eye_moved.emit(shifted(self._shown.eye, step.x(), step.y(), self.size_px[1]))

    def _release(self, event: QMouseEvent) -> None:
        assert self._shown is not None
        pressed, self._pressed = self._pressed, None
        grip, self._grip = self._grip, None
        still = pressed is not None and (event.position() - pressed).manhattanLength() < CLICK_PX
        pulled, self._pulls = self._pulls, False
        if grip is not None and pulled:
            self.thing_dropped.emit(grip.thing)
        elif still and grip is None and self._turns:
            row = self._row_at(event.position())
            self.way_chosen.emit(row)
            if row is None:
                self.thing_chosen.emit(None)

    def _row_at(self, at: QPointF) -> int | None:
        """The reflection under the pointer: a spot of it first, else its path."""
        assert self._shown is not None
        main, faint = scenery.main_rows(self._shown)
        drawn = [("paths", main), ("weaker", faint)]
        rows = np.concatenate([rows for layer, rows in drawn if layer in self._shown.layers] or [main[:0]])
        if not len(rows):
            return None
        table, pixel = self._shown.study.arrivals, (at.x(), at.y())
        first = rows[table.order[rows] == 1]
        spot = nearest_point(self.camera, table.path_points[first, 1], pixel, SPOT_PX)
        if spot is not None:
            return int(first[spot])
        lines = [table.path_points[row][~np.isnan(table.path_points[row, :, 0])] for row in rows]
        line = nearest_line(self.camera, lines, pixel, PATH_PX)
        return None if line is None else int(rows[line])

    def pixel_of_row(self, row: int) -> tuple[float, float]:
        """Where the first spot of a reflection lies in the picture."""
        assert self._shown is not None
        x, y = self.camera.project(self._shown.study.arrivals.path_points[row, 1])
        return float(x), float(y)

    def pixel_of_thing(self, thing: Thing) -> tuple[float, float]:
        """Where a thing lies in the picture."""
        assert self._shown is not None
        x, y = self.camera.project(point_of(self._shown.study, thing))
        return float(x), float(y)


def _same(one: tuple[Any, ...], other: tuple[Any, ...] | None) -> bool:
    """Whether two keys name the same: large things by identity, small ones by value."""
    if other is None or len(one) != len(other):
        return False
    small = str | int | float | frozenset | tuple | bool | None | Eye | scenery.Small
    return all(a is b or (isinstance(a, small) and a == b) for a, b in zip(one, other, strict=True))


def _coloured(layer: Layer, sides: int) -> pv.PolyData:
    """The layer's faces, or tubes round its lines, with their colours in bytes."""
    colours = np.round(255 * layer.colours).astype(np.uint8)
    mesh = pv.PolyData()
    mesh.ShallowCopy(layer.mesh)
    mesh.clear_data()
    if not layer.radius_m:
        mesh.cell_data["colour"] = colours
        return mesh
    points_per_line = np.diff(np.asarray(mesh.GetLines().GetOffsetsArray()))
    mesh.point_data["colour"] = np.repeat(colours, points_per_line, axis=0)
    tubes: pv.PolyData = mesh.tube(radius=layer.radius_m, n_sides=sides, capping=True)
    return tubes
