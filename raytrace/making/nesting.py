"""Cutting many parts from few stock lengths: nothing lost, kerf counted, offcuts told."""

import math
from bisect import bisect_left, insort
from collections import Counter, deque
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, islice

KERF_M = 0.003
"""Width of a saw cut. Common practice, no source."""
_STEPS_PER_M = 1e4  # tenths of a millimetre
_STEP_HAIR = 1e-6
_MOST_SUMS = 300  # of parts of many different lengths more sums are not worth the time
_HAIR_M = 1e-9  # so that parts which fill a length exactly still fit


@dataclass(frozen=True)
class Stick:
    """One stock length [m], the parts cut from it by their index, what is left over [m]."""

    stock_m: float
    parts: tuple[int, ...]
    offcut_m: float


@dataclass(frozen=True)
class Nesting:
    """Sticks to buy and how to cut them; parts longer than any stock length, by their index."""

    sticks: tuple[Stick, ...]
    too_long: tuple[int, ...]

    @property
    def stock_m(self) -> float:
        """Length bought, all sticks together. [m]"""
        return sum(stick.stock_m for stick in self.sticks)


def nest(lengths_m: Sequence[float], stock_m: Sequence[float]) -> Nesting:
    """Which parts to cut from which stock length.

    Parameters
    ----------
    lengths_m : sequence of float
        One entry per part. [m]
    stock_m : sequence of float
        Lengths that can be bought, any number of each. [m]

    Returns
    -------
    Nesting
        Least length bought, then fewest sticks, of all that were tried; longest sticks first.

    Raises
    ------
    ValueError
        If a length is not positive.

    Notes
    -----
    First fit, best fit, and stick by stick the fullest one that holds the longest part left, for every
    choice of stock lengths; each stick is then swapped for the shortest of the choice that holds its
    parts. The best possible cut may be a little better.

    Examples
    --------
    >>> [stick.parts for stick in nest([1.2, 0.6, 1.2, 0.6], [2.4, 3.0]).sticks]
    [(0, 1), (2, 3)]
    """
    if not all(length > 0.0 for length in (*lengths_m, *stock_m)):
        raise ValueError("lengths_m and stock_m must be positive")
    longest = max(stock_m)
    order = sorted(range(len(lengths_m)), key=lambda k: -lengths_m[k])
    fitting = [k for k in order if lengths_m[k] <= longest + _HAIR_M]
    too_long = tuple(sorted(set(order) - set(fitting)))
    needed_m = lengths_m[fitting[0]] - _HAIR_M if fitting else 0.0
    fills = {
        stock: [_fill(fitting, lengths_m, stock, best_fit=best) for best in (False, True)]
        for stock in set(stock_m)
        if stock >= needed_m
    }
    tried = []
    for n_lengths in range(1, len(set(stock_m)) + 1):
        for choice in combinations(sorted(set(stock_m)), n_lengths):
            if choice[-1] not in fills:
                continue
            for bins in (*fills[choice[-1]], _fill_up(fitting, lengths_m, choice)):
                sticks = [_stick(parts, lengths_m, choice) for parts in bins]
                sticks.sort(key=lambda stick: (-stick.stock_m, stick.parts))
                tried.append(Nesting(tuple(sticks), too_long))
    return min(tried, key=lambda nesting: (round(nesting.stock_m, 9), len(nesting.sticks)))


def _fill(
    parts: Sequence[int], lengths_m: Sequence[float], stock_m: float, *, best_fit: bool
) -> list[list[int]]:
    """Parts in the order given, each into the first bin that has room, or into the fullest one."""
    bins: list[list[int]] = []
    used: list[float] = []
    by_use: list[tuple[float, int]] = []  # the fullest bin last, of equally full ones the first
    first, length_m = 0, math.inf  # no bin before `first` has room for another part of that length
    for part in parts:
        if lengths_m[part] != length_m:
            first, length_m = 0, lengths_m[part]

        def is_full(already_m: float, length_m: float = length_m) -> bool:
            return already_m + KERF_M + length_m > stock_m + _HAIR_M

        if best_fit:
            place = bisect_left(by_use, True, key=lambda entry: is_full(entry[0])) - 1
            chosen = -by_use.pop(place)[1] if place >= 0 else len(bins)
        else:
            first = next((k for k in range(first, len(bins)) if not is_full(used[k])), len(bins))
            chosen = first
        if chosen == len(bins):
            bins.append([part])
            used.append(length_m)
        else:
            bins[chosen].append(part)
            used[chosen] += KERF_M + length_m
        insort(by_use, (used[chosen], -chosen))
    return bins


def _fill_up(parts: Sequence[int], lengths_m: Sequence[float], choice: Sequence[float]) -> list[list[int]]:
    """Stick by stick: of all that hold the longest part left, the one with the smallest share of waste."""
    left: dict[float, deque[int]] = {}
    for part in parts:
        left.setdefault(lengths_m[part], deque()).append(part)
    room = [math.floor(_STEPS_PER_M * stock + _STEP_HAIR) for stock in choice]
    # Of each length more parts than a stick holds, and one, make no difference to how it is filled.
    most = {length_m: room[-1] // _steps_up(length_m) + 1 for length_m in left}
    known: dict[tuple[tuple[float, int], ...], Counter[float]] = {}
    bins = []
    while left:
        there = tuple((length_m, min(len(own), most[length_m])) for length_m, own in left.items())
        if there not in known:
            known[there] = Counter(_fullest(there, room))
        bins.append(
            [left[length_m].popleft() for length_m, count in known[there].items() for _ in range(count)]
        )
        left = {length_m: own for length_m, own in left.items() if own}
    return bins


def _fullest(there: Sequence[tuple[float, int]], room: Sequence[int]) -> tuple[float, ...]:
    """Lengths that fill a stick with the smallest share of waste, the longest there is among them."""
    longest = there[0][0]
    # Lengths in steps of 0.1 mm that some of the parts reach together, and by which parts.
    sums: dict[int, tuple[float, ...]] = {_steps_up(longest): (longest,)}
    for length_m, count in there:
        step = _steps_up(length_m + KERF_M)
        for _ in range(count - (length_m == longest)):
            for total, held in tuple(islice(sums.items(), _MOST_SUMS)):
                if total + step <= room[-1]:
                    sums.setdefault(total + step, (*held, length_m))
    wasted = {total: min(stock - total for stock in room if total <= stock) / total for total in sums}
    return sums[min(wasted, key=lambda total: (wasted[total], -total))]


def _steps_up(length_m: float) -> int:
    """Never less than the length, so that what fits in steps fits in metres."""
    return math.ceil(_STEPS_PER_M * length_m - _STEP_HAIR)


def _stick(parts: Sequence[int], lengths_m: Sequence[float], choice: Sequence[float]) -> Stick:
    """The shortest stock length that holds some parts."""
    used = sum(lengths_m[k] for k in parts) + KERF_M * (len(parts) - 1)
    stock = next(length for length in choice if used <= length + _HAIR_M)
    # The cut that frees the last part costs a kerf too, unless nothing is left.
    return Stick(stock, tuple(parts), max(stock - used - KERF_M, 0.0))
