"""What stands in the way of a panel that would answer a peak, surface by surface."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from raytrace.facts import Sentence, sentence
from raytrace.proposing.candidates import Candidate, Refusal
from raytrace.proposing.panelgrid import looks_up
from raytrace.room import ROOM
from raytrace.study import Study
from raytrace.verdicts import Peak

_MAIN_DB = 10.0  # arrivals of a peak that are weaker than its strongest by more than this do not matter


@dataclass(frozen=True)
class Obstacle:
    """A surface that a peak meets, and why no panel there brings it below the limit."""

    surface: str
    reason: Sentence


def find_obstacles(
    before: Study,
    after: Study,
    peak: Peak,
    candidates: Sequence[Candidate],
    refusals: Sequence[Refusal],
    used: Sequence[Candidate],
    at_end: Sentence | None,
) -> tuple[Obstacle, ...]:
    """Why a peak stays over the limit, for each surface that its stronger arrivals meet.

    Parameters
    ----------
    before, after : Study
        Without and with the proposed panels.
    peak : Peak
        Of the second.
    candidates, refusals : sequence of Candidate, of Refusal
        Places that were looked at.
    used : sequence of Candidate
        Those that were taken.
    at_end : Sentence or None
        Why no more panels could be taken at all.

    Returns
    -------
    tuple of Obstacle
    """
    table = after.arrivals
    levels = table.zone_worst_db[list(peak.arrivals)]
    rows = [row for row, level in zip(peak.arrivals, levels, strict=True) if level > levels.max() - _MAIN_DB]
    met: dict[int, np.ndarray] = {}
    for row in rows:
        for bounce in range(table.order[row]):
            met.setdefault(int(table.path_surfaces[row, bounce]), table.spots[row, bounce])
    if not met:  # the ears do not receive it
        met = {after.room.facets[facet].surface: np.full(2, np.nan) for facet in peak.facets}
    return tuple(
        Obstacle(after.room.surfaces[s].name, _reason(before, s, spot, candidates, refusals, used, at_end))
        for s, spot in met.items()
    )


def _reason(
    before: Study,
    surface: int,
    spot: np.ndarray,
    candidates: Sequence[Candidate],
    refusals: Sequence[Refusal],
    used: Sequence[Candidate],
    at_end: Sentence | None,
) -> Sentence:
    if surface >= len(before.room.surfaces):
        return sentence("the proposed stand itself reflects a little")
    own = before.room.surfaces[surface]
    if own.owner != ROOM:
        return sentence('belongs to "{thing}"; panels go on surfaces of the room only', thing=own.owner)
    if looks_up(own.frame.n):
        return sentence("is walked on; panels do not lie on floors")
    near = sorted(
        (r for r in refusals if r.surface == surface),
        key=lambda r: (round(float(np.nan_to_num(np.linalg.norm(r.uv - spot))), 6), *r.uv.tolist()),
    )
    taken = sum(candidate.surface == surface for candidate in used)
    if near and not any(candidate.surface == surface for candidate in candidates):
        return sentence("a panel there {reason}", reason=near[0].reason)
    if at_end is not None:
        return at_end
    if near and not taken and np.linalg.norm(near[0].uv - spot) < 0.3:
        return sentence("a panel on the spot {reason}", reason=near[0].reason)
    return sentence("more panels there bring too little" if taken else "panels there bring too little")
