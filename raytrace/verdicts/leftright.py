"""Left against right: what reaches a seat from two speakers that should be mirror images of each other."""

from dataclasses import dataclass

import numpy as np

from raytrace.reflections import Arrivals, decibels
from raytrace.scene import Scene

# Energy compared between left and right: after the direct sound's own pulse, up to the usual window.
LEFT_RIGHT_WINDOW_S = (0.0003, 0.015)
# Mirrored bounce points this far apart still belong to the same reflection (own choice).
PAIR_DISTANCE_M = 0.5


@dataclass(frozen=True)
class LeftRight:
    """The two main speakers nearest to mirror images of each other about the seat.

    Attributes
    ----------
    left, right, seat : int
        Indices into the scene's lists.
    left_energy_db, right_energy_db : float
        Reflected energy 0.3-15 ms after the direct sound, re that direct sound, in the limit's band.
    difference_db : float
        Left less right of the two: the headline number.
    pairs : tuple of (int, int)
        Rows of arrivals that mirror each other, left first.
    unpaired : tuple of int
        Rows in the window that have no counterpart.
    """

    left: int
    right: int
    seat: int
    left_energy_db: float
    right_energy_db: float
    difference_db: float
    pairs: tuple[tuple[int, int], ...]
    unpaired: tuple[int, ...]


def speaker_pair(scene: Scene, *, seat: int = 0) -> tuple[int, int] | None:
    """The main speakers nearest to mirror images about a seat, left first; None if one side has none."""
    mains = [i for i, s in enumerate(scene.speakers) if s.use == "main"]
    position = np.array([s.position for s in scene.speakers])
    middle = scene.seats[seat].ears[1]
    mirror = position * [1, -1, 1] + [0, 2 * middle, 0]
    candidates = [
        (float(np.linalg.norm(mirror[i] - position[j])), i, j)
        for i in mains
        for j in mains
        if position[i, 1] < middle < position[j, 1]
    ]
    return min(candidates)[1:] if candidates else None


def compare_left_right(scene: Scene, arrivals: Arrivals, *, seat: int = 0) -> LeftRight | None:
    """Left against right at one seat; None without two main speakers either side of it."""
    pair = speaker_pair(scene, seat=seat)
    if pair is None:
        return None
    left, right = pair
    middle = scene.seats[seat].ears[1]
    energy_db = [_early_energy_db(arrivals, speaker, seat) for speaker in (left, right)]
    pairs, unpaired = _mirrored_pairs(arrivals, left, right, seat, middle)
    return LeftRight(
        left,
        right,
        seat,
        left_energy_db=energy_db[0],
        right_energy_db=energy_db[1],
        difference_db=energy_db[0] - energy_db[1],
        pairs=pairs,
        unpaired=unpaired,
    )


def _early_energy_db(arrivals: Arrivals, speaker: int, seat: int) -> float:
    rows = arrivals.at(speaker, seat)
    start, end = LEFT_RIGHT_WINDOW_S
    rows = rows[(arrivals.delay_s[rows] >= start) & (arrivals.delay_s[rows] <= end)]
    return float(decibels(np.sum(10.0 ** (arrivals.band_level_db[rows] / 10.0))))


def _mirrored_pairs(
    arrivals: Arrivals, left: int, right: int, seat: int, middle: float
) -> tuple[tuple[tuple[int, int], ...], tuple[int, ...]]:
    """Pair left and right reflections whose bounce points mirror each other, nearest first."""
    rows = [
        r[arrivals.delay_s[r] <= LEFT_RIGHT_WINDOW_S[1]]
        for r in (arrivals.at(left, seat), arrivals.at(right, seat))
    ]
    mirrored = arrivals.path_points * [1, -1, 1] + [0, 2 * middle, 0]
    distances = []
    for a in rows[0]:
        for b in rows[1]:
            if arrivals.order[a] == arrivals.order[b]:
                bounces = slice(1, arrivals.order[a] + 1)
                gap = np.linalg.norm(mirrored[a, bounces] - arrivals.path_points[b, bounces], axis=1).max()
                if gap <= PAIR_DISTANCE_M:
                    distances.append((float(gap), int(a), int(b)))
    pairs: list[tuple[int, int]] = []
    taken: set[int] = set()
    for _, a, b in sorted(distances):
        if a not in taken and b not in taken:
            pairs.append((a, b))
            taken |= {a, b}
    unpaired = tuple(int(r) for side in rows for r in side if int(r) not in taken)
    return tuple(sorted(pairs)), unpaired
