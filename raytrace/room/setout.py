"""Set-out frames: what an installer measures with a tape while facing a flat face inside the room."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

WITHIN_DEG = 3.0
"""A face that is off by less counts as level or upright."""
LEVEL_COSINE, _UPRIGHT_SINE = math.cos(math.radians(WITHIN_DEG)), math.sin(math.radians(WITHIN_DEG))
_OVERHEAD_SINE = 0.17  # 10 degrees
_LYING_COSINE = math.cos(math.radians(45.0))


class Orientation(Enum):
    """How a flat face lies in the room."""

    LEVEL_UP = "level, looking up"
    LEVEL_DOWN = "level, looking down"
    UPRIGHT = "upright"
    SLOPING = "sloping"

    @property
    def is_level(self) -> bool:
        """Whether it is seen as a plan: set out along the room's length and width."""
        return self in (Orientation.LEVEL_UP, Orientation.LEVEL_DOWN)


def orientation(normal: Floats) -> Orientation:
    """How a face with this unit normal (3,) into the air lies, to within 3 degrees."""
    up = float(normal[2])
    if abs(up) >= LEVEL_COSINE:
        return Orientation.LEVEL_UP if up > 0.0 else Orientation.LEVEL_DOWN
    return Orientation.UPRIGHT if abs(up) <= _UPRIGHT_SINE else Orientation.SLOPING


def looks_up(normal: Floats) -> bool:
    """Whether a face looks up, so that what lay on it would be walked on or in the way."""
    return orientation(normal) is not Orientation.UPRIGHT and float(normal[2]) > 0.0


def is_overhead(normal: Floats) -> bool:
    """Whether a face looks down by more than 10 degrees: what lets go there falls on someone."""
    return float(normal[2]) < -_OVERHEAD_SINE


def is_steep(normal: Floats) -> bool:
    """Whether a face stands rather than lies, 45 degrees between them: a wall to whoever walks up to it."""
    return abs(float(normal[2])) < _LYING_COSINE


def is_underfoot(normal: Floats) -> bool:
    """Whether a face looks up and lies rather than stands: things can stand there, and a plan shows it."""
    return float(normal[2]) >= _LYING_COSINE


@dataclass(frozen=True)
class Frame:
    """Set-out frame of one flat face.

    Attributes
    ----------
    origin : (3,) float
        Where u = v = 0: lower left corner of the smallest rectangle with sides along u and v that
        holds the face; for level faces of the room the point over x = y = 0. [m]
    u, v : (3,) float
        Unit vectors. Level faces of the room: x and y. Else u to the right of a person who faces the
        face, v rising.
    n : (3,) float
        Unit normal into the air; u x v = n, or -n on faces that look down (ceilings).
    width, height : float
        Far sides of the rectangle: largest u and v of the face. [m]
    """

    origin: Floats
    u: Floats
    v: Floats
    n: Floats
    width: float
    height: float

    def to_plane(self, points: ArrayLike) -> Floats:
        """Distances u, v of points. (..., 3) -> (..., 2) [m]"""
        away = np.asarray(points, np.float64) - self.origin
        return np.stack([away @ self.u, away @ self.v], axis=-1)

    def to_room(self, uv: ArrayLike) -> Floats:
        """Points of the face at distances u, v. (..., 2) -> (..., 3) [m]"""
        uv = np.asarray(uv, np.float64)
        across = uv[..., :1] * self.u + uv[..., 1:] * self.v
        if orientation(self.n).is_level:
            # On a nearly level face of the room u and v are plan distances: drop onto the face.
            across = across - ((across @ self.n) / self.n[2])[..., None] * np.array([0.0, 0.0, 1.0])
        points: Floats = self.origin + across
        return points


def room_frame(normal: Floats, offset: float, outlines: Sequence[Floats]) -> Frame:
    """Set-out frame of a face of the room.

    Parameters
    ----------
    normal, offset : (3,) float, float
        Plane of the face, normal . x = offset, normal into the air. [m]
    outlines : sequence of (n, 3) float
        Outlines of its pieces. [m]
    """
    if orientation(normal).is_level:
        origin = np.array([0.0, 0.0, offset / normal[2]])
        u, v = np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
        far = np.concatenate(outlines).max(axis=0)
        return Frame(origin, u, v, normal, float(far[0]), float(far[1]))
    return _fitted(*_upright_axes(normal), normal, outlines)


def object_frame(normal: Floats, length: Floats, outlines: Sequence[Floats]) -> Frame:
    """Set-out frame of a face of an object.

    Parameters
    ----------
    normal : (3,) float
        Unit normal into the air.
    length : (3,) float
        Direction of the object's own length: u on its level faces.
    outlines : sequence of (n, 3) float
        Outlines of its pieces. [m]
    """
    if not orientation(normal).is_level:
        return _fitted(*_upright_axes(normal), normal, outlines)
    u = length - (length @ normal) * normal
    if np.linalg.norm(u) < 0.5:  # the object stands on end
        u = np.array([1.0, 0.0, 0.0]) - normal[0] * normal
    u = u / np.linalg.norm(u)
    v = np.cross(normal if normal[2] > 0 else -normal, u)
    return _fitted(u, v, normal, outlines)


def _upright_axes(normal: Floats) -> tuple[Floats, Floats]:
    u = np.array([-normal[1], normal[0], 0.0])
    u = u / np.linalg.norm(u) + 0.0  # + 0.0 turns -0.0 into 0.0
    return u, np.cross(normal, u) + 0.0


def _fitted(u: Floats, v: Floats, normal: Floats, outlines: Sequence[Floats]) -> Frame:
    """Frame along u and v with its origin at the lower left corner of the outlines."""
    corners = np.concatenate(outlines)
    along = np.stack([corners @ u, corners @ v], axis=1)
    low, far = along.min(axis=0), along.max(axis=0)
    origin = low[0] * u + low[1] * v + (corners[0] @ normal) * normal
    return Frame(origin, u, v, normal, float(far[0] - low[0]), float(far[1] - low[1]))


def shared_rect(rect: Floats, other: Floats) -> Floats:
    """What two upright rectangles u0, v0, u1, v1 share, as one (4,). [m]

    Where they are apart along an axis its far side lies before its near one, by the clear distance.

    Examples
    --------
    >>> shared_rect(np.array([0.0, 0.0, 2.0, 1.0]), np.array([1.5, 3.0, 4.0, 4.0])).tolist()
    [1.5, 3.0, 2.0, 1.0]
    """
    return np.concatenate([np.maximum(rect[:2], other[:2]), np.minimum(rect[2:], other[2:])])


def shared_size_m(rect: Floats, other: Floats) -> Floats:
    """Width and height of what two rectangles share, (2,); less than 0 by how far they are apart. [m]"""
    shared = shared_rect(rect, other)
    size: Floats = shared[2:] - shared[:2]
    return size


def cos_sin(angle_deg: float) -> tuple[float, float]:
    """Cosine and sine of an angle in degrees, exact at quarter turns.

    So a cupboard turned by 90 degrees still stands flush against its wall.

    Examples
    --------
    >>> cos_sin(-270.0)
    (0.0, 1.0)
    """
    quarter = round(angle_deg / 90.0)
    rest = math.radians(angle_deg - 90.0 * quarter)
    cosine, sine = math.cos(rest), math.sin(rest)
    turned = ((cosine, sine), (-sine, cosine), (-cosine, -sine), (sine, -cosine))[quarter % 4]
    return turned[0] + 0.0, turned[1] + 0.0
