"""Cutting many parts from few stock lengths: nothing lost, kerf counted, offcuts told."""

import math
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


def nest(lengths_m: Sequence[float], stock_m: Sequence[float], *, kerf_m: float = KERF_M) -> Nesting:
    """Which parts to cut from which stock length.

    Parameters
    ----------
    lengths_m : sequence of float
        One entry per part. [m]
    stock_m : sequence of float
        Lengths that can be bought, any number of each. [m]
    kerf_m : float
        Lost at every cut. [m]

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
    tried = []
    for n_lengths in range(1, len(set(stock_m)) + 1):
        for choice in combinations(sorted(set(stock_m)), n_lengths):
            if fitting and lengths_m[fitting[0]] > choice[-1] + _HAIR_M:
                continue
            fills = [_fill(fitting, lengths_m, choice[-1], kerf_m, best_fit=best) for best in (False, True)]
            for bins in (*fills, _fill_up(fitting, lengths_m, choice, kerf_m)):
                sticks = [_stick(parts, lengths_m, choice, kerf_m) for parts in bins]
                sticks.sort(key=lambda stick: (-stick.stock_m, stick.parts))
                tried.append(Nesting(tuple(sticks), too_long))
    return min(tried, key=lambda nesting: (round(nesting.stock_m, 9), len(nesting.sticks)))


def _fill(
    parts: Sequence[int], lengths_m: Sequence[float], stock_m: float, kerf_m: float, *, best_fit: bool
) -> list[list[int]]:
    """Parts in the order given, each into the first bin that has room, or into the fullest one."""
    bins: list[list[int]] = []
    used: list[float] = []
    for part in parts:
        room = [k for k in range(len(bins)) if used[k] + kerf_m + lengths_m[part] <= stock_m + _HAIR_M]
        if not room:
            bins.append([part])
            used.append(lengths_m[part])
            continue
        chosen = max(room, key=lambda k: used[k]) if best_fit else room[0]
        bins[chosen].append(part)
        used[chosen] += kerf_m + lengths_m[part]
    return bins


def _fill_up(
    parts: Sequence[int], lengths_m: Sequence[float], choice: Sequence[float], kerf_m: float
) -> list[list[int]]:
    """Stick by stick: of all that hold the longest part left, the one with the smallest share of waste."""
    left = list(parts)
    room = [math.floor(_STEPS_PER_M * stock + _STEP_HAIR) for stock in choice]
    bins = []
    while left:
        # Lengths in steps of 0.1 mm that some of the parts reach together, and by which parts.
        sums: dict[int, tuple[int, ...]] = {_steps_up(lengths_m[left[0]]): (left[0],)}
        for part in left[1:]:
            step = _steps_up(lengths_m[part] + kerf_m)
            for total, held in tuple(islice(sums.items(), _MOST_SUMS)):
                if total + step <= room[-1]:
                    sums.setdefault(total + step, (*held, part))
        wasted = {total: min(stock - total for stock in room if total <= stock) / total for total in sums}
        chosen = sums[min(wasted, key=lambda total: (wasted[total], -total))]
        bins.append(list(chosen))
        left = [part for part in left if part not in chosen]
    return bins


def _steps_up(length_m: float) -> int:
    """Never less than the length, so that what fits in steps fits in metres."""
    return math.ceil(_STEPS_PER_M * length_m - _STEP_HAIR)


def _stick(parts: Sequence[int], lengths_m: Sequence[float], choice: Sequence[float], kerf_m: float) -> Stick:
    """The shortest stock length that holds some parts."""
    used = sum(lengths_m[k] for k in parts) + kerf_m * (len(parts) - 1)
    stock = next(length for length in choice if used <= length + _HAIR_M)
    # The cut that frees the last part costs a kerf too, unless nothing is left.
    return Stick(stock, tuple(parts), max(stock - used - kerf_m, 0.0))
