"""Layers drawn with shading, off-screen. Used only in a process of its own: without GL it crashes."""

import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from viewer import look
from viewer.pictures.camera import Camera
from viewer.pictures.stage import Layer

if TYPE_CHECKING:
    from PIL.Image import Image
    from pyvista import PolyData

OVER_UNITS = -66000.0  # steps of the depth buffer, past the nearest plane of any room


def prefer_off_screen_window() -> None:
    """Let VTK draw without an X server; before it first draws."""
    if sys.platform == "linux":
        os.environ["VTK_DEFAULT_OPENGL_WINDOW"] = "vtkEGLRenderWindow"


def can_draw() -> bool:
    """Whether a coloured face comes out coloured; without any GL library this ends the process."""
    import pyvista as pv

    plotter: Any = pv.Plotter(off_screen=True, window_size=[32, 32], lighting="none")
    try:
        plotter.set_background("white")
        plotter.add_mesh(pv.Plane(i_size=9, j_size=9), color=look.ACCENT, lighting=False)
        plotter.view_xy()
        drawn = np.asarray(plotter.screenshot(return_img=True))[16, 16] / 255.0
    finally:
        plotter.close()
    return bool(np.abs(drawn - look.rgb(look.ACCENT)).max() < 0.05)


def render(layers: Sequence[Layer], camera: Camera) -> "Image":
    """Draw layers as a camera sees them, `look.OVERSAMPLING` times its size."""
    import pyvista as pv
    from PIL import Image

    window = [camera.width * look.OVERSAMPLING, camera.height * look.OVERSAMPLING]
    # Multisampling would make translucent faces vanish under depth peeling.
    plotter: Any = pv.Plotter(off_screen=True, window_size=window, lighting="none")
    try:
        plotter.ren_win.SetMultiSamples(0)
        plotter.set_background(look.WHITE)
        plotter.enable_depth_peeling(number_of_peels=8)
        plotter.renderer.SetUseFXAA(True)  # pyvista puts SSAA in its place, which ends peeling
        _light(plotter, camera)
        for layer in layers:
            if layer.mesh.n_cells:
                _add(plotter, layer)
        _aim(plotter, camera)
        return Image.fromarray(np.asarray(plotter.screenshot(return_img=True))[..., :3])
    finally:
        plotter.close()


def _add(plotter: Any, layer: Layer) -> None:
    looks: dict[str, dict[str, Any]] = {
        "wall": look.WALL_LIGHT,
        "solid": look.SOLID_LIGHT,
        "flat": look.FLAT_LIGHT,
    }
    actor = plotter.add_mesh(
        _coloured(layer),
        scalars="colour",
        rgb=True,
        opacity=layer.opacity,
        smooth_shading=bool(layer.radius_m),
        show_scalar_bar=False,
        **looks[layer.light],
    )
    if layer.is_over:
        lift_over(actor.mapper)


def lift_over(mapper: Any) -> None:
    """Let what a mapper draws win against everything before it."""
    mapper.SetResolveCoincidentTopologyToPolygonOffset()
    mapper.SetRelativeCoincidentTopologyPolygonOffsetParameters(0.0, OVER_UNITS)


def _coloured(layer: Layer) -> "PolyData":
    """The layer's own mesh, or tubes round its lines, with an array `colour` of bytes."""
    colours = np.round(255 * layer.colours).astype(np.uint8)
    mesh = layer.mesh.copy()
    mesh.clear_data()
    if not layer.radius_m:
        mesh.cell_data["colour"] = colours
        return mesh
    points_per_line = np.diff(np.asarray(mesh.GetLines().GetOffsetsArray()))
    mesh.point_data["colour"] = np.repeat(colours, points_per_line, axis=0)
    tubes: PolyData = mesh.tube(radius=layer.radius_m, n_sides=16, capping=True)
    return tubes


def _light(plotter: Any, camera: Camera) -> None:
    import pyvista as pv

    axes = np.stack([camera.right, camera.up, -camera.forward])
    for direction, strength in look.LIGHTS:
        light = pv.Light(
            position=tuple(np.array(direction) @ axes), focal_point=(0, 0, 0), intensity=strength
        )
        light.positional = False
        plotter.add_light(light)


def _aim(plotter: Any, camera: Camera) -> None:
    plotter.camera.position = tuple(camera.position)
    plotter.camera.focal_point = tuple(camera.position + camera.forward)
    plotter.camera.up = tuple(camera.up)
    if camera.parallel:
        plotter.camera.enable_parallel_projection()
        plotter.camera.parallel_scale = camera.half_height
    else:
        plotter.camera.view_angle = float(2 * np.degrees(np.arctan(camera.half_height)))
    plotter.renderer.ResetCameraClippingRange()
