"""Flat outlines as loose straight pieces: what lies in two of them at once, filled, hatched or as lines."""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Span = tuple[Floats, Floats]

THINNEST_M = 1e-6
_TURN = np.array([[1.0, 1.0], [-1.0, 1.0]]) / np.sqrt(2.0)


def fill_spans(solid: Floats, room: Floats) -> list[Floats]:
    """What lies both in a solid and in a room, as convex pieces.

    Parameters
    ----------
    solid, room : (n, 2, 2) float
        Straight pieces of closed outlines in any sequence; what an odd number of them surrounds is inside.
        A room whose outline is not closed at some height bounds nothing there. [m]

    Returns
    -------
    list of (4, 2) float
        Pieces with two level sides. [m]
    """
    pieces: list[Floats] = []
    levels = _levels(solid, room)
    for low, high in pairwise(levels):
        if high - low < THINNEST_M:
            continue
        middle = (low + high) / 2
        for left, right in _common(solid, room, middle):
            at = [_across(side, level) for side in (left, right) for level in (low, high)]
            pieces.append(np.array([[at[0], low], [at[2], low], [at[3], high], [at[1], high]]))
    return pieces


def hatch_spans(solid: Floats, room: Floats, step_m: float) -> list[Floats]:
    """Slanting lines (2, 2) across what lies both in a solid and in a room, so far apart. [m]"""
    if not len(solid):
        return []
    solid, room = solid @ _TURN.T, room @ _TURN.T
    low, high = solid[..., 1].min(), solid[..., 1].max()
    lines = []
    for count in range(int(np.ceil(low / step_m)), int(np.floor(high / step_m)) + 1):
        # A hair off the round figure, so that no line runs exactly through a corner.
        level = count * step_m + 1e-7
        for left, right in _common(solid, room, level):
            ends = np.array([[_across(side, level), level] for side in (left, right)])
            lines.append(ends @ _TURN)
    return lines


def parts_inside(solid: Floats, room: Floats) -> list[Floats]:
    """The parts (2, 2) of a solid's outline that lie in a room."""
    parts = []
    for start, end in solid:
        shares = np.unique([0.0, *_meetings(start, end, room), 1.0])
        for low, high in pairwise(shares):
            middle = start + (low + high) / 2 * (end - start)
            if high - low > 1e-9 and _is_inside(middle, room):
                parts.append(np.array([start + low * (end - start), start + high * (end - start)]))
    return parts


def _is_inside(point: Floats, outline: Floats) -> bool:
    level, spans = float(point[1]), _spans(outline, float(point[1]))
    return spans is None or any(_across(a, level) < point[0] < _across(b, level) for a, b in spans)


def _spans(outline: Floats, level: float) -> list[Span] | None:
    """Pairs of pieces between which a level line is inside; None where the outline is not closed."""
    low, high = outline[..., 1].min(axis=1), outline[..., 1].max(axis=1)
    met = outline[(low <= level) & (level < high)]
    if len(met) % 2:
        return None
    order = np.argsort([_across(piece, level) for piece in met])
    return [(met[order[i]], met[order[i + 1]]) for i in range(0, len(order), 2)]


def _common(solid: Floats, room: Floats, level: float) -> list[Span]:
    """Pairs of pieces between which a level line is inside both outlines."""
    own, around = _spans(solid, level) or [], _spans(room, level)
    if around is None:
        return own
    both = [
        (max(a[0], b[0], key=lambda piece: _across(piece, level)),
         min(a[1], b[1], key=lambda piece: _across(piece, level)))
        for a in own
        for b in around
    ]  # fmt: skip
    return [(left, right) for left, right in both if _across(left, level) < _across(right, level)]


def _meetings(start: Floats, end: Floats, outline: Floats) -> Floats:
    """Shares of a straight line, 0 to 1, at which it crosses pieces of an outline, ascending."""
    way, ways = end - start, outline[:, 1] - outline[:, 0]
    turn = way[0] * ways[:, 1] - way[1] * ways[:, 0]
    away = outline[:, 0] - start
    with np.errstate(divide="ignore", invalid="ignore"):
        own = (away[:, 0] * ways[:, 1] - away[:, 1] * ways[:, 0]) / turn
        theirs = (away[:, 0] * way[1] - away[:, 1] * way[0]) / turn
    met = (np.abs(turn) > 1e-15) & (own > 0) & (own < 1) & (theirs >= 0) & (theirs <= 1)
    return np.sort(own[met])


def _across(piece: Floats, level: float) -> float:
    """Where a straight piece (2, 2) meets a level line."""
    (x0, y0), (x1, y1) = piece
    return float(x0 + (level - y0) / (y1 - y0) * (x1 - x0))


def _levels(solid: Floats, room: Floats) -> Floats:
    """Heights of all corners of a solid, and where its outline crosses itself or that of the room."""
    if not len(solid):
        return np.empty(0)
    levels = [solid[..., 1].ravel()]
    for start, end in solid:
        for outline in (room, solid):
            shares = _meetings(start, end, outline)
            levels.append(start[1] + shares * (end[1] - start[1]))
    corners = room[..., 1].ravel()
    low, high = levels[0].min(), levels[0].max()
    levels.append(corners[(corners > low) & (corners < high)])
    return np.unique(np.concatenate(levels))
