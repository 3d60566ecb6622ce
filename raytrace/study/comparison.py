"""Two studies side by side: what became of every reflection, peak and verdict."""

import math
from collections import defaultdict
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.study.study import Study
from raytrace.verdicts import LeftRight, Peak, Verdict

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class ArrivalPair:
    """One reflection before and after.

    Attributes
    ----------
    speaker, seat : str
        Names, the same in both scenes.
    surfaces : tuple of str
        Names of what it meets, from speaker to seat.
    before, after : int or None
        Rows of the two tables of arrivals; None where it vanished or appeared.
    """

    speaker: str
    seat: str
    surfaces: tuple[str, ...]
    before: int | None
    after: int | None


@dataclass(frozen=True)
class PeakPair:
    """One peak before and what became of it; None where it vanished or appeared."""

    speaker: str
    seat: str
    before: Peak | None
    after: Peak | None

    @property
    def delay_s(self) -> float:
        """When it arrives, before if it was there. [s]"""
        peak = self.before or self.after
        assert peak is not None
        return peak.delay_s

    @property
    def change_db(self) -> float:
        """After less before of the level that is judged; NaN where it vanished or appeared. [dB]"""
        if self.before is None or self.after is None:
            return float("nan")
        return self.after.level_db - self.before.level_db

    @property
    def worst_margin_db(self) -> float:
        """The lower of its margins before and after, inf where it is judged in neither. [dB]"""
        margins = [peak.margin_db for peak in (self.before, self.after) if peak is not None]
        return min((margin for margin in margins if not math.isnan(margin)), default=math.inf)


@dataclass(frozen=True)
class VerdictPair:
    """What the standard says of one speaker at one seat, before and after.

    Attributes
    ----------
    speaker, seat : str
        Names.
    before, after : Verdict
        Of the two studies.
    n_cleared : int
        Peaks over the limit before that are below it now, or gone.
    n_new : int
        Peaks over the limit now that were not, or were not there.
    """

    speaker: str
    seat: str
    before: Verdict
    after: Verdict
    n_cleared: int
    n_new: int


@dataclass(frozen=True)
class Comparison:
    """Two studies side by side.

    Attributes
    ----------
    before, after : Study
        What is compared.
    arrivals : tuple of ArrivalPair
        Every reflection of the speakers and seats that both have, by speaker, seat and delay.
    peaks : tuple of PeakPair
        Likewise.
    verdicts : tuple of VerdictPair
        Of every speaker and seat that is judged in both, by the order of the first scene; empty where the
        two scenes have different limits.
    left_right : (LeftRight or None, LeftRight or None)
        Left against right before and after; both None where they do not speak of the same pair.
    treated_m2 : (float, float)
        Area of all panels' faces.
    not_compared : tuple of str
        What the two do not share, one sentence each.
    """

    before: Study
    after: Study
    arrivals: tuple[ArrivalPair, ...]
    peaks: tuple[PeakPair, ...]
    verdicts: tuple[VerdictPair, ...]
    left_right: tuple[LeftRight | None, LeftRight | None]
    treated_m2: tuple[float, float]
    not_compared: tuple[str, ...]

    def change_db(self, pair: ArrivalPair) -> Floats:
        """After less before per octave, then in the limit's band; NaN without a counterpart. [dB]"""
        tables = (self.before.arrivals, self.after.arrivals)
        if pair.before is None or pair.after is None:
            return np.full(tables[0].level_db.shape[1] + 1, np.nan)
        old, new = (
            np.append(table.level_db[row], table.band_level_db[row])
            for table, row in zip(tables, (pair.before, pair.after), strict=True)
        )
        with np.errstate(invalid="ignore"):  # silent before and after: no number
            return np.asarray(new - old)


Place = tuple[str, str]  # speaker and seat by name


def compare(before: Study, after: Study) -> Comparison:
    """Match two studies: speakers, seats and surfaces by their names, reflections by what they meet.

    Parameters
    ----------
    before, after : Study
        Of any two scenes: the same room with and without panels, or another arrangement of it.

    Returns
    -------
    Comparison
        What only one of the two has is named in `not_compared`, or stands beside None.

    Notes
    -----
    Reflections that meet the same surfaces in the same order are paired by delay. A peak is paired with
    the one that holds the counterpart of its strongest reflection.
    """
    places = [place for place in _places(before) if place in set(_places(after))]
    arrivals = [pair for place in places for pair in _match_arrivals(before, after, place)]
    partner = {pair.after: pair.before for pair in arrivals if pair.after is not None}
    peaks = [pair for place in places for pair in _match_peaks(before, after, place, partner)]
    return Comparison(
        before,
        after,
        tuple(arrivals),
        tuple(peaks),
        tuple(_verdicts(before, after, places, peaks))
        if limit_numbers(before) == limit_numbers(after)
        else (),
        _left_right(before, after),
        (_treated_m2(before), _treated_m2(after)),
        tuple(_not_compared(before, after)),
    )


def _places(study: Study) -> list[Place]:
    table = study.arrivals
    return [(table.speaker_names[v.speaker], table.seat_names[v.seat]) for v in study.verdicts]


def _indices(study: Study, place: Place) -> tuple[int, int]:
    table = study.arrivals
    return table.speaker_names.index(place[0]), table.seat_names.index(place[1])


def limit_numbers(study: Study) -> tuple[float, float, float, float]:
    """What a study judges by, without the name of it."""
    own = study.scene.limits
    return (own.below_db, own.within_ms, own.from_hz, own.to_hz)


def _treated_m2(study: Study) -> float:
    """Front faces of all panels. [m2]"""
    return float(sum(panel.width_m * panel.height_m for panel in study.room.panels))


def surface_names(study: Study, row: int) -> tuple[str, ...]:
    """Names of the surfaces that an arrival meets, from speaker to seat."""
    met = study.arrivals.path_surfaces[row, : study.arrivals.order[row]]
    return tuple(study.room.surfaces[surface].name for surface in met)


def peak_surface_names(study: Study, peak: Peak) -> tuple[str, ...]:
    """The same for the strongest arrival of a peak, also of one that the ears do not receive."""
    return tuple(study.room.surfaces[study.room.facets[facet].surface].name for facet in peak.facets)


def _match_arrivals(before: Study, after: Study, place: Place) -> list[ArrivalPair]:
    """Rows of one speaker at one seat, paired within each way by the smallest difference of delay."""
    rows: list[dict[tuple[str, ...], list[int]]] = []
    for study in (before, after):
        by_way: dict[tuple[str, ...], list[int]] = defaultdict(list)
        for row in study.arrivals.at(*_indices(study, place)):
            by_way[surface_names(study, int(row))].append(int(row))
        rows.append(by_way)
    found: list[ArrivalPair] = []
    for way in dict.fromkeys([*rows[0], *rows[1]]):
        old, new = rows[0].get(way, []), rows[1].get(way, [])
        gaps = sorted(
            (abs(float(before.arrivals.delay_s[a] - after.arrivals.delay_s[b])), a, b)
            for a in old
            for b in new
        )
        partner: dict[int, int] = {}
        for _, a, b in gaps:
            if a not in partner and b not in partner.values():
                partner[a] = b
        found += [ArrivalPair(*place, way, a, partner.get(a)) for a in old]
        found += [ArrivalPair(*place, way, None, b) for b in new if b not in partner.values()]

    def delay_s(pair: ArrivalPair) -> float:
        if pair.before is not None:
            return float(before.arrivals.delay_s[pair.before])
        return float(after.arrivals.delay_s[pair.after])

    return sorted(found, key=delay_s)


def _match_peaks(before: Study, after: Study, place: Place, partner: dict[int, int | None]) -> list[PeakPair]:
    """Peaks of one speaker at one seat.

    A new peak descends from the old one that holds the counterpart of its strongest reflection. Where an
    old one has fallen apart its loudest descendant stands for it, the others are new.
    """
    old, new = (
        [peak for peak in study.peaks if (peak.speaker, peak.seat) == _indices(study, place)]
        for study in (before, after)
    )
    of_row = {row: i for i, peak in enumerate(old) for row in peak.arrivals}
    chosen: dict[int, int] = {}
    for j in sorted(range(len(new)), key=lambda j: -new[j].level_db):
        i = _ancestor(before, after, old, new[j], of_row, partner)
        if i is not None and i not in chosen:
            chosen[i] = j
    pairs = [PeakPair(*place, peak, new[chosen[i]] if i in chosen else None) for i, peak in enumerate(old)]
    pairs += [PeakPair(*place, None, peak) for j, peak in enumerate(new) if j not in chosen.values()]
    return sorted(pairs, key=lambda pair: pair.delay_s)


def _ancestor(
    before: Study,
    after: Study,
    old: list[Peak],
    peak: Peak,
    of_row: dict[int, int],
    partner: dict[int, int | None],
) -> int | None:
    """Which of the old peaks one of the new ones comes from."""
    if peak.arrivals:
        strongest = max(peak.arrivals, key=lambda row: float(after.arrivals.band_level_db[row]))
        counterpart = partner.get(strongest)
        return None if counterpart is None else of_row.get(counterpart)
    # One that the ears do not receive has no rows: the nearest of those that meet the same surfaces.
    way = peak_surface_names(after, peak)
    near = [
        (abs(own.delay_s - peak.delay_s), i)
        for i, own in enumerate(old)
        if not own.arrivals and peak_surface_names(before, own) == way
    ]
    return min(near)[1] if near else None


def _verdicts(before: Study, after: Study, places: list[Place], peaks: list[PeakPair]) -> list[VerdictPair]:
    found = []
    for place in places:
        old, new = (
            next(v for v in study.verdicts if (v.speaker, v.seat) == _indices(study, place))
            for study in (before, after)
        )
        if old.status == new.status == "judged":
            own = [pair for pair in peaks if (pair.speaker, pair.seat) == place]
            n_cleared = sum(_is_over(pair.before) and _is_below(pair.after) for pair in own)
            n_new = sum(_is_over(pair.after) and not _is_over(pair.before) for pair in own)
            found.append(VerdictPair(*place, old, new, n_cleared, n_new))
    return found


def _is_over(peak: Peak | None) -> bool:
    return peak is not None and peak.over_limit


def _is_below(peak: Peak | None) -> bool:
    return peak is None or peak.verdict == "below"


def _left_right(before: Study, after: Study) -> tuple[LeftRight | None, LeftRight | None]:
    """Both sides, if both speak of the same speakers and seat."""
    names = [_left_right_names(study) for study in (before, after)]
    if None in names or names[0] != names[1]:
        return (None, None)
    return (before.left_right, after.left_right)


def _left_right_names(study: Study) -> tuple[str, str, str] | None:
    pair, table = study.left_right, study.arrivals
    if pair is None:
        return None
    return (table.speaker_names[pair.left], table.speaker_names[pair.right], table.seat_names[pair.seat])


def _not_compared(before: Study, after: Study) -> list[str]:
    found = []
    for what in ("speaker", "seat"):
        names = [getattr(study.arrivals, f"{what}_names") for study in (before, after)]
        for (own, other), when in zip((names, names[::-1]), ("before", "after"), strict=True):
            lone = [name for name in own if name not in other]
            if lone:
                found.append(f"Only {when} there is the {what} {' and '.join(lone)}.")
    for place in (place for place in _places(before) if place in set(_places(after))):
        hidden = [
            when
            for study, when in ((before, "before"), (after, "after"))
            if any(
                v.status == "hidden" and (v.speaker, v.seat) == _indices(study, place) for v in study.verdicts
            )
        ]
        if hidden:
            found.append(
                f"{place[0]} at {place[1]}: the direct sound is hidden {' and '.join(hidden)}: no verdict."
            )
    if limit_numbers(before) != limit_numbers(after):
        found.append("The two scenes are judged by different limits, so their counts are not compared.")
    names = [_left_right_names(study) for study in (before, after)]
    if names[0] != names[1]:
        found.append("Left against right is not compared: the two scenes have different pairs of speakers.")
    elif names[0] is None:
        found.append("There is no left and right pair of speakers to compare.")
    shared = {s.name for s in before.room.surfaces} & {s.name for s in after.room.surfaces}
    if not shared:
        found.append("The two rooms have no surface name in common, so no reflection has a counterpart.")
    return found
