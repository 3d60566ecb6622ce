"""Roofs that are the same all along a room, a vault for one: few flat strips in place of many scraps."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from raytrace.scan.accounts import Placed
from raytrace.scan.growing import Plane, fit_plane

Floats = NDArray[np.float64]

_BIN_M = 0.06
_FEWEST = 8  # points of a bin; planes of a roof that is no few flat slopes
_MOST_STRIPS = 16
_AS_WELL = 0.9  # of the area lies as near as is asked


def with_strips(placed: Placed, *, distance_m: float) -> Placed:
    """Parts of a room with its roof in strips along it, where it is the same all along and curved.

    Parameters
    ----------
    placed : Placed
        Its outline along the axes.
    distance_m : float
        How far the roof may lie off a strip. [m]
    """
    every = [*placed.roof, *sorted(placed.scraps)]
    if len(every) < _FEWEST or any(k in placed.moved_m for k in every):
        return placed
    members = np.concatenate([placed.planes[k].members for k in every])
    points, weights = placed.scan.points[members], placed.scan.weights[members]
    reach_m = max(distance_m, 3.0 * placed.scan.noise_m)
    for axis in (0, 1):
        strips = _strips(points[:, [axis, 2]], weights, reach_m, most=min(len(every), _MOST_STRIPS))
        if strips is None:
            continue
        lines, owner = strips
        planes = list(placed.planes)
        for k in every:
            planes[k] = replace(planes[k], members=members[:0])
        for number, (k, line) in enumerate(zip(every, lines, strict=False)):
            normal = np.zeros(3)
            normal[[axis, 2]], offset = line
            planes[k] = Plane(normal, offset, members[owner == number])
        return replace(placed, planes=planes, roof=every[: len(lines)], scraps=frozenset())
    return placed


def _strips(
    section: Floats, weights: Floats, reach_m: float, *, most: int
) -> tuple[list[tuple[Floats, float]], NDArray[np.int64]] | None:
    """Lines of a cross-section by points (n, 2), from one side to the other, and the line of each point."""
    middles, heights = _median_line(section)
    if len(middles) < 4:
        return None
    corners = _corners(np.column_stack([middles, heights]), reach_m)
    if not 2 < len(corners) <= most + 1:
        return None
    lines = []
    of = np.clip(np.searchsorted(middles[corners], section[:, 0]) - 1, 0, len(corners) - 2)
    for number in range(len(corners) - 1):
        own = of == number
        normal, offset = fit_plane(section[own], weights[own])
        down = -1.0 if normal[1] > 0.0 else 1.0
        lines.append((down * normal, down * offset))
    normals, offsets = np.array([line[0] for line in lines]), np.array([line[1] for line in lines])
    rises = -normals[:, 0] / normals[:, 1]
    if (np.diff(rises) > 0.0).any():
        return None  # it sags: not the lowest of its strips
    off_m = np.abs(section @ normals.T - offsets)
    heights_at = section[:, :1] * rises + offsets / normals[:, 1]
    lowest: NDArray[np.int64] = heights_at.argmin(axis=1)
    near = off_m[np.arange(len(section)), lowest] <= reach_m
    return (lines, lowest) if weights[near].sum() >= _AS_WELL * weights.sum() else None


def _median_line(section: Floats) -> tuple[Floats, Floats]:
    """Middle height over each stretch across, where there are points."""
    low, high = section[:, 0].min(), section[:, 0].max()
    edges = np.linspace(low, high, max(2, round((high - low) / _BIN_M) + 1))
    of = np.clip(np.searchsorted(edges, section[:, 0]) - 1, 0, len(edges) - 2)
    full = [k for k in range(len(edges) - 1) if np.count_nonzero(of == k) >= _FEWEST]
    middles = np.array([0.5 * (edges[k] + edges[k + 1]) for k in full])
    return middles, np.array([np.median(section[of == k, 1]) for k in full])


def _corners(line: Floats, reach_m: float) -> list[int]:
    """Rows of a line (n, 2) between which it is straight within a distance.

    Notes
    -----
    The farthest point splits what is not straight: U. Ramer, Comput. Graph. Image Process. 1 (1972) 244 (from
    memory).
    """
    kept, open_ends = {0, len(line) - 1}, [(0, len(line) - 1)]
    while open_ends:
        first, last = open_ends.pop()
        along = line[last] - line[first]
        around = line[first : last + 1] - line[first]
        off_m = np.abs(around[:, 0] * along[1] - around[:, 1] * along[0]) / np.linalg.norm(along)
        farthest = int(off_m.argmax())
        if off_m[farthest] > reach_m:
            kept.add(first + farthest)
            open_ends += [(first, first + farthest), (first + farthest, last)]
    return sorted(kept)
