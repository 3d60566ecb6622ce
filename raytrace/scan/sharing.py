"""Which of several rooms each triangle of a scan is of: the nearest of those whose air it faces."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from raytrace.scan.looking import looks

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_BESIDE_M = 0.35  # what another room is no nearer to than this nobody doubts: thicker walls are houses' own
_N_PLACES = 6  # of a room next to a triangle, which tell where from there the room is
_LOOKS_M, _MOST_OF = np.array([0.05, 0.1, 0.2]), 0.5  # so far into its air one looks back; most must see it
_SEEN_M = 0.03  # a look that ends this near what it was aimed at has seen it: scans are rough
_LOW_M = 0.10  # looks keep so far from floor and ceiling, which they would graze
_UPRIGHT = 0.5


def shared_out(
    corners: Floats, tree: Any, places: Sequence[Floats], ceiling_m: Sequence[Floats], floor_m: float
) -> tuple[Ints, Bools]:
    """Which room each triangle is of, and of which others it is too: a wall drawn as one sheet is of both.

    Parameters
    ----------
    corners : (n, 3, 3) float
        Of the triangles, and `tree` made of them. [m]
    places : sequence of (k, 2) float
        Of each room: where it has air. [m]
    ceiling_m : sequence of (k,) float
        Of each room: height of the ceiling over its places. [m]
    floor_m : float

    Returns
    -------
    owner : (n,) int
        A row of `places`.
    of : (n_rooms, n) bool
    """
    from scipy.spatial import cKDTree

    middles = corners.mean(axis=1)
    n_places = min(_N_PLACES, *map(len, places))
    found = [cKDTree(own).query(middles[:, :2], range(1, n_places + 1)) for own in places]
    away_m = np.stack([far_m[:, 0] for far_m, _ in found])
    owner = away_m.argmin(axis=0)
    of = owner == np.arange(len(places))[:, None]
    close = np.flatnonzero((away_m <= away_m.min(axis=0) + _BESIDE_M).sum(axis=0) > 1)
    if not len(close):
        return owner, of
    seen, side = np.zeros((2, len(places), len(close)))
    normals = np.cross(corners[close, 1] - corners[close, 0], corners[close, 2] - corners[close, 0])
    for k, (_, rows) in enumerate(found):
        own = np.flatnonzero(away_m[k, close] <= away_m[:, close].min(axis=0) + _BESIDE_M)
        aims, near = middles[close[own]], rows[close[own]]
        way = places[k][near].mean(axis=1) - aims[:, :2]
        way /= np.maximum(np.linalg.norm(way, axis=1), 1e-9)[:, None]
        starts = np.repeat(aims[None], len(_LOOKS_M), axis=0)
        starts[..., :2] += (away_m[k, close[own]] + _LOOKS_M[:, None])[..., None] * way
        top_m = np.maximum(ceiling_m[k][near[:, 0]] - _LOW_M, floor_m + _LOW_M)
        starts[..., 2] = np.clip(starts[..., 2], floor_m + _LOW_M, top_m)
        back = (aims - starts).reshape(-1, 3)
        far_m = np.maximum(np.linalg.norm(back, axis=1), 1e-9)
        met_m, _ = looks(corners, tree, starts.reshape(-1, 3), back / far_m[:, None])
        seen[k, own] = (met_m > far_m - _SEEN_M).reshape(starts.shape[:2]).mean(axis=0) > _MOST_OF
        side[k, own] = np.sign(np.einsum("nd,nd->n", way, normals[own, :2]))
    sees = seen > 0.0
    hidden_m = np.where(sees, 0.0, 10.0 * _BESIDE_M)
    owner[close] = (away_m[:, close] + hidden_m).argmin(axis=0)
    upright = np.abs(normals[:, 2]) < _UPRIGHT * np.linalg.norm(normals, axis=1)
    across = side * side[owner[close], np.arange(len(close))] < 0.0
    of[:, close] = (owner[close] == np.arange(len(places))[:, None]) | (sees & across & upright)
    return owner, of
