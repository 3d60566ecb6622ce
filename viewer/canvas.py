"""What the graphics card holds of the window's room: an actor for each layer, the camera, names over it."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import pyvista as pv
from PySide6.QtWidgets import QWidget
from pyvistaqt import QtInteractor

from viewer import look
from viewer.camera import Camera
from viewer.drafting import font_folder
from viewer.layers import Floats, Layer
from viewer.roomnames import PlacedName
from viewer.theme import Theme

AROUND_M, NEAREST_M = 2.0, 0.02  # of the room what is drawn besides; nearest to the eye
CULLED = {"walls", "furniture"}
TUBE_SIDES = {"paths": 12, "chosen": 12, "pointed": 12}
LIGHTS = {"wall": look.WALL_LIGHT, "solid": look.SOLID_LIGHT, "flat": look.FLAT_LIGHT}


class Canvas:
    """Layers by their names, seen through one camera; the only one here to speak with VTK."""

    def __init__(self, parent: QWidget) -> None:
        self.surface: Any = QtInteractor(parent, multi_samples=0, auto_update=False, lighting="none")
        self.surface.setAcceptDrops(False)  # a scene file dropped here belongs to the window
        for direction, strength in look.LIGHTS:
            light = pv.Light(
                position=direction, focal_point=(0, 0, 0), intensity=strength, light_type="camera light"
            )
            light.positional = False
            self.surface.add_light(light)
        self._actors: dict[str, Any] = {}
        self._texts: list[Any] = []
        self._planes: Any = None

    def put(self, name: str, layer: Layer) -> None:
        """Show a layer under its name in place of the one before."""
        actor = self._actors.get(name)
        if not layer.mesh.n_cells:
            if actor is not None:
                actor.visibility = False
            return
        mesh = _coloured(layer, TUBE_SIDES.get(name, 6))
        if actor is None:
            actor = self.surface.add_mesh(
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
            if self._planes is not None:
                actor.mapper.SetClippingPlanes(self._planes)
        else:
            # VTK's own setter: pyvista's looks through all arrays of both meshes.
            actor.mapper.SetInputDataObject(mesh)
            actor.visibility = True

    def aim(self, camera: Camera, corners: Floats) -> None:
        """See through a camera all that is at, and a little around, the corners (n, 3) of a room."""
        # VTK's own setters: pyvista's work out the clipping range anew after each.
        depth = camera.depth(corners)
        low, high = float(depth.min()) - AROUND_M, float(depth.max()) + AROUND_M
        # In parallel projection the eye may stand anywhere along the view: in front of everything.
        back = max(NEAREST_M - low, 0.0) if camera.parallel else 0.0
        lens = self.surface.camera
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
        from vtkmodules.vtkCommonDataModel import vtkPlane, vtkPlaneCollection

        self._planes = vtkPlaneCollection()
        for origin, normal in planes:
            plane = vtkPlane()
            plane.SetNormal(*normal)
            plane.SetOrigin(*origin)
            self._planes.AddItem(plane)
        for actor in self._actors.values():
            actor.mapper.SetClippingPlanes(self._planes)

    def write(self, names: Sequence[PlacedName], theme: Theme) -> None:
        """Put names where they have a place."""
        ratio, height = self.surface.devicePixelRatioF(), max(self.surface.height(), 16)
        while len(self._texts) < len(names):
            self._texts.append(self._new_text())
        for actor, entry in zip(self._texts, names, strict=False):
            actor.SetInput(entry.text)
            actor.SetDisplayPosition(
                round(entry.left * ratio), round((height - entry.bottom + entry.descent) * ratio)
            )
            style = actor.GetTextProperty()
            # VTK takes points, and the plotter has told it how many of them make a pixel.
            style.SetFontSize(round(entry.size_px * ratio * 72.0 / self.surface.ren_win.GetDPI()))
            style.SetColor(*look.rgb(theme.accent if entry.is_strong else theme.ink))
            style.SetBackgroundColor(*look.rgb(theme.ground))
            actor.SetVisibility(True)
        for actor in self._texts[len(names) :]:
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
        self.surface.renderer.AddViewProp(actor)
        return actor

    def set_quality(self, *, fine: bool) -> None:
        """Smooth edges and sorted glass, or neither."""
        self.surface.renderer.SetUseFXAA(fine)
        self.surface.renderer.SetUseDepthPeeling(fine)

    def close(self) -> None:
        """Let go of the graphics card; nothing can be drawn afterwards."""
        self.surface.close()


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
