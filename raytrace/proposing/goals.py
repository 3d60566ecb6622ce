"""Goals beyond early reflections below the limit: what panels bring for each, in the order of practice."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import BANDS_HZ, Material
from raytrace.decay import Decay, find_decay
from raytrace.proposing.choice import Chosen, Problem, excess_db
from raytrace.room import Orientation as Faces
from raytrace.room import PlacedPanel, Room, free_material, orientation, patch_material
from raytrace.study import Study
from raytrace.verdicts import (
    FLUTTER_BELOW,
    LEFT_RIGHT_WINDOW_S,
    Peak,
    compare_left_right,
    find_flutter,
    flutter_absorption,
    speaker_pair,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BANDS = slice(2, 7)  # 250 Hz to 4 kHz, for which the target of the decay is written
BACK_WALL_DB = -20.0  # re direct: what is weaker does not end the initial time gap
NEAR_DB = 3.0  # below what is planned for: peaks nearer than this are brought down further
LATEST_S = 0.030  # after the direct sound: a back wall's reflection that comes later is no early one


class Goal(StrEnum):
    """What panels beyond the fewest are for, in the order of practice (common practice, no source)."""

    FEWEST = "early reflections"
    LEFT_RIGHT = "left against right"
    MARGIN = "room below the limit"
    DECAY = "decay"
    FLUTTER = "flutter"
    BACK_WALL = "back wall"


ORDER = (Goal.LEFT_RIGHT, Goal.MARGIN, Goal.DECAY, Goal.FLUTTER, Goal.BACK_WALL)
# Up to which figure a goal is worth panels, and what each must take off it: common practice, no source.
TARGETS = {
    Goal.LEFT_RIGHT: 0.5,
    Goal.MARGIN: 0.0,
    Goal.DECAY: 0.0,
    Goal.FLUTTER: 0.0,
    Goal.BACK_WALL: BACK_WALL_DB,
}
LEAST = {Goal.LEFT_RIGHT: 0.1, Goal.MARGIN: 1.0, Goal.DECAY: 0.004, Goal.FLUTTER: 0.1, Goal.BACK_WALL: 0.5}


def back_wall(room: Room, seat: Sequence[float], speakers: Sequence[Sequence[float]]) -> int | None:
    """The wall behind a seat, seen from the speakers; None where none stands there. [index of a surface]"""
    away = np.array(seat) - np.mean(np.array(speakers), axis=0)
    away[2] = 0.0
    length_m = np.linalg.norm(away)
    if length_m < 1e-6:
        return None
    _, hit = room.first_hit(np.array([seat], np.float64), (away / length_m)[None])
    if hit[0] < 0 or hit[0] >= room.n_solid_facets:
        return None
    surface = room.facets[int(hit[0])].surface
    is_wall = (
        room.surfaces[surface].owner is None and orientation(room.surfaces[surface].frame.n) is Faces.UPRIGHT
    )
    return surface if is_wall else None


def outside_s(decay_s: Floats, low_s: Floats, high_s: Floats) -> float:
    """How far decay times (8,) lie outside their range, in the mean of the bands that have one. [s]"""
    beyond = np.maximum(decay_s - high_s, 0.0) + np.maximum(low_s - decay_s, 0.0)
    known = beyond[BANDS][np.isfinite(beyond[BANDS])]
    return float(known.mean()) if len(known) else float("nan")


def mean_decay_s(decays: Sequence[Decay], seat: int) -> Floats:
    """T20 per band, the mean over the main speakers at a seat; NaN where none was found, (8,). [s]"""
    return np.asarray(np.mean([d.parameters.t20_s for d in decays if d.seat == seat], axis=0), np.float64)


@dataclass(frozen=True, eq=False)
class Outlook:
    """What sets of units bring for each goal in a room that keeps the limit as far as it can.

    Attributes
    ----------
    study : Study
        Of the room as it then is.
    problem : Problem
        What could be put up there.
    seat : int
        The one that comes first.
    decay_s, low_s, high_s : (8,) float
        Decay as traced in that room, and the range that is tolerated.
    lone : frozenset of int
        Units that have a mirror image which nothing may be put up at: they serve left against right alone.
    """

    study: Study
    problem: Problem
    seat: int
    decay_s: Floats
    low_s: Floats
    high_s: Floats
    lone: frozenset[int] = frozenset()
    _seen: dict[Chosen, tuple[float, float]] = field(default_factory=dict)

    def figure(self, goal: Goal, chosen: Chosen) -> float:
        """What a goal's figure is predicted to be with some units; smaller is better, NaN where it has none.

        Difference of left and right [dB]; by how much peaks are nearer to the limit than they need be [dB];
        decay outside its range [s]; pairs of surfaces that flutter, each by how far it is from not doing so;
        the strongest reflection off the back wall re direct [dB].
        """
        return _FIGURES[goal](self, chosen)

    def suits(self, goal: Goal, chosen: Chosen) -> bool:
        """Whether none of some units stands alone where it should have its mirror image."""
        return goal is Goal.LEFT_RIGHT or self.lone.isdisjoint(chosen)

    def miss(self, goal: Goal, chosen: Chosen) -> float:
        """By how much a goal is missed, 0 where it is met or has no figure."""
        figure = self.figure(goal, chosen)
        return max(figure - TARGETS[goal], 0.0) if np.isfinite(figure) else 0.0

    def left_right_db(self, chosen: Chosen) -> float:
        """Left against right, without its sign. [dB]"""
        return self._heard(chosen)[0]

    def near_db(self, chosen: Chosen) -> float:
        """By how much peaks are nearer to the limit than they need be, all together. [dB]"""
        self._heard(chosen)
        return excess_db(self.problem.levels_db(chosen), self.problem.goals_db - NEAR_DB)

    def _heard(self, chosen: Chosen) -> tuple[float, float]:
        """Left against right, and the strongest reflection off the back wall re direct. [dB]"""
        if chosen not in self._seen:
            energy = self.problem.energies(chosen)
            sides, back = self._sides, energy[self._back_rows]
            left, right = (energy[rows].sum() for rows in sides) if sides else (0.0, 0.0)
            apart_db = abs(10.0 * np.log10(left / right)) if left > 0.0 and right > 0.0 else np.nan
            back_db = 10.0 * np.log10(max(back.max(), 1e-12)) if len(back) else np.nan
            self._seen[chosen] = float(apart_db), float(back_db)
        return self._seen[chosen]

    def decay_outside_s(self, chosen: Chosen) -> float:
        """Decay outside its range. [s]"""
        return outside_s(self.decays_s(chosen), self.low_s, self.high_s)

    def decays_s(self, chosen: Chosen) -> Floats:
        """Decay per band as traced, shorter by Eyring's formula with what the units take, (8,). [s]"""
        taken = self._taken_m2[list(self.problem.panels(chosen))].sum(axis=0)
        shorter: Floats = self.decay_s * self._eyring(self._bare_m2) / self._eyring(self._bare_m2 + taken)
        return shorter

    def flutter(self, chosen: Chosen) -> float:
        """How many pairs of surfaces flutter, each as far as it is from not doing so."""
        added = self._flutter_added[list(self.problem.panels(chosen))].sum(axis=0)
        return float(np.sum(np.maximum(1.0 - (self._flutter_now + added).max(axis=1) / FLUTTER_BELOW, 0.0)))

    def back_wall_db(self, chosen: Chosen) -> float:
        """Strongest reflection off the back wall at the ears, re direct. [dB]"""
        return self._heard(chosen)[1]

    def _ears(self) -> list[tuple[int, Ints, slice]]:
        """Speaker, rows of its paths and arrivals of the problem, at the ears of the seat."""
        surrogate, found = self.problem.surrogate, []
        for k, (index, rows) in enumerate(surrogate.heard_rows):
            at = surrogate.ground.arrivals.at_points[index]
            if at.seat == self.seat and at.zone_point == 0:
                own = np.where(rows < len(at.delay_s), rows, -1)  # near misses are no arrivals
                found.append((at.speaker, own, slice(*surrogate.heard_start[k : k + 2])))
        return found

    @cached_property
    def _sides(self) -> tuple[Ints, Ints] | None:
        """Arrivals of the problem that count for left and right."""
        pair = speaker_pair(self.study.scene, seat=self.seat)
        rows: dict[int, Ints] = {}
        for speaker, own, here in self._ears():
            delay_s = self.problem.surrogate.delay_s[here]
            counted = (own >= 0) & (delay_s >= LEFT_RIGHT_WINDOW_S[0]) & (delay_s <= LEFT_RIGHT_WINDOW_S[1])
            rows[speaker] = here.start + np.flatnonzero(counted)
        return None if pair is None or not set(pair) <= set(rows) else (rows[pair[0]], rows[pair[1]])

    @cached_property
    def wall_behind(self) -> int | None:
        """The wall behind the seat."""
        scene = self.study.scene
        mains = [s.position for s in scene.speakers if s.use == "main"]
        return back_wall(self.study.room, scene.seats[self.seat].ears, mains) if mains else None

    @cached_property
    def _back_rows(self) -> Ints:
        """Arrivals of the problem at the ears by way of the wall behind them alone."""
        facets = self.study.room.facets
        found = []
        for speaker, own, here in self._ears():
            names = self.problem.surrogate.name[here]
            for k in np.flatnonzero(own >= 0).tolist():
                way = [f for f in self.problem.surrogate.names[names[k]][2:] if f >= 0]
                is_there = len(way) == 1 and facets[way[0]].surface == self.wall_behind
                if is_there and self.study.scene.speakers[speaker].use == "main":
                    found.append(here.start + k)
        return np.array(found, np.int64)

    @cached_property
    def _bare_m2(self) -> Floats:
        """Equivalent absorption area that makes the traced decay by Eyring's formula, (8,). [m2]"""
        room = self.study.room
        per_m2 = 24.0 * np.log(10.0) / room.speed_of_sound_m_s * room.volume_m3
        exponent = per_m2 / self.decay_s / self._surface_m2
        return np.asarray(self._surface_m2 * -np.expm1(-exponent), np.float64)

    @cached_property
    def _surface_m2(self) -> float:
        return float(sum(surface.area_m2 for surface in self.study.room.surfaces))

    def _eyring(self, area_m2: Floats) -> Floats:
        """Exponent of absorption per bounce, which the decay goes against."""
        return np.asarray(-np.log1p(-np.minimum(area_m2 / self._surface_m2, 0.99)), np.float64)

    @cached_property
    def _taken_m2(self) -> Floats:
        """Absorption area that each candidate adds, (n, 8). [m2]"""
        return np.array([_added_m2(self.study.room, c.panel) for c in self.problem.candidates]).reshape(-1, 8)

    @cached_property
    def _flutter_now(self) -> Floats:
        """Mean absorption of both sides of each pair that flutters, (n_pairs, 2)."""
        room = self.study.room
        pairs = [flutter_absorption(room, f.surface_a, f.surface_b) for f in self.study.flutter]
        return np.array(pairs).reshape(-1, 2)

    @cached_property
    def _flutter_added(self) -> Floats:
        """What each candidate adds to these, (n, n_pairs, 2)."""
        room, added = self.study.room, np.zeros((len(self.problem.candidates), *self._flutter_now.shape))
        for k, candidate in enumerate(self.problem.candidates):
            trial = replace(room, panels=(*room.panels, candidate.panel))
            for p, pair in enumerate(self.study.flutter):
                if candidate.panel.surface in (pair.surface_a, pair.surface_b):
                    both = flutter_absorption(trial, pair.surface_a, pair.surface_b)
                    added[k, p] = np.array(both) - self._flutter_now[p]
        return added


def _added_m2(room: Room, panel: PlacedPanel) -> Floats:
    """Absorption area that a panel adds to a room, (8,). [m2]"""
    made: list[Material] = []
    hidden = np.zeros(len(BANDS_HZ))
    if panel.acts_as == "patch" and panel.surface is not None:
        wall = room.surfaces[panel.surface].material
        made, hidden = [patch_material(panel, room.medium, wall)], wall.absorption
    else:
        made = [free_material(panel, side, room.medium) for side in ("front", "back")]
    return np.asarray(panel.area_m2 * (sum(m.absorption for m in made) - hidden), np.float64)


def look_ahead(study: Study, problem: Problem, seat: int, *, paired: Collection[int] = ()) -> Outlook:
    """What could still be brought in a room with some panels.

    Parameters
    ----------
    study : Study
    problem : Problem
        Posed in that room.
    seat : int
        The one that comes first.
    paired : collection of int
        Surfaces that mirror one another: on these panels come in pairs.
    """
    decays = find_decay(study.scene, study.room, study.arrivals)
    target = decays[0].target
    decay_s = mean_decay_s(decays, seat)
    lone = frozenset(
        k
        for k, unit in enumerate(problem.units)
        if len(unit) == 1
        and problem.candidates[unit[0]].mirror < 0
        and problem.candidates[unit[0]].surface in paired
    )
    return Outlook(study, problem, seat, decay_s, target.low_s, target.high_s, lone)


def near_limit_db(problem: Problem, peaks: Iterable[Peak]) -> float:
    """By how much peaks are nearer to the limit than they need be at the seats that count, in all. [dB]

    Parameters
    ----------
    problem : Problem
    peaks : iterable of Peak
    """
    own = [p for p in peaks if p.verdict != "not judged" and p.seat in problem.seats]
    wanted = (p.uncertainty_db if problem.margin_db is None else problem.margin_db for p in own)
    return float(sum(max(NEAR_DB + db - p.margin_db, 0.0) for db, p in zip(wanted, own, strict=True)))


def proven_figures(outlook: Outlook, after: Study, decay_s: Floats) -> dict[Goal, float]:
    """Figures of the goals by the full run on the room with all panels; the decay there as traced (8,)."""
    sides = compare_left_right(after.scene, after.arrivals, seat=outlook.seat)
    table = after.arrivals
    off = (table.seat == outlook.seat) & (table.order == 1) & (table.delay_s <= LATEST_S)
    off &= table.path_surfaces[:, 0] == (-1 if outlook.wall_behind is None else outlook.wall_behind)
    off &= np.array([after.scene.speakers[k].use == "main" for k in table.speaker], np.bool_)
    flutter = [flutter_absorption(after.room, f.surface_a, f.surface_b) for f in find_flutter(after.room)]
    return {
        Goal.LEFT_RIGHT: float("nan") if sides is None else abs(sides.difference_db),
        Goal.MARGIN: near_limit_db(outlook.problem, after.peaks),
        Goal.DECAY: outside_s(decay_s, outlook.low_s, outlook.high_s),
        Goal.FLUTTER: float(sum(max(1.0 - max(both) / FLUTTER_BELOW, 0.0) for both in flutter)),
        Goal.BACK_WALL: float(table.band_level_db[off].max()) if off.any() else float("nan"),
    }


_FIGURES = {
    Goal.LEFT_RIGHT: Outlook.left_right_db,
    Goal.MARGIN: Outlook.near_db,
    Goal.DECAY: Outlook.decay_outside_s,
    Goal.FLUTTER: Outlook.flutter,
    Goal.BACK_WALL: Outlook.back_wall_db,
}
