"""Upright planes of a scan -> the outline of its room: which wall follows which, and where they meet."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_PARALLEL = np.sin(np.radians(4.0))
_FAR_M = 2.5  # farther from where two walls were seen, they do not meet
_ONE_M = 0.02  # walls in one line that differ by less are one


class NoOutline(ValueError):
    """The walls of a scan close no outline; the text says which were seen."""


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
        Which plane of the scan it is.
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


def close_outline(walls: list[SeenWall]) -> Outline:
    """The largest closed outline that walls make, each followed by the one that starts where it ends.

    Raises
    ------
    NoOutline
        If they close none.
    """
    from scipy.optimize import linear_sum_assignment

    if len(walls) < 3:
        raise NoOutline(f"{len(walls)} walls were found, and three at least make a room")
    cost = np.array([[_cost_m(a, b) for b in walls] for a in walls])
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
        corners = np.array([_meeting(a, b) for a, b in zip(ring[-1:] + ring[:-1], ring, strict=True)])
        if best is None or _area_m2(corners) > _area_m2(best.corners):
            used = {wall.plane for wall in ring}
            left = tuple(wall for wall in walls if wall.plane not in used)
            best = Outline(corners, tuple(ring), max(gaps), left)
    if best is None or _area_m2(best.corners) < 0.5:
        lengths = ", ".join(f"{wall.length_m:.2f}" for wall in walls[:12])
        raise NoOutline(
            f"the {len(walls)} walls that were found ({lengths} m long) close no outline: where one is "
            "missing from the scan, scan it too, or describe the room by its numbers (hitspot new)"
        )
    return best


def _cost_m(before: SeenWall, after: SeenWall) -> float:
    """How far two walls have to be drawn on, or back, until one follows the other. [m]"""
    if before is after:
        return 1e3
    corner = _meeting(before, after)
    reach = np.linalg.norm(before.end - corner) + np.linalg.norm(after.start - corner)
    return min(float(reach), 100.0)


def _meeting(before: SeenWall, after: SeenWall) -> Floats:
    """Corner of two walls; halfway between their ends where they are in one line."""
    turn = before.normal[0] * after.normal[1] - before.normal[1] * after.normal[0]
    if abs(turn) < _PARALLEL:
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


def _longer(before: SeenWall, after: SeenWall) -> SeenWall:
    wall = before if before.length_m >= after.length_m else after
    return SeenWall(wall.normal, wall.offset, before.start, after.end, wall.plane)


def _in_line(before: SeenWall, after: SeenWall) -> bool:
    turn = before.normal[0] * after.normal[1] - before.normal[1] * after.normal[0]
    off_m = abs(float(before.normal @ (0.5 * (after.start + after.end))) - before.offset)
    return abs(turn) < _PARALLEL and float(before.normal @ after.normal) > 0 and off_m < _ONE_M


def _area_m2(corners: Floats) -> float:
    x, y = corners.T
    return float(0.5 * (x @ np.roll(y, -1) - y @ np.roll(x, -1)))
