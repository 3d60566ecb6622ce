"""Choosing among candidate panels: what a set is worth, and small changes that make it better."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from raytrace.making import feet_solids, with_frame
from raytrace.proposing.candidates import Candidate
from raytrace.proposing.states import State
from raytrace.proposing.surrogate import Surrogate
from raytrace.room import TOUCH_M, is_overhead, overlap_m, panel_solid
from raytrace.scene import Cloud, Stand

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Chosen = tuple[int, ...]

SPARE_DB = 0.02  # the set-out is rounded to a tenth of a millimetre: so near the limit nothing is planned
_COMFORT_DB = 3.0  # among sets of one size the one with more room below the limit is taken, up to this
_DEEP_DB, _DEEP_WEIGHT = 10.0, 0.05  # and beyond that it still counts a little, so that panels sit on spots
_BATTEN_DB = 0.15  # room below the limit that sparing one hook its batten is worth
_FEET_DB, _LEGS_DB = 0.5, 1.0  # the same for a stand without feet, and for one without legs either
_ALONE_DB = 0.5  # and the same for one that has its mirror image in the axis, or lies on it
_OFF_SPOT_DB_M = 1.5  # and the same for a panel's middle that is so much nearer to what it is there for
LEAST_GAIN_DB = 0.05  # a panel that takes less off all peaks together does nothing that anyone would notice
_MOST_SWEEPS = 6
_MOST_TRIALS = 5000  # of one unit against two, a sweep: more take minutes where a dozen panels are up


@dataclass(frozen=True)
class Supply:
    """Panels of one build: how many are there already, whether more may be bought, at what price."""

    build: str
    owned: int
    buyable: bool
    price: float | None


@dataclass(frozen=True)
class Problem:
    """Candidates as they may be chosen.

    Attributes
    ----------
    surrogate : Surrogate
    candidates : tuple of Candidate
    units : tuple of tuple of int
        What is put up together: a candidate, or one and its mirror image.
    clash : (n_units, n_units) bool
        Which units cannot both be there.
    supplies : tuple of Supply
        One per build.
    most_panels : int or None
    budget : float or None
        For what is bought.
    n_before, spent : int, float
        Panels that were taken before of what was asked for, and what of the budget they cost.
    seats : tuple of int
        Seats whose peaks are to be brought below the limit, the first one first; empty for all alike.
    weights : tuple of float
        What each of these seats weighs where they are served together; empty: one after the other.
    is_shared : bool
        Whether panels that these seats leave over are put up for the others.
    is_symmetric : bool
        Whether places that mirror each other are taken together only.
    margin_db : float or None
        How far below the limit peaks are to be; without it by the uncertainty of each verdict. [dB]
    slack_db : (n_names,) float or float
        By how much the level of a reflection in the search is above that which is judged, less the margin
        that is asked for. [dB]
    """

    surrogate: Surrogate
    candidates: tuple[Candidate, ...]
    units: tuple[tuple[int, ...], ...]
    clash: Bools
    supplies: tuple[Supply, ...]
    most_panels: int | None = None
    budget: float | None = None
    n_before: int = 0
    spent: float = 0.0
    seats: tuple[int, ...] = ()
    weights: tuple[float, ...] = ()
    is_shared: bool = False
    is_symmetric: bool = False
    margin_db: float | None = None
    slack_db: Floats | float = 0.0
    _seen: dict[Chosen, Floats] = field(default_factory=dict)

    @cached_property
    def counts(self) -> Bools:
        """Which reflections reach a seat that counts, (n_names,)."""
        return np.isin(self.seat, self.seats) if self.seats else np.ones(len(self.seat), np.bool_)

    @cached_property
    def seat(self) -> NDArray[np.int64]:
        """Which seat each reflection reaches, (n_names,)."""
        return np.array([name[1] for name in self.surrogate.names], np.int64)

    @cached_property
    def ranks(self) -> Floats:
        """What each reflection weighs, (n_ranks, n_names): a row per seat where they come one by one."""
        if len(self.seats) < 2:
            return np.ones((1, len(self.seat)))
        own = (self.seat == np.array(self.seats)[:, None]).astype(np.float64)
        ranks: Floats = np.array([self.weights]) @ own if self.weights else own
        return ranks

    def by_rank(self) -> tuple["Problem", ...]:
        """The same for the first seat, for the first two, and so on; itself where they come together."""
        if len(self.seats) < 2 or self.weights:
            return (self,)
        return tuple(replace(self, seats=self.seats[: k + 1]) for k in range(len(self.seats)))

    @cached_property
    def goals_db(self) -> Floats:
        """Levels re the limit that peaks are to keep, (n_names,); inf at seats that do not count. [dB]"""
        return np.where(self.counts, self.slack_db - SPARE_DB, np.inf)

    @cached_property
    def asides_db(self) -> Floats:
        """The same for the other seats alone, (n_names,). [dB]"""
        return np.where(self.counts, np.inf, self.slack_db - SPARE_DB)

    @cached_property
    def sizes(self) -> NDArray[np.int64]:
        """Panels of each unit; a stand counts each of those that it holds."""
        return np.array(
            [sum(self.candidates[k].panel.stacked for k in unit) for unit in self.units], np.int64
        )

    @cached_property
    def battens(self) -> Floats:
        """Hooks without a joist, per unit."""
        return np.array([sum(self.candidates[k].n_battens for k in unit) for unit in self.units], np.float64)

    @cached_property
    def effort_db(self) -> Floats:
        """What each unit takes to hold and how far it is off its spots, as room below the limit. [dB]"""
        return np.array(
            [sum(_effort_db(self.candidates[k]) for k in unit) for unit in self.units], np.float64
        )

    @cached_property
    def held(self) -> Floats:
        """Share of the strongest reflections off its surfaces that each unit holds, (n_units,)."""
        return np.array([sum(self.candidates[k].held for k in unit) for unit in self.units], np.float64)

    def unheld(self, chosen: Sequence[int]) -> int:
        """How many mirror points of surfaces that get panels lie in none of them."""
        panels = [self.candidates[k] for unit in chosen for k in self.units[unit]]
        asked = frozenset[int]().union(*(panel.mirror_points for panel in panels))
        return len(asked.difference(*(panel.holds for panel in panels)))

    @cached_property
    def kinds(self) -> tuple[tuple[tuple[int, str, str, int], ...], ...]:
        """What each unit is but for its place: surface, build, kind and how many are stacked, per panel."""
        panels = [(c.surface, c.panel.build_name, c.panel.kind, c.panel.stacked) for c in self.candidates]
        return tuple(tuple(sorted(panels[k] for k in unit)) for unit in self.units)

    def missed(self, chosen: Sequence[int]) -> float:
        """Share of the strongest reflections that panels do not hold, the mean over their surfaces.

        Coarse: what differs by less does about the same.
        """
        surfaces = {self.candidates[k].surface for unit in chosen for k in self.units[unit]}
        return round(1.0 - float(self.held[list(chosen)].sum()) / max(len(surfaces), 1), 1)

    @cached_property
    def builds(self) -> NDArray[np.int64]:
        """Panels of each supply that a unit takes, (n_units, n_supplies)."""
        names = [supply.build for supply in self.supplies]
        counts = np.zeros((len(self.units), len(names)), np.int64)
        for row, unit in enumerate(self.units):
            for k in unit:
                counts[row, names.index(self.candidates[k].panel.build_name)] += self.candidates[
                    k
                ].panel.stacked
        return counts

    def panels(self, chosen: Iterable[int]) -> tuple[int, ...]:
        """Candidates of some units, in their order."""
        return tuple(sorted(k for unit in chosen for k in self.units[unit]))

    def state(self, chosen: Iterable[int]) -> State:
        """What some units make of the arrivals."""
        return self.surrogate.states.state(self.panels(chosen))

    def about(self, chosen: Iterable[int]) -> None:
        """Make ready to look at sets that differ from some units by few."""
        self.surrogate.states.about(self.panels(chosen))

    def levels_db(self, chosen: Chosen) -> Floats:
        """Level of each reflection's peak at its worst zone point re the limit, (n_names,). [dB]"""
        if chosen not in self._seen:
            self.energies(chosen)
        return self._seen[chosen]

    def energies(self, chosen: Chosen) -> Floats:
        """Energy of each arrival in the limit's band, re direct, (n_arrivals,)."""
        state = self.state(chosen)
        with np.errstate(divide="ignore"):
            self._seen[chosen] = 10.0 * np.log10(self.surrogate.worst(state) / self.surrogate.limit)
        return state.energy

    def cost(self, chosen: Sequence[int]) -> float:
        """Price of what must be bought."""
        bought = np.maximum(self._taken(chosen) - [supply.owned for supply in self.supplies], 0)
        return float(bought @ np.array([supply.price or 0.0 for supply in self.supplies]))

    def n_panels(self, chosen: Sequence[int]) -> int:
        """How many panels some units are."""
        return int(self.sizes[list(chosen)].sum())

    def may(self, chosen: Sequence[int]) -> bool:
        """Whether some units fit together, are to be had and may be paid."""
        rows = list(chosen)
        if self.clash[np.ix_(rows, rows)].any() or not self.is_had(rows):
            return False
        fits = self.most_panels is None or self.n_panels(rows) <= self.most_panels
        return fits and (self.budget is None or self.cost(rows) <= self.budget + 1e-9)

    def is_had(self, chosen: Sequence[int]) -> bool:
        """Whether some units are in stock or can be bought, whatever they cost."""
        short = self._taken(chosen) > [supply.owned for supply in self.supplies]
        return all(supply.buyable or not late for late, supply in zip(short, self.supplies, strict=True))

    def _taken(self, chosen: Sequence[int]) -> NDArray[np.int64]:
        return np.asarray(self.builds[list(chosen)].sum(axis=0), np.int64)


def _effort_db(candidate: Candidate) -> float:
    """What battens, feet, legs, no mirror image and being off its spot weigh against room below the limit."""
    entry = candidate.entry
    stands = _FEET_DB if isinstance(entry, Stand) and not entry.lean else 0.0
    stands += _LEGS_DB if isinstance(entry, Stand) and entry.lift else 0.0
    alone = _ALONE_DB if candidate.mirror < 0 else 0.0
    return _BATTEN_DB * candidate.n_battens + stands + alone + _OFF_SPOT_DB_M * candidate.off_spot_m


def pose(
    surrogate: Surrogate, candidates: tuple[Candidate, ...], supplies: tuple[Supply, ...], *, symmetric: bool
) -> Problem:
    """The problem of choosing among candidates.

    Parameters
    ----------
    surrogate : Surrogate
    candidates : tuple of Candidate
    supplies : tuple of Supply
        One per build of the candidates.
    symmetric : bool
        Whether what can be put up in pairs about the listening axis only is.
    """
    units: list[tuple[int, ...]] = []
    clash = _overlaps(candidates)
    for k, candidate in enumerate(candidates):
        other = candidate.mirror
        if not symmetric or other < 0 or other == k:
            units.append((k,))
        elif k < other and not clash[k, other]:
            units.append((k, other))
    both = np.zeros((len(units), len(units)), np.bool_)
    for a, first in enumerate(units):
        for b, second in enumerate(units):
            both[a, b] = a != b and clash[np.ix_(first, second)].any()
    return Problem(surrogate, candidates, tuple(units), both, supplies, is_symmetric=symmetric)


def _overlaps(candidates: Sequence[Candidate]) -> Bools:
    """Which candidates cannot both be there, with their frames and feet, (n, n)."""
    framed = [with_frame(candidate.panel) for candidate in candidates]
    bodies = [
        (panel_solid(outer), *feet_solids(candidate.panel))
        for outer, candidate in zip(framed, candidates, strict=True)
    ]
    spans = [np.concatenate([solid.corners for solid in own]) for own in bodies]
    low = np.array([span.min(axis=0) for span in spans]).reshape(-1, 3)
    high = np.array([span.max(axis=0) for span in spans]).reshape(-1, 3)
    near = ((low[:, None] < high[None]) & (low[None] < high[:, None])).all(axis=2)
    clash = np.zeros((len(candidates), len(candidates)), np.bool_)
    for a, b in np.argwhere(np.triu(near, 1)):
        met = any(overlap_m(p, q) > TOUCH_M for p in bodies[a] for q in bodies[b])
        clash[a, b] = clash[b, a] = met
    # What is under one ceiling is at one depth: hung at different drops or gaps it is not mixed.
    depths = [hung_depth(candidate) for candidate in candidates]
    for a, depth in enumerate(depths):
        for b, other in enumerate(depths[:a]):
            if depth is not None and other is not None and depth[0] == other[0] and depth != other:
                clash[a, b] = clash[b, a] = True
    return clash


def hung_depth(candidate: Candidate) -> tuple[int, str, float] | None:
    """How far below its ceiling a panel is, and whether it hangs; None on walls and floors."""
    entry = candidate.entry
    if isinstance(entry, Stand) or not is_overhead(candidate.panel.normal):
        return None
    return candidate.surface, type(entry).__name__, entry.drop if isinstance(entry, Cloud) else entry.gap


def excess_db(levels_db: Floats, targets_db: Floats | float = -SPARE_DB) -> float:
    """By how much peaks exceed their targets, all together. [dB]"""
    return float(np.maximum(levels_db - targets_db, 0.0).sum())


def excess_by_rank_db(problem: Problem, chosen: Chosen, targets_db: Floats) -> tuple[float, ...]:
    """The same for some units, of one seat after the other or of all with their weights. [dB]"""
    over_db = np.maximum(problem.levels_db(chosen) - targets_db, 0.0)
    return tuple((problem.ranks @ over_db).tolist())


def _worth_db(gain_db: float, n_panels: int) -> float:
    """Gain of each panel; none where nobody would notice. [dB]"""
    gain_db /= n_panels
    return round(gain_db, 9) if gain_db > LEAST_GAIN_DB or gain_db < 0.0 else 0.0


Score = tuple[tuple[float, ...], float, int, float, int, float, float]


def score(problem: Problem, chosen: Chosen, targets_db: Floats) -> Score:
    """What a set is worth, smaller is better: excess, panels, price, and then what is to be preferred.

    Excess is that of the first seat, then of the next, or of all with their weights. To be preferred are
    panels that hold the mirror points of what they are there for, as anybody with a mirror would find them,
    then the spots at all places of the head zone, and then room below the limit, hooks on joists,
    and panels in the middle of their spots: once every peak is far enough below the limit, how much farther
    does not put a panel where the spots are at its edge.
    Where panels may be spent on seats that do not count, their excess comes before the number of panels.
    """
    levels = problem.levels_db(chosen)
    excesses = excess_by_rank_db(problem, chosen, targets_db)
    comfort = excess_db(levels, np.asarray(targets_db) - _COMFORT_DB)
    comfort += _DEEP_WEIGHT * excess_db(levels, np.asarray(targets_db) - _DEEP_DB)
    comfort += float(problem.effort_db[list(chosen)].sum())
    return (
        tuple(round(excess, 3) for excess in excesses),
        round(excess_db(levels, problem.asides_db), 2) if problem.is_shared else 0.0,
        problem.n_panels(chosen),
        round(problem.cost(chosen), 2),
        problem.unheld(chosen),
        problem.missed(chosen),
        round(comfort, 2),
    )


def grow(problem: Problem, targets_db: Floats | None = None, chosen: Chosen = ()) -> Chosen:
    """Units added one by one, each the one that takes most off the excess per panel, until none does.

    Parameters
    ----------
    problem : Problem
    targets_db : (n_names,) float, optional
        Levels re the limit that peaks are to keep; without them the goals of the problem. [dB]
    chosen : tuple of int
        Units to begin with.
    """
    targets_db = problem.goals_db if targets_db is None else targets_db
    while True:
        problem.about(chosen)
        now = excess_by_rank_db(problem, chosen, targets_db)
        best: tuple[tuple[float, ...], int] | None = None
        for unit in range(len(problem.units)):
            more = tuple(sorted({*chosen, unit}))
            if unit in chosen or not problem.may(more):
                continue
            then = excess_by_rank_db(problem, more, targets_db)
            gains = tuple(_worth_db(a - b, int(problem.sizes[unit])) for a, b in zip(now, then, strict=True))
            if gains > (best[0] if best else (0.0,) * len(gains)):
                best = gains, unit
        if best is None:
            return chosen
        chosen = tuple(sorted({*chosen, best[1]}))


def newly_over(problem: Problem, chosen: Chosen, less: Chosen, targets_db: Floats | None = None) -> bool:
    """Whether a peak is over its target with fewer units that some set keeps at it."""
    targets_db = problem.goals_db if targets_db is None else targets_db
    now, then = (problem.levels_db(own) > targets_db for own in (chosen, less))
    return bool((then & ~now).any())


def pruned(problem: Problem, chosen: Chosen) -> Chosen:
    """The same set without units that take nothing worth a panel off any seat."""
    every_db = np.minimum(problem.goals_db, problem.asides_db)
    targets_db = every_db if problem.is_shared else problem.goals_db
    for unit in sorted(chosen, key=lambda k: -k):
        less = tuple(k for k in chosen if k != unit)
        gain_db = excess_db(problem.levels_db(less), targets_db)
        gain_db -= excess_db(problem.levels_db(chosen), targets_db)
        is_over = newly_over(problem, chosen, less, targets_db)
        if not is_over and gain_db < LEAST_GAIN_DB * int(problem.sizes[unit]):
            chosen = less
    return chosen


def refine(problem: Problem, chosen: Chosen, targets_db: Floats, *, thorough: bool = True) -> Chosen:
    """The same set after small changes, each an improvement: one left out, exchanged or added; two for one.

    Parameters
    ----------
    problem : Problem
    chosen : tuple of int
        Units.
    targets_db : (n_names,) float
        Levels re the limit that peaks are to keep. [dB]
    thorough : bool
        Whether two units are tried against one.
    """
    best = score(problem, chosen, targets_db)
    for _ in range(_MOST_SWEEPS):
        before = best
        problem.about(chosen)
        for changed in _changes(problem, chosen, thorough=thorough):
            if problem.may(changed):
                found = score(problem, changed, targets_db)
                if found < best:
                    best, chosen = found, changed
        if best == before:
            break
    return chosen


def _changes(problem: Problem, chosen: Chosen, *, thorough: bool) -> Iterable[Chosen]:
    every = range(len(problem.units))
    for unit in chosen:
        yield tuple(k for k in chosen if k != unit)
    for unit in every:
        if unit not in chosen:
            yield tuple(sorted((*chosen, unit)))
    for unit in chosen:
        rest = [k for k in chosen if k != unit]
        for other in every:
            if other not in chosen:
                yield tuple(sorted((*rest, other)))
    pairs = len(chosen) * (len(chosen) - 1) // 2
    if thorough and pairs * len(problem.units) <= _MOST_TRIALS:
        for i, unit in enumerate(chosen):
            for second in chosen[i + 1 :]:
                rest = [k for k in chosen if k not in (unit, second)]
                for other in every:
                    if other not in chosen:
                        yield tuple(sorted((*rest, other)))
