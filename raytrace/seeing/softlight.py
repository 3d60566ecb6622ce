"""Soft light in a room: how open each place lies, and what lamps and windows send there, by rays."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.room import SLACK, pack_tree

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

RINGS, SPOKES = 8, 12  # directions of the open half space
NEAR_M = 0.7  # what is this near takes 63 % of the light that would come from its direction
DARKEST, BRIGHTEST, CONTRAST = 0.40, 1.0, 2.6  # of what is drawn, however little or much light there is
LIFT_M = 0.002  # off the face, so that it does not hide itself
CROWD = 2048  # places whose rays are followed together
AMBIENT, LEAST_M = 0.62, 0.9  # share of open places; lamps shine no stronger than from so far [m]


@dataclass(frozen=True)
class Glow:
    """Something that shines, as points that share its light.

    Attributes
    ----------
    points : (n, 3) float
        [m]
    strength_m2 : float
        Brightness of a face that it shines on squarely, times the square of the distance.
    facing : (3,) float or None
        A window shines into the room, most strongly straight ahead; a lamp (None) all round.
    """

    points: Floats
    strength_m2: float
    facing: Floats | None = None


def soft_light(triangles: ArrayLike, points: ArrayLike, normals: ArrayLike, glows: Sequence[Glow]) -> Floats:
    """Brightness of places on faces in a room, for pictures: about 1 in the open, 0.5 deep in a corner.

    Parameters
    ----------
    triangles : (n, 3, 3) array_like
        Everything that hides light, seen from either side: a room with what is in it. [m]
    points, normals : (m, 3) array_like
        Places on faces [m]; unit vectors into the air.
    glows : sequence of Glow
        Lamps and windows.

    Returns
    -------
    (m,) float
        The same on every machine and any number of threads: no direction is drawn by lot.

    Raises
    ------
    ValueError
        If all triangles lie in one plane along two axes, or something is no number.

    Notes
    -----
    Ambient part: mean over 96 directions, close together where they count most (by the cosine), of
    1 - exp(-distance / 0.7 m). It is a picture's light and no measure of illuminance.
    """
    triangles = np.ascontiguousarray(triangles, np.float64)
    points, normals = np.asarray(points, np.float64), np.asarray(normals, np.float64)
    if not len(points):
        return np.zeros(0)
    size_m = np.ptp(triangles.reshape(-1, 3), axis=0)
    if not (size_m > 0.0).all() or not all(np.isfinite(a).all() for a in (triangles, points, normals)):
        raise ValueError("triangles must be those round a room, points and normals numbers")
    tree = pack_tree(triangles)
    slack_m = SLACK * float(np.linalg.norm(size_m))
    planes = _planes(triangles)

    def of_crowd(first: int) -> Floats:
        starts, facing = points[first : first + CROWD], normals[first : first + CROWD]
        lifted = starts + LIFT_M * facing
        light = AMBIENT * _openness(tree, planes, lifted, facing, slack_m)
        for glow in glows:
            light += _lit(tree, lifted, facing, glow, slack_m)
        return light

    with ThreadPoolExecutor() as pool:
        light = np.concatenate(list(pool.map(of_crowd, range(0, len(points), CROWD))))
    return np.asarray(DARKEST + (BRIGHTEST - DARKEST) * (1.0 - np.exp(-CONTRAST * light)))


def _planes(triangles: Floats) -> Floats:
    """Normal and offset of the plane of each, (n, 4)."""
    normals = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    return np.column_stack([normals, np.sum(normals * triangles[:, 0], axis=1)])


def _half_space() -> Floats:
    """Directions over a face, as many as the cosine of their angle asks for, (96, 3); the last axis is up."""
    ring, spoke = np.meshgrid(np.arange(RINGS), np.arange(SPOKES), indexing="ij")
    sine = np.sqrt((ring + 0.5) / RINGS)
    angle = 2 * np.pi * (spoke + ring * 0.382) / SPOKES
    cosine = np.sqrt(1.0 - sine**2)
    return np.stack([sine * np.cos(angle), sine * np.sin(angle), cosine], axis=-1).reshape(-1, 3)


def _axes(normals: Floats) -> Floats:
    """Two unit vectors along a face and its normal, (n, 3, 3)."""
    helper = np.where(np.abs(normals[:, 2:]) > 0.9, [[1.0, 0.0, 0.0]], [[0.0, 0.0, 1.0]])
    along = np.cross(helper, normals)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-12)
    return np.stack([along, np.cross(normals, along), normals], axis=1)


def _hit(tree: Any, origins: Floats, directions: Floats, reach_m: Floats, slack_m: float) -> Ints:
    """First triangle on each ray, -1 for none within reach, (n,)."""
    from raytrace.kernels.tree import closest_in_tree

    found, margin = np.empty(len(origins), np.int32), np.empty(len(origins), np.float32)
    closest_in_tree(origins, directions, reach_m, tree, np.float32(slack_m), found, margin)
    return found.astype(np.int64)


def _openness(tree: Any, planes: Floats, points: Floats, normals: Floats, slack_m: float) -> Floats:
    """How much of the half space over each place is free, nearer things counting more, (n,)."""
    directions = (_half_space() @ _axes(normals)).reshape(-1, 3)
    origins = np.repeat(points, RINGS * SPOKES, axis=0)
    found = _hit(tree, origins, directions, np.full(len(origins), np.inf), slack_m)
    plane = planes[found]
    with np.errstate(divide="ignore", invalid="ignore"):
        to_plane = plane[:, 3] - np.einsum("ij,ij->i", plane[:, :3], origins)
        distance_m = to_plane / np.einsum("ij,ij->i", plane[:, :3], directions)
    distance_m = np.where(found < 0, np.inf, np.maximum(np.nan_to_num(distance_m, nan=0.0), 0.0))
    return np.asarray((1.0 - np.exp(-distance_m / NEAR_M)).reshape(len(points), -1).mean(axis=1))


def _lit(tree: Any, points: Floats, normals: Floats, glow: Glow, slack_m: float) -> Floats:
    """What a lamp or window sends to each place, (n,)."""
    ways = glow.points - points[:, None]
    distance_m = np.maximum(np.linalg.norm(ways, axis=2), 1e-6)
    ways /= distance_m[..., None]
    share = np.maximum(np.einsum("ijk,ik->ij", ways, normals), 0.0)
    if glow.facing is not None:
        share *= np.maximum(-(ways @ glow.facing), 0.0)
    share /= distance_m**2 + LEAST_M**2
    row, column = np.nonzero(share > 0.0)
    reach_m = np.maximum(distance_m[row, column] - 2 * LIFT_M, 0.0)
    found = _hit(tree, points[row], np.ascontiguousarray(ways[row, column]), reach_m, slack_m)
    share[row[found >= 0], column[found >= 0]] = 0.0
    return np.asarray(glow.strength_m2 * share.mean(axis=1))
