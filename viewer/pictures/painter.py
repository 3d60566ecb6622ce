"""The layers of a picture drawn flat with matplotlib, where no GL library can be loaded."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from viewer import look
from viewer.pictures.camera import Camera
from viewer.pictures.faces import loops_of
from viewer.pictures.stage import Layer

if TYPE_CHECKING:
    from PIL.Image import Image

Floats = NDArray[np.float64]

_LIGHT_FROM = np.array([-0.35, -0.45, 0.82])


def paint(layers: Sequence[Layer], camera: Camera) -> "Image":
    """Draw layers in their order, the far cells of each first.

    Parameters
    ----------
    layers : sequence of Layer
        Back to front.
    camera : Camera
        Its size in pixels is that of the reduced picture.

    Returns
    -------
    Image
        `look.OVERSAMPLING` times the camera's size.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from PIL import Image

    width, height = camera.width * look.OVERSAMPLING, camera.height * look.OVERSAMPLING
    figure = Figure(figsize=(width / 100, height / 100), dpi=100, facecolor=look.WHITE)
    canvas: Any = FigureCanvasAgg(figure)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0, camera.width)
    axes.set_ylim(camera.height, 0)
    axes.set_axis_off()
    for layer in layers:
        if layer.mesh.n_cells:
            axes.add_collection(_collection(layer, camera), autolim=False)
    canvas.draw()
    return Image.fromarray(np.asarray(canvas.buffer_rgba())[..., :3].copy())


def _collection(layer: Layer, camera: Camera) -> Any:
    from matplotlib.collections import LineCollection, PolyCollection

    loops = loops_of(layer.mesh)
    middles = np.array([loop.mean(axis=0) for loop in loops])
    order = np.argsort(-camera.depth(middles), kind="stable")
    flat = [camera.project(loops[i]) for i in order]
    colours = layer.colours[order]
    points_per_px = 72 / 100 * look.OVERSAMPLING
    if layer.radius_m:
        widths = [2 * layer.radius_m * camera.pixels_per_metre(middles[i]) * points_per_px for i in order]
        widths = [max(width, 0.8) for width in widths]
        return LineCollection(
            flat, colors=colours, linewidths=widths, alpha=layer.opacity, capstyle="round", joinstyle="round"
        )
    if layer.light != "flat":
        colours = colours * _shade([loops[i] for i in order], camera)[:, None]
    # A hairline in the face's own colour closes the seams between neighbours.
    seam = "face" if layer.opacity == 1.0 else "none"
    return PolyCollection(
        flat, facecolors=np.clip(colours, 0, 1), edgecolors=seam, linewidths=0.6, alpha=layer.opacity
    )


def _shade(loops: Sequence[Floats], camera: Camera) -> Floats:
    """Brightness of faces by how they are turned, 0.86 to 1.02."""
    normals = np.array([np.cross(loop[1] - loop[0], loop[2] - loop[0]) for loop in loops])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    middles = np.array([loop.mean(axis=0) for loop in loops])
    normals = np.where(camera.sees(middles, normals)[:, None], normals, -normals)
    shade: Floats = 0.94 + 0.08 * normals @ _LIGHT_FROM
    return shade
