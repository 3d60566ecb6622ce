"""Which planes of a scan are the room's own: its floor, its roof, and the walls that close an outline."""

import numpy as np
from numpy.typing import NDArray

from raytrace.scan.growing import Plane, label_triangles
from raytrace.scan.looking import Sight, air_side, share_goes_on, share_open_behind, sight_in
from raytrace.scan.outline import NoLid, Outline, close_outline, seen_wall
from raytrace.scan.surfels import Surfels

Ints = NDArray[np.int64]

_UPRIGHT = np.sin(np.radians(8.0))  # walls that lean more are no walls of a plan
_OVERHEAD, _LEVEL = -0.15, 0.95
_OPEN, _REACH_M = 0.5, 0.30
_LEAST_ROOF_M2 = 0.3
_NEAR_M = 0.4
_LARGE = 0.4  # of the largest level plane: a balcony a little lower than the room is less
_LEAST_WALL_M = 0.12
_BEHIND_M, _OVER_M = 0.12, 0.10  # from there one looks whether the room goes on over furniture

_ALIKE = np.cos(np.radians(5.0))
_BEFORE_M, _N_PARTS = (0.03, 0.30), 8  # nearer is one with the wall; farther off one sees what it is


def sides(scan: Surfels, planes: list[Plane]) -> tuple[list[Plane], set[int]]:
    """Planes with normals into the air, and which of them are the room's own."""
    sight = sight_in(scan.points, scan.triangles)
    owner = label_triangles(scan, planes)
    middles = scan.points[scan.triangles].mean(axis=1)
    order = np.argsort(owner, kind="stable")
    bounds = np.searchsorted(owner[order], np.arange(len(planes) + 1))
    turned, open_behind, is_seen = [], [], []
    for k, plane in enumerate(planes):
        own = order[bounds[k] : bounds[k + 1]]
        seen = air_side(sight, plane.normal, middles[own], own) if len(own) else 0
        side = seen or _drawn_side(scan, plane, own)
        turned.append(Plane(plane.normal * side, plane.offset * side, plane.members))
        behind = share_open_behind(sight, turned[-1].normal, middles[own]) if len(own) else 0.0
        open_behind.append(behind)
        is_seen.append(seen != 0)
    shell = {k for k, plane in enumerate(turned) if _is_shell(scan, turned, plane, open_behind[k])}
    floor_m = _floor_m(scan, turned)
    shell = {k for k in shell if not _is_front(scan, sight, turned[k], floor_m)}
    walls = [turned[k] for k in shell if is_seen[k] and abs(turned[k].normal[2]) <= _UPRIGHT]
    return turned, {k for k in shell if not any(_is_before(scan, turned[k], wall) for wall in walls)}


def _drawn_side(scan: Surfels, plane: Plane, triangles: Ints) -> int:
    """1 where most of a plane's triangles look its normal's way, -1 where the other way."""
    corners = scan.points[scan.triangles[triangles]]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]).sum(axis=0)
    return -1 if across @ plane.normal < 0.0 else 1


def _is_shell(scan: Surfels, planes: list[Plane], plane: Plane, open_behind: float) -> bool:
    """Whether a plane is one of the room's own: nothing behind it, or upright from floor to ceiling."""
    if plane.normal[2] > _UPRIGHT:
        return plane is _floor_of(scan, planes)
    if plane.normal[2] < _OVERHEAD:
        return open_behind >= _OPEN
    own = scan.points[plane.members]
    low, high = np.percentile(own[:, 2], (2, 98))
    around = np.abs(scan.points[:, :2] - np.median(own[:, :2], axis=0)).max(axis=1) < _NEAR_M
    top = np.percentile(scan.points[around, 2], 99)
    return open_behind >= _OPEN or (low < _floor_m(scan, planes) + _REACH_M and high > top - _REACH_M)


def _is_front(scan: Surfels, sight: Sight, plane: Plane, floor_m: float) -> bool:
    """Whether an upright plane is the front of furniture: over its top the room goes on behind it.

    What stands flush with a wall and closed to the floor has nothing of the scan behind it, as walls have.
    Behind a low wall that one looks over there is a floor; behind what goes up to the ceiling there is none.
    """
    if abs(plane.normal[2]) > _UPRIGHT:
        return False
    places = scan.points[plane.members] - _BEHIND_M * plane.normal
    places[:, 2] = np.percentile(places[:, 2], 98) + _OVER_M
    return share_goes_on(sight, places, floor_m=floor_m) >= _OPEN


def _is_before(scan: Surfels, plane: Plane, wall: Plane) -> bool:
    """Whether an upright plane stands close before a wall that goes on over it.

    So does what hangs on a wall, and the far side of a block, which nobody saw from either side.
    """
    own, along = scan.points[plane.members], np.array([wall.normal[1], -wall.normal[0], 0.0])
    off_m = float(np.median(wall.off_m(own)))
    if plane.normal @ wall.normal < _ALIKE or not _BEFORE_M[0] < off_m < _BEFORE_M[1]:
        return False
    points = scan.points[wall.members]
    over = points[points[:, 2] > np.percentile(own[:, 2], 98) + _OVER_M]
    ends = np.percentile(own @ along, (2, 98))
    counts, _ = np.histogram(
        over @ along, bins=_N_PARTS, range=(ends[0], max(ends[1], ends[0] + _LEAST_WALL_M))
    )
    return float((counts > 0).mean()) >= _OPEN


def _floor_of(scan: Surfels, planes: list[Plane]) -> Plane | None:
    """The lowest large level plane that looks up."""
    level = [plane for plane in planes if plane.normal[2] > _LEVEL]
    if not level:
        return None
    areas = [float(scan.weights[plane.members].sum()) for plane in level]
    large = [plane for plane, area in zip(level, areas, strict=True) if area > _LARGE * max(areas)]
    return min(large, key=lambda plane: float(np.median(scan.points[plane.members][:, 2])))


def _floor_m(scan: Surfels, planes: list[Plane]) -> float:
    floor = _floor_of(scan, planes)
    return float(scan.points[:, 2].min() if floor is None else np.median(scan.points[floor.members][:, 2]))


def roof_scraps(planes: list[Plane], shell: set[int], roof: list[int]) -> frozenset[int]:
    """Planes overhead that are the room's own and too small for the roof, as a dome leaves them."""
    return frozenset(k for k in shell if planes[k].normal[2] < _OVERHEAD and k not in roof)


def shell_of(
    scan: Surfels, planes: list[Plane], shell: set[int], *, patch_wall: bool, moved_m: dict[int, float]
) -> tuple[Outline, int, list[int]]:
    """The outline that the walls close, and which planes are the floor and the roof.

    Planes in `moved_m` stand so far before their points. [m]
    """
    walls = [
        seen_wall(
            scan.points[planes[k].members] + moved_m.get(k, 0.0) * planes[k].normal, planes[k].normal, k
        )
        for k in sorted(shell)
        if abs(planes[k].normal[2]) <= _UPRIGHT
    ]
    ground = _floor_of(scan, planes) if patch_wall else None
    floor_points = None if ground is None else scan.points[ground.members][:, :2]
    outline = close_outline([wall for wall in walls if wall.length_m >= _LEAST_WALL_M], floor_points)
    roof = [k for k in sorted(shell) if planes[k].normal[2] < _OVERHEAD]
    roof = [k for k in roof if scan.weights[planes[k].members].sum() >= _LEAST_ROOF_M2]
    floor = next((k for k in sorted(shell) if planes[k].normal[2] > _LEVEL), None)
    if floor is None or not roof:
        planes_of_walls = [planes[wall.plane] for wall in outline.walls if wall.plane >= 0]
        heights_m = np.concatenate([scan.points[plane.members][:, 2] for plane in planes_of_walls])
        raise NoLid("floor" if floor is None else "ceiling", outline.corners, float(np.ptp(heights_m)))
    return outline, floor, roof
