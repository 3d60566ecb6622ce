"""Where a picture is seen from, and where a point of the room lands in it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Camera:
    """A camera fitted to a picture of width x height pixels.

    Attributes
    ----------
    position : (3,) float
        Eye; for a parallel projection any point far in front of the room. [m]
    right, up, forward : (3,) float
        Unit vectors of the picture.
    half_height : float
        Parallel: half the picture's height [m]. Perspective: tangent of half the vertical view angle.
    parallel : bool
        Which of the two.
    width, height : int
        Picture size in pixels.
    """

    position: Floats
    right: Floats
    up: Floats
    forward: Floats
    half_height: float
    parallel: bool
    width: int
    height: int

    def project(self, points: Floats) -> Floats:
        """Pixels from the top left corner of points (..., 3), (..., 2)."""
        offset = np.asarray(points, np.float64) - self.position
        flat = np.stack([offset @ self.right, offset @ self.up], axis=-1)
        if not self.parallel:
            flat = flat / (offset @ self.forward)[..., None]
        flat = flat / self.half_height * (self.height / 2)
        pixels: Floats = flat * np.array([1.0, -1.0]) + np.array([self.width / 2, self.height / 2])
        return pixels

    def depth(self, points: Floats) -> Floats:
        """Distance in front of the eye along the viewing direction. [m]"""
        return np.asarray((np.asarray(points, np.float64) - self.position) @ self.forward)

    def to_eye(self, points: Floats) -> Floats:
        """Unit vectors from points (n, 3) to the eye, (n, 3)."""
        points = np.asarray(points, np.float64)
        if self.parallel:
            return np.broadcast_to(-self.forward, points.shape)
        away = self.position - points
        unit: Floats = away / np.linalg.norm(away, axis=-1, keepdims=True)
        return unit

    def sees(self, points: Floats, normals: Floats) -> Bools:
        """Whether faces through `points` with `normals` are turned towards the eye, (n,)."""
        cosine = np.sum(self.to_eye(points) * np.asarray(normals, np.float64), axis=-1)
        return np.asarray(cosine > 1e-9)

    def pixels_per_metre(self, point: Floats) -> float:
        """Scale of the picture at a point."""
        reach = 1.0 if self.parallel else float(self.depth(point))
        return self.height / 2 / (self.half_height * reach)


def fit_camera(
    points: Floats,
    towards_viewer: tuple[float, float, float],
    *,
    up: tuple[float, float, float],
    view_angle_deg: float | None,
    size: tuple[int, int],
    margin: float = 0.0,
) -> Camera:
    """The closest camera looking along one direction that still shows all points.

    Parameters
    ----------
    points : (n, 3) float
        What must be in the picture. [m]
    towards_viewer, up : (3,)
        Direction from the room to the eye; what points upwards in the picture.
    view_angle_deg : float or None
        Vertical angle of a perspective; None for a parallel projection. [degrees]
    size : (width, height)
        Picture size in pixels.
    margin : float
        Share of width and height kept free on each side.
    """
    forward = -np.asarray(towards_viewer, np.float64)
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, up)
    right /= np.linalg.norm(right)
    above = np.cross(right, forward)
    width, height = size
    axes = np.stack([right, above, forward])
    flat = np.asarray(points, np.float64) @ axes.T
    inner = 1.0 - 2.0 * margin
    low, high = flat.min(axis=0), flat.max(axis=0)
    if view_angle_deg is None:
        half_height = max((high[1] - low[1]) / 2, (high[0] - low[0]) / 2 * height / width) / inner
        middle = (low + high) / 2
        eye = np.array([middle[0], middle[1], low[2] - 10.0])
        return Camera(eye @ axes, right, above, forward, float(half_height), True, width, height)
    tangent = float(np.tan(np.radians(view_angle_deg) / 2))
    slopes = np.array([tangent * width / height, tangent]) * inner
    # Each side of the picture bounds the eye by one line; the eye stands where the tighter pair meets.
    ahead = flat[:, 2:]
    lowest = (flat[:, :2] - slopes * ahead).max(axis=0)
    highest = (flat[:, :2] + slopes * ahead).min(axis=0)
    back = ((highest - lowest) / (2 * slopes)).min()
    middle = (lowest + highest) / 2
    eye = np.array([middle[0], middle[1], back])
    return Camera(eye @ axes, right, above, forward, tangent, False, width, height)


def hidden_points(camera: Camera, points: Floats, triangles: Floats, *, near_m: float) -> Bools:
    """Whether triangles stand between the eye and each point.

    Parameters
    ----------
    camera : Camera
        Where from.
    points : (n, 3) float
        What one wants to see. [m]
    triangles : (m, 3, 3) float
        What is drawn as solid.
    near_m : float
        Triangles closer to the point than this do not hide it (a spot lies on its wall). [m]

    Returns
    -------
    (n,) bool
    """
    if len(triangles) == 0:
        return np.zeros(len(points), bool)
    start = points[:, None, :]
    ray = camera.to_eye(points)[:, None, :]
    corner = triangles[:, 0]
    side_a, side_b = triangles[:, 1] - corner, triangles[:, 2] - corner
    cross = np.cross(ray, side_b)
    determinant = np.sum(cross * side_a, axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        from_corner = start - corner
        a = np.sum(from_corner * cross, axis=-1) / determinant
        turned = np.cross(from_corner, side_a)
        b = np.sum(np.broadcast_to(ray, turned.shape) * turned, axis=-1) / determinant
        reach = np.sum(side_b * turned, axis=-1) / determinant
        hit = (a >= 0) & (b >= 0) & (a + b <= 1) & (reach > near_m)
    return np.asarray(hit.any(axis=1))
