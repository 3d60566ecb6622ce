"""What lies under the pointer: lines and points of the room against a place in the picture."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from viewer.pictures import Camera

Floats = NDArray[np.float64]
Pixel = tuple[float, float]

NEAR_M = 0.05  # what is nearer to the eye than this is behind it for the pointer


def nearest_line(camera: Camera, lines: Sequence[Floats], pixel: Pixel, within_px: float) -> int | None:
    """The open line (k, 3) that runs nearest to a pixel; None if none runs within so many pixels."""
    found = [_line_distance_px(camera, line, pixel) for line in lines]
    return _smallest(found, within_px)


def nearest_point(camera: Camera, points: Floats, pixel: Pixel, within_px: float) -> int | None:
    """The point (n, 3) nearest to a pixel; None if none is within so many pixels."""
    found = [_line_distance_px(camera, np.array([point, point]), pixel) for point in points]
    return _smallest(found, within_px)


def _smallest(distances_px: list[float], within_px: float) -> int | None:
    if not distances_px or min(distances_px) > within_px:
        return None
    return int(np.argmin(distances_px))


def _line_distance_px(camera: Camera, line: Floats, pixel: Pixel) -> float:
    """Smallest distance of a line's picture from a pixel; inf where all of it is behind the eye."""
    starts, ends = line[:-1].copy(), line[1:].copy()
    if not camera.parallel:
        front, back = camera.depth(starts), camera.depth(ends)
        kept = (front > NEAR_M) | (back > NEAR_M)
        starts, ends, front, back = starts[kept], ends[kept], front[kept], back[kept]
        if not len(starts):
            return float(np.inf)
        span = np.where(np.abs(back - front) > 1e-12, back - front, 1.0)
        cut = ((NEAR_M - front) / span)[:, None]
        place = starts + cut * (ends - starts)
        starts = np.where((front < NEAR_M)[:, None], place, starts)
        ends = np.where((back < NEAR_M)[:, None], place, ends)
    a, b = camera.project(starts), camera.project(ends)
    way = b - a
    length2 = np.maximum(np.sum(way * way, axis=1), 1e-12)
    share = np.clip(np.sum((np.array(pixel) - a) * way, axis=1) / length2, 0.0, 1.0)
    return float(np.linalg.norm(a + share[:, None] * way - np.array(pixel), axis=1).min())


def ray(camera: Camera, pixel: Pixel) -> tuple[Floats, Floats]:
    """Start and unit direction of what is seen at a pixel, both (3,)."""
    step = camera.half_height / (camera.height / 2)
    right = (pixel[0] - camera.width / 2) * step
    above = (camera.height / 2 - pixel[1]) * step
    sideways = right * camera.right + above * camera.up
    if camera.parallel:
        return camera.position + sideways, camera.forward
    direction = camera.forward + sideways
    return camera.position, direction / np.linalg.norm(direction)


def inside_outline(camera: Camera, points: Floats, pixel: Pixel) -> bool:
    """Whether a pixel lies in the convex outline of the picture of points (n, 3)."""
    if not camera.parallel and (camera.depth(points) < NEAR_M).any():
        return False
    flat = camera.project(points) - np.array(pixel)
    turn = np.sort(np.arctan2(flat[:, 1], flat[:, 0]))
    gaps = np.diff(np.concatenate([turn, turn[:1] + 2 * np.pi]))
    return bool(gaps.max() < np.pi)
