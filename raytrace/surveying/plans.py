"""What a tape takes of a plan: its walls, its diagonals, and how the corners move with each of them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.scene import PlanRoom

Floats = NDArray[np.float64]
Pair = tuple[int, int]

LEAST_ERROR_M = 1e-4
"""No tape is better; it keeps a stated error of 0 from dividing by it."""
_LOOSE_M = 0.2  # a diagonal that nothing measured holds better than this is one to lay a tape along
_FREE = 1e-6  # share of the largest by which a way of moving changes the lengths, below which it is free
_CLEAR = 1e-9


@dataclass(frozen=True)
class TapedLength:
    """One length of a plan, from corner to corner.

    Attributes
    ----------
    corners : (2,) tuple of int
        Counted from 1.
    what : str
        What it is called.
    error_m : float
        One standard error of it. [m]
    """

    corners: Pair
    what: str
    error_m: float


def taped_lengths(room: PlanRoom, usual_m: float) -> tuple[TapedLength, ...]:
    """Walls of a plan, diagonals that were measured of it, and those that are needed beside them.

    Walls alone leave a plan free to lean. Where too few diagonals are given, further ones are taken as
    measured too: those inside the room that are known worst from all others.

    Parameters
    ----------
    room : PlanRoom
    usual_m : float
        One standard error of what names no other. [m]
    """
    n = len(room.corners)
    errors_m = {_pair(k, (k + 1) % n): usual_m for k in range(n)}
    given: dict[Pair, list[float]] = {}
    for own in room.diagonals:
        error_m = max(usual_m if own.error is None else own.error, LEAST_ERROR_M)
        given.setdefault(_pair(*(k - 1 for k in own.corners)), []).append(error_m)
    # The same length measured twice is surer than once.
    errors_m |= {pair: mean_error_m(own) for pair, own in given.items()}
    errors_m |= dict.fromkeys(_missing(np.array(room.corners, np.float64), errors_m), usual_m)
    return tuple(
        TapedLength((a + 1, b + 1), length_name(room, a + 1, b + 1), max(error_m, LEAST_ERROR_M))
        for (a, b), error_m in errors_m.items()
    )


def mean_error_m(errors_m: list[float]) -> float:
    """Standard error of the weighed mean of one length from several measurements of it. [m]"""
    return float(sum(max(own, LEAST_ERROR_M) ** -2 for own in errors_m) ** -0.5)


def wall_name(room: PlanRoom, k: int) -> str:
    """What the wall from corner k to the next is called; k from 0."""
    return room.walls[k] if room.walls else f"wall {k + 1}"


def length_name(room: PlanRoom, first: int, second: int) -> str:
    """What the length between two corners is called; they are counted from 1."""
    n = len(room.corners)
    for k, other in ((first - 1, second - 1), (second - 1, first - 1)):
        if (k + 1) % n == other:
            return f"length of {wall_name(room, k)}"
    return f"diagonal from corner {first} to {second}"


def corner_name(room: PlanRoom, corner: int) -> str:
    """Where a corner is, by the walls that meet in it; counted from 1."""
    n = len(room.corners)
    return f"{wall_name(room, (corner - 2) % n)} meets {wall_name(room, corner - 1)}"


def corner_moves(room: PlanRoom, lengths: tuple[TapedLength, ...]) -> Floats:
    """How far each corner moves per metre of each length, (n_lengths, n, 2).

    Least squares: of lengths that are as many as a plan needs each moves by itself while all others stay.
    """
    drawn = np.array(room.corners, np.float64)
    ways = ways_to_move(drawn)
    weight = np.array([1.0 / own.error_m for own in lengths])
    ends = np.array([own.corners for own in lengths], np.int64) - 1
    steep = steepness(drawn, ends) @ ways
    moves = ways @ (np.linalg.pinv(steep * weight[:, None], rcond=_FREE) * weight)
    return np.ascontiguousarray(moves.T).reshape(len(lengths), len(drawn), 2)


def ways_to_move(drawn: Floats) -> Floats:
    """Directions in which corners may move with one wall kept in its line, (2 n, 2 n - 3), orthonormal.

    It is the wall nearest to x = 0, from where all tapes begin, and its end nearer to where they do stays.
    """
    n = len(drawn)
    farther_m = np.maximum(np.abs(drawn[:, 0]), np.abs(np.roll(drawn[:, 0], -1)))
    first = int(np.argmin(farther_m))
    first, second = sorted((first, (first + 1) % n), key=lambda k: float(np.linalg.norm(drawn[k])))
    along = drawn[second] - drawn[first]
    across = np.array([-along[1], along[0]]) / np.linalg.norm(along)
    kept = np.zeros((3, 2 * n))
    kept[0, 2 * first], kept[1, 2 * first + 1] = 1.0, 1.0
    kept[2, 2 * second : 2 * second + 2] = across
    _, _, right = np.linalg.svd(kept)
    ways: Floats = right[3:].T
    return ways


def steepness(corners: Floats, ends: NDArray[np.int64]) -> Floats:
    """Change of each length between two corners, counted from 0, with each coordinate, (n_lengths, 2 n)."""
    along = corners[ends[:, 1]] - corners[ends[:, 0]]
    along = along / np.linalg.norm(along, axis=1, keepdims=True)
    steep, row = np.zeros((len(ends), len(corners), 2)), np.arange(len(ends))
    steep[row, ends[:, 1]] += along
    steep[row, ends[:, 0]] -= along
    return steep.reshape(len(ends), 2 * len(corners))


def _pair(first: int, second: int) -> Pair:
    return (first, second) if first < second else (second, first)


def _missing(drawn: Floats, errors_m: dict[Pair, float]) -> list[Pair]:
    """Diagonals that hold a plan beside the lengths measured of it, each the one known worst so far."""
    ways, known = ways_to_move(drawn), np.array(list(errors_m), np.int64)
    steep = steepness(drawn, known) @ ways
    n_free = ways.shape[1] - int(np.linalg.matrix_rank(steep, tol=_FREE))
    spread = _LOOSE_M**2 * np.eye(ways.shape[1])
    for row, error_m in zip(steep, errors_m.values(), strict=True):
        spread = _learnt(spread, row, error_m)
    inner = [pair for pair in _inner_diagonals(drawn) if pair not in errors_m]
    rows = steepness(drawn, np.array(inner, np.int64).reshape(-1, 2)) @ ways
    usual_m, found = float(np.median(list(errors_m.values()))), list[Pair]()
    for _ in range(min(n_free, len(inner))):
        worst = int(np.argmax(np.einsum("ij,jk,ik->i", rows, spread, rows)))
        found.append(inner[worst])
        spread = _learnt(spread, rows[worst], usual_m)
    return found


def _learnt(spread: Floats, row: Floats, error_m: float) -> Floats:
    """Covariance of the ways of moving once a length is measured as well."""
    seen = spread @ row
    learnt: Floats = spread - np.outer(seen, seen) / (float(row @ seen) + error_m**2)
    return learnt


def _inner_diagonals(drawn: Floats) -> list[Pair]:
    """Pairs of corners that see each other across the room: a tape can be laid between them."""
    n, found = len(drawn), []
    for a in range(n):
        for b in range(a + 2, n - (a == 0)):
            if _sees(drawn, a, b):
                found.append((a, b))
    return found


def _sees(drawn: Floats, a: int, b: int) -> bool:
    """Whether the line between two corners that are no neighbours lies in the room, no wall in its way."""
    start, end = drawn[a], drawn[b]
    others = [k for k in range(len(drawn)) if not {k, (k + 1) % len(drawn)} & {a, b}]
    p, q = drawn[others], np.roll(drawn, -1, axis=0)[others]
    slack = _CLEAR * float(np.linalg.norm(end - start))
    crossed = (_side(start, end, p) * _side(start, end, q) <= slack) & (
        _side(p, q, start) * _side(p, q, end) <= slack
    )
    middle = 0.5 * (start + end)
    ends = np.roll(drawn, -1, axis=0)
    above = (drawn[:, 1] > middle[1]) != (ends[:, 1] > middle[1])
    rise = np.where(above, ends[:, 1] - drawn[:, 1], 1.0)
    at = drawn[:, 0] + (middle[1] - drawn[:, 1]) / rise * (ends[:, 0] - drawn[:, 0])
    return not crossed.any() and int((above & (at > middle[0])).sum()) % 2 == 1


def _side(start: Floats, end: Floats, point: Floats) -> Floats:
    """Twice the area of the triangles, positive for a point to the left of the line."""
    along, towards = end - start, point - start
    side: Floats = along[..., 0] * towards[..., 1] - along[..., 1] * towards[..., 0]
    return side
