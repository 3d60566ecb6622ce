"""What a camera sees of faces and bars, pixel by pixel: no graphics library, the same bytes everywhere."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from copy import copy
from dataclasses import dataclass, field
from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Pixels = NDArray[np.uint8]

BANDS = 16  # of a picture, drawn side by side: the same picture on any number of threads
NEAREST_M = 0.05  # nothing nearer to the eye is drawn


class Pattern(IntEnum):
    """What a face looks like close up."""

    PLAIN = 0
    BOARDS = 1
    PLASTER = 2
    CLOTH = 3
    BLOCKS = 4
    GRAIN = 5
    GLASS = 6


@dataclass(frozen=True)
class Grid:
    """Brightness of a flat face at points that are evenly spaced along two axes.

    Attributes
    ----------
    origin : (3,) float
        A place on the face. [m]
    axes : (2, 3) float
        Unit vectors along the face, u and v.
    low, step : (2,) float
        u and v of the first point, and from point to point. [m]
    values : (nv, nu) float
        At least two of each; beyond the outermost ones the light is theirs.
    pattern : Pattern
    """

    origin: Floats
    axes: Floats
    low: Floats
    step: Floats
    values: Floats
    pattern: Pattern


@dataclass(frozen=True)
class Faces:
    """Triangles to draw.

    Attributes
    ----------
    corners : (n, 3, 3) float
        [m]
    colours : (n, 3, 3) float
        Of the corners, 0 to 1.
    grid : (n,) int
        Light and pattern that lie over the colours, -1 for none.
    opacity : (n,) float
        1 is solid.
    """

    corners: Floats
    colours: Floats
    grid: Ints
    opacity: Floats


@dataclass(frozen=True)
class Bars:
    """Round bars to draw.

    Attributes
    ----------
    ends : (n, 2, 3) float
        [m]
    radius_m, opacity : (n,) float
    colours : (n, 3) float
        0 to 1.
    is_shaded : (n,) bool
        Round to look at, or of one colour.
    """

    ends: Floats
    radius_m: Floats
    colours: Floats
    opacity: Floats
    is_shaded: NDArray[np.bool_]


@dataclass(frozen=True)
class Eye:
    """Where a picture is seen from.

    Attributes
    ----------
    position : (3,) float
        [m]
    axes : (3, 3) float
        Unit vectors: right, up, forward.
    half_height : float
        Parallel: half the picture's height [m]. Perspective: tangent of half the vertical view angle.
    is_parallel : bool
    width, height : int
        In pixels.
    """

    position: Floats
    axes: Floats
    half_height: float
    is_parallel: bool
    width: int
    height: int

    def on_screen(self, points: Floats) -> Floats:
        """Pixels from the top left corner, and nearness, of points (..., 3)."""
        flat = (points - self.position) @ self.axes.T
        depth = flat[..., 2]
        scale = self.height / 2 / self.half_height
        across = flat[..., :2] if self.is_parallel else flat[..., :2] / depth[..., None]
        x, y = self.width / 2 + scale * across[..., 0], self.height / 2 - scale * across[..., 1]
        return np.stack([x, y, -depth if self.is_parallel else 1.0 / depth], axis=-1)

    @property
    def pixel_m(self) -> float:
        """Width of a pixel where nearness is 1, in a parallel projection everywhere. [m]"""
        return 2.0 * self.half_height / self.height


@dataclass
class Canvas:
    """A picture that faces and bars are drawn into, in the order of the calls.

    Attributes
    ----------
    eye : Eye
    grids : sequence of Grid
        That `Faces.grid` counts.
    pixels : (height, width, 4) uint8
        Red, green, blue, opacity; nothing at first.
    """

    eye: Eye
    grids: Sequence[Grid] = ()
    pixels: Pixels = field(init=False)
    _near: NDArray[np.float32] = field(init=False)
    _packed: Any = field(init=False)

    def __post_init__(self) -> None:
        self.pixels = np.zeros((self.eye.height, self.eye.width, 4), np.uint8)
        self._near = np.full((self.eye.height, self.eye.width), -np.inf, np.float32)
        self._packed = _pack(self.grids)

    def faces(self, faces: Faces) -> None:
        """Draw triangles; of those that let light through the far ones first."""
        from raytrace.kernels.raster import draw_triangles

        depth = (faces.corners.mean(axis=1) - self.eye.position) @ self.eye.axes[2]
        is_clear = faces.opacity < 1.0
        order = np.lexsort((np.where(is_clear, -depth, 0.0), is_clear))
        order = order[self._before_eye(faces.corners)[order]]
        if not len(order):
            return
        corners, grid = faces.corners[order], faces.grid[order]
        args = (
            self.eye.on_screen(corners),
            faces.colours[order],
            _places(corners, grid, self.grids),
            grid,
            faces.opacity[order],
            self._packed,
            self.eye.is_parallel,
        )
        self._in_bands(
            lambda top, bottom: draw_triangles(
                *args, (top, bottom, self.eye.pixel_m), self._near, self.pixels
            )
        )

    def bars(self, bars: Bars) -> None:
        """Draw bars, the far ones first."""
        from raytrace.kernels.raster import draw_bars

        depth = (bars.ends.mean(axis=1) - self.eye.position) @ self.eye.axes[2]
        order = np.argsort(-depth, kind="stable")
        order = order[self._before_eye(bars.ends)[order]]
        if not len(order):
            return
        screen, radius_m = self.eye.on_screen(bars.ends[order]), bars.radius_m[order]
        scale = np.ones_like(screen[..., 2]) if self.eye.is_parallel else screen[..., 2]
        reach = np.column_stack([radius_m[:, None] * scale / self.eye.pixel_m, radius_m])
        looks = np.column_stack([bars.opacity[order], bars.is_shaded[order].astype(np.float64)])
        args = (screen, reach, bars.colours[order], looks, self.eye.is_parallel)
        self._in_bands(lambda top, bottom: draw_bars(*args, top, bottom, self._near, self.pixels))

    def branch(self) -> "Canvas":
        """A copy to draw on, that leaves this one as it is."""
        other = copy(self)
        other.pixels, other._near = self.pixels.copy(), self._near.copy()
        return other

    def begin_over(self) -> None:
        """Let what is drawn from now on win over everything before it."""
        self._near[:] = -np.inf

    def _before_eye(self, points: Floats) -> NDArray[np.bool_]:
        """Which rows of points (n, k, 3) lie before the eye with all of them."""
        if self.eye.is_parallel:
            return np.ones(len(points), np.bool_)
        depth = (points - self.eye.position) @ self.eye.axes[2]
        return np.asarray(depth.min(axis=1) > NEAREST_M)

    def _in_bands(self, draw: Any) -> None:
        ends = np.linspace(0, self.eye.height, BANDS + 1).astype(int)
        with ThreadPoolExecutor() as pool:
            list(pool.map(draw, ends[:-1].tolist(), ends[1:].tolist()))


def _places(corners: Floats, grid: Ints, grids: Sequence[Grid]) -> Floats:
    """Places of corners (n, 3, 3) along u and v of their grids, (n, 3, 2)."""
    if not grids:
        return np.zeros((len(corners), 3, 2))
    origins = np.array([each.origin for each in grids])[grid]
    axes = np.array([each.axes for each in grids])[grid]
    return np.asarray(np.einsum("nkj,naj->nka", corners - origins[:, None], axes))


def _pack(grids: Sequence[Grid]) -> Any:
    from raytrace.kernels.raster import LightGrids

    sizes = [each.values.size for each in grids]
    flat = [each.values.ravel() for each in grids]
    return LightGrids(
        values=np.concatenate([*flat, np.zeros(1)]).astype(np.float32),
        start=np.cumsum([0, *sizes]).astype(np.int64),
        shape=np.array([each.values.shape[::-1] for each in grids], np.int64).reshape(-1, 2),
        low=np.array([each.low for each in grids], np.float32).reshape(-1, 2),
        step=np.array([each.step for each in grids], np.float32).reshape(-1, 2),
        pattern=np.array([each.pattern for each in grids], np.int64),
    )
