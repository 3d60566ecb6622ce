"""Exact specular paths from a source to a listener."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.room import Room

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Paths:
    """Specular paths of one source and one listener, shortest first.

    Attributes
    ----------
    source, listener : (3,) float
        End points. [m]
    points : (n_paths, up_to_order + 2, 3) float
        Source, bounce points, listener; unused rows NaN. [m]
    facets : (n_paths, up_to_order) int
        Facets in bounce order; unused -1.
    order : (n_paths,) int
        Number of bounces, 1 or more.
    length_m : (n_paths,) float
        Length of the whole path.
    direct_m : float
        Straight distance between the two ends.
    direct_visible : bool
        Whether nothing stands in the direct sound's way.
    complete_to_m : float
        No path shorter than this is missing: length of the first path with one more bounce, or the
        limit of the search where there is none.
    """

    source: Floats
    listener: Floats
    points: Floats
    facets: Ints
    order: Ints
    length_m: Floats
    direct_m: float
    direct_visible: bool
    complete_to_m: float


def find_paths(
    room: Room, source: ArrayLike, listener: ArrayLike, *, up_to_order: int = 4, within_s: float = 0.030
) -> Paths:
    """Every specular path up to an order and a delay, none missed and none invented.

    Parameters
    ----------
    room : Room
        Flat facets, normals into the air.
    source, listener : (3,) array_like
        Positions inside the room. [m]
    up_to_order : int
        Largest number of bounces, 0 or more.
    within_s : float
        Latest arrival after the direct sound. [s]

    Returns
    -------
    Paths
        Sorted by length; equal lengths by facets, so that the result does not depend on the search.

    Raises
    ------
    ValueError
        If the two positions coincide or `up_to_order` is negative.

    Notes
    -----
    Image sources in rooms of any shape: J. Borish, J. Acoust. Soc. Am. 75 (1984) 1827 (from memory).
    Facets are closed: a spot on an edge counts. Where two sequences give the same bounce points (a path
    through an edge or corner), one is kept, the same from both ends.
    """
    source = np.ascontiguousarray(source, np.float64)
    listener = np.ascontiguousarray(listener, np.float64)
    direct_m = float(np.linalg.norm(listener - source))
    if direct_m <= room.tolerance_m:
        raise ValueError("source and listener coincide")
    if up_to_order < 0:
        raise ValueError(f"up_to_order must be 0 or more, not {up_to_order}")
    within_m = direct_m + within_s * room.speed_of_sound_m_s
    points, facets, next_order_m = _search(room, source, listener, up_to_order, within_m)
    order = np.count_nonzero(facets >= 0, axis=1)
    length_m = np.nansum(np.linalg.norm(np.diff(points, axis=1), axis=2), axis=1)
    keep = _distinct(points, facets, order, length_m, room.tolerance_m)
    return Paths(
        source=source,
        listener=listener,
        points=points[keep],
        facets=facets[keep],
        order=order[keep],
        length_m=length_m[keep],
        direct_m=direct_m,
        direct_visible=bool(room.is_clear(source[None], listener[None])[0]),
        complete_to_m=min(next_order_m, within_m),
    )


def _search(
    room: Room, source: Floats, listener: Floats, up_to_order: int, within_m: float
) -> tuple[Floats, Ints, float]:
    """Run the kernel with enough room for its answer."""
    from raytrace.kernels.images import search_images

    arrays: Any = room.facet_arrays
    capacity = 512
    while True:
        points = np.full((capacity, up_to_order + 2, 3), np.nan)
        facets = np.full((capacity, up_to_order), -1, np.int64)
        count, next_order_m = search_images(
            source, listener, up_to_order, within_m, arrays, room.tolerance_m, points, facets
        )
        if count <= capacity:
            return points[:count], facets[:count], float(next_order_m)
        capacity = count


def _distinct(points: Floats, facets: Ints, order: Ints, length_m: Floats, tolerance_m: float) -> Ints:
    """Rows to keep, sorted: of paths with the same bounce points the first in reading order.

    The reading starts at the smaller end point, so that both directions keep the same path.
    """
    if not len(order):
        return np.empty(0, np.int64)
    by_length = np.argsort(length_m, kind="stable")
    step = np.diff(length_m[by_length], prepend=length_m[by_length[0]]) > 100 * tolerance_m
    group = np.empty(len(order), np.int64)
    group[by_length] = np.cumsum(step)
    rows = sorted(
        range(len(order)), key=lambda row: (group[row], order[row], _reading(points, facets, order, row))
    )
    kept: list[int] = []
    for row in rows:
        same = False
        for other in reversed(kept):
            if group[other] != group[row]:
                break
            same = order[row] == order[other] and np.allclose(
                points[row], points[other], rtol=0, atol=10 * tolerance_m, equal_nan=True
            )
            if same:
                break
        if not same:
            kept.append(row)
    return np.array(kept, np.int64)


def _reading(points: Floats, facets: Ints, order: Ints, row: int) -> list[int]:
    """Facets of a path, read from the smaller of its two end points."""
    sequence: list[int] = facets[row, : order[row]].tolist()
    backwards = points[row, 0].tolist() > points[row, order[row] + 1].tolist()
    return sequence[::-1] if backwards else sequence
