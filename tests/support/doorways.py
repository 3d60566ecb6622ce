"""Scans of two rooms with one doorway between them: where it is, how thick the wall, how it is drawn."""

from dataclasses import dataclass, replace

import numpy as np

from tests.support.scans import Rough, Truth, box_sides, scan_of


@dataclass(frozen=True)
class TwoRooms:
    """A large room and a small one beside it along x, parted by a wall with a doorway. [m]

    `reveal`: whether the sides of the doorway were seen, and its threshold; `pieces`: the wall is drawn as
    pieces round the doorway whose corners do not meet those beside them; `apart`: no face shares corners with
    another; `double`: a wall without thickness is drawn from either side; `attic`: low eaves in the left.
    """

    thick: float = 0.1
    door: tuple[float, float] = (1.2, 2.0)  # from where to where along y
    sill: float = 0.0
    head: float = 2.0
    height: float = 2.5
    reveal: bool = True
    pieces: bool = False
    apart: bool = False
    double: bool = False
    attic: bool = False
    elbow: bool = False
    blocks: tuple = ()
    large: tuple[float, float] = (4.6, 3.8)
    small: tuple[float, float] = (2.9, 3.8)

    @property
    def door_m2(self) -> float:
        return (self.door[1] - self.door[0]) * (self.head - self.sill)

    def floors_m2(self):
        """Floor areas of the two, the large one first."""
        cut = 1.6 * 1.2 if self.elbow else 0.0
        return np.prod(self.large) - cut, np.prod(self.small)

    def truth(self) -> Truth:
        """Faces of both rooms."""
        truth = Truth()
        length, x = self.large[0], self.large[0] + self.thick
        for outline, wall in ((self._large(), length), (self._small(), x)):
            self._room(truth, outline, wall)
        if self.thick == 0.0 and not self.double:
            self._drop_second_wall(truth, length)
        if self.reveal and self.thick > 0.0:
            (a, b), low, high = self.door, self.sill, self.head
            truth.add([(length, a, low), (length, a, high), (x, a, high), (x, a, low)])
            truth.add([(length, b, low), (x, b, low), (x, b, high), (length, b, high)])
            truth.add([(length, a, high), (length, b, high), (x, b, high), (x, a, high)])
            truth.add([(length, a, low), (x, a, low), (x, b, low), (length, b, low)])
        for low, high in self.blocks:
            box_sides(truth, low, high)
        return truth

    def _large(self):
        length, width = self.large
        if self.elbow:
            return [(0, 0), (length, 0), (length, width), (1.6, width), (1.6, width - 1.2), (0, width - 1.2)]
        return [(0, 0), (length, 0), (length, width), (0, width)]

    def _small(self):
        x, (length, width) = self.large[0] + self.thick, self.small
        return [(x, 0), (x + length, 0), (x + length, width), (x, width)]

    def _top(self, y):
        return min(self.height, 1.1 + y) if self.attic else self.height

    def _room(self, truth, outline, wall):
        truth.add([(x, y, 0.0) for x, y in outline])
        self._roof(truth, outline)
        for (ax, ay), (bx, by) in zip(outline, (*outline[1:], outline[0]), strict=True):
            if ax == bx == wall:
                self._parted(truth, wall, (ay, by))
                continue
            breaks = self._breaks(ay, by)
            top = [(ax + (bx - ax) * s, y, self._top(y)) for s, y in breaks]
            truth.add([(bx, by, 0.0), (ax, ay, 0.0), *top])

    def _breaks(self, a, b):
        """Shares and places along y of a wall at which its top turns."""
        knee = self.height - 1.1
        inside = self.attic and min(a, b) < knee < max(a, b)
        return [(0.0, a), *([((knee - a) / (b - a), knee)] if inside else []), (1.0, b)]

    def _roof(self, truth, outline):
        if not self.attic:
            truth.add([(x, y, self.height) for x, y in reversed(outline)])
            return
        knee = self.height - 1.1
        (x0, y0), (x1, y1) = np.min(outline, axis=0), np.max(outline, axis=0)
        truth.add([(x0, knee, self.height), (x1, knee, self.height), (x1, y0, 1.1), (x0, y0, 1.1)])
        truth.add(
            [(x0, y1, self.height), (x1, y1, self.height), (x1, knee, self.height), (x0, knee, self.height)]
        )

    def _parted(self, truth, x, span):
        """The wall at x with its doorway, seen from one of its sides."""
        (start, end), (a, b) = sorted(span), self.door
        top = [(y, self._top(y)) for _, y in self._breaks(start, end)]
        if self.pieces:
            at = [start, a, b, end]
            for k, low in enumerate((0.0, self.head, 0.0)):
                over = [(y, self._top(y)) for _, y in self._breaks(at[k], at[k + 1])]
                truth.add([(x, at[k + 1], low), (x, at[k], low), *((x, *own) for own in over)])
            if self.sill:
                truth.add([(x, a, 0.0), (x, b, 0.0), (x, b, self.sill), (x, a, self.sill)])
        elif self.sill:
            gap = [(x, y, z) for y, z in ((a, self.sill), (b, self.sill), (b, self.head), (a, self.head))]
            truth.add([(x, end, 0.0), (x, start, 0.0), *((x, *own) for own in top)], [gap])
        else:
            gap = [(b, 0.0), (b, self.head), (a, self.head), (a, 0.0)]
            truth.add(
                [(x, end, 0.0), *((x, *own) for own in gap), (x, start, 0.0), *((x, *own) for own in top)]
            )

    def _drop_second_wall(self, truth, wall):
        own = [k for k, (face, _) in enumerate(truth.faces) if (face[:, 0] == wall).all()]
        n = len(own) // 2
        truth.faces = [face for k, face in enumerate(truth.faces) if k not in own[n:]]

    def scan(self, rough: Rough):
        """Points and triangles of a scan of both."""
        truth = self.truth()
        if not self.apart:
            return scan_of(truth, rough)
        # Each face by itself, as programs that draw planes write them.
        points, triangles, n = [], [], 0
        for k, face in enumerate(truth.faces):
            own = replace(rough, seed=rough.seed + k, repeated=0, degenerate=0)
            p, t = scan_of(Truth([face]), own)
            points.append(p)
            triangles.append(t + n)
            n += len(p)
        return np.concatenate(points), np.concatenate(triangles)
