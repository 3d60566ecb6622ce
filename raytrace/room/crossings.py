"""How often rays from a face cross the rest of its mesh: on which of its sides the inside lies."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Sides:
    """Triangles as rays meet them, about a middle: what a ray's start and direction are multiplied by.

    Attributes
    ----------
    middle : (3,) float
        [m]
    product : (n, 3) float
        second x first, the edges from a triangle's corner.
    height : (n,) float
        product . corner
    beside_first, beside_second : (n, 6) float
        An edge, then its moment about the middle.
    """

    middle: Floats
    product: Floats
    height: Floats
    beside_first: Floats
    beside_second: Floats


def sides_of(triangles: Floats) -> Sides:
    """The triangles (n, 3, 3) of a mesh, made ready for `odd_crossings`."""
    middle = triangles.mean(axis=(0, 1))
    corners = triangles[:, 0] - middle
    first, second = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    product = np.cross(second, first)
    return Sides(
        middle,
        product,
        np.sum(product * corners, axis=1),
        np.hstack([first, np.cross(corners, first)]),
        np.hstack([second, np.cross(corners, second)]),
    )


def odd_crossings(probe: Floats, normal: Floats, mesh: Sides) -> int:
    """How many of five rays from just above a face cross the mesh an odd number of times.

    T. Moeller, B. Trumbore, J. Graphics Tools 2 (1997) 21 (from memory), its products taken apart so that
    all triangles are met in one multiplication.
    """
    across = np.eye(3)[int(np.argmin(np.abs(normal)))]
    first = np.cross(normal, across)
    second = np.cross(normal, first)
    angles = 0.7 + 2.4 * np.arange(5)  # odd angles: no ray runs along the planes of a room
    aside = np.cos(angles)[:, None] * first + np.sin(angles)[:, None] * second
    directions = normal + (0.13 + 0.09 * np.arange(5))[:, None] * aside
    start = probe + 1e-6 * normal - mesh.middle
    line = np.hstack([np.cross(start, directions), directions]).T  # (6, 5)
    det = mesh.product @ directions.T
    with np.errstate(divide="ignore", invalid="ignore"):
        u = (mesh.beside_second @ line) / det
        v = -(mesh.beside_first @ line) / det
        t = (mesh.height - mesh.product @ start)[:, None] / det
        crossed = (u >= 0) & (v >= 0) & (u + v <= 1) & (t > 0)
    return int(np.count_nonzero(np.count_nonzero(crossed, axis=0) % 2))
