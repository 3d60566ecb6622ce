"""Outline and roof of a scanned room -> the simplest shape of a scene that fits it, with tape numbers."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.room import MeshError, RoofPlane, roof_pieces

Floats = NDArray[np.float64]

LEVEL_DEG = 1.0
_TURN_DEG = 3.0  # a plan that is no rectangle is turned where its walls stand this far off the axes
_PLUMB_RAD = np.radians(3.0)  # as a scene's own cross-sections call their faces
_NARROW_M = 0.02
_SIDES = ("left wall", "back wall", "right wall", "front wall")
_EIGHT_SIDES = (
    "left wall", "back left wall", "back wall", "back right wall",
    "right wall", "front right wall", "front wall", "front left wall",
)  # fmt: skip
_MAIN = 2.0  # times as long as the next: the wall of its side, the others are parts of it


@dataclass(frozen=True)
class RoomShape:
    """A room as a scene can say it.

    Attributes
    ----------
    kind : str
        "box", "plan", "gable", "lean-to", "section" or "mesh".
    corners : (n, 2) float
        Of its plan, anticlockwise. [m]
    walls : tuple of str
        `walls[k]` from corner k to the next.
    roof : tuple of RoofPlane
        The room is as high as the lowest of them.
    numbers : tuple of (str, float or str)
        Keys of the scene with their values; without corners, profile and file. [m]
    off_m : float
        How far corners were moved to make it so simple. [m]
    """

    kind: str
    corners: Floats
    walls: tuple[str, ...]
    roof: tuple[RoofPlane, ...]
    numbers: tuple[tuple[str, float | str], ...]
    off_m: float

    def faces(self) -> list[tuple[str, Floats]]:
        """The room's flat faces, name and outline (n, 3) anticlockwise seen from the air. [m]"""
        roof = roof_pieces(self.corners, self.roof)
        floor = np.column_stack([self.corners, np.zeros(len(self.corners))])
        tops = np.column_stack([roof.corners, roof.heights])
        faces = [("floor", floor)]
        for k, name in enumerate(self.walls):
            faces.append((name, np.concatenate([floor[[(k + 1) % len(floor), k]], tops[roof.wall_tops[k]]])))
        return faces + [(piece.name, tops[piece.outline[::-1]]) for piece in roof.pieces]

    def profile(self) -> Floats:
        """Cross-section of a room of shape "section", (n, 2), anticlockwise from its near foot. [m]"""
        axis = 1 if "length" in dict(self.numbers) else 0
        span_m = float(self.corners[:, axis].max())
        tops = _lowest([(plane.rise[axis], plane.height) for plane in self.roof], span_m)
        return np.array([(0.0, 0.0), (span_m, 0.0), *[(at, height) for at, height, _ in tops[::-1]]])

    def area_m2(self, name: str) -> float:
        """Area of a surface, what stands before it not taken off. [m2]"""
        return sum(_area_m2(outline) for other, outline in self.faces() if other == name)


def main_direction_deg(corners: Floats) -> float:
    """Direction of most of the walls, within 45 degrees of the x axis. [deg]"""
    along = np.roll(corners, -1, axis=0) - corners
    length = np.hypot(*along.T)
    return float(
        np.degrees(np.angle((length * np.exp(4j * np.arctan2(along[:, 1], along[:, 0]))).sum())) / 4.0
    )


def turn_for(corners: Floats, *, tolerance_m: float) -> float:
    """By how much a plan is to be turned to lie along the axes. [deg]"""
    direction = main_direction_deg(corners)
    cosine, sine = np.cos(np.radians(direction)), np.sin(np.radians(direction))
    turned = corners @ np.array([[cosine, -sine], [sine, cosine]])
    if len(corners) == 4 and _rectangle(turned)[1] <= tolerance_m:
        return -direction
    return -direction if abs(direction) > _TURN_DEG else 0.0


def shape_of(corners: Floats, roof: list[RoofPlane], *, tolerance_m: float) -> RoomShape:
    """The simplest shape within a tolerance; corners start at x = 0 and y = 0, the floor at z = 0.

    Parameters
    ----------
    corners : (n, 2) float
        Of the plan, anticlockwise. [m]
    roof : list of RoofPlane
        At least one.
    tolerance_m : float
        How far corners may be moved. [m]
    """
    sides, off_m = _rectangle(corners) if len(corners) == 4 else (np.zeros(2), np.inf)
    length, width = float(sides[0]), float(sides[1])
    level = [plane for plane in roof if _is_level(plane)]
    sloped = [plane for plane in roof if not _is_level(plane)]
    square = np.array([(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)])
    size = (("length", length), ("width", width))
    if not sloped:
        height = min(_at(plane, corners.mean(axis=0)) for plane in level)
        flat = (RoofPlane("ceiling", (0.0, 0.0), height),)
        if off_m <= tolerance_m:
            return RoomShape("box", square, _SIDES, flat, (*size, ("height", height)), off_m)
        return RoomShape("plan", corners, wall_names(corners), flat, (("height", height),), 0.0)
    if off_m <= tolerance_m:
        found = (
            _gable(sloped, level, length, width)
            or _lean_to(sloped, level, length, width)
            or _section(sloped, level, length, width)
        )
        if found:
            kind, numbers, planes = found
            return RoomShape(kind, square, _SIDES, planes, numbers, off_m)
    named = tuple(RoofPlane(_slope_name(plane), plane.rise, plane.height) for plane in roof)
    return RoomShape("mesh", corners, wall_names(corners), _numbered(named), (), 0.0)


def renamed(shape: RoomShape, was: str, name: str) -> RoomShape:
    """A shape with another name of one of its surfaces; a box becomes a plan, whose walls have names.

    Raises
    ------
    MeshError
        If the surface has a name of its own in a room of that shape, or another one has the new name.
    """
    taken = {other for other, _ in shape.faces()}
    if not name.strip() or name in taken:
        raise MeshError(f'"{was}" cannot be called "{name}": another surface is, or that is no name')
    is_wall, is_mesh = was in shape.walls, shape.kind == "mesh"
    if not is_mesh and not (is_wall and shape.kind in ("box", "plan")):
        raise MeshError(f'the "{was}" of a room of shape {shape.kind} keeps its name')
    if was == "floor":
        raise MeshError('the "floor" keeps its name')
    walls = tuple(name if own == was else own for own in shape.walls)
    roof = tuple(RoofPlane(name if own.name == was else own.name, own.rise, own.height) for own in shape.roof)
    numbers = tuple((key, value) for key, value in shape.numbers if key == "height")
    kind = "mesh" if is_mesh else "plan"
    return RoomShape(kind, shape.corners, walls, roof, numbers, shape.off_m)


def within_outline(corners: Floats, points: Floats) -> NDArray[np.bool_]:
    """Which of some points (n, 2) lie inside an outline (m, 2)."""
    ends = np.roll(corners, -1, axis=0)
    x, y = points[:, :1], points[:, 1:]
    above = (corners[:, 1] > y) != (ends[:, 1] > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        crossed = corners[:, 0] + (y - corners[:, 1]) / (ends - corners)[:, 1] * (ends - corners)[:, 0]
    inside: NDArray[np.bool_] = np.count_nonzero(above & (crossed > x), axis=1) % 2 == 1
    return inside


def wall_names(corners: Floats) -> tuple[str, ...]:
    """Names of walls by the side they stand on; of several on one side by where on it they stand.

    One that is twice as long as the others of its side is the wall, the others are parts of it.
    """
    after = np.roll(corners, -1, axis=0)
    along, middles = after - corners, 0.5 * (after + corners)
    turn = np.degrees(np.arctan2(along[:, 1], along[:, 0]))
    side = np.round(turn / 45.0).astype(int) % len(_EIGHT_SIDES)
    length = np.hypot(*along.T)
    names = [""] * len(corners)
    for direction in np.unique(side):
        # Left and right walls run from the front to the back, the others from left to right.
        axis = 0 if direction % 4 == 0 else 1
        own = sorted(np.flatnonzero(side == direction), key=lambda k: middles[k, axis])
        first, second = (*sorted(length[own], reverse=True), 0.0)[:2]
        for k, part in zip(own, _parts(len(own), "front back" if axis == 0 else "left right"), strict=True):
            is_the_wall = length[k] == first and first >= _MAIN * second
            names[k] = _EIGHT_SIDES[direction] + ("" if is_the_wall else f" {part} part")
    return tuple(names)


def _parts(n: int, ends: str) -> list[str]:
    """What parts of a wall are called in their order from one end to the other."""
    low, high = ends.split()
    if n <= 3:
        return [[low], [low, high], [low, "middle", high]][n - 1]
    return [low, *(f"middle {number}" for number in range(1, n - 1)), high]


Found = tuple[str, tuple[tuple[str, float | str], ...], tuple[RoofPlane, ...]]


def _gable(sloped: list[RoofPlane], level: list[RoofPlane], length: float, width: float) -> Found | None:
    """Two slopes that rise from opposite walls to a ridge, under a strip of ceiling perhaps."""
    if len(sloped) != 2 or len(level) > 1:
        return None
    rises = np.array([plane.rise for plane in sloped])
    axis = int(np.argmax(np.abs(rises).sum(axis=0)))
    across = np.tan(np.radians(LEVEL_DEG))
    if rises[0, axis] * rises[1, axis] >= 0 or np.abs(rises[:, 1 - axis]).max() > across:
        return None
    low, high = sorted(sloped, key=lambda plane: -plane.rise[axis])
    size = (length, width)
    middle = 0.5 * size[1 - axis]
    a, b = low.height + low.rise[1 - axis] * middle, high.height + high.rise[1 - axis] * middle
    at = (b - a) / (low.rise[axis] - high.rise[axis])
    eaves = (a, b + high.rise[axis] * size[axis])
    ridge = a + low.rise[axis] * at
    if not 0.0 < at < size[axis] or min(eaves) < 0.2:
        return None
    numbers: list[tuple[str, float | str]] = [("length", length), ("width", width)]
    numbers += [("eaves left", eaves[0]), ("eaves right", eaves[1])]
    numbers += [("ridge", ridge), ("ridge_along", "length" if axis == 1 else "width"), ("ridge_at", at)]
    names = ("left slope", "right slope") if axis == 1 else ("front slope", "back slope")
    rise_low, rise_high = (ridge - eaves[0]) / at, (eaves[1] - ridge) / (size[axis] - at)
    slopes = [
        RoofPlane(names[0], (0.0, rise_low) if axis == 1 else (rise_low, 0.0), eaves[0]),
        RoofPlane(names[1], (0.0, rise_high) if axis == 1 else (rise_high, 0.0), ridge - rise_high * at),
    ]
    if level:
        flat = _at(level[0], np.array([0.5 * length, 0.5 * width]))
        if not max(eaves) < flat < ridge:
            return None
        numbers.append(("flat", flat))
        slopes.append(RoofPlane("ceiling", (0.0, 0.0), flat))
    return "gable", tuple(numbers), tuple(slopes)


def _lean_to(sloped: list[RoofPlane], level: list[RoofPlane], length: float, width: float) -> Found | None:
    """One slope over the whole room."""
    if len(sloped) != 1 or level:
        return None
    plane = sloped[0]
    axis = int(np.argmax(np.abs(plane.rise)))
    if abs(plane.rise[1 - axis]) > np.tan(np.radians(LEVEL_DEG)):
        return None
    size = (length, width)
    start = plane.height + plane.rise[1 - axis] * 0.5 * size[1 - axis]
    end = start + plane.rise[axis] * size[axis]
    low, high = min(start, end), max(start, end)
    side = (("front", "back"), ("left", "right"))[axis][int(end < start)]
    rise = (end - start) / size[axis]
    roof = (RoofPlane("ceiling", (rise, 0.0) if axis == 0 else (0.0, rise), start),)
    numbers = ("length", length), ("width", width), ("low", low), ("high", high), ("low_side", side)
    return "lean-to", numbers, roof


def _section(sloped: list[RoofPlane], level: list[RoofPlane], length: float, width: float) -> Found | None:
    """Slopes that are the same all along the room, under a strip of ceiling perhaps."""
    rises = np.array([plane.rise for plane in sloped])
    axis = int(np.argmax(np.abs(rises).sum(axis=0)))
    if np.abs(rises[:, 1 - axis]).max() > np.tan(np.radians(LEVEL_DEG)):
        return None
    span_m, run_m = (length, width)[axis], (length, width)[1 - axis]
    lines = [
        (0.0 if _is_level(plane) else plane.rise[axis], plane.height + plane.rise[1 - axis] * 0.5 * run_m)
        for plane in (*sloped, *level)
    ]
    if level:  # as high as it is in the middle of the room
        middle = np.array([0.5 * length, 0.5 * width])
        lines[len(sloped) :] = [(0.0, _at(plane, middle)) for plane in level]
    tops = _lowest(lines, span_m)
    if min(height for _, height, _ in tops) < 0.2:
        return None
    near, far = (("front", "back"), ("left", "right"))[axis]
    kept = [lines[k] for _, _, k in tops[:-1]]
    kinds = [
        "ceiling" if abs(np.arctan(rise)) <= _PLUMB_RAD else f"{near if rise > 0 else far} slope"
        for rise, _ in kept
    ]
    names = _counted_up(kinds[::-1])[::-1]  # as a scene counts them, round from the far foot
    planes = tuple(
        RoofPlane(name, (rise, 0.0) if axis == 0 else (0.0, rise), height)
        for name, (rise, height) in zip(names, kept, strict=True)
    )
    return "section", (("length" if axis == 1 else "width", run_m),), planes


def _lowest(lines: Sequence[tuple[float, float]], span_m: float) -> list[tuple[float, float, int]]:
    """Corners under the lowest of lines (rise, height) over a span: place, height, the line from there on."""
    at = 0.0
    now = min(range(len(lines)), key=lambda k: (lines[k][1], lines[k][0]))
    tops = [(0.0, lines[now][1], now)]
    while True:
        rise, height = lines[now]
        meets = [
            ((other_height - height) / (rise - other_rise), other_rise, k)
            for k, (other_rise, other_height) in enumerate(lines)
            if other_rise < rise
        ]
        ahead = [meet for meet in meets if at < meet[0] < span_m - _NARROW_M]
        if not ahead:
            return [*tops, (span_m, rise * span_m + height, now)]
        at, _, following = min(ahead)
        if at < _NARROW_M:  # too narrow a strip beside the wall
            tops.pop()
            tops.append((0.0, lines[following][1], following))
        else:
            tops.append((at, rise * at + height, following))
        now = following


def _rectangle(corners: Floats) -> tuple[Floats, float]:
    """Length and width of the rectangle that fits four corners, and how far they are off it. [m]"""
    order = corners[np.argsort(np.arctan2(*(corners - corners.mean(axis=0)).T[::-1]))]
    x, y = order.T
    low = np.array([0.5 * (x[0] + x[3]), 0.5 * (y[0] + y[1])])
    high = np.array([0.5 * (x[1] + x[2]), 0.5 * (y[2] + y[3])])
    fitted = np.array([(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])])
    return high - low, float(np.abs(order - fitted).max())


def _is_level(plane: RoofPlane) -> bool:
    return bool(np.hypot(*plane.rise) <= np.tan(np.radians(LEVEL_DEG)))


def _at(plane: RoofPlane, place: Floats) -> float:
    return float(np.asarray(plane.rise) @ place + plane.height)


def _slope_name(plane: RoofPlane) -> str:
    if _is_level(plane):
        return "ceiling"
    axis = int(np.argmax(np.abs(plane.rise)))
    sides = (("front", "back"), ("left", "right"))[axis]
    return f"{sides[int(plane.rise[axis] < 0)]} slope"


def _counted_up(names: Sequence[str]) -> list[str]:
    """Names that stand there several times with their numbers."""
    seen: Counter[str] = Counter()
    several = {name for name, count in Counter(names).items() if count > 1}
    told = []
    for name in names:
        seen[name] += 1
        told.append(f"{name} {seen[name]}" if name in several else name)
    return told


def _numbered(roof: tuple[RoofPlane, ...]) -> tuple[RoofPlane, ...]:
    named: list[RoofPlane] = []
    count: Counter[str] = Counter()
    for plane in roof:
        count[plane.name] += 1
        name = plane.name if count[plane.name] == 1 else f"{plane.name} {count[plane.name]}"
        named.append(RoofPlane(name, plane.rise, plane.height))
    return tuple(named)


def _area_m2(outline: Floats) -> float:
    spokes = outline[1:] - outline[0]
    return float(np.linalg.norm(0.5 * np.cross(spokes[:-1], spokes[1:]).sum(axis=0)))
