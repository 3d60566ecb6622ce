"""What stands in a scanned room: furniture as blocks and slabs with their sizes, small things set aside."""

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from raytrace.scan.growing import Plane
from raytrace.scan.shapes import RoomShape, within_outline
from raytrace.scan.surfels import Surfels

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_SMALL_M, _SMALL_M2 = 0.25, 0.12  # what is smaller in every direction, or has less surface, is set aside
_LEAST_TOP_M2 = 0.06
_THINNEST_M = 0.01  # a scene takes no thinner things
_ON_FLOOR_M = 0.20
_SIDE_M = 0.12  # how far from where its points end a side may lie
_WALL_M = 0.25  # what hangs overhead and ends so near to a wall without a side of its own runs on to it
_LEVEL, _UPRIGHT = 0.9, 0.2
_FLUSH_M = 0.04  # what ends so near to a wall, and half the way between points farther, is flush with it
_SLAB_M, _LEVEL_M = 0.07, 0.02  # tops one over the other are one slab, those side by side are one top
_BESIDE_M = 0.06  # what lies farther outside a block is no part of it
_LEAST_TABLE_M = 0.3
_WIDEST_ARM_M, _HIGHEST_BACK_M = 0.35, 1.15  # of what one sits on
_LEAF_M, _DOOR_M, _DOOR_HIGH_M = 0.1, (0.5, 1.3), 1.7  # of a door that stands open
_OVERHEAD_M, _LONG = 1.8, 3.0  # what begins above a head and is so many times as long as high is no cupboard


@dataclass(frozen=True)
class ScanBlock:
    """A box in the room: its middle, size along its own axes, turn about the upright.

    Attributes
    ----------
    name : str
    centre : (3,) float
        [m]
    size : (3,) float
        [m]
    yaw_deg : float
        Of its first axis. [deg]
    """

    name: str
    centre: tuple[float, float, float]
    size: tuple[float, float, float]
    yaw_deg: float

    def away_m(self, points: Floats) -> Floats:
        """How far points (n, 3) lie beside it or over it, negative inside and under it. (n,) [m]"""
        turn = np.radians(self.yaw_deg)
        axes = np.array([(np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))])
        beside = np.abs((points[:, :2] - self.centre[:2]) @ axes.T) - 0.5 * np.array(self.size[:2])
        away: Floats = np.maximum(beside.max(axis=1), points[:, 2] - self.centre[2] - 0.5 * self.size[2])
        return away

    def reach_m(self, frame: "ScanBlock") -> tuple[Floats, Floats]:
        """From where to where its foot reaches along the axes of another block, (2,) each. [m]"""
        own, turn = np.radians((self.yaw_deg, frame.yaw_deg))
        half = 0.5 * np.array(self.size[:2])
        corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * half
        cosine, sine = np.cos(own), np.sin(own)
        there = corners @ np.array([[cosine, sine], [-sine, cosine]]) + self.centre[:2]
        axes = np.array([(np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))])
        return (there @ axes.T).min(axis=0), (there @ axes.T).max(axis=0)


@dataclass(frozen=True)
class SetAside:
    """Something that was left out of the room.

    Attributes
    ----------
    what : str
    at : (3,) float or None
        Its middle; None of what lies all over the room. [m]
    area_m2 : float
    triangles : int
        0 where nobody counted them.
    """

    what: str
    at: tuple[float, float, float] | None
    area_m2: float
    triangles: int


def find_furniture(
    scan: Surfels, planes: list[Plane], shell: set[int], *, shape: RoomShape
) -> tuple[list[ScanBlock], list[SetAside]]:
    """Blocks that stand in a room, and what was set aside as too small.

    Parameters
    ----------
    scan : Surfels
        In the room's frame, with the floor at z = 0.
    planes : list of Plane
        With normals into the air.
    shell : set of int
        Which of them are the room's own.
    shape : RoomShape
        What has its middle outside its walls, or over its roof as a dormer has, is no furniture.
    """
    label = np.full(len(scan.points), -1)
    for k, plane in enumerate(planes):
        label[plane.members] = -2 if k in shell else k
    walls = [plane for k, plane in enumerate(planes) if k in shell and abs(plane.normal[2]) < _UPRIGHT]
    blocks: list[ScanBlock] = []
    piece_of: list[int] = []  # each block: what hung together in the scan is one piece
    aside: list[SetAside] = []
    stray_m2, n_stray = 0.0, 0
    counts = np.bincount(scan.triangles.reshape(-1), minlength=len(scan.points)) / 3.0
    groups = list(enumerate(_pieces(scan, np.flatnonzero(label != -2))))
    while groups:
        piece, group = groups.pop(0)
        points = scan.points[group]
        area_m2 = float(scan.weights[group].sum())
        own = [planes[k] for k in np.unique(label[group]) if k >= 0]
        n_triangles = round(float(counts[group].sum()))
        if not own and area_m2 < _SMALL_M2:
            stray_m2, n_stray = stray_m2 + area_m2, n_stray + n_triangles
        elif np.ptp(points, axis=0).max() < _SMALL_M or area_m2 < _SMALL_M2 or not own:
            x, y, z = (float(middle) for middle in points.mean(axis=0))
            aside.append(SetAside("clutter", (x, y, z), area_m2, n_triangles))
        else:
            found = _blocks(scan, (own, walls), group, foot_m=_foot_m(points, blocks))
            blocks += found
            piece_of += [piece] * len(found)
            rest = _pieces(scan, _outside(scan, group, found))
            groups += [(piece, left) for left in rest if scan.weights[left].sum() >= _SMALL_M2]
    blocks = _rejoined(_run_on(blocks, piece_of))
    aside.sort(key=lambda thing: -thing.area_m2)
    if n_stray:
        aside.append(SetAside("stray points", None, stray_m2, n_stray))
    inside = within_outline(shape.corners, np.array([block.centre[:2] for block in blocks]).reshape(-1, 2))
    kept = []
    for block, own in zip(blocks, inside, strict=True):
        what = "something outside the walls" if not own else _no_furniture(block, shape)
        if what:
            aside.append(_whole(what, block))
        else:
            kept.append(block)
    return _named(kept), aside


def _no_furniture(block: ScanBlock, shape: RoomShape) -> str:
    """What a block within the walls is where it is no furniture; empty where it is."""
    roof_m = min(float(np.asarray(plane.rise) @ block.centre[:2]) + plane.height for plane in shape.roof)
    if block.centre[2] > roof_m:
        return "a recess in the roof, as a dormer is: the roof runs on before it"
    return "sheet" if min(block.size) < _THINNEST_M else ""


def _top_m(block: ScanBlock) -> float:
    return block.centre[2] + 0.5 * block.size[2]


def _whole(what: str, block: ScanBlock) -> SetAside:
    """A block that is no furniture, with the largest of its sides."""
    *_, wide, long = sorted(block.size)
    return SetAside(what, block.centre, wide * long, 0)


def _pieces(scan: Surfels, loose: Ints) -> list[Ints]:
    """Points in pieces that hang together, the largest first."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    row = np.full(len(scan.points), -1)
    row[loose] = np.arange(len(loose))
    near = row[scan.neighbours[loose][:, :9]]
    own = np.repeat(np.arange(len(loose)), near.shape[1])[near.reshape(-1) >= 0]
    other = near.reshape(-1)[near.reshape(-1) >= 0]
    links = coo_array((np.ones(len(own), np.int8), (own, other)), shape=(len(loose), len(loose)))
    _, part = connected_components(links, directed=False)
    order = np.argsort(part, kind="stable")
    pieces = np.split(loose[order], np.flatnonzero(np.diff(part[order])) + 1) if len(loose) else []
    return sorted(pieces, key=len, reverse=True)


def _outside(scan: Surfels, group: Ints, blocks: list[ScanBlock]) -> Ints:
    """Points of a piece of furniture that are neither in its blocks nor under them, as legs are."""
    left = np.ones(len(group), bool)
    for block in blocks:
        left &= block.away_m(scan.points[group]) > _BESIDE_M
    return group[left]


def _foot_m(points: Floats, blocks: list[ScanBlock]) -> float:
    """Height at which something begins: on the floor, on a block under it, or in the air. [m]"""
    lowest = float(np.percentile(points[:, 2], 1))
    under = [block for block in blocks if np.median(block.away_m(points * (1.0, 1.0, 0.0))) < 0.0]
    near = [top_m for top_m in (0.0, *map(_top_m, under)) if abs(lowest - top_m) < _ON_FLOOR_M]
    return max(near) if near else max(lowest, 0.0)


def _blocks(
    scan: Surfels, faces: tuple[list[Plane], list[Plane]], group: Ints, *, foot_m: float
) -> list[ScanBlock]:
    """One block for each top of a piece of furniture; one round all of it where it has none.

    `faces`: planes that it has points of, and the walls of the room; `foot_m`: height it begins at.
    """
    points = scan.points[group]
    planes, walls = faces
    # A plane may run on over other pieces of furniture as high.
    planes = [replace(plane, members=np.intersect1d(plane.members, group)) for plane in planes]
    own_sides = [plane for plane in planes if abs(plane.normal[2]) < _UPRIGHT]
    yaw_deg = _yaw_deg(scan, own_sides)
    sides = own_sides, walls
    highest = float(np.percentile(points[:, 2], 99))
    tops, under = _tops(scan, planes, (foot_m, highest))
    if not tops:
        return [_block(scan, points, sides, yaw_deg=yaw_deg, z_m=(foot_m, highest))]
    blocks = []
    for height_m, members in tops:
        top = scan.points[members]
        below = [_height_m(scan, plane) for plane in under if _overlap(scan, top, plane)]
        bottom_m = max([z for z in below if z < height_m - 0.01], default=foot_m)
        blocks.append(_block(scan, top, sides, yaw_deg=yaw_deg, z_m=(bottom_m, height_m)))
    return blocks


def _tops(
    scan: Surfels, planes: list[Plane], reach_m: tuple[float, float]
) -> tuple[list[tuple[float, Ints]], list[Plane]]:
    """Tops of what reaches from one height to another, each with its height and points; and undersides.

    A thin slab of which both faces were seen may be several planes: they are one top, as high as the highest.
    """
    foot_m, highest = reach_m
    level = [plane for plane in planes if abs(plane.normal[2]) > _LEVEL and len(plane.members)]
    level = [plane for plane in level if scan.weights[plane.members].sum() >= _LEAST_TOP_M2]
    # What ends a tall thing above is its top, although nobody saw from which side.
    over = max(foot_m + _SMALL_M, highest - _SLAB_M)
    found = sorted(((_height_m(scan, plane), plane) for plane in level), key=lambda own: -own[0])
    tops: list[tuple[float, Ints]] = []
    under: list[Plane] = []
    for height_m, plane in found:
        if plane.normal[2] < 0.0 and height_m <= over:
            under.append(plane)
            continue
        for k, (other_m, members) in enumerate(tops):
            if _is_one_top(scan, members, plane.members, off_m=other_m - height_m):
                tops[k] = other_m, np.concatenate([members, plane.members])
                break
        else:
            tops.append((height_m, plane.members))
    return tops, under


def _is_one_top(scan: Surfels, upper: Ints, lower: Ints, *, off_m: float) -> bool:
    """Whether two level faces, one so much higher, are of one slab: over each other, or side by side."""
    from scipy.spatial import cKDTree

    if off_m > _SLAB_M:
        return False
    few, many = sorted((upper, lower), key=len)
    away_m = cKDTree(scan.points[many, :2]).query(scan.points[few, :2])[0]
    beside = off_m <= _LEVEL_M and away_m.min() <= 2.0 * scan.apart_m
    return bool(beside or np.median(away_m) <= scan.apart_m)


def _height_m(scan: Surfels, plane: Plane) -> float:
    return float(np.median(scan.points[plane.members][:, 2]))


def _overlap(scan: Surfels, top: Floats, under: Plane) -> bool:
    """Whether the middle of an underside lies below a top (n, 3)."""
    middle = scan.points[under.members].mean(axis=0)[:2]
    over = top[:, :2]
    return bool((middle >= over.min(axis=0)).all() and (middle <= over.max(axis=0)).all())


def _yaw_deg(scan: Surfels, sides: list[Plane]) -> float:
    """Direction of a block within 45 degrees of the room's, from its upright sides. [deg]"""
    if not sides:
        return 0.0
    areas = np.array([scan.weights[side.members].sum() for side in sides])
    turns = np.array([np.arctan2(side.normal[1], side.normal[0]) for side in sides])
    yaw = float(np.degrees(np.angle((areas * np.exp(4j * turns)).sum()) / 4.0))
    return 0.0 if abs(yaw) < 1.5 else yaw


def _block(
    scan: Surfels,
    points: Floats,
    sides: tuple[list[Plane], list[Plane]],
    *,
    yaw_deg: float,
    z_m: tuple[float, float],
) -> ScanBlock:
    """The block under some points, out to sides that were seen, to a wall close by, or to where they end."""
    own_sides, walls = sides
    bottom_m, top_m = z_m
    cosine, sine = np.cos(np.radians(yaw_deg)), np.sin(np.radians(yaw_deg))
    most_m = _WALL_M if bottom_m > _OVERHEAD_M else _FLUSH_M + 0.5 * scan.apart_m
    ends = []
    for axis in (np.array([cosine, sine]), np.array([-sine, cosine])):
        reach = points[:, :2] @ axis
        for sign, share in ((-1.0, 1.0), (1.0, 99.0)):
            end = float(np.percentile(reach, share))
            seen = [
                float(np.median(scan.points[side.members][:, :2] @ axis))
                for side in own_sides
                if side.normal[:2] @ axis * sign > 0.95
            ]
            nearest = min(seen, key=lambda at: abs(at - end), default=np.inf)
            if abs(nearest - end) > _SIDE_M:
                last = points[np.abs(reach - end).argmin(), :2]
                nearest = end + sign * _to_wall_m(last, walls, sign * axis, most_m=most_m)
            ends.append(nearest)
    u, v = 0.5 * (ends[0] + ends[1]), 0.5 * (ends[2] + ends[3])
    centre = (float(cosine * u - sine * v), float(sine * u + cosine * v), 0.5 * (bottom_m + top_m))
    size = (abs(ends[1] - ends[0]), abs(ends[3] - ends[2]), top_m - bottom_m)
    return ScanBlock("", centre, size, yaw_deg)


def _to_wall_m(end: Floats, walls: list[Plane], way: Floats, *, most_m: float) -> float:
    """How far it is from where something ends (2,), a way (2,) along, to a wall close by, or 0. [m]"""
    gaps_m = [
        float(wall.offset - wall.normal[:2] @ end) / float(wall.normal[:2] @ way)
        for wall in walls
        if wall.normal[:2] @ way < -0.95
    ]
    return min((gap_m for gap_m in gaps_m if abs(gap_m) <= most_m), key=abs, default=0.0)


def _run_on(blocks: list[ScanBlock], piece_of: list[int]) -> list[ScanBlock]:
    """Blocks out to the next one of their piece, where that hides where they end: arms end at a back."""
    rows = range(len(blocks))
    beside = [[blocks[j] for j in rows if j != k and piece_of[j] == piece_of[k]] for k in rows]
    return [_to_next(block, others) for block, others in zip(blocks, beside, strict=True)]


def _rejoined(blocks: list[ScanBlock]) -> list[ScanBlock]:
    """Blocks with those made one that hang in one line under a ceiling, out of which scans take pieces."""
    whole: list[ScanBlock] = []
    for block in blocks:
        for k, other in enumerate(whole):
            if _bottom_m(block) > _OVERHEAD_M and _in_line(block, other):
                (low, high), (own_low, own_high) = other.reach_m(other), block.reach_m(other)
                z_m = min(map(_bottom_m, (block, other))), max(map(_top_m, (block, other)))
                whole[k] = _placed(other, np.minimum(low, own_low), np.maximum(high, own_high), z_m)
                break
        else:
            whole.append(block)
    return whole


def _in_line(block: ScanBlock, other: ScanBlock) -> bool:
    """Whether a block goes on where another ends, as wide and as high."""
    (low, high), (own_low, own_high) = other.reach_m(other), block.reach_m(other)
    as_high = max(abs(_top_m(block) - _top_m(other)), abs(_bottom_m(block) - _bottom_m(other))) < _FLUSH_M
    as_wide = np.maximum(np.abs(low - own_low), np.abs(high - own_high)) < _FLUSH_M
    apart_m = np.maximum(low - own_high, own_low - high)
    return bool(as_high and ((as_wide & (apart_m[::-1] < _SIDE_M)).any()))


def _bottom_m(block: ScanBlock) -> float:
    return block.centre[2] - 0.5 * block.size[2]


def _placed(block: ScanBlock, low: Floats, high: Floats, z_m: tuple[float, float]) -> ScanBlock:
    """A block from where to where along its own axes, (2,) each, and between two heights. [m]"""
    u, v = 0.5 * (low + high)
    cosine, sine = np.cos(np.radians(block.yaw_deg)), np.sin(np.radians(block.yaw_deg))
    centre = (float(cosine * u - sine * v), float(sine * u + cosine * v), 0.5 * (z_m[0] + z_m[1]))
    size = (float(high[0] - low[0]), float(high[1] - low[1]), z_m[1] - z_m[0])
    return replace(block, centre=centre, size=size)


def _to_next(block: ScanBlock, others: list[ScanBlock]) -> ScanBlock:
    low, high = block.reach_m(block)
    for other in others:
        if other.yaw_deg != block.yaw_deg or _top_m(other) < _top_m(block):
            continue
        own_low, own_high = other.reach_m(block)
        for axis in (0, 1):
            across = 1 - axis
            if min(high[across], own_high[across]) - max(low[across], own_low[across]) < _SIDE_M:
                continue
            if 0.0 < low[axis] - own_high[axis] < _SIDE_M:
                low[axis] = own_high[axis]
            elif 0.0 < own_low[axis] - high[axis] < _SIDE_M:
                high[axis] = own_low[axis]
    return _placed(block, low, high, (_bottom_m(block), _top_m(block)))


def _named(blocks: list[ScanBlock]) -> list[ScanBlock]:
    """Blocks with names that say what such a height usually is; whoever knows better corrects them."""
    kinds = [_kind(block) for block in blocks]
    count: Counter[str] = Counter()
    names = [""] * len(blocks)
    for k in np.argsort([kind != "seat" for kind in kinds], kind="stable").tolist():
        if names[k]:
            continue
        count[kinds[k]] += 1
        names[k] = f"{kinds[k]} {count[kinds[k]]}"
        if kinds[k] != "seat":
            continue
        beside = [j for j, other in enumerate(blocks) if not names[j] and _is_part(other, blocks[k])]
        # The back of a seat is higher than its arms, or at least longer.
        beside.sort(key=lambda j: (-round(_top_m(blocks[j]), 1), -max(blocks[j].size[:2])))
        for number, j in enumerate(beside):
            names[j] = f"{names[k]} {f'arm {number}' if number else 'back'}"
    return [replace(block, name=name) for block, name in zip(blocks, names, strict=True)]


def _kind(block: ScanBlock) -> str:
    top_m = _top_m(block)
    *others, longest = sorted(block.size)
    if top_m - block.size[2] > _OVERHEAD_M and longest > _LONG * max(others):
        return "beam"
    if top_m - block.size[2] > _OVERHEAD_M:
        return "overhead thing"
    thick, wide = sorted(block.size[:2])
    if thick < _LEAF_M and _DOOR_M[0] < wide < _DOOR_M[1] and block.size[2] > _DOOR_HIGH_M:
        return "door leaf"
    is_table = 0.6 <= top_m <= 0.85 and min(block.size[:2]) >= _LEAST_TABLE_M
    return "table" if is_table else "seat" if top_m < 0.6 else "cupboard"


def _is_part(block: ScanBlock, seat: ScanBlock) -> bool:
    """Whether a block is the back or an arm of a seat: narrow, higher, and beside it."""
    narrow = min(block.size[:2]) < _WIDEST_ARM_M and _top_m(seat) < _top_m(block) < _HIGHEST_BACK_M
    (low, high), (own_low, own_high) = block.reach_m(block), seat.reach_m(block)
    apart_m = np.maximum(np.maximum(low - own_high, own_low - high), 0.0)
    return bool(narrow and np.linalg.norm(apart_m) < _SIDE_M)
