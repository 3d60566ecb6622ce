"""Margins of the peaks near the limit: before, as predicted, as proven; and how well the last two agree."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace

import numpy as np

from raytrace.reflections import Arrivals, is_judged
from raytrace.scene import Scene
from raytrace.study import Study
from raytrace.verdicts import Peak, find_peaks

_SHOWN_DB = 3.0  # margins are listed for peaks nearer to the limit than this, before or after
_COMPARED_DB = 15.0  # below the limit: weaker arrivals are not compared


@dataclass(frozen=True)
class PeakMargin:
    """Margin of one peak at its worst zone point, NaN where there is none. [dB]

    Attributes
    ----------
    speaker, seat : str
    way : tuple of str
        Surfaces that its strongest arrival meets.
    delay_s : float
    before_db, predicted_db, proven_db : float
        As the room is; with the panels, before the proof and in it.
    """

    speaker: str
    seat: str
    way: tuple[str, ...]
    delay_s: float
    before_db: float
    predicted_db: float
    proven_db: float


def way_of_facets(study: Study, facets: Iterable[int]) -> tuple[str, ...]:
    """Names of the surfaces that facets belong to; -1 stands for none."""
    return tuple(study.room.surfaces[study.room.facets[f].surface].name for f in facets if f >= 0)


PeakKey = tuple[int, int, tuple[int, ...]]


def find_margins(
    before: Study, predicted: Arrivals, after: Study, seats: Collection[int]
) -> tuple[PeakMargin, ...]:
    """Margins of every peak near the limit at some seats, before, predicted and proven."""
    scene = before.scene
    sets: list[dict[PeakKey, Peak]] = [
        {(p.speaker, p.seat, p.facets): p for p in peaks if p.seat in seats and not np.isnan(p.margin_db)}
        for peaks in (before.peaks, find_peaks(scene, predicted, until_s=scene.limits.within_s), after.peaks)
    ]
    found = []
    for key in dict.fromkeys(key for own in sets for key in own):
        peaks = [own.get(key) for own in sets]
        margins = [float("nan") if peak is None else float(peak.margin_db) for peak in peaks]
        if np.nanmin(margins) < _SHOWN_DB:
            peak = next(peak for peak in peaks if peak is not None)
            way = way_of_facets(after, key[2])
            names = scene.speakers[key[0]].name, scene.seats[key[1]].name
            found.append((key[0], key[1], PeakMargin(*names, way, peak.delay_s, *margins)))
    found.sort(key=lambda entry: (entry[0], entry[1], entry[2].delay_s))
    return tuple(margin for _, _, margin in found)


def with_today(margins: Iterable[PeakMargin], today: Study, seats: Collection[str]) -> tuple[PeakMargin, ...]:
    """Margins whose first column is that of another study of the same room, by names; with its own peaks.

    A peak that was there only between the two is left out.

    Parameters
    ----------
    margins : iterable of PeakMargin
    today : Study
        The room before anything in it was moved.
    seats : collection of str
        Seats that are listed.
    """
    scene, nan = today.scene, float("nan")
    old: dict[tuple[str, str, tuple[str, ...]], Peak] = {}
    for peak in sorted(today.peaks, key=lambda peak: -peak.level_db):
        names = scene.speakers[peak.speaker].name, scene.seats[peak.seat].name
        if names[1] in seats and not np.isnan(peak.margin_db):
            old.setdefault((*names, way_of_facets(today, peak.facets)), peak)
    listed = []
    for margin in margins:
        own = margin.speaker, margin.seat, margin.way
        before_db = float(old.pop(own).margin_db) if own in old else nan
        found = replace(margin, before_db=before_db)
        if not np.isnan([before_db, found.predicted_db, found.proven_db]).all():
            listed.append(found)
    listed += [
        PeakMargin(*key, peak.delay_s, float(peak.margin_db), nan, nan)
        for key, peak in old.items()
        if peak.margin_db < _SHOWN_DB
    ]
    order = [speaker.name for speaker in scene.speakers], [seat.name for seat in scene.seats]
    listed.sort(key=lambda m: (order[0].index(m.speaker), order[1].index(m.seat), m.delay_s))
    return tuple(listed)


def find_agreement(
    scene: Scene, predicted: Arrivals, proven: Arrivals, seats: Collection[int]
) -> tuple[float, float]:
    """Largest difference of predicted and proven levels at some seats: of one bounce, of several. [dB]"""
    most = [0.0, 0.0]
    floor_db = scene.limits.level_db - _COMPARED_DB
    for ours, theirs in zip(predicted.at_points, proven.at_points, strict=True):
        if ours.seat not in seats or not is_judged(scene, ours):
            continue
        level_of = {
            tuple(facets[facets >= 0].tolist()): level
            for facets, level in zip(theirs.paths.facets, theirs.band_level_db, strict=True)
        }
        for facets, level, delay_s in zip(ours.paths.facets, ours.band_level_db, ours.delay_s, strict=True):
            key = tuple(facets[facets >= 0].tolist())
            if level > floor_db and delay_s <= scene.limits.within_s and key in level_of:
                kind = int(len(key) > 1)
                most[kind] = max(most[kind], abs(float(level - level_of[key])))
    return most[0], most[1]
