"""Open places of a scan: where looks through the surfaces of its room meet nothing of it."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from raytrace.room import pack_tree
from raytrace.scan.furniture import ScanBlock
from raytrace.scan.holes import LEAST_M2, LEAST_WIDTH_M, ScanHole, find_holes, hole_area_m2
from raytrace.scan.looking import looks
from raytrace.scan.shapes import within_outline
from raytrace.scan.surfels import Welded

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_INTO_M, _NEAR_M, _ALIKE = 0.3, 0.03, 0.8  # looks begin so far before a surface, as scans stand proud of it;
# what they meet sooner than so near it and turned from it, as the leaf of an open door, does not close it
_BEHIND_M, _ABOVE_M = (
    0.6,
    2.5,
)  # they end so far behind walls, as recesses are deep; over roofs there are dormers
_STEP_M, _FINE_M = 0.02, 0.005
_MOST_CELLS = 250_000
_NOISY = 4.0  # times the noise: narrower strips along edges are open for noise alone
_HIDDEN_M = 0.12  # edges of furniture are known to the length of a triangle
_AS_ONE = 0.05  # share of a hole by which a loop of open edges may differ from it and be its outline
_OFF_M = 0.35  # and how far off the surface it may lie, as where half a reveal was seen
_BESIDE_M, _MOST_COMPARED = 0.06, 4000  # farther beside the hole it runs along a crack
_LEVEL, _UPRIGHT = 0.9, 0.1
_SILL_M, _DOOR_M, _DOOR_HIGH_M = 0.15, (0.55, 1.35), 1.7  # as doors of houses are


@dataclass(frozen=True)
class _Grid:
    """Square cells over a part of a surface.

    `outline` (n, 2) is that of the surface, along `ways` (2, 3) from `origin` (3,); the cells begin at `low`.
    """

    outline: Floats
    origin: Floats
    ways: Floats
    low: Floats
    step_m: float
    shape: tuple[int, int]

    def uv(self, cells: Bools) -> Floats:
        """Middles of some cells in the surface, (n, 2). [m]"""
        middles: Floats = self.low + (np.argwhere(cells) + 0.5) * self.step_m
        return middles

    def points(self, uv: Floats) -> Floats:
        """Places in the surface as places in the room, (n, 3). [m]"""
        there: Floats = self.origin + uv @ self.ways
        return there


def open_places(
    mesh: Welded, faces: Sequence[tuple[str, Floats]], blocks: Sequence[ScanBlock], *, noise_m: float
) -> tuple[list[ScanHole], int]:
    """Holes of a room, the largest first, and how many open places furniture hides.

    Looks from the room out through its surfaces tell, however the faces of the file are joined. Where a loop
    of open edges runs round what is open, it is the outline.

    Parameters
    ----------
    mesh : Welded
        The scan in the room's frame. [m]
    faces : sequence of (str, (n, 3) float)
        The room's flat faces that were scanned, each anticlockwise seen from the air. [m]
    blocks : sequence of ScanBlock
        What stands in it.
    noise_m : float
        How far points lie off their surfaces, one standard deviation. [m]
    """
    corners = np.ascontiguousarray(mesh.points[mesh.triangles])
    scan = corners, pack_tree(corners)
    loops = find_holes(mesh.points, mesh.triangles)
    wide_m = max(LEAST_WIDTH_M, _NOISY * noise_m)
    holes: list[ScanHole] = []
    n_hidden = 0
    for name, outline in faces:
        whole = _grid_over(outline)
        for part in _parts(_open_cells(scan, whole), whole.step_m, wide_m):
            fine = _finer(whole, part)
            cells = _same(whole, part, fine, _parts(_open_cells(scan, fine), fine.step_m, wide_m))
            hidden = _hidden(fine, cells, blocks, is_floor=name == "floor")
            n_hidden += bool(hidden.any())
            holes += [_hole(name, fine, own, loops) for own in _parts(cells & ~hidden, fine.step_m, wide_m)]
    return _numbered(sorted(holes, key=lambda hole: -hole.area_m2)), n_hidden


def _grid_over(outline: Floats) -> _Grid:
    """Cells all over a flat face."""
    spokes = outline[1:] - outline[0]
    normal = np.cross(spokes[:-1], spokes[1:]).sum(axis=0)
    normal /= np.linalg.norm(normal)
    is_level = abs(normal[2]) > _LEVEL
    along = np.array([normal[2], 0.0, -normal[0]]) if is_level else np.cross([0.0, 0.0, 1.0], normal)
    u = along / np.linalg.norm(along)
    ways = np.array([u, np.cross(normal, u)])
    flat = (outline - outline[0]) @ ways.T
    return _cells(flat, outline[0], ways, (flat.min(axis=0), flat.max(axis=0)), _STEP_M)


def _cells(outline: Floats, origin: Floats, ways: Floats, box: tuple[Floats, Floats], step_m: float) -> _Grid:
    """Cells in a box (low, high) of a surface; larger ones where there would be too many."""
    low, high = box
    step_m = max(step_m, float(np.sqrt(np.prod(high - low) / _MOST_CELLS)))
    n, m = np.maximum(np.ceil((high - low) / step_m - 1e-6).astype(int), 1).tolist()
    return _Grid(outline, origin, ways, low, step_m, (n, m))


def _finer(grid: _Grid, part: Bools) -> _Grid:
    """Finer cells over a part and one cell round it."""
    rows = np.argwhere(part)
    low = grid.low + (rows.min(axis=0) - 1) * grid.step_m
    high = grid.low + (rows.max(axis=0) + 2) * grid.step_m
    box = np.maximum(low, grid.outline.min(axis=0)), np.minimum(high, grid.outline.max(axis=0))
    return _cells(grid.outline, grid.origin, grid.ways, box, _FINE_M)


def _open_cells(scan: tuple[Floats, Any], grid: _Grid) -> Bools:
    """Through which cells of a surface a look from the room meets nothing."""
    cells = np.ones(grid.shape, bool)
    cells &= within_outline(grid.outline, grid.uv(cells)).reshape(grid.shape)
    normal, points = np.cross(*grid.ways), grid.points(grid.uv(cells))
    behind_m, met = looks(*scan, points + _INTO_M * normal, np.broadcast_to(-normal, points.shape))
    behind_m -= _INTO_M
    corners = scan[0][np.maximum(met, 0)]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    turned = np.abs(across @ normal) < _ALIKE * np.linalg.norm(across, axis=1)
    again = np.flatnonzero(turned & (behind_m < -_NEAR_M))
    if len(again):
        starts = points[again] + _NEAR_M * normal
        behind_m[again] = looks(*scan, starts, np.broadcast_to(-normal, starts.shape))[0] - _NEAR_M
    cells[cells] = behind_m > (_BEHIND_M if abs(normal[2]) < _UPRIGHT else _ABOVE_M)
    return cells


def _parts(cells: Bools, step_m: float, wide_m: float) -> list[Bools]:
    """Cells that hang together, without what is narrow or small; the largest part first."""
    from scipy.ndimage import binary_opening, label

    n = max(round(wide_m / step_m), 1)
    number, count = label(binary_opening(cells, np.ones((n, n), bool)))
    parts = [number == k for k in range(1, count + 1)]
    large = [part for part in parts if np.count_nonzero(part) * step_m**2 >= LEAST_M2]
    return sorted(large, key=lambda part: -np.count_nonzero(part))


def _same(grid: _Grid, part: Bools, fine: _Grid, parts: list[Bools]) -> Bools:
    """Which of some parts in finer cells lies where a part does; none where they all turned out too small."""
    rows = np.floor((grid.uv(part) - fine.low) / fine.step_m).astype(int)
    rows = np.clip(rows, 0, np.array(fine.shape) - 1)
    shares = [(float(own[rows[:, 0], rows[:, 1]].mean()), k) for k, own in enumerate(parts)]
    share, k = max(shares, default=(0.0, 0))
    return parts[k] if share > 0.0 else np.zeros(fine.shape, bool)


def _hidden(grid: _Grid, cells: Bools, blocks: Sequence[ScanBlock], *, is_floor: bool) -> Bools:
    """Which cells of an open place are behind, under or in furniture, where nobody could look."""
    hidden = np.zeros_like(cells)
    points = grid.points(grid.uv(cells))
    # What is thin, as the leaf of a door, hides nothing: one sees past it.
    for block in (own for own in blocks if len(points) and min(own.size[:2]) > _HIDDEN_M):
        over = np.full(len(points), is_floor) | (
            points[:, 2] > block.centre[2] - 0.5 * block.size[2] - _HIDDEN_M
        )
        away_m = np.where(over, block.away_m(points), np.inf)
        # All of an open place beside a block is hidden; of one that goes on, what the block stands before.
        near = away_m < (_HIDDEN_M if away_m.max() < _HIDDEN_M else 0.0)
        hidden[cells] |= near
    return hidden


def _hole(name: str, grid: _Grid, cells: Bools, loops: Sequence[Floats]) -> ScanHole:
    """An open place with its outline: the loop of open edges round it, else that of its cells."""
    area_m2 = float(np.count_nonzero(cells)) * grid.step_m**2
    normal, told = np.cross(*grid.ways), _told(name, grid, grid.points(grid.uv(cells)))
    some = np.ones(grid.shape, bool)
    stride = int(np.ceil(cells.size / _MOST_COMPARED))
    uv, is_open = grid.uv(some)[::stride], cells.reshape(-1)[::stride]
    ends = np.percentile(grid.uv(cells), (0, 100), axis=0)
    for loop in loops:
        own_m2 = hole_area_m2(loop)
        near = np.abs((loop - grid.origin) @ normal).max() < _OFF_M
        beside_m = np.abs(np.percentile((loop - grid.origin) @ grid.ways.T, (0, 100), axis=0) - ends).max()
        if not near or beside_m > _BESIDE_M or abs(own_m2 - area_m2) > _AS_ONE * area_m2:
            continue
        differs = within_outline((loop - grid.origin) @ grid.ways.T, uv) != is_open
        if np.count_nonzero(differs) <= _AS_ONE * np.count_nonzero(is_open):
            return ScanHole(name, own_m2, loop, told)
    return ScanHole(name, area_m2, grid.points(grid.low + _outline(cells) * grid.step_m), told)


def _told(name: str, grid: _Grid, points: Floats) -> str:
    """What the open place with these points (n, 3) is called: by its surface, its kind, and where it is."""
    (low, high), whole = np.percentile(points, (0, 100), axis=0), grid.points(grid.outline)
    middle = 0.5 * (low + high)
    if abs(np.cross(*grid.ways)[2]) > _LEVEL:
        shares = (middle - whole.min(axis=0))[:2] / np.ptp(whole, axis=0)[:2]
        words = [_third(share, own) for share, own in zip(shares, ("front back", "left right"), strict=True)]
        return f"{name} hole {' '.join(dict.fromkeys(words))}"
    along = whole @ grid.ways[0]
    wide_m = float(np.ptp(points @ grid.ways[0]))
    sill_m, high_m = float(low[2]), float(high[2] - low[2])
    is_door = sill_m < _SILL_M and _DOOR_M[0] < wide_m < _DOOR_M[1] and high_m > _DOOR_HIGH_M
    share = (middle @ grid.ways[0] - along.min()) / np.ptp(along)
    return f"{name} {'doorway' if is_door else 'hole'} {_third(share, 'left right')}"


def _third(share: float, ends: str) -> str:
    low, high = ends.split()
    return low if share < 1.0 / 3.0 else high if share > 2.0 / 3.0 else "middle"


def _numbered(holes: list[ScanHole]) -> list[ScanHole]:
    """Holes with numbers where names would be the same."""
    count, seen = Counter(hole.name for hole in holes), Counter[str]()
    for k, hole in enumerate(holes):
        seen[hole.name] += 1
        if count[hole.name] > 1:
            holes[k] = replace(hole, name=f"{hole.name} {seen[hole.name]}")
    return holes


def _outline(cells: Bools) -> Floats:
    """Corners of the outer edge of cells that hang together, in cells, (n, 2)."""
    inside = np.pad(cells, 1)
    after: dict[tuple[int, int], list[tuple[int, int]]] = {}
    # Each side of a cell without a neighbour there, with the cell on its left.
    for (di, dj), start, end in (
        ((0, -1), (0, 0), (1, 0)), ((1, 0), (1, 0), (1, 1)),
        ((0, 1), (1, 1), (0, 1)), ((-1, 0), (0, 1), (0, 0)),
    ):  # fmt: skip
        bare = cells & ~inside[1 + di : inside.shape[0] - 1 + di, 1 + dj : inside.shape[1] - 1 + dj]
        for i, j in np.argwhere(bare).tolist():
            after.setdefault((i + start[0], j + start[1]), []).append((i + end[0], j + end[1]))
    loops = []
    while after:
        here = first = next(iter(after))
        loop = []
        while True:
            loop.append(here)
            there = after[here].pop()
            if not after[here]:
                del after[here]
            here = there
            if here == first:
                break
        loops.append(np.array(loop, np.float64))
    outer = max(loops, key=_area)
    step = np.roll(outer, -1, axis=0) - outer
    turns: Floats = outer[(step != np.roll(step, 1, axis=0)).any(axis=1)]
    return turns


def _area(loop: Floats) -> float:
    x, y = loop.T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
