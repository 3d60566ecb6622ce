"""Which rooms a scan holds, told by the air in it: walls part it, and so do doorways under their lintels."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import counted
from raytrace.room import MeshError, pack_tree
from raytrace.scan.furniture import SetAside
from raytrace.scan.looking import looks
from raytrace.scan.sharing import shared_out
from raytrace.scan.surfels import LONGEST_M, Welded, cut_long

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_STEP_M, _MOST_PLACES = 0.10, 40_000
_EYE_M, _EYE_SHARE = 1.3, 0.55  # above tables, below what hangs
_UNDER_M = 0.10  # so far under the ceiling furniture no longer parts a room, but lintels and beams do
_LEVEL_M = 0.12  # ceilings of places side by side that differ by more are two
_LEAST_GAP_M = 0.5  # nobody goes through a narrower gap: it is a crack in a wall
_WIDEST_DOOR_M = 1.5  # what one goes under for longer is a beam, or a slope
_LEAST_M2 = 2.5
_MOSTLY = 0.5
_LEAN = 0.2  # cosine to upright below which a triangle is of a wall
_SEEN = 0.2  # of the places that see most of one wall: what fewer see does not end a room


@dataclass(frozen=True)
class ScanRoom:
    """One of several rooms in a file.

    Attributes
    ----------
    size : (2,) float
        Of the rectangle round its floor that lies along most of its walls, its longer side first. [m]
    area_m2 : float
        Of its floor.
    """

    size: tuple[float, float]
    area_m2: float


@dataclass(frozen=True)
class _Air:
    """Places in rows over the ground: which hold air, and how high the ceiling is there. (n, m) each

    `low` is the first of them (2,), `z_m` the height of eyes.
    """

    low: Floats
    step_m: float
    z_m: float
    holds: Bools
    ceiling_m: Floats
    is_under: Bools
    is_over: Bools


def part_rooms(mesh: Welded, number: int | None) -> tuple[Welded, list[ScanRoom], int, list[SetAside]]:
    """A scan as far as it belongs to one of its rooms.

    Parameters
    ----------
    mesh : Welded
        In metres, z upwards.
    number : int or None
        Which room, the largest first from 1; None for the largest; 0 for all of them as one.

    Returns
    -------
    mesh : Welded
        As given where there is one room.
    rooms : list of ScanRoom
        The largest first; one or none where the scan is not parted.
    chosen : int
        Which of them was taken, from 0.
    aside : list of SetAside
        What belongs to others.

    Raises
    ------
    MeshError
        If there are not so many rooms.
    """
    if number == 0:
        return mesh, [], 0, []
    label, air, tree = _parted(mesh)
    corners = mesh.points[mesh.triangles]
    found = [_room(corners, tree, air, label == k) for k in range(int(label.max()) + 1)]
    enclosed = [k for k in range(len(found)) if _is_enclosed(air, label == k)]
    order = sorted(enclosed, key=lambda k: -found[k].area_m2)
    rooms = [found[k] for k in order]
    if number is not None and number > max(len(rooms), 1):
        raise MeshError(f"--room {number}: the file holds {counted(max(len(rooms), 1), 'room')}")
    if len(found) < 2 or not rooms:
        return mesh, rooms, 0, []
    chosen = (number or 1) - 1
    points, triangles, parent = cut_long(mesh.points, mesh.triangles, LONGEST_M)
    corners = np.ascontiguousarray(points[triangles])
    own = [label == k for k in range(len(found))]
    owner, of = shared_out(
        corners,
        pack_tree(corners),
        [air.low + np.argwhere(cells) * air.step_m for cells in own],
        [air.ceiling_m[cells] for cells in own],
        float(corners[..., 2].min()),
    )
    rest = [k for k in (*order, *sorted(set(range(len(found))) - set(order))) if k != order[chosen]]
    aside = [
        _aside(points[triangles[owner == k]], mesh.face[parent[owner == k]], is_room=k in order)
        for k in rest
        if (owner == k).any()
    ]
    kept = of[order[chosen]]
    part = Welded(
        points, triangles[kept], mesh.face[parent[kept]], mesh.repeated, mesh.degenerate, mesh.strays
    )
    return part, rooms, chosen, aside


def _aside(corners: Floats, face: Ints, *, is_room: bool) -> SetAside:
    """Triangles (n, 3, 3) that belong to another room, and the faces of the file they are of."""
    sides = corners[:, 1:] - corners[:, :1]
    area_m2 = 0.5 * float(np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1).sum())
    x, y, z = corners.mean(axis=(0, 1)).tolist()
    return SetAside(
        "another room" if is_room else "a place outside", (x, y, z), area_m2, len(np.unique(face))
    )


def _parted(mesh: Welded) -> tuple[Ints, _Air, Any]:
    """Which room each place is in, -1 for none, with the places and what looks are taken through."""
    corners = np.ascontiguousarray(mesh.points[mesh.triangles])
    tree = pack_tree(corners)
    air = _air_in(corners, tree)
    part = np.where(air.holds, np.arange(air.holds.size).reshape(air.holds.shape), -1)
    ways, under, every = [], [], []
    least = round(_LEAST_GAP_M / air.step_m)
    for axis in (0, 1):
        is_open, is_low = _links(corners, tree, air, axis)
        start, end = _ends(part, axis)
        every.append(np.stack([start[is_open], end[is_open]]))
        is_open = _without_cracks(is_open, 1 - axis, least)
        ways.append(np.stack([start[is_open], end[is_open]]))
        under.append(np.stack([start[is_low], end[is_low]]))
    label = _components(air.holds.size, np.concatenate(ways, axis=1))
    label = _with_beams(label, np.concatenate(under, axis=1), air.step_m)
    label = _large(label.reshape(air.holds.shape), air)
    return _into_corners(label, np.concatenate(every, axis=1), least), air, tree


def _air_in(corners: Floats, tree: Any) -> _Air:
    """Places all over a scan at the height of eyes, and what is above and below each."""
    low, high = corners.min(axis=(0, 1)), corners.max(axis=(0, 1))
    span = np.maximum(high[:2] - low[:2], 0.1)
    step_m = max(_STEP_M, float(np.sqrt(span.prod() / _MOST_PLACES)))
    n, m = (int(np.ceil(side / step_m)) for side in span)
    z_m = float(low[2] + min(_EYE_M, _EYE_SHARE * (high[2] - low[2])))
    # Half a step off what often is a wall.
    x, y = (low[axis] + (np.arange(count) + 0.5) * step_m for axis, count in ((0, n), (1, m)))
    starts = np.stack(np.meshgrid(x, y, [z_m], indexing="ij"), axis=-1).reshape(-1, 3)
    up = np.broadcast_to([0.0, 0.0, 1.0], starts.shape)
    above, _ = looks(corners, tree, starts, up)
    below, _ = looks(corners, tree, starts, -up)
    is_under, is_over = np.isfinite(above).reshape(n, m), np.isfinite(below).reshape(n, m)
    usual = float(np.median(above[np.isfinite(above)])) if is_under.any() else float(high[2] - z_m)
    ceiling_m = z_m + np.where(is_under, above.reshape(n, m), usual)
    first = np.array([x[0], y[0]])
    return _Air(first, step_m, z_m, is_under | is_over, ceiling_m, is_under, is_over)


def _links(corners: Floats, tree: Any, air: _Air, axis: int) -> tuple[Bools, Bools]:
    """Between each place and the next: whether one room goes on, and whether it does under something."""
    both = _before(air.holds, axis) & _after(air.holds, axis)
    here, there = _before(air.ceiling_m, axis), _after(air.ceiling_m, axis)
    top = np.maximum(here, there)
    stepped = np.abs(here - there) > _LEVEL_M
    here, there = (np.where(stepped, top, own) - _UNDER_M for own in (here, there))
    rows = np.argwhere(both)
    at = air.low + rows * air.step_m
    ahead = np.zeros(2)
    ahead[axis] = air.step_m

    def is_clear(from_m: Floats, to_m: Floats) -> Bools:
        starts, ends = np.column_stack([at, from_m]), np.column_stack([at + ahead, to_m])
        far_m = np.linalg.norm(ends - starts, axis=1)
        met_m, _ = looks(corners, tree, starts, (ends - starts) / far_m[:, None])
        clear: Bools = met_m > far_m
        return clear

    eyes = np.full(len(rows), air.z_m)
    overhead, at_eyes = is_clear(here[both], there[both]), is_clear(eyes, eyes)
    is_open, is_low = np.zeros_like(both), np.zeros_like(both)
    is_open[both], is_low[both] = overhead, at_eyes & ~overhead
    return is_open, is_low


def _before(field: NDArray[Any], axis: int) -> NDArray[Any]:
    return field[:-1] if axis == 0 else field[:, :-1]


def _after(field: NDArray[Any], axis: int) -> NDArray[Any]:
    return field[1:] if axis == 0 else field[:, 1:]


def _ends(part: Ints, axis: int) -> tuple[Ints, Ints]:
    return _before(part, axis), _after(part, axis)


def _without_cracks(is_open: Bools, axis: int, least: int) -> Bools:
    """Open ways without those that are fewer side by side, as where a scan has a crack in a wall."""
    from scipy.ndimage import binary_opening

    shape = (least, 1) if axis == 0 else (1, least)
    wide: Bools = binary_opening(is_open, np.ones(shape, bool))
    return wide


def _components(n: int, ways: Ints) -> Ints:
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    links = coo_array((np.ones(ways.shape[1], np.int8), (ways[0], ways[1])), shape=(n, n))
    label: Ints = connected_components(links, directed=False)[1].astype(np.int64)
    return label


def _with_beams(label: Ints, under: Ints, step_m: float) -> Ints:
    """Parts made one that have more than a door's width between them to go through under something."""
    pairs = np.sort(label[under], axis=0)
    pairs = pairs[:, pairs[0] != pairs[1]]
    if not pairs.size:
        return label
    joined, count = np.unique(pairs.T, axis=0, return_counts=True)
    return _components(int(label.max()) + 1, joined[count * step_m > _WIDEST_DOOR_M].T)[label]


def _large(label: Ints, air: _Air) -> Ints:
    """Parts that are as large as rooms, counted from 0; -1 elsewhere."""
    numbers, count = np.unique(label[air.holds], return_counts=True)
    large = numbers[count * air.step_m**2 >= _LEAST_M2]
    row = np.full(int(label.max()) + 1, -1)
    row[large] = np.arange(len(large))
    found: Ints = np.where(air.holds, row[label], -1)
    return found


def _into_corners(label: Ints, ways: Ints, steps: int) -> Ints:
    """Rooms with the places in their corners, narrow as cracks, so many steps from those that are theirs."""
    grown = label.reshape(-1).copy()
    for _ in range(steps):
        for start, end in (ways, ways[::-1]):
            new = (grown[start] >= 0) & (grown[end] < 0)
            grown[end[new]] = grown[start[new]]
    return grown.reshape(label.shape)


def _is_enclosed(air: _Air, own: Bools) -> bool:
    """Whether most of a part has both a floor and a ceiling: a terrace has no ceiling."""
    return bool(air.is_under[own].mean() >= _MOSTLY and air.is_over[own].mean() >= _MOSTLY)


def _room(corners: Floats, tree: Any, air: _Air, own: Bools) -> ScanRoom:
    """One part of the air with its size, as looks from it to its walls tell it."""
    turn = _way_of_walls(corners, air, own)
    cosine, sine = np.cos(turn), np.sin(turn)
    sides = [
        sum(_reach_m(corners, tree, air, own, sign * np.array(way)) for sign in (1.0, -1.0))
        for way in ((cosine, sine), (-sine, cosine))
    ]
    return ScanRoom((max(sides), min(sides)), float(own.sum()) * air.step_m**2)


def _way_of_walls(corners: Floats, air: _Air, own: Bools) -> float:
    """Angle of most walls round a part to the axes of the file, beyond quarter turns. [rad]"""
    sides = corners[:, 1:] - corners[:, :1]
    across = np.cross(sides[:, 0], sides[:, 1])
    upright = np.abs(across[:, 2]) < _LEAN * np.linalg.norm(across, axis=1)
    near = _away_m(air, own, corners.mean(axis=1)) < 2.0 * air.step_m
    x, y, _ = across[upright & near].T
    return float(np.angle((np.hypot(x, y) * np.exp(4j * np.arctan2(y, x))).sum()) / 4.0)


def _reach_m(corners: Floats, tree: Any, air: _Air, own: Bools, way: Floats) -> float:
    """How far from the origin the wall stands that ends a part that way, or its last place. [m]"""
    at = air.low + np.argwhere(own) * air.step_m
    starts = np.column_stack([at, np.full(len(at), air.z_m)])
    met_m, _ = looks(corners, tree, starts, np.broadcast_to([*way, 0.0], starts.shape))
    # Through a doorway or a crack one sees what stands behind the wall: farther off, or from few places.
    seen = np.isfinite(met_m)
    ends = at[seen] + met_m[seen, None] * way
    stand_m = (ends @ way)[_away_m(air, own, ends) < 1.1 * air.step_m]
    if not len(stand_m):
        return float((at @ way).max())
    row = np.floor((stand_m - stand_m.min()) / (0.5 * air.step_m)).astype(np.int64)
    count = np.convolve(np.bincount(row), (1, 1), "full")  # of each step of that size and the one before
    last = int(np.flatnonzero(count >= _SEEN * count.max())[-1])
    return float(np.median(stand_m[(row == last) | (row == last - 1)]))


def _away_m(air: _Air, own: Bools, points: Floats) -> Floats:
    """How far it is in plan from each of some points (n, 3) to the air of a part. (n,) [m]"""
    from scipy.spatial import cKDTree

    tree = cKDTree(air.low + np.argwhere(own) * air.step_m)
    away: Floats = tree.query(points[:, :2])[0]
    return away
