"""Other arrangements of desk, speakers and seat as records: changes, and what a full run says."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from raytrace.study.freedoms import Range, Setting


@dataclass(frozen=True)
class Target:
    """A peak to be brought below the limit: seat and speakers that it reaches it from, by index; its way."""

    seat: int
    speakers: tuple[int, ...]
    way: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Change:
    """One thing that stands another way: its range, and the value it has there. [m or deg]"""

    range: Range
    value: float


@dataclass(frozen=True)
class NewPeak:
    """A peak that may be over the limit with a variant and was not before: who, by which way, by how much."""

    speaker: str
    seat: str
    way: tuple[str, ...]
    margin_db: float


@dataclass(frozen=True, eq=False)
class Variant:
    """Another arrangement, and what a full run says of it.

    Attributes
    ----------
    changes : tuple of Change
        One or two.
    settings : tuple of Setting
        The edits of the scene's text that make it so.
    margin_db : float
        Smallest margin of the peak it is for; NaN where that is gone.
    verdict : str
        Of that peak: "below", "undecided" or "over"; "below" where it is gone.
    n_over, n_undecided : (int, int)
        Peaks over the limit and too near it to say at the seat, before and after.
    new : tuple of NewPeak
        What it costs elsewhere.
    left_right_db : (float, float)
        Early energy of left less right at the first seat, before and after; NaN without a pair.
    """

    changes: tuple[Change, ...]
    settings: tuple[Setting, ...]
    margin_db: float
    verdict: str
    n_over: tuple[int, int]
    n_undecided: tuple[int, int]
    new: tuple[NewPeak, ...]
    left_right_db: tuple[float, float]

    @property
    def effort(self) -> float:
        """How much of their ranges its changes take, all together."""
        return sum(
            abs(c.value - c.range.now) / max(c.range.high - c.range.now, c.range.now - c.range.low)
            for c in self.changes
        )

    @property
    def groups(self) -> frozenset[str]:
        """What it moves: "desk", "speakers", "seat"."""
        return frozenset(change.range.group for change in self.changes)


@dataclass(frozen=True, eq=False)
class Variants:
    """What was found for one peak.

    Attributes
    ----------
    target : Target
    margin_db : float
        As the scene is.
    ranges : tuple of Range
        What could be changed, within which bounds.
    mending : tuple of Variant
        Those that bring it below the limit, the least costly elsewhere first.
    nearest : Variant or None
        The one that comes nearest, where none does.
    """

    target: Target
    margin_db: float
    ranges: tuple[Range, ...]
    mending: tuple[Variant, ...]
    nearest: Variant | None


def best_for(found: Iterable[Variants], moves: Collection[str]) -> Variant | None:
    """The variant to take: it moves only what may be moved, and leaves less over; None without one."""
    for own in found:
        for variant in own.mending:
            fewer = variant.n_over[1] + variant.n_undecided[1] < variant.n_over[0] + variant.n_undecided[0]
            if variant.groups <= set(moves) and fewer:
                return variant
    return None
