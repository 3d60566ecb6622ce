"""Upright planes of a scan -> the outline of its room: which wall follows which, and where they meet."""

import contextlib
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from raytrace.room import triangulate

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_PARALLEL = np.sin(np.radians(4.0))
_FAR_M = 2.5  # farther from where two walls were seen, they do not meet
_NEAR_M = 0.5  # a wall whose neighbour has to be drawn on farther may have lost one
_JAMB_M, _MOST_JAMBS = 0.3, 8  # thicker walls show no jambs; each of them costs an outline
_LEAST_PATCH_M, _SQUARE = 0.5, 0.3
_LEAST_AREA_M2 = 0.5
_ONE_M = 0.02  # walls in one line that differ by less are one
_LEAST_STEP_M = 0.03  # by so much walls one after the other stand apart that have a step between them


PATCH = -1
STEP = -2


class NoOutline(ValueError):
    """The walls of a scan close no outline; the text says which were seen."""


class OpenOutline(NoOutline):
    """Enough walls were found, but they do not meet; with the planes they are."""

    def __init__(self, planes: list[int]) -> None:
        super().__init__(f"the {len(planes)} walls that were found close no outline")
        self.planes = planes


class NoLid(NoOutline):
    """The walls close an outline, but nothing is over or under it.

    Parameters
    ----------
    what : str
        "floor" or "ceiling".
    corners : (n, 2) float
        Of the outline. [m]
    height_m : float
        From the lowest to the highest point of the walls. [m]
    """

    def __init__(self, what: str, corners: Floats, height_m: float) -> None:
        super().__init__(f"no {what} was found")
        self.what, self.corners, self.height_m = what, corners, height_m


@dataclass(frozen=True)
class SeenWall:
    """An upright plane as far as it was seen, from above.

    Attributes
    ----------
    normal : (2,) float
        Into the air.
    offset : float
        normal . (x, y) of its points. [m]
    start, end : (2,) float
        With the air on the left on the way from start to end. [m]
    plane : int
        Which plane of the scan it is; `PATCH` for one that nobody saw, `STEP` for one too narrow to be seen.
    """

    normal: Floats
    offset: float
    start: Floats
    end: Floats
    plane: int

    @property
    def length_m(self) -> float:
        """How much of it was seen. [m]"""
        return float(np.linalg.norm(self.end - self.start))


@dataclass(frozen=True)
class Outline:
    """The plan of a room, anticlockwise.

    Attributes
    ----------
    corners : (n, 2) float
        [m]
    walls : tuple of SeenWall
        `walls[k]` from corner k to the next.
    gap_m : float
        Farthest that a wall had to be drawn on beyond what was seen of it. [m]
    left_out : tuple of SeenWall
        Walls that are not part of it.
    """

    corners: Floats
    walls: tuple[SeenWall, ...]
    gap_m: float
    left_out: tuple[SeenWall, ...]


def seen_wall(points: Floats, normal: Floats, plane: int) -> SeenWall:
    """An upright plane from above, from its points (n, 3) and its normal into the air (3,)."""
    flat = normal[:2] / np.linalg.norm(normal[:2])
    along = np.array([flat[1], -flat[0]])
    offset = float(np.median(points[:, :2] @ flat))
    ends = np.percentile(points[:, :2] @ along, (1, 99))
    start, end = (offset * flat + reach * along for reach in ends)
    return SeenWall(flat, offset, start, end, plane)


def close_outline(walls: list[SeenWall], floor: Floats | None = None) -> Outline:
    """The largest closed outline that walls make, each followed by the one that starts where it ends.

    Parameters
    ----------
    walls : list of SeenWall
    floor : (n, 2) float, optional
        Points of the floor: where they are given, a single wall that is missing is put where the floor ends.

    Raises
    ------
    NoOutline
        If they close none.
    """
    try:
        return _without_jambs(walls, _closed(walls))
    except NoOutline:
        # The leaf of an open door and the rail of a balcony are upright too, and follow no wall.
        with contextlib.suppress(NoOutline):
            outline = _closed(walls, alone_m=_FAR_M)
            if outline.gap_m < _NEAR_M:
                return outline
        if floor is None:
            raise
        for before, after in _open_pairs(walls):
            patch = _patch(before, after, floor)
            if patch is not None:
                with contextlib.suppress(NoOutline):
                    return _closed([*walls, patch])
        raise


def _without_jambs(walls: list[SeenWall], outline: Outline) -> Outline:
    """An outline without narrow walls that lead nowhere, as the jambs of a door: it closes better so."""
    used = {wall.plane for wall in outline.walls}
    jambs = [wall for wall in walls if wall.plane in used and wall.length_m <= _JAMB_M]
    for narrow in sorted(jambs, key=lambda wall: wall.length_m)[:_MOST_JAMBS]:
        if outline.gap_m < _NEAR_M:
            break
        left = [wall for wall in walls if wall is not narrow]
        with contextlib.suppress(NoOutline):
            other = _closed(left)
            if other.gap_m < 0.5 * outline.gap_m:
                outline, walls = replace(other, left_out=(*other.left_out, narrow)), left
    return outline


def _open_pairs(walls: list[SeenWall]) -> list[tuple[SeenWall, SeenWall]]:
    """Walls that may end and start at a missing one: the two that lack a neighbour, the longest first."""
    lonely = [
        (before, after)
        for before in walls
        if min((_cost_m(before, other) for other in walls), default=0.0) >= _NEAR_M
        for after in walls
        if after is not before and min(_cost_m(other, after) for other in walls) >= _NEAR_M
    ]
    return sorted(lonely, key=lambda pair: -(pair[0].length_m + pair[1].length_m))


def _patch(before: SeenWall, after: SeenWall, floor: Floats) -> SeenWall | None:
    """A wall from where one ends to where another starts, as far out as the floor goes there."""
    step = after.start - before.end
    length = float(np.linalg.norm(step))
    if length < _LEAST_PATCH_M:
        return None
    along = step / length
    # A missing wall stands square to those beside it, wherever these were lost from sight.
    beside = before.end - before.start
    beside = beside / np.linalg.norm(beside)
    if abs(float(along @ beside)) < _SQUARE:
        along = np.array([-beside[1], beside[0]])
    normal = np.array([-along[1], along[0]])
    reach = (floor - before.end) @ along
    own = floor[(reach > 0.0) & (reach < length)]
    if not len(own):
        return None
    offset = float(np.percentile(own @ normal, 0.5))
    ends = (before.end - before.end @ normal * normal, after.start - after.start @ normal * normal)
    return SeenWall(normal, offset, ends[0] + offset * normal, ends[1] + offset * normal, PATCH)


def _closed(walls: list[SeenWall], *, alone_m: float = 1e3) -> Outline:
    """The largest closed outline of walls that were seen, or `NoOutline`.

    A wall is left out where drawing others on to it takes more than `alone_m`. [m]
    """
    from scipy.optimize import linear_sum_assignment

    if len(walls) < 3:
        raise NoOutline(f"{len(walls)} walls were found, and three at least make a room")
    cost = np.array([[alone_m if a is b else _cost_m(a, b) for b in walls] for a in walls])
    rows, following = linear_sum_assignment(cost)
    assert len(rows) == len(walls)
    best: Outline | None = None
    for numbers in _rings(following):
        ring = _without_doubles([walls[k] for k in numbers])
        if len(ring) < 3:
            continue
        gaps = [_cost_m(a, b) for a, b in zip(ring, ring[1:] + ring[:1], strict=True)]
        if max(gaps) >= _FAR_M:
            continue
        ring = _with_steps(ring)
        corners = np.array([_meeting(a, b) for a, b in zip(ring[-1:] + ring[:-1], ring, strict=True)])
        if _is_plan(corners) and (best is None or _area_m2(corners) > _area_m2(best.corners)):
            used = {wall.plane for wall in ring}
            left = tuple(wall for wall in walls if wall.plane not in used)
            best = Outline(corners, tuple(ring), max(gaps), left)
    if best is None:
        raise OpenOutline([wall.plane for wall in walls if wall.plane != PATCH])
    return best


def _is_plan(corners: Floats) -> bool:
    """Whether corners (n, 2) go round a floor once: it has an area, and no wall runs through another."""
    if _area_m2(corners) < _LEAST_AREA_M2:
        return False
    try:
        triangulate(np.column_stack([corners, np.zeros(len(corners))]))
    except ValueError:
        return False
    return True


def _cost_m(before: SeenWall, after: SeenWall) -> float:
    """How far two walls have to be drawn on, or back, until one follows the other. [m]"""
    if before is after:
        return 1e3
    corner = _meeting(before, after)
    reach = np.linalg.norm(before.end - corner) + np.linalg.norm(after.start - corner)
    return min(float(reach), 100.0)


def _meeting(before: SeenWall, after: SeenWall) -> Floats:
    """Corner of two walls; halfway between their ends where they are in one line."""
    if _is_parallel(before, after):
        return 0.5 * (before.end + after.start)
    corner: Floats = np.linalg.solve(
        np.array([before.normal, after.normal]), np.array([before.offset, after.offset])
    )
    return corner


def _rings(following: Ints) -> list[list[int]]:
    left, rings = set(range(len(following))), []
    while left:
        ring = [k := min(left)]
        left.discard(k)
        while (k := int(following[k])) in left:
            ring.append(k)
            left.discard(k)
        rings.append(ring)
    return rings


def _without_doubles(ring: list[SeenWall]) -> list[SeenWall]:
    """A ring without walls that go on in the line of the one before."""
    kept: list[SeenWall] = []
    for wall in ring:
        if kept and _in_line(kept[-1], wall):
            kept[-1] = _longer(kept[-1], wall)
        else:
            kept.append(wall)
    if len(kept) > 1 and _in_line(kept[-1], kept[0]):
        kept[0] = _longer(kept.pop(), kept[0])
    return kept


def _with_steps(ring: list[SeenWall]) -> list[SeenWall]:
    """A ring with a narrow wall square between two that run on side by side, as a pilaster has."""
    whole: list[SeenWall] = []
    for wall, after in zip(ring, ring[1:] + ring[:1], strict=True):
        whole.append(wall)
        middle = 0.5 * (wall.end + after.start)
        start, end = (middle - (side.normal @ middle - side.offset) * side.normal for side in (wall, after))
        wide_m = float(np.linalg.norm(end - start))
        if _is_parallel(wall, after) and wall.normal @ after.normal > 0.0 and wide_m >= _LEAST_STEP_M:
            along = (end - start) / wide_m
            normal = np.array([-along[1], along[0]])
            whole.append(SeenWall(normal, float(normal @ middle), start, end, STEP))
    return whole


def _is_parallel(before: SeenWall, after: SeenWall) -> bool:
    turn = before.normal[0] * after.normal[1] - before.normal[1] * after.normal[0]
    return bool(abs(turn) < _PARALLEL)


def _longer(before: SeenWall, after: SeenWall) -> SeenWall:
    wall = before if before.length_m >= after.length_m else after
    return SeenWall(wall.normal, wall.offset, before.start, after.end, wall.plane)


def _in_line(before: SeenWall, after: SeenWall) -> bool:
    off_m = abs(float(before.normal @ (0.5 * (after.start + after.end))) - before.offset)
    return _is_parallel(before, after) and float(before.normal @ after.normal) > 0.0 and off_m < _ONE_M


def _area_m2(corners: Floats) -> float:
    x, y = corners.T
    return float(0.5 * (x @ np.roll(y, -1) - y @ np.roll(x, -1)))
