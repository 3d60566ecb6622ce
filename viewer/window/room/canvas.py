"""The picture of the window's room: VTK draws it beside the screen, Qt puts it there with names over it."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import vtkmodules.vtkRenderingOpenGL2  # noqa: F401 (brings what the classes below draw with)
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Signal
from PySide6.QtGui import QColor, QFont, QImage, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget
from vtkmodules.vtkCommonCore import vtkUnsignedCharArray
from vtkmodules.vtkCommonDataModel import vtkImageData, vtkPlane, vtkPlaneCollection, vtkPolyData
from vtkmodules.vtkFiltersCore import vtkTubeFilter
from vtkmodules.vtkRenderingCore import (
    vtkActor,
    vtkLight,
    vtkPolyDataMapper,
    vtkRenderer,
    vtkRenderWindow,
    vtkTexture,
)

from viewer import look
from viewer.pictures import Camera, Floats, Layer, lift_over, vtk_array
from viewer.window.scenery import UNCUT, PlacedName, face_planes, lit
from viewer.window.state import THEMES, Theme

AROUND_M, NEAREST_M = 2.0, 0.02  # of the room what is drawn besides; nearest to the eye
CULLED = {"walls", "furniture"}
TUBE_SIDES = {"paths": 12, "chosen": 12, "pointed": 12, "heard made by": 12}
LIGHTS = {"wall": look.WALL_LIGHT, "solid": look.SOLID_LIGHT, "flat": look.FLAT_LIGHT}
# Lines that are thinner than a pixel from where a room is seen as a whole, in pixels: as tubes they tear.
THIN_PX = {
    "edges": 1.8,
    "area edges": 1.6,
    "dimensions": 1.2,
    "weaker": 1.0,
    "near misses": 1.4,
    "cords": 1.0,
    "zone edges": 1.0,
    "panel edges": 1.3,
    "furniture edges": 1.3,
    "axes": 1.5,
    "pane edges": 1.2,
    "cut hatching": 1.0,
    "cut outlines": 1.4,
    "bass floor lines": 0.8,
    "bass shape lines": 0.8,
    "bass hatching": 1.2,
}
NEARER_UNITS = -400.0  # steps of the depth buffer
NAME_GROUND = 0.72  # opacity of what lies under a name


class Canvas(QWidget):
    """Layers by their names, seen through one camera.

    VTK draws beside the screen and Qt puts the picture where it belongs: a widget that draws with OpenGL
    itself makes Qt compose the whole window anew for every stroke in any part of it. What is to be drawn is
    asked for as late as can be, by `wanted`.
    """

    wanted = Signal()  # put, aim and write now: a picture is about to be drawn

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self._renderer, self._window = vtkRenderer(), vtkRenderWindow()
        self._window.SetOffScreenRendering(True)
        self._window.SetMultiSamples(0)  # with it translucent faces vanish under depth peeling
        self._window.AddRenderer(self._renderer)
        self._renderer.SetAutomaticLightCreation(False)
        for direction, strength in look.LIGHTS:
            light = vtkLight()
            light.SetLightTypeToCameraLight()
            light.SetPosition(*direction)
            light.SetIntensity(strength)
            self._renderer.AddLight(light)
        self._light = vtkTexture()
        self._light.InterpolateOn()
        self._light.RepeatOff()
        self._actors: dict[str, Any] = {}
        self._faces: dict[str, tuple[Layer, tuple[Floats, Floats]]] = {}  # flat ones that light falls on
        self._camera: Camera | None = None
        self._planes = vtkPlaneCollection()
        self._names: Sequence[PlacedName] = ()
        self._theme = THEMES["light"]
        self._pixels = np.empty((0, 0, 4), np.uint8)
        self._is_stale = True
        self.set_quality(fine=True)

    def shine(self, pixels: NDArray[np.uint8]) -> None:
        """Take another picture of the light on faces, (height, width)."""
        image = vtkImageData()
        image.SetDimensions(pixels.shape[1], pixels.shape[0], 1)
        image.GetPointData().SetScalars(vtk_array(np.repeat(pixels.reshape(-1, 1), 3, axis=1)))
        self._light.SetInputData(image)

    def put(self, name: str, layer: Layer, light: tuple[Floats, Floats] | None = None) -> None:
        """Show a layer under its name in place of the one before.

        `light` on its faces is what `LightMap.on` says; without it, light falls on them from the camera.
        """
        actor = self._actors.get(name)
        if actor is None:
            actor = self._actors[name] = self._new_actor(name, layer)
        actor.SetVisibility(layer.mesh.n_cells > 0)
        self._faces.pop(name, None)
        if layer.mesh.n_cells:
            sides = 0 if name in THIN_PX else TUBE_SIDES.get(name, 6)
            actor.GetMapper().SetInputDataObject(
                _coloured(layer, sides) if light is None else _lightened(layer, *light)
            )
            actor.SetTexture(None if light is None else self._light)
            actor.GetProperty().SetOpacity(layer.opacity)
            actor.GetProperty().SetLineWidth(THIN_PX.get(name, 1.0) * self.devicePixelRatioF())
            if layer.light != "flat" and not layer.radius_m and light is None:
                self._faces[name] = layer, face_planes(layer.mesh)
                self._light_face(name)

    def _light_face(self, name: str) -> None:
        """Let light fall on flat faces."""
        if self._camera is not None:
            layer, planes = self._faces[name]
            colours = lit(layer.colours, planes, LIGHTS[layer.light], self._camera)
            mesh = self._actors[name].GetMapper().GetInput()
            mesh.GetCellData().SetScalars(vtk_array(np.round(255 * colours).astype(np.uint8)))

    def _new_actor(self, name: str, layer: Layer) -> Any:
        actor, mapper = vtkActor(), vtkPolyDataMapper()
        if name not in UNCUT:
            mapper.SetClippingPlanes(self._planes)
        actor.SetMapper(mapper)
        style, light = actor.GetProperty(), LIGHTS[layer.light if layer.radius_m else "flat"]
        style.SetAmbient(light["ambient"])
        style.SetDiffuse(light["diffuse"])
        style.SetSpecular(light["specular"])
        style.SetLighting(light["diffuse"] > 0)
        style.SetBackfaceCulling(name in CULLED)
        if layer.is_over:
            lift_over(mapper)
        elif name in THIN_PX:
            # An edge lies in both faces that meet there: a few steps of depth nearer it is seen whole.
            mapper.SetResolveCoincidentTopologyToPolygonOffset()
            mapper.SetRelativeCoincidentTopologyLineOffsetParameters(0.0, NEARER_UNITS)
        self._renderer.AddActor(actor)
        return actor

    def aim(self, camera: Camera, corners: Floats) -> None:
        """See through a camera all that is at, and a little around, the corners (n, 3) of a room."""
        if self._camera is None or not _is_same(camera, self._camera):
            self._camera = camera
            for name in self._faces:
                self._light_face(name)
        depth = camera.depth(corners)
        low, high = float(depth.min()) - AROUND_M, float(depth.max()) + AROUND_M
        # In parallel projection the eye may stand anywhere along the view: in front of everything.
        back = max(NEAREST_M - low, 0.0) if camera.parallel else 0.0
        lens = self._renderer.GetActiveCamera()
        lens.SetPosition(*(camera.position - back * camera.forward))
        lens.SetFocalPoint(*(camera.position + camera.forward))
        lens.SetViewUp(*camera.up)
        lens.SetParallelProjection(camera.parallel)
        if camera.parallel:
            lens.SetParallelScale(camera.half_height)
        else:
            lens.SetViewAngle(float(2 * np.degrees(np.arctan(camera.half_height))))
        lens.SetClippingRange(max(low + back, NEAREST_M), high + back)

    def cut(self, planes: Sequence[tuple[Floats, Floats]]) -> None:
        """Take away what lies behind planes given by a point and the direction that is kept, both (3,)."""
        self._planes.RemoveAllItems()
        for origin, normal in planes:
            plane = vtkPlane()
            plane.SetNormal(*normal)
            plane.SetOrigin(*origin)
            self._planes.AddItem(plane)

    def write(self, names: Sequence[PlacedName]) -> None:
        """Put names where they have a place."""
        self._names = names

    def set_theme(self, theme: Theme) -> None:
        """Colours of the ground and of names."""
        self._theme = theme
        self._renderer.SetBackground(*look.rgb(theme.ground))
        self.refresh()

    def set_quality(self, *, fine: bool) -> None:
        """Smooth edges and glass sorted by depth, or neither."""
        self._renderer.SetUseFXAA(fine)
        self._renderer.SetUseDepthPeeling(fine)
        self._renderer.SetUseOIT(fine)
        self.refresh()

    def refresh(self) -> None:
        """Draw anew when the window is next painted."""
        self._is_stale = True
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """The picture, and over it the names."""
        ratio = self.devicePixelRatioF()
        width, height = max(round(ratio * self.width()), 16), max(round(ratio * self.height()), 16)
        if self._is_stale or self._pixels.shape[:2] != (height, width):
            self.wanted.emit()
            self._is_stale = False
            self._pixels = self._drawn(width, height)
        image = QImage(self._pixels.data, width, height, 4 * width, QImage.Format.Format_RGBX8888)
        image.setDevicePixelRatio(ratio)
        painter = QPainter(self)
        painter.drawImage(0, 0, image)
        self._draw_names(painter)
        painter.end()

    def _drawn(self, width: int, height: int) -> np.ndarray:
        """The room alone, (height, width, 4) uint8."""
        self._window.SetSize(width, height)
        self._window.Render()
        data: Any = vtkUnsignedCharArray()  # that it is taken here, and has a buffer, its stubs do not say
        self._window.GetRGBACharPixelData(0, 0, width - 1, height - 1, 0, data)
        return np.ascontiguousarray(np.asarray(memoryview(data)).reshape(height, width, 4)[::-1])

    def _draw_names(self, painter: QPainter) -> None:
        ground, font = QColor(self._theme.ground), QFont(self.font())
        ground.setAlphaF(NAME_GROUND)
        for name in self._names:
            font.setPixelSize(round(name.size_px))
            painter.setFont(font)
            metrics = painter.fontMetrics()
            baseline = QPointF(name.left, name.bottom - name.descent)
            width = metrics.horizontalAdvance(name.text)
            box = QRectF(name.left, baseline.y() - metrics.ascent(), width, metrics.height())
            painter.fillRect(box.adjusted(-2, 0, 2, 0), ground)
            painter.setPen(QColor(self._theme.accent if name.is_strong else self._theme.ink))
            painter.drawText(baseline, name.text)

    def picture(self) -> np.ndarray:
        """What is on the screen, (height, width, 3) uint8."""
        image = self.grab().toImage().convertToFormat(QImage.Format.Format_RGBX8888)
        rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine())
        return rows[:, : 4 * image.width()].reshape(image.height(), -1, 4)[..., :3].copy()

    def end(self) -> None:
        """Let go of the graphics card; nothing can be drawn afterwards."""
        self._actors.clear()
        self._renderer.RemoveAllViewProps()
        self._window.Finalize()


def _is_same(one: Camera, other: Camera) -> bool:
    """Whether light falls alike for both."""
    return bool(
        one.parallel == other.parallel
        and np.array_equal(one.position, other.position)
        and np.array_equal(one.forward, other.forward)
        and np.array_equal(one.up, other.up)
    )


def _lightened(layer: Layer, shades: Floats, texels: Floats) -> vtkPolyData:
    """The layer's faces with light at each of their corners, which belong to one face each."""
    mesh = vtkPolyData()
    mesh.ShallowCopy(layer.mesh)
    mesh.GetCellData().Initialize()
    counts = np.diff(np.asarray(memoryview(mesh.GetPolys().GetOffsetsArray())))
    colours = np.repeat(layer.colours, counts, axis=0) * shades[:, None]
    mesh.GetPointData().SetScalars(vtk_array(np.round(255 * colours).astype(np.uint8)))
    mesh.GetPointData().SetTCoords(vtk_array(texels))
    return mesh


def _coloured(layer: Layer, sides: int) -> vtkPolyData:
    """The layer's faces or lines, or tubes with so many sides round them, their colours in bytes."""
    colours = np.round(255 * layer.colours).astype(np.uint8)
    mesh = vtkPolyData()
    mesh.ShallowCopy(layer.mesh)
    mesh.GetCellData().Initialize()
    if not layer.radius_m or not sides:
        mesh.GetCellData().SetScalars(vtk_array(colours))
        return mesh
    points_per_line = np.diff(np.asarray(memoryview(mesh.GetLines().GetOffsetsArray())))
    mesh.GetPointData().SetScalars(vtk_array(np.repeat(colours, points_per_line, axis=0)))
    tubes = vtkTubeFilter()
    tubes.SetInputData(mesh)
    tubes.SetRadius(layer.radius_m)
    tubes.SetNumberOfSides(sides)
    tubes.SetCapping(True)
    tubes.Update()
    made: vtkPolyData = tubes.GetOutput()
    return made
