"""How often rays from a face cross the rest of its mesh: on which of its sides the inside lies."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_AT_ONCE = 30_000  # rays times triangles: arrays that stay in the processor's cache


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


def odd_crossings(probes: Floats, normals: Floats, mesh: Sides) -> Ints:
    """How many of five rays from just above each face (n, 3) cross the mesh an odd number of times. (n,)

    T. Moeller, B. Trumbore, J. Graphics Tools 2 (1997) 21 (from memory), its products taken apart so that
    many rays meet all triangles in one multiplication.
    """
    first = np.cross(normals, np.eye(3)[np.argmin(np.abs(normals), axis=1)])
    second = np.cross(normals, first)
    turn, lean = 0.7 + 2.4 * np.arange(5), 0.13 + 0.09 * np.arange(5)  # no ray runs along planes of a room
    aside = (lean * np.cos(turn))[:, None] * first[:, None] + (lean * np.sin(turn))[:, None] * second[:, None]
    directions = (normals[:, None] + aside).reshape(-1, 3)
    starts = np.repeat(probes + 1e-6 * normals - mesh.middle, 5, axis=0)
    is_odd = np.empty(len(starts), bool)
    for begin in range(0, len(starts), step := max(_AT_ONCE // len(mesh.product), 1)):
        rows = slice(begin, begin + step)
        line = np.hstack([np.cross(starts[rows], directions[rows]), directions[rows]]).T  # (6, step)
        det = mesh.product @ directions[rows].T
        with np.errstate(divide="ignore", invalid="ignore"):
            u = (mesh.beside_second @ line) / det
            v = -(mesh.beside_first @ line) / det
            t = (mesh.height[:, None] - mesh.product @ starts[rows].T) / det
            crossed = (u >= 0) & (v >= 0) & (u + v <= 1) & (t > 0)
        is_odd[rows] = np.count_nonzero(crossed, axis=0) % 2 == 1
    n_odd: Ints = np.count_nonzero(is_odd.reshape(-1, 5), axis=1)
    return n_odd
