"""The choice of panels as a mixed-integer linear programme about a set that is known already."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.proposing.choice import Chosen, Problem

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
_Sum = tuple[list[tuple[int, float]], float]  # variables with their factors, and the most they add up to

_NEAR_DB = 1.0  # peaks that are nearer to their target than this are watched
_ZONE_POINTS = 5  # at which each peak is watched: where it is strongest
_LEAST = 0.01  # of the limit's energy, 0.04 dB at it: what a pair of units does together below is left out
_IDLE = 0.02  # of the limit's energy: a unit that takes less off every peak is not looked at
_EXCESS_WEIGHT = 50.0  # panels that the limit's own energy in excess is worth
_MOST_TERMS = 250_000  # rows times pairs: larger ones take minutes, and small changes do as well
_NODES = 400  # a bound that does not depend on the machine's speed
_GAP = 0.02


@dataclass(frozen=True)
class _Row:
    """One peak at one zone point: its reflection's name, its arrivals."""

    name: int
    members: Ints


def best_set(problem: Problem, about: Chosen, targets_db: Floats) -> Chosen | None:
    """Fewest panels that keep every peak at its target, as far as it can be told about a set.

    Parameters
    ----------
    problem : Problem
    about : tuple of int
        Units about which the energy of peaks with several changing bounces is linearised.
    targets_db : (n_names,) float
        Levels re the limit to keep; a large weight on what exceeds them. [dB]

    Returns
    -------
    tuple of int or None
        Units; None where the programme was given up or is too large.

    Notes
    -----
    Pressure is linear in the choice where an arrival has one bounce that candidates change, and so the
    energy of its peak is quadratic; each product of two choices becomes a variable of its own, which is
    exact between whole numbers (McCormick, Math. Programming 10 (1976) 147, from memory). All other peaks
    change with each unit by what it changes about the known set.
    """
    rows = _rows(problem, about, targets_db)
    if not rows or not problem.units:
        return about if not rows else None
    constant, linear, pairs = _energies(problem, about, rows)
    targets = 10.0 ** (targets_db / 10.0)
    return _solve(problem, rows, constant, linear, pairs, targets)


def _rows(problem: Problem, about: Chosen, targets_db: Floats) -> list[_Row]:
    """Peaks over or near their targets, bare and about the known set."""
    found: dict[tuple[int, ...], _Row] = {}
    for chosen, near_db in (((), 0.0), (about, _NEAR_DB)):
        state = problem.state(chosen)
        seen = np.zeros(problem.surrogate.n_names, np.int64)
        leaders = np.flatnonzero(state.peaks > 0.0)
        for leader in leaders[np.argsort(-state.peaks[leaders], kind="stable")].tolist():
            members = np.flatnonzero(state.leader == leader)
            name = int(problem.surrogate.name[leader])
            level = 10.0 * np.log10(state.peaks[leader] / problem.surrogate.limit)
            near = problem.surrogate.judged[leader] and level > targets_db[name] - near_db
            if near and seen[name] < _ZONE_POINTS:
                seen[name] += 1
                found.setdefault((name, *members.tolist()), _Row(name, members))
    return list(found.values())


def _energies(problem: Problem, about: Chosen, rows: Sequence[_Row]) -> tuple[Floats, Floats, Floats]:
    """Energy of each row re the limit: constant (n,), linear (n, n_units), pairs (n, n_units, n_units)."""
    surrogate, n_units = problem.surrogate, len(problem.units)
    share = surrogate.share / surrogate.limit
    members = np.concatenate([row.members for row in rows])
    first = np.cumsum([0, *(len(row.members) for row in rows[:-1])])
    problem.about(about)
    pressure = np.add.reduceat(problem.state(about).pressure_of(members), first, axis=0)
    steps = np.empty((n_units, *pressure.shape), np.complex128)
    for unit in range(n_units):
        other = tuple(k for k in about if k != unit) if unit in about else (*about, unit)
        steps[unit] = np.add.reduceat(problem.state(other).pressure_of(members), first, axis=0)
    toggled = (np.abs(steps) ** 2) @ share
    steps = (steps - pressure) * np.where(np.isin(np.arange(n_units), about), -1.0, 1.0)[:, None, None]
    there = np.isin(np.arange(n_units), about).astype(np.float64)
    energy = (np.abs(pressure) ** 2) @ share
    constant, linear = energy.copy(), np.zeros((len(rows), n_units))
    pairs = np.zeros((len(rows), n_units, n_units))
    bounces = np.diff(surrogate.spot_start)
    for r, row in enumerate(rows):
        if (bounces[row.members] > 1).any():
            slope = (toggled[:, r] - energy[r]) * (1.0 - 2.0 * there)
            constant[r] -= slope @ there
            linear[r] = slope
            continue
        own = np.flatnonzero(steps[:, r].any(axis=1))  # few of them change any one peak
        step, own_there = steps[own, r], there[own]
        parts = np.hstack([step.real, step.imag]) * np.tile(np.sqrt(share), 2)
        once = 2.0 * np.real(step @ (share * pressure[r].conj()))
        square = 2.0 * np.einsum("af,bf->ab", parts, parts)  # too small for the threads that @ would start
        # z = x - there; z z = x (1 - 2 there) + there, and x y for two of them.
        constant[r] += -once @ own_there + 0.5 * own_there @ square @ own_there
        linear[r, own] = once - square @ own_there + 0.5 * np.diag(square)
        among = np.ix_(own, own)
        pairs[r][among] = np.triu(np.where(problem.clash[among] | (np.abs(square) < _LEAST), 0.0, square), 1)
    return constant, linear, pairs


class _Columns(NamedTuple):
    """Variables in their order: units, pairs of them, excess of each reflection, panels bought of each build.

    `idle` (n_units,): units that are not looked at.
    """

    idle: Bools
    pairs: list[tuple[int, int]]
    names: list[int]
    n_supplies: int

    @property
    def pair(self) -> int:
        """The first pair."""
        return len(self.idle)

    @property
    def excess(self) -> int:
        """Excess of the first reflection."""
        return self.pair + len(self.pairs)

    @property
    def bought(self) -> int:
        """Panels bought of the first build."""
        return self.excess + len(self.names)

    @property
    def n(self) -> int:
        """How many there are."""
        return self.bought + self.n_supplies


def _solve(
    problem: Problem, rows: Sequence[_Row], constant: Floats, linear: Floats, pairs: Floats, targets: Floats
) -> Chosen | None:
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    idle = linear.min(axis=0) > -_IDLE
    listed = [(int(a), int(b)) for a, b in np.argwhere(pairs.any(axis=0) & ~idle[:, None] & ~idle)]
    if len(listed) * len(rows) > _MOST_TERMS:
        return None
    columns = _Columns(idle, listed, sorted({row.name for row in rows}), len(problem.supplies))
    spare = targets[[row.name for row in rows]] - constant
    sums = [*_energy_sums(columns, rows, spare, linear, pairs), *_choice_sums(problem, columns)]
    entries = [(row, *term) for row, (terms, _) in enumerate(sums) for term in terms]
    at_row, at_column, factors = (np.array(part) for part in zip(*entries, strict=True))
    matrix = coo_array((factors, (at_row, at_column)), shape=(len(sums), columns.n)).tocsr()
    weights, most = _weights(problem, columns)
    found = milp(
        weights,
        integrality=(np.arange(columns.n) < columns.pair).astype(np.int64),
        bounds=Bounds(np.zeros(columns.n), most),
        constraints=LinearConstraint(matrix, ub=np.array([at_most for _, at_most in sums])),
        options={"node_limit": _NODES, "mip_rel_gap": _GAP},
    )
    if found.x is None:
        return None
    return tuple(np.flatnonzero(found.x[: columns.pair] > 0.5).tolist())


def _energy_sums(
    columns: _Columns, rows: Sequence[_Row], spare: Floats, linear: Floats, pairs: Floats
) -> Iterator[_Sum]:
    """Each peak keeps its target, but for an excess that costs; pairs are there where both units are."""
    together = pairs[:, [a for a, _ in columns.pairs], [b for _, b in columns.pairs]]
    excess = {name: columns.excess + k for k, name in enumerate(columns.names)}
    for r, row in enumerate(rows):
        values = np.concatenate([np.where(columns.idle, 0.0, linear[r]), together[r]])
        own = [(k, float(values[k])) for k in np.flatnonzero(values).tolist()]
        yield [*own, (excess[row.name], -1.0)], float(spare[r])
    for k, (a, b) in enumerate(columns.pairs):
        yield [(columns.pair + k, 1.0), (a, -1.0)], 0.0
        yield [(columns.pair + k, 1.0), (b, -1.0)], 0.0
        yield [(columns.pair + k, -1.0), (a, 1.0), (b, 1.0)], 1.0


def _choice_sums(problem: Problem, columns: _Columns) -> Iterator[_Sum]:
    """Units that fit together, no more than are owned or bought, asked for and paid."""
    for a, b in np.argwhere(np.triu(problem.clash, 1)).tolist():
        yield [(a, 1.0), (b, 1.0)], 1.0
    for column, supply in enumerate(problem.supplies):
        taken = [(u, float(count)) for u, count in enumerate(problem.builds[:, column]) if count]
        yield [*taken, (columns.bought + column, -1.0)], float(supply.owned)
    if problem.most_panels is not None:
        yield [(u, float(size)) for u, size in enumerate(problem.sizes)], float(problem.most_panels)
    if problem.budget is not None:
        prices = enumerate(supply.price for supply in problem.supplies)
        yield [(columns.bought + k, price) for k, price in prices if price], problem.budget


def _weights(problem: Problem, columns: _Columns) -> tuple[Floats, Floats]:
    """What each variable costs, and the most that it may be."""
    prices = [supply.price or 0.0 for supply in problem.supplies]
    weights, most = np.zeros(columns.n), np.full(columns.n, np.inf)
    weights[: columns.pair] = problem.sizes + 1e-3 * problem.battens + 1e-6 * np.arange(columns.pair)
    named = problem.ranks.max(axis=0)[columns.names]
    weights[columns.excess : columns.bought] = _EXCESS_WEIGHT * named
    weights[columns.bought :] = 1e-3 * np.array(prices) / max(1.0, *prices)
    most[: columns.excess] = 1.0
    most[: columns.pair][columns.idle] = 0.0
    most[columns.bought :] = [np.inf if supply.buyable else 0.0 for supply in problem.supplies]
    return weights, most
