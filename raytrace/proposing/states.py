"""What sets of candidates make of the arrivals, each worked out from a known set that differs by little."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.verdicts import PEAK_WIDTH_S

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Complexes = NDArray[np.complex128]


class Effect(NamedTuple):
    """What one candidate adds to the factors of some spots: rows (m,) rising, values (m, n_frequencies)."""

    rows: Ints
    values: Complexes


class Sounds(NamedTuple):
    """Arrivals apart from the factors of their spots, as `Surrogate` has them.

    rest (n_arrivals, f); spot_start (n_arrivals + 1,); base (n_spots, f); share (f,); heard_start
    (n_points + 1,); delay_s (n_arrivals,); floor: energy below which no peak is looked for.
    """

    rest: Complexes
    spot_start: Ints
    base: Complexes
    share: Floats
    heard_start: Ints
    delay_s: Floats
    floor: float


@dataclass(frozen=True, eq=False)
class State:
    """What a set of candidates makes of the arrivals.

    Attributes
    ----------
    energy : (n_arrivals,) float
        In the limit's band, re direct.
    leader : (n_arrivals,) int
        Which arrival leads the peak that each belongs to; -1 where it is in none, or a weak one.
    peaks : (n_arrivals,) float
        Energy of the peak that an arrival leads; -1 where it leads none, or a weak one.
    known : (n_arrivals, n_frequencies) complex
        Pressure, with the phase of the delay, of all but the changed arrivals.
    changed, pressure : (n_changed,) int, (n_changed, n_frequencies) complex
        Those, in order, and their pressure.
    """

    energy: Floats
    leader: Ints
    peaks: Floats
    known: Complexes
    changed: Ints
    pressure: Complexes

    def pressure_of(self, arrivals: Ints) -> Complexes:
        """Pressure of some arrivals, with the phase of the delay, (n, n_frequencies)."""
        pressure: Complexes = self.known[arrivals]
        if len(self.changed):
            row = np.minimum(np.searchsorted(self.changed, arrivals), len(self.changed) - 1)
            is_changed = self.changed[row] == arrivals
            pressure[is_changed] = self.pressure[row[is_changed]]
        return pressure


class _Known(NamedTuple):
    """A set of candidates, the factors with it, which of them are 1, and its state."""

    chosen: frozenset[int]
    factors: Complexes
    idle: Bools
    state: State


class States:
    """States of sets of candidates, to the last bit the same whichever set they are worked out from.

    Parameters
    ----------
    sounds : Sounds
    effects : sequence of Effect
        Per candidate.

    Notes
    -----
    Two sets differ in the factors that a candidate touches which is in one of them alone, so only arrivals
    with these are summed anew, and only peaks at the points that hear them.
    """

    def __init__(self, sounds: Sounds, effects: Sequence[Effect]) -> None:
        self._sounds, self._effects = sounds, effects
        self._arrival = np.repeat(np.arange(len(sounds.rest)), np.diff(sounds.spot_start))
        self._known: _Known | None = None

    def about(self, chosen: Iterable[int]) -> State:
        """State of a set from which others will be asked for that differ by little."""
        chosen = tuple(chosen)
        if self._known is None or set(chosen) != self._known.chosen:
            factors = self._sounds.base.copy()
            for candidate in chosen:
                rows, values = self._effects[candidate]
                factors[rows] += values
            idle = (factors == 1.0).all(axis=1)
            self._known = _Known(frozenset(chosen), factors, idle, self._whole(factors))
        return self._known.state

    def state(self, chosen: Iterable[int]) -> State:
        """State of a set of candidates."""
        chosen = tuple(chosen)
        known = self._known
        if known is None:
            return self.about(chosen)
        touched = np.zeros(len(known.factors), np.bool_)
        for candidate in known.chosen.symmetric_difference(chosen):
            touched[self._effects[candidate].rows] = True
        spots = np.flatnonzero(touched)
        return self._changed(known, spots, self._factors(spots, chosen)) if len(spots) else known.state

    def _factors(self, spots: Ints, chosen: Sequence[int]) -> Complexes:
        """Factors of some spots with some candidates, added up in the sequence of `about`."""
        factors: Complexes = self._sounds.base[spots]
        for candidate in chosen:
            rows, values = self._effects[candidate]
            first = np.minimum(np.searchsorted(rows, spots), len(rows) - 1) if len(rows) else spots[:0]
            own = np.flatnonzero(rows[first] == spots) if len(rows) else spots[:0]
            factors[own] += values[first[own]]
        return factors

    def _whole(self, factors: Complexes) -> State:
        from raytrace.kernels.peaks import peak_energies

        s, n = self._sounds, len(self._sounds.rest)
        state = State(
            np.empty(n),
            np.empty(n, np.int64),
            np.empty(n),
            np.empty_like(s.rest),
            np.empty(0, np.int64),
            s.rest[:0],
        )
        timing = s.heard_start, s.delay_s, PEAK_WIDTH_S, s.floor
        filled = state.known, state.energy, state.leader, state.peaks
        peak_energies(s.rest, s.spot_start, factors, s.share, *timing, *filled)
        return state

    def _changed(self, known: _Known, spots: Ints, others: Complexes) -> State:
        from raytrace.kernels.peaks import change_peaks

        s, n = self._sounds, len(self._sounds.rest)
        place = np.full(len(known.factors), -1)
        place[spots] = np.arange(len(spots))
        arrivals = self._arrival[spots]
        changed = arrivals[np.diff(arrivals, prepend=-1) > 0]
        pressure = np.empty((len(changed), s.rest.shape[1]), np.complex128)
        before = known.state
        state = State(np.empty(n), np.empty(n, np.int64), np.empty(n), before.known, changed, pressure)
        change_peaks(
            changed,
            s.rest,
            s.spot_start,
            known.factors,
            known.idle,
            place,
            others,
            s.share,
            s.heard_start,
            s.delay_s,
            PEAK_WIDTH_S,
            s.floor,
            (before.known, before.energy, before.leader, before.peaks),
            (state.pressure, state.energy, state.leader, state.peaks),
        )
        return state
