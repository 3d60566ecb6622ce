"""Layers drawn in the room's own light, without any graphics library."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from raytrace import Bars, Canvas, Eye, Faces
from viewer import look
from viewer.pictures.camera import Camera
from viewer.pictures.faces import column, loops_of
from viewer.pictures.lighting import Lighting, corner_light
from viewer.pictures.parts import middles
from viewer.pictures.stage import Layer

if TYPE_CHECKING:
    from PIL.Image import Image

Floats = NDArray[np.float64]


def see(layers: Sequence[Layer], camera: Camera, *, lighting: Lighting | None = None) -> "Image":
    """Draw layers as a camera sees them, `look.OVERSAMPLING` times its size.

    Parameters
    ----------
    layers : sequence of Layer
        In any order.
    camera : Camera
    lighting : Lighting, optional
        Of the room; without it every face has its own colour only.

    Returns
    -------
    Image
        Red, green, blue and opacity: where nothing is seen, the picture is clear.
    """
    from PIL import Image

    canvas = canvas_for(camera, lighting)
    for is_over in (False, True):
        if is_over:
            canvas.begin_over()
        lay(canvas, [layer for layer in layers if layer.is_over == is_over], camera, lighting)
    return Image.fromarray(canvas.pixels, "RGBA")


def canvas_for(camera: Camera, lighting: Lighting | None) -> Canvas:
    """An empty picture of `look.OVERSAMPLING` times a camera's size."""
    times = look.OVERSAMPLING
    axes = np.stack([camera.right, camera.up, camera.forward])
    size = times * camera.width, times * camera.height
    eye = Eye(camera.position, axes, camera.half_height, camera.parallel, *size)
    return Canvas(eye, () if lighting is None else lighting.grids)


def lay(canvas: Canvas, layers: Sequence[Layer], camera: Camera, lighting: Lighting | None) -> None:
    """Draw layers into a picture; what lets light through comes last, over all that is solid behind it."""
    drawn = [_turned_to(layer, camera) for layer in layers if layer.mesh.n_cells]
    faces = [_faces(layer, lighting) for layer in drawn if not layer.radius_m]
    bars = [_bars(layer) for layer in drawn if layer.radius_m]
    canvas.faces(_joined(faces, is_solid=True))
    if bars:
        parts = zip(*((b.ends, b.radius_m, b.colours, b.opacity, b.is_shaded) for b in bars), strict=True)
        canvas.bars(Bars(*(np.concatenate(part) for part in parts)))
    canvas.faces(_joined(faces, is_solid=False))


def _turned_to(layer: Layer, camera: Camera) -> Layer:
    """The layer without walls that turn their back to the camera."""
    if layer.light != "wall":
        return layer
    return layer.only(camera.sees(middles(layer.mesh), column(layer.mesh, "normal", 3)))


def _faces(layer: Layer, lighting: Lighting | None) -> Faces:
    """Triangles of a layer, with their light where it has one."""
    loops = loops_of(layer.mesh)
    own, shades = np.full(len(loops), -1), [np.ones(len(loop)) for loop in loops]
    if lighting is not None and layer.opacity > look.PANEL_OPEN_OPACITY:  # what is fainter is a hint
        grid = next((name for name in ("facet", "grid") if layer.mesh.has(name)), None)
        if grid is not None:
            own = column(layer.mesh, grid).astype(np.int64)
        if layer.light != "flat" and (own < 0).any():
            others = [loop for loop, grid_of in zip(loops, own, strict=True) if grid_of < 0]
            found = iter(corner_light(lighting, layer.mesh, others))
            shades = [shade if own[i] >= 0 else next(found) for i, shade in enumerate(shades)]
    fans = [(i, [0, k, k + 1]) for i, loop in enumerate(loops) for k in range(1, len(loop) - 1)]
    return Faces(
        np.array([loops[i][fan] for i, fan in fans]).reshape(-1, 3, 3),
        np.array([layer.colours[i] * shades[i][fan, None] for i, fan in fans]).reshape(-1, 3, 3),
        np.array([own[i] for i, _ in fans], np.int64),
        np.full(len(fans), layer.opacity),
    )


def _joined(faces: Sequence[Faces], *, is_solid: bool) -> Faces:
    """The solid ones of triangles, or the others."""
    empty = Faces(np.empty((0, 3, 3)), np.empty((0, 3, 3)), np.empty(0, np.int64), np.empty(0))
    together = [
        np.concatenate(part)
        for part in zip(*((f.corners, f.colours, f.grid, f.opacity) for f in (*faces, empty)), strict=True)
    ]
    kept = (together[3] >= 1.0) == is_solid
    return Faces(*(part[kept] for part in together))


def _bars(layer: Layer) -> Bars:
    """Every straight piece of a layer's lines as a bar."""
    lines = loops_of(layer.mesh)
    rows = np.repeat(np.arange(len(lines)), [len(line) - 1 for line in lines])
    ends = [line[i : i + 2] for line in lines for i in range(len(line) - 1)]
    return Bars(
        np.array(ends).reshape(-1, 2, 3),
        np.full(len(rows), layer.radius_m),
        layer.colours[rows],
        np.full(len(rows), layer.opacity),
        np.full(len(rows), layer.light != "flat"),
    )
