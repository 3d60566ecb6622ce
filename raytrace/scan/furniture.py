"""What stands in a scanned room: furniture as blocks and slabs with their sizes, small things set aside."""

from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.scan.growing import Plane
from raytrace.scan.shapes import within_outline
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
    scan: Surfels, planes: list[Plane], shell: set[int], *, outline: Floats
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
    outline : (n, 2) float
        Corners of the room's plan along the axes: what has its middle outside is no furniture. [m]
    """
    label = np.full(len(scan.points), -1)
    for k, plane in enumerate(planes):
        label[plane.members] = -2 if k in shell else k
    walls = [plane for k, plane in enumerate(planes) if k in shell and abs(plane.normal[2]) < _UPRIGHT]
    blocks: list[ScanBlock] = []
    aside: list[SetAside] = []
    stray_m2, n_stray = 0.0, 0
    counts = np.bincount(scan.triangles.reshape(-1), minlength=len(scan.points)) / 3.0
    for group in _groups(scan, label):
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
            blocks += _blocks(scan, (own, walls), points)
    aside.sort(key=lambda thing: -thing.area_m2)
    if n_stray:
        aside.append(SetAside("stray points", None, stray_m2, n_stray))
    inside = within_outline(outline, np.array([block.centre[:2] for block in blocks]).reshape(-1, 2))
    outside = [block for block, own in zip(blocks, inside, strict=True) if not own]
    thin = [block for block in blocks if min(block.size) < _THINNEST_M and block not in outside]
    aside += [_whole("sheet", block) for block in thin]
    aside += [_whole("something outside the walls", block) for block in outside]
    return _named([block for block in blocks if block not in thin and block not in outside]), aside


def _whole(what: str, block: ScanBlock) -> SetAside:
    """A block that is no furniture, with the largest of its sides."""
    *_, wide, long = sorted(block.size)
    return SetAside(what, block.centre, wide * long, 0)


def _groups(scan: Surfels, label: Ints) -> list[Ints]:
    """Points that are not the room's own, in pieces that hang together, the largest first."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    loose = np.flatnonzero(label != -2)
    row = np.full(len(label), -1)
    row[loose] = np.arange(len(loose))
    near = row[scan.neighbours[loose][:, :9]]
    own = np.repeat(np.arange(len(loose)), near.shape[1])[near.reshape(-1) >= 0]
    other = near.reshape(-1)[near.reshape(-1) >= 0]
    links = coo_array((np.ones(len(own), np.int8), (own, other)), shape=(len(loose), len(loose)))
    _, part = connected_components(links, directed=False)
    order = np.argsort(part, kind="stable")
    pieces = np.split(loose[order], np.flatnonzero(np.diff(part[order])) + 1) if len(loose) else []
    return sorted(pieces, key=len, reverse=True)


def _blocks(scan: Surfels, faces: tuple[list[Plane], list[Plane]], points: Floats) -> list[ScanBlock]:
    """One block for each top of a piece of furniture; one round all of it where it has none.

    `faces`: its own planes, and the walls of the room.
    """
    planes, walls = faces
    own_sides = [plane for plane in planes if abs(plane.normal[2]) < _UPRIGHT]
    yaw_deg = _yaw_deg(scan, own_sides)
    sides = own_sides, walls
    tops = [plane for plane in planes if plane.normal[2] > _LEVEL]
    tops = [plane for plane in tops if scan.weights[plane.members].sum() >= _LEAST_TOP_M2]
    under = [plane for plane in planes if plane.normal[2] < -_LEVEL]
    lowest = float(np.percentile(points[:, 2], 1))
    foot_m = 0.0 if lowest < _ON_FLOOR_M else lowest
    if not tops:
        z_m = (foot_m, float(np.percentile(points[:, 2], 99)))
        return [_block(scan, points, sides, yaw_deg=yaw_deg, z_m=z_m)]
    blocks = []
    for top in tops:
        own = scan.points[top.members]
        height_m = float(np.median(own[:, 2]))
        below = [
            float(np.median(scan.points[plane.members][:, 2]))
            for plane in under
            if _overlap(scan, top, plane)
        ]
        bottom_m = max([z for z in below if z < height_m - 0.01], default=foot_m)
        blocks.append(_block(scan, own, sides, yaw_deg=yaw_deg, z_m=(bottom_m, height_m)))
    return blocks


def _overlap(scan: Surfels, top: Plane, under: Plane) -> bool:
    """Whether the middle of an underside lies below a top."""
    middle = scan.points[under.members].mean(axis=0)[:2]
    over = scan.points[top.members][:, :2]
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


def _named(blocks: list[ScanBlock]) -> list[ScanBlock]:
    """Blocks with names that say what such a height usually is; whoever knows better corrects them."""
    named: list[ScanBlock] = []
    count: Counter[str] = Counter()
    for block in blocks:
        top_m = block.centre[2] + block.size[2] / 2
        kind = "table" if 0.6 <= top_m <= 0.85 else "seat" if top_m < 0.6 else "cupboard"
        if top_m - block.size[2] > _OVERHEAD_M and max(block.size[:2]) > _LONG * block.size[2]:
            kind = "beam"
        count[kind] += 1
        named.append(ScanBlock(f"{kind} {count[kind]}", block.centre, block.size, block.yaw_deg))
    return named
