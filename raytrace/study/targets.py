"""Which areas are worth an installer's while: enough to answer every peak that may be over the limit."""

import numpy as np

from raytrace.study.study import Study
from raytrace.verdicts import IN_STEP_DB, TreatmentArea

Targets = dict[int, tuple[tuple[TreatmentArea, tuple[int, ...]], ...]]


def find_targets(study: Study) -> Targets:
    """Areas to set out by surface, strongest first, each with the longer ways it also treats.

    Every patch over the limit that belongs to a peak which is over it or may be; for such a peak without
    one, the patch of its strongest arrival. A path of several bounces needs treating once: it is left out
    where all its spots on one of its surfaces lie inside an area that is set out anyway.
    """
    strong = {row for peak in study.peaks if peak.may_be_over for row in peak.arrivals}
    wanted = {id(p) for p in study.treatment_areas if p.over_limit and strong & set(p.rows)}
    wanted |= {id(patch) for patch in _patches_of_lone_peaks(study)}
    chosen: list[tuple[TreatmentArea, list[int]]] = []
    ordered = sorted(
        (patch for patch in study.treatment_areas if id(patch) in wanted),
        key=lambda p: (study.arrivals.order[p.rows[0]], -p.worst_db, p.surface),
    )
    caught_rows: set[int] = set()
    for patch in ordered:
        row = patch.rows[0]
        if row not in caught_rows and study.arrivals.order[row] > 1:
            catcher = _catcher(chosen, [p for p in study.treatment_areas if row in p.rows])
            if catcher is not None:
                catcher.append(row)
                caught_rows.add(row)
        if row not in caught_rows:
            chosen.append((patch, []))
    by_surface: Targets = {}
    for patch, caught in sorted(chosen, key=lambda c: -c[0].worst_db):
        by_surface[patch.surface] = (*by_surface.get(patch.surface, ()), (patch, tuple(caught)))
    return by_surface


def _patches_of_lone_peaks(study: Study) -> list[TreatmentArea]:
    """For each peak that may be over the limit but has no patch over it: that of its strongest arrival."""
    arrivals, found = study.arrivals, []
    limit_db = study.scene.limits.level_db
    for peak in study.peaks:
        if not (peak.may_be_over and peak.arrivals):
            continue
        own = [patch for patch in study.treatment_areas if set(patch.rows) & set(peak.arrivals)]
        strongest = max(peak.arrivals, key=lambda row: float(arrivals.zone_worst_db[row]))
        if not any(patch.over_limit for patch in own):
            found += [
                patch for patch in own if strongest in patch.rows and patch.worst_db > limit_db - IN_STEP_DB
            ]
    return found


def _catcher(chosen: list[tuple[TreatmentArea, list[int]]], bounces: list[TreatmentArea]) -> list[int] | None:
    """The list of caught rows of a chosen area that holds all spots of one of the bounces."""
    for patch, caught in chosen:
        u0, v0, u1, v1 = patch.rect
        for bounce in bounces:
            u, v = np.asarray(bounce.spots).T
            if bounce.surface == patch.surface and np.all((u >= u0) & (u <= u1) & (v >= v0) & (v <= v1)):
                return caught
    return None
