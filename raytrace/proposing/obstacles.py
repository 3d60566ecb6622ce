"""What stands in the way of a panel that would answer a peak, surface by surface."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from raytrace.facts import Sentence, sentence
from raytrace.proposing.candidates import Candidate, Refusal
from raytrace.proposing.choice import Chosen, Problem
from raytrace.proposing.further import Further
from raytrace.proposing.spending import why_no_more
from raytrace.reflections import Arrivals
from raytrace.room import looks_up
from raytrace.study import Study
from raytrace.verdicts import Peak

_MAIN_DB = 10.0  # arrivals of a peak that are weaker than its strongest by more than this do not matter


@dataclass(frozen=True)
class Obstacle:
    """A surface that a peak meets, and why no panel there brings it below the limit."""

    surface: str
    reason: Sentence


@dataclass(frozen=True, eq=False)
class Search:
    """Where panels were looked for in a room, and which were chosen.

    Attributes
    ----------
    before : Study
        Without the proposed panels.
    problem : Problem
    refusals : tuple of Refusal
        Places that a panel may not take.
    chosen : tuple of int
        Units of the problem that are put up.
    foreseen : Arrivals
        What all that is put up is predicted to make of the arrivals.
    further : Further, optional
        What is put up beyond them.
    """

    before: Study
    problem: Problem
    refusals: tuple[Refusal, ...]
    chosen: Chosen
    foreseen: Arrivals
    further: Further | None = None

    @property
    def panels(self) -> tuple[Candidate, ...]:
        """Candidates that are put up."""
        first = tuple(self.problem.candidates[k] for k in self.problem.panels(self.chosen))
        return first + (self.further.panels if self.further else ())

    @cached_property
    def at_end(self) -> Sentence | None:
        """Why no more panels could be taken, if that is so."""
        if self.further is not None:
            return why_no_more(self.further.problem, self.further.chosen, self.further.outlook.lone)
        return why_no_more(self.problem, self.chosen)


def find_obstacles(search: Search, after: Study, peak: Peak) -> tuple[Obstacle, ...]:
    """Why a peak stays over the limit, for each surface that its stronger arrivals meet.

    Parameters
    ----------
    search : Search
    after : Study
        With the proposed panels.
    peak : Peak
        Of that study.

    Returns
    -------
    tuple of Obstacle
    """
    table = after.arrivals
    levels = table.zone_worst_db[list(peak.arrivals)]
    strongest_db = levels.max(initial=-np.inf)
    rows = [row for row, level in zip(peak.arrivals, levels, strict=True) if level > strongest_db - _MAIN_DB]
    met: dict[int, np.ndarray] = {}
    for row in rows:
        for bounce in range(table.order[row]):
            met.setdefault(int(table.path_surfaces[row, bounce]), table.spots[row, bounce])
    if not met:  # the ears do not receive it
        met = {after.room.facets[facet].surface: np.full(2, np.nan) for facet in peak.facets}
    return tuple(
        Obstacle(after.room.surfaces[surface].name, _reason(search, surface, spot))
        for surface, spot in met.items()
    )


def _reason(search: Search, surface: int, spot: np.ndarray) -> Sentence:
    before = search.before
    if surface >= len(before.room.surfaces):
        return sentence("the proposed stand itself reflects a little")
    own = before.room.surfaces[surface]
    if own.owner is not None:
        return sentence('belongs to "{thing}"; panels go on surfaces of the room only', thing=own.owner)
    if looks_up(own.frame.n):
        return sentence("is walked on; panels do not lie on floors")
    near = sorted(
        (r for r in search.refusals if r.surface == surface),
        key=lambda r: (round(float(np.nan_to_num(np.linalg.norm(r.uv - spot))), 6), *r.uv.tolist()),
    )
    taken = sum(candidate.surface == surface for candidate in search.panels)
    if near and not any(candidate.surface == surface for candidate in search.problem.candidates):
        return sentence("a panel there {reason}", reason=near[0].reason)
    if search.at_end is not None:
        return search.at_end
    if near and not taken and np.linalg.norm(near[0].uv - spot) < 0.3:
        return sentence("a panel on the spot {reason}", reason=near[0].reason)
    return sentence("more panels there bring too little" if taken else "panels there bring too little")
