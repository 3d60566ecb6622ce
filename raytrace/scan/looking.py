"""Looking about in a scan: from where, what is seen, which side of a surface has the air."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from raytrace.room import SLACK, pack_tree

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_EYE_M = 1.2  # height of ears that sit
_CLEAR_M = 0.25
_MOST_PLACES, _MOST_LOOKS = 12, 60
_SEEN_M = 0.06  # a look that ends this near what it was aimed at has seen it
_NO_FLOOR_M = 0.15  # what lies higher than this over the floor is another surface


@dataclass(frozen=True)
class Sight:
    """A scan made ready for looks: its triangles in a tree, and places to look from, (n, 3) [m]."""

    triangles: Floats
    tree: Any
    places: Floats


def sight_in(points: Floats, triangles: Ints) -> Sight:
    """Places in the air of a scan, far from each other, and the scan to look at from there."""
    corners = np.ascontiguousarray(points[triangles])
    tree = pack_tree(corners)
    low, high = np.percentile(points, 1, axis=0), np.percentile(points, 99, axis=0)
    axes = [np.linspace(a, b, 15)[1:-1] for a, b in zip(low[:2], high[:2], strict=True)]
    eye = low[2] + min(_EYE_M, 0.5 * (high[2] - low[2]))
    grid = np.stack(np.meshgrid(*axes, [eye], indexing="ij"), axis=-1).reshape(-1, 3)
    around = _directions()
    seen_m, _ = looks(corners, tree, np.repeat(grid, len(around), axis=0), np.tile(around, (len(grid), 1)))
    seen_m = seen_m.reshape(len(grid), -1)
    within = (np.isfinite(seen_m).mean(axis=1) >= 0.8) & (seen_m.min(axis=1) >= _CLEAR_M)
    if not within.any():
        within = np.isfinite(seen_m).mean(axis=1) >= np.isfinite(seen_m).mean(axis=1).max()
    return Sight(corners, tree, _far_apart(grid[within], seen_m[within].min(axis=1)))


def air_side(sight: Sight, normal: Floats, middles: Floats, numbers: Ints) -> int:
    """1 where a plane's normal points into the air as far as can be seen, -1 where against it, 0 unknown.

    Parameters
    ----------
    sight : Sight
    normal : (3,) float
    middles : (n, 3) float
        Middles of some of its triangles. [m]
    numbers : (n,) int
        Which triangles those are.
    """
    chosen = np.unique(np.linspace(0, len(middles) - 1, _MOST_LOOKS).astype(int))
    aims, wanted = middles[chosen], numbers[chosen]
    starts = np.repeat(sight.places, len(aims), axis=0)
    ways = np.tile(aims, (len(sight.places), 1)) - starts
    far_m = np.maximum(np.linalg.norm(ways, axis=1), 1e-9)
    seen_m, met = looks(sight.triangles, sight.tree, starts, ways / far_m[:, None])
    # One of its own that lies before the one aimed at will do; another surface before it hides it.
    near = np.isin(met, numbers) & (np.abs(seen_m - far_m) <= _SEEN_M)
    seen = (met == np.tile(wanted, len(sight.places))) | near
    # A look along the surface says little of its side.
    across = -(ways @ normal) / far_m
    return int(np.sign(round(float((seen * across).sum()), 6)))


def share_open_behind(sight: Sight, normal: Floats, middles: Floats) -> float:
    """Share of a surface behind which nothing more of the scan lies: high for a wall, low for furniture."""
    chosen = np.unique(np.linspace(0, len(middles) - 1, _MOST_LOOKS).astype(int))
    starts = middles[chosen] - 2 * _SEEN_M * normal
    met_m, _ = looks(sight.triangles, sight.tree, starts, np.broadcast_to(-normal, starts.shape))
    return float(np.isinf(met_m).mean())


def share_goes_on(sight: Sight, places: Floats, *, floor_m: float) -> float:
    """Share of places (n, 3) from which something is seen overhead and no floor below: as over furniture."""
    chosen = np.unique(np.linspace(0, len(places) - 1, _MOST_LOOKS).astype(int))
    starts = places[chosen]
    up = np.broadcast_to([0.0, 0.0, 1.0], starts.shape)
    above_m, _ = looks(sight.triangles, sight.tree, starts, up)
    below_m, _ = looks(sight.triangles, sight.tree, starts, -up)
    is_floor = np.isfinite(below_m) & (starts[:, 2] - below_m < floor_m + _NO_FLOOR_M)
    return float((np.isfinite(above_m) & ~is_floor).mean())


def looks(corners: Floats, tree: Any, starts: Floats, ways: Floats) -> tuple[Floats, Ints]:
    """How far each look goes (inf where nothing is met) and which triangle it meets, -1 for none."""
    from raytrace.kernels.tree import closest_in_tree

    met, margin = np.empty(len(starts), np.int32), np.empty(len(starts), np.float32)
    size_m = 2 * float(np.linalg.norm(tree.half))
    starts, ways = np.ascontiguousarray(starts), np.ascontiguousarray(ways)
    closest_in_tree(starts, ways, np.full(len(starts), np.inf), tree, np.float32(SLACK * size_m), met, margin)
    hit = corners[np.maximum(met, 0)]
    normals = np.cross(hit[:, 1] - hit[:, 0], hit[:, 2] - hit[:, 0])
    with np.errstate(divide="ignore", invalid="ignore"):
        far_m = np.sum((hit[:, 0] - starts) * normals, axis=1) / np.sum(ways * normals, axis=1)
    return np.where(met >= 0, far_m, np.inf), met.astype(np.int64)


def _directions() -> Floats:
    """Unit vectors to all sides, none along the axes that rooms are built on."""
    k = np.arange(40) + 0.5
    z, turn = 1.0 - k / 20.0, np.pi * (1.0 + np.sqrt(5.0)) * k
    across = np.sqrt(1.0 - z * z)
    return np.column_stack([across * np.cos(turn), across * np.sin(turn), z])


def _far_apart(places: Floats, clear_m: Floats) -> Floats:
    """The place with most air round it, then always the one farthest from those chosen."""
    chosen = [int(np.argmax(clear_m))]
    away = np.linalg.norm(places - places[chosen[0]], axis=1)
    while len(chosen) < min(_MOST_PLACES, len(places)) and away.max() > 0.2:
        chosen.append(int(np.argmax(away)))
        away = np.minimum(away, np.linalg.norm(places - places[chosen[-1]], axis=1))
    return places[chosen]
