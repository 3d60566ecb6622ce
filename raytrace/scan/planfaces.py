"""Lines of a floor plan -> the outlines that they close, doorways and doors at corners closed on the way."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_LINES, _MOST_PIECES = 1600, 4000
_LEAST_SHARE = 1e-3  # of the square of the drawing's size: what is smaller is no room
SAME = 1e-4  # of the drawing's size: ends that meet
_WIDEST_GAP, _WIDEST_CORNER = 0.45, 0.30  # of the same: in a wall that goes on, and up to another wall
_IN_LINE = np.cos(np.radians(3.0))
_PASSAGE = 0.04  # of the largest room: what is smaller is the air in a doorway
_SLIP = 0.02  # of the drawing's size: narrower gaps are walls that do not quite meet
_BAND = 0.08  # of an outline's size: what is narrower all along is a wall drawn with both its faces


@dataclass(frozen=True)
class Ring:
    """A closed outline in the file's numbers, with the gaps of its walls, as rows of ends (2, 2)."""

    corners: Floats
    gaps: tuple[Floats, ...] = ()

    @property
    def area(self) -> float:
        """In the square of the file's numbers."""
        x, y = self.corners.T
        return float(abs(0.5 * (x @ np.roll(y, -1) - y @ np.roll(x, -1))))

    @property
    def band(self) -> float:
        """How wide it would be as a band that runs round a room, in the file's numbers."""
        around = float(np.linalg.norm(self.corners - np.roll(self.corners, 1, axis=0), axis=1).sum())
        return 2.0 * self.area / around

    @property
    def is_band(self) -> bool:
        """Whether it is one: both faces of walls, drawn in one go."""
        return self.band < _BAND * float(np.ptp(self.corners, axis=0).max())


def rings_of(lines: list[Floats]) -> tuple[list[Ring], list[Floats]]:
    """Outlines that lines (2, 2) close, and where they stay open, as ends (2, 2), the widest first."""
    if not 3 <= len(lines) <= MOST_LINES:
        return [], []
    net = _Net.of(np.array(lines))
    if len(net.edges) > _MOST_PIECES:  # hatching, no walls
        return [], []
    gaps, left = net.gaps()
    return net.faces(gaps), left


def rooms_within(bands: Sequence[Ring]) -> list[Ring]:
    """The rooms that bands of walls run round, the largest first: their inner faces, doorways closed.

    One band may run round all of a room, or each wall be a thin rectangle of its own.
    """
    lines = [np.stack([band.corners, np.roll(band.corners, -1, axis=0)], axis=1) for band in bands]
    if sum(map(len, lines)) > MOST_LINES:
        return []
    net = _Net.of(np.concatenate(lines))
    if len(net.edges) > _MOST_PIECES:
        return []
    inside = sorted(net.faces(net.jambs()), key=lambda ring: -ring.area)
    rooms = [ring for ring in inside if not ring.is_band]
    return [ring for ring in rooms if ring.area >= _PASSAGE * rooms[0].area]


@dataclass(frozen=True)
class _Net:
    """Lines that meet at their ends alone: points (n, 2), edges (m, 2) as their rows; `same` apart is one."""

    points: Floats
    edges: Ints
    same: float
    size: float

    @classmethod
    def of(cls, lines: Floats) -> "_Net":
        """The net of lines (n, 2, 2), cut where they cross or end on one another."""
        size = float(np.ptp(lines.reshape(-1, 2), axis=0).max())
        same = SAME * size
        pieces = _cut(lines, same)
        points, rows = _merged(pieces.reshape(-1, 2), same)
        edges = np.unique(np.sort(rows.reshape(-1, 2), axis=1), axis=0)
        return cls(points, edges[edges[:, 0] != edges[:, 1]], same, size)

    def gaps(self) -> tuple[list[Floats], list[Floats]]:
        """Gaps of walls that end, as ends (2, 2): those a door may be in, and those too wide for one."""
        ends = np.flatnonzero(np.bincount(self.edges.reshape(-1), minlength=len(self.points)) == 1)
        found = sorted((gap for end in ends for gap in self._ahead(int(end))), key=lambda gap: gap[0])
        taken: set[int] = set()
        gaps = []
        for _, end, other, there in found:
            if end not in taken and other not in taken:
                taken |= {end} | ({other} if other >= 0 else set())
                gaps.append(np.array([self.points[end], there]))
        return gaps, self._wide([int(end) for end in ends if end not in taken])

    def _wide(self, ends: list[int]) -> list[Floats]:
        """Ends that nothing follows, each with the next such end."""
        gaps = []
        while len(ends) >= 2:
            first = ends.pop(0)
            away = [float(np.linalg.norm(self.points[other] - self.points[first])) for other in ends]
            gaps.append(self.points[[first, ends.pop(int(np.argmin(away)))]])
        return sorted(gaps, key=lambda gap: -float(np.linalg.norm(gap[1] - gap[0])))

    def _ahead(self, end: int) -> list[tuple[float, int, int, Floats]]:
        """What lies ahead of a wall that ends: how far off, the end, the end or -1 that is met, and where."""
        start, way = self.points[end], self._way_out(end)
        away = np.linalg.norm(self.points - start, axis=1)
        in_line = (away > self.same) & ((self.points - start) @ way >= _IN_LINE * away)
        found = []
        for other in np.flatnonzero(in_line & (away <= _WIDEST_GAP * self.size)):
            if int(other) not in self._beside:
                continue
            far = float(away[other])
            goes_on = any(way @ along > _IN_LINE for along in self._ways_from(int(other)))
            is_end = len(self._beside[int(other)]) == 1
            most = _WIDEST_GAP if goes_on else _WIDEST_CORNER
            if far <= most * self.size and (goes_on or is_end):
                found.append((far, end, int(other), self.points[other]))
        met = self._met(start, way)
        if met is not None and float(np.linalg.norm(met - start)) <= _WIDEST_CORNER * self.size:
            found.append((float(np.linalg.norm(met - start)) * (1 + SAME), end, -1, met))
        return [gap for gap in found if not self._is_crossed(start, gap[3])]

    def jambs(self) -> list[Floats]:
        """Gaps between corners of one band from which walls go on in one line, to both sides."""
        found = []
        for first in self._beside:
            for way in self._ways_from(first):
                step = self.points - self.points[first]
                far = np.linalg.norm(step, axis=1)
                ahead = np.flatnonzero((far > self.same) & (-(step @ way) >= _IN_LINE * far))
                for other in ahead[np.argsort(far[ahead], kind="stable")][:1]:
                    goes_on = any(way @ along < -_IN_LINE for along in self._ways_from(int(other)))
                    gap = self.points[[first, other]]
                    near = far[other] <= _WIDEST_GAP * self.size
                    if first < other and goes_on and near and not self._is_crossed(*gap):
                        found.append(gap)
        return found

    def faces(self, gaps: list[Floats]) -> list[Ring]:
        """Outlines without anything inside, the gaps closed."""
        lines = np.concatenate([self.points[self.edges], np.array(gaps).reshape(-1, 2, 2)])
        net = _Net.of(lines) if gaps else self
        ends = np.array(gaps).reshape(-1, 2, 2)
        rings, middles, widths = [], ends.mean(axis=1), np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
        for loop in net._loops():
            corners = net.points[loop]
            x, y = corners.T
            area = 0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))
            turning = _without_straight(corners)
            if area > _LEAST_SHARE * self.size**2 and len(turning) >= 3:
                on = _on_outline(middles, corners, self.same)
                own = np.flatnonzero(on & (widths > _SLIP * self.size))
                rings.append(Ring(turning, tuple(gaps[k] for k in own)))
        return rings

    def _loops(self) -> list[list[int]]:
        """Ways round what edges enclose, each with that on its left; walls that end are left out."""
        edges = _without_ends(self.edges)
        ways: dict[int, list[int]] = {}
        for a, b in edges.tolist():
            ways.setdefault(a, []).append(b)
            ways.setdefault(b, []).append(a)
        for here, there in ways.items():
            step = self.points[there] - self.points[here]
            ways[here] = [there[k] for k in np.argsort(np.arctan2(step[:, 1], step[:, 0]), kind="stable")]
        left = {(a, b) for a, those in ways.items() for b in those}
        loops = []
        while left:
            way = first = min(left)
            loop = []
            while True:
                left.discard(way)
                loop.append(way[0])
                turn = ways[way[1]]
                # The next to the right of where one came from keeps what is enclosed on the left.
                way = (way[1], turn[turn.index(way[0]) - 1])
                if way == first:
                    break
            loops.append(loop)
        return loops

    @cached_property
    def _beside(self) -> dict[int, list[int]]:
        """Which points each has edges to."""
        beside: dict[int, list[int]] = {}
        for a, b in self.edges.tolist():
            beside.setdefault(a, []).append(b)
            beside.setdefault(b, []).append(a)
        return beside

    def _way_out(self, end: int) -> Floats:
        """Direction in which a wall that ends would go on."""
        way: Floats = -self._ways_from(end)[0]
        return way

    def _ways_from(self, point: int) -> list[Floats]:
        steps = self.points[self._beside[point]] - self.points[point]
        return list(steps / np.linalg.norm(steps, axis=1, keepdims=True))

    def _met(self, start: Floats, way: Floats) -> Floats | None:
        """Where a way from a point meets the first edge."""
        a, b = self.points[self.edges].transpose(1, 0, 2)
        at, share = _crossings(start, way, a, b - a)
        hit = (at > self.same) & (share >= 0.0) & (share <= 1.0)
        met: Floats | None = start + float(at[hit].min()) * way if hit.any() else None
        return met

    def _is_crossed(self, start: Floats, end: Floats) -> bool:
        """Whether an edge lies across the way from one point to another."""
        far = float(np.linalg.norm(end - start))
        a, b = self.points[self.edges].transpose(1, 0, 2)
        at, share = _crossings(start, (end - start) / far, a, b - a)
        inside = (at > self.same) & (at < far - self.same)
        return bool((inside & (share >= 0.0) & (share <= 1.0)).any())


def _crossings(start: Floats, way: Floats, a: Floats, step: Floats) -> tuple[Floats, Floats]:
    """How far along a way (2,) it crosses lines a + share step (n, 2), and at which share; else inf."""
    across = way[0] * step[:, 1] - way[1] * step[:, 0]
    off = a - start
    with np.errstate(divide="ignore", invalid="ignore"):
        at = (off[:, 0] * step[:, 1] - off[:, 1] * step[:, 0]) / across
        share = (off[:, 0] * way[1] - off[:, 1] * way[0]) / across
    parallel = np.abs(across) <= 1e-9 * np.linalg.norm(step, axis=1)
    return np.where(parallel, np.inf, at), np.where(parallel, np.inf, share)


def _cut(lines: Floats, same: float) -> Floats:
    """Lines (n, 2, 2) cut where others cross them or end on them."""
    pieces = []
    a, step = lines[:, 0], lines[:, 1] - lines[:, 0]
    ends = lines.reshape(-1, 2)
    for start, along in zip(a, step, strict=True):
        length = float(np.linalg.norm(along))
        if length <= same:
            continue
        way = along / length
        at, share = _crossings(start, way, a, step)
        slack = same / np.maximum(np.linalg.norm(step, axis=1), same)
        cuts = at[(share >= -slack) & (share <= 1.0 + slack)]
        off = ends - start
        on = np.abs(off @ np.array([-way[1], way[0]])) <= same
        cuts = np.concatenate([cuts, (off @ way)[on]])
        cuts = np.concatenate([[0.0], np.sort(cuts[(cuts > same) & (cuts < length - same)]), [length]])
        stops = start + cuts[:, None] * way
        pieces.append(np.stack([stops[:-1], stops[1:]], axis=1))
    return np.concatenate(pieces) if pieces else np.zeros((0, 2, 2))


def _merged(points: Floats, same: float) -> tuple[Floats, Ints]:
    """Points with those made one that lie together, and which each became."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    pairs = cKDTree(points).query_pairs(2.0 * same, output_type="ndarray")
    links = coo_array((np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])), shape=(len(points),) * 2)
    label = connected_components(links, directed=False)[1].astype(np.int64)
    first = np.unique(label, return_index=True)[1]
    return points[first], label


def _without_ends(edges: Ints) -> Ints:
    """Edges without those that lead nowhere."""
    while len(edges):
        count = np.bincount(edges.reshape(-1))
        kept = (count[edges] > 1).all(axis=1)
        if kept.all():
            break
        edges = edges[kept]
    return edges


def _on_outline(middles: Floats, corners: Floats, same: float) -> NDArray[np.bool_]:
    """Which of some points (n, 2) lie on an outline (m, 2)."""
    step = np.roll(corners, -1, axis=0) - corners
    off = middles[:, None] - corners
    share = np.clip((off * step).sum(axis=2) / (step**2).sum(axis=1), 0.0, 1.0)
    away = np.linalg.norm(off - share[..., None] * step, axis=2).min(axis=1)
    on: NDArray[np.bool_] = away <= 2.0 * same
    return on


def _without_straight(corners: Floats) -> Floats:
    """An outline without corners at which it goes straight on."""
    before, after = corners - np.roll(corners, 1, axis=0), np.roll(corners, -1, axis=0) - corners
    ahead = (before * after).sum(axis=1)
    turns = ahead <= _IN_LINE * np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1)
    kept: Floats = corners[turns]
    return kept
