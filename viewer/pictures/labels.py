"""Names beside a picture: two columns, leaders that never cross, boxes that never touch."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Box:
    """An upright rectangle of a picture in pixels from its top left corner, and what stands in it."""

    text: str
    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: "Box") -> bool:
        """Whether the two share any area."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    @property
    def height(self) -> float:
        """Bottom less top. [px]"""
        return self.bottom - self.top


@dataclass(frozen=True)
class Label:
    """A name and what is said of it.

    Attributes
    ----------
    name, value : str
        First line; second line or empty.
    colour : str
        Of the second line.
    anchor : (float, float)
        What it names, in pixels of the picture.
    clear_px : float
        The leader stops this far from the anchor.
    rank : int
        Where room is short, higher ranks are left out first.
    """

    name: str
    value: str
    colour: str
    anchor: tuple[float, float]
    clear_px: float
    rank: int


@dataclass(frozen=True)
class Placed:
    """A label with its box and its leader from box to anchor, in pixels."""

    label: Label
    box: Box
    leader: tuple[tuple[float, float], tuple[float, float]]


Measure = Callable[[Label], tuple[float, float]]


def place_labels(
    labels: Sequence[Label], columns: tuple[Box, Box], *, measure: Measure, gap_px: float
) -> tuple[Placed, ...]:
    """Labels in a left and a right column, beside what they name.

    Parameters
    ----------
    labels : sequence of Label
        In any order.
    columns : (Box, Box)
        Left and right column; text stands at their inner edges.
    measure : callable
        Width and height of a label. [px]
    gap_px : float
        Smallest distance between two labels, and between a label and its leader.

    Returns
    -------
    tuple of Placed
        What fits; the highest ranks are left out first.
    """
    ordered = sorted(labels, key=lambda label: (label.rank, label.anchor))
    while ordered:
        sides = _share_out(ordered, columns, measure, gap_px)
        if sides is not None:
            placed: list[Placed] = []
            for side, column in zip(sides, columns, strict=True):
                placed += _fill(side, column, measure, gap_px, is_left=column is columns[0])
            return tuple(placed)
        ordered = ordered[:-1]
    return ()


def _share_out(
    labels: list[Label], columns: tuple[Box, Box], measure: Measure, gap_px: float
) -> tuple[list[Label], list[Label]] | None:
    """Nearest column for each, moving the least decided ones over where one is full; None if both are."""
    middle = (columns[0].right + columns[1].left) / 2
    by_x = sorted(labels, key=lambda label: label.anchor[0])
    heights = np.array([measure(label)[1] + gap_px for label in by_x])
    wanted = sum(label.anchor[0] < middle for label in by_x)
    # Two labels on the wrong side of the middle are worth three fewer in the fuller column.
    cost = [abs(n - wanted) + 0.6 * abs(2 * n - len(by_x)) for n in range(len(by_x) + 1)]
    for n_left in np.argsort(cost, kind="stable"):
        fits_left = heights[:n_left].sum() - gap_px <= columns[0].height
        fits_right = heights[n_left:].sum() - gap_px <= columns[1].height
        if fits_left and fits_right:
            return by_x[:n_left], by_x[n_left:]
    return None


def _fill(
    labels: list[Label], column: Box, measure: Measure, gap_px: float, *, is_left: bool
) -> list[Placed]:
    order = sorted(labels, key=lambda label: label.anchor[1])
    placed = _stack(order, column, measure, gap_px, is_left)
    # Undoing a crossing shortens the leaders in all, so this ends; the bound guards against ties.
    for _ in range(len(order) ** 2):
        crossing = _first_crossing(placed)
        if crossing is None:
            break
        i, j = crossing
        order[i], order[j] = order[j], order[i]
        placed = _stack(order, column, measure, gap_px, is_left)
    return placed


def _stack(order: list[Label], column: Box, measure: Measure, gap_px: float, is_left: bool) -> list[Placed]:
    """One above the other, each as near to its anchor's height as the others allow."""
    sizes = [measure(label) for label in order]
    heights = np.array([height for _, height in sizes])
    above = np.concatenate([[0.0], np.cumsum(heights + gap_px)])
    wanted = np.array([label.anchor[1] for label in order]) - heights / 2 - above[:-1]
    lowest = column.bottom - (above[-1] - gap_px)
    tops = np.clip(rising(wanted), column.top, max(lowest, column.top)) + above[:-1]
    placed = []
    for label, (width, height), top in zip(order, sizes, tops, strict=True):
        left = column.right - width if is_left else column.left
        box = Box(label.name, left, float(top), left + width, float(top + height))
        start = (box.right + gap_px / 2 if is_left else box.left - gap_px / 2, (box.top + box.bottom) / 2)
        placed.append(Placed(label, box, (start, _stop_short(start, label))))
    return placed


def rising(values: Floats) -> Floats:
    """The nearest numbers, by squares, of which none is smaller than the one before it.

    Neighbours that violate the order are pooled: Ayer et al., Ann. Math. Statist. 26 (1955), from memory.
    scipy has it, and takes a second to load.
    """
    pools: list[tuple[float, int]] = []
    for value in values.tolist():
        mean, count = value, 1
        while pools and pools[-1][0] >= mean:
            before, many = pools.pop()
            mean, count = (before * many + mean * count) / (many + count), many + count
        pools.append((mean, count))
    return np.repeat([mean for mean, _ in pools], np.array([count for _, count in pools], np.int64))


def _stop_short(start: tuple[float, float], label: Label) -> tuple[float, float]:
    """End of the leader, just outside what the label names."""
    way = np.array(label.anchor) - start
    length = float(np.hypot(*way))
    share = max(0.0, 1.0 - label.clear_px / length) if length else 0.0
    return (float(start[0] + share * way[0]), float(start[1] + share * way[1]))


def _first_crossing(placed: list[Placed]) -> tuple[int, int] | None:
    for i in range(len(placed)):
        for j in range(i + 1, len(placed)):
            if segments_cross(placed[i].leader, placed[j].leader):
                return i, j
    return None


def segments_cross(
    one: tuple[tuple[float, float], tuple[float, float]],
    other: tuple[tuple[float, float], tuple[float, float]],
) -> bool:
    """Whether two straight lines cross away from their ends."""

    def side(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
        return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])

    return (
        side(*one, other[0]) * side(*one, other[1]) < -1e-9
        and side(*other, one[0]) * side(*other, one[1]) < -1e-9
    )
