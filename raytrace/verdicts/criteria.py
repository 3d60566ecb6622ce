"""Verdicts on the arrivals: peaks against published limits, and the sizes of room these are meant for."""

from dataclasses import dataclass
from math import hypot
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import EBU_TECH_3276, ITU_R_BS_1116_3
from raytrace.facts import Amount, Sentence, Unit, sentence
from raytrace.reflections import Arrivals, PointArrivals, ZoneArrivals, ZoneCurves, is_judged, zone_curves
from raytrace.room import Room
from raytrace.scene import Scene
from raytrace.verdicts.maxima import JUDGED_SHARE, PEAK_WIDTH_S, ImageLevels, find_maxima, image_levels

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Two equal arrivals in step add up to 6 dB: one weaker by more than this is not what makes a peak.
IN_STEP_DB = 6.0
# Taking an arrival away lowers a peak by this much: it has a part in it that can be heard of.
JOINS_DB = 1.0
# Maxima that lie farther below the limit are no peaks.
FLOOR_DB = 30.0
# Summed paths against full-wave solutions of a room with a desk and with panels: the median.
MODEL_DB = 0.5
# One standard error of a taped length, where the scene names none (common practice, no source).
SURVEY_M = 0.010


@dataclass(frozen=True)
class Peak:
    """A maximum of the curve over the head zone, and the reflections that make it.

    Attributes
    ----------
    speaker, seat : int
        Indices into the scene's lists.
    delay_s : float
        Of the strongest reflection in it at the ears, after the direct sound.
    ears_db : float
        Highest maximum that it makes in the curve at the ears, 0 dB = peak of the direct sound; -inf where
        it makes none there.
    level_db : float
        The level that it exceeds at a tenth of the places of the head zone: this one is judged. Outside
        the limit's window and where no verdict is passed, `ears_db`.
    margin_db : float
        Limit less `level_db`; NaN where no verdict is passed.
    uncertainty_db : float
        Standard error of the margin: survey, model, number of places; NaN where no verdict is passed.
    share_over : float
        Share of the zone's places where it is over the limit, 0 to 1.
    verdict : str
        "over", "below", "undecided" (the margin is smaller than its uncertainty) or "not judged".
    arrivals, near_misses : tuple of int
        Rows of `Arrivals` and of its near misses; both empty if the ears do not receive it.
    facets : tuple of int
        What its strongest reflection meets, from speaker to seat.
    joined : tuple of tuple of int
        Facets met by each reflection that lifts it to its level off the middle, the strongest first; empty
        where the strongest alone comes within 1 dB of it.
    survey_db : float
        Part of the survey in the standard error, as estimated from how the level changes over the head zone;
        NaN where no verdict is passed.
    """

    speaker: int
    seat: int
    delay_s: float
    ears_db: float
    level_db: float
    margin_db: float
    uncertainty_db: float
    share_over: float
    verdict: str
    arrivals: tuple[int, ...]
    near_misses: tuple[int, ...]
    facets: tuple[int, ...]
    joined: tuple[tuple[int, ...], ...] = ()
    survey_db: float = np.nan

    @property
    def over_limit(self) -> bool:
        """Whether it is over the limit by more than its uncertainty."""
        return self.verdict == "over"

    @property
    def may_be_over(self) -> bool:
        """Whether it is over the limit, or too near it to say."""
        return self.verdict in ("over", "undecided")


@dataclass(frozen=True)
class Verdict:
    """What a standard says of one speaker at one seat.

    Attributes
    ----------
    speaker, seat : int
        Indices into the scene's lists.
    status : str
        "judged", "hidden" (something takes more than 6 dB off the direct sound) or "sub".
    hidden_by : str or None
        What hides the direct sound, where something does: an object, a panel or a wall.
    n_over, n_undecided, n_below : int
        Peaks in the limit's window by their verdict.
    worst_margin_db : float
        Smallest margin of them; NaN without a peak or verdict.
    """

    speaker: int
    seat: int
    status: str
    hidden_by: str | None
    n_over: int
    n_undecided: int
    n_below: int
    worst_margin_db: float

    @property
    def n_in_window(self) -> int:
        """All peaks that were judged."""
        return self.n_over + self.n_undecided + self.n_below


class JudgedZone(NamedTuple):
    """Curves of a speaker over a seat's zone, what its images amount to there, and their first rows."""

    curves: ZoneCurves
    levels: ImageLevels
    ears: PointArrivals
    first_rows: tuple[int, int]

    def ears_db(self, members: Ints) -> float:
        """The highest maximum that some images make at the ears; -inf where they make none."""
        heard = zip(members.tolist(), self.levels.maximum[0, members].tolist(), strict=True)
        return max((float(self.levels.level_db[0, k]) for k, made in heard if made >= 0), default=-np.inf)


def find_peaks(scene: Scene, arrivals: Arrivals, *, until_s: float | None = None) -> tuple[Peak, ...]:
    """Peaks as a measurement would show them, for every speaker and seat, by delay.

    They are the local maxima of the band-limited envelope of direct sound, arrivals and near misses
    together, at the ears and at places spread over the head zone, each by its own times. A reflection
    makes a maximum that is less than 0.15 ms from it, and one that makes its maxima with a stronger one
    belongs to that one's peak. Maxima later than the limit's window are those of the ears, and not judged;
    they end at `until_s`, without it where the search did.
    """
    until_s = arrivals.reach.within_s if until_s is None else until_s
    own = (peak for place in heard_places(arrivals) for peak in peaks_at(scene, place, until_s=until_s))
    return tuple(sorted(own, key=lambda p: (p.speaker, p.seat, p.delay_s)))


class HeardPlace(NamedTuple):
    """What a seat hears of a speaker, ears first, and the first rows of it in both tables."""

    heard: ZoneArrivals
    first_rows: tuple[int, int]


def heard_places(arrivals: Arrivals) -> list[HeardPlace]:
    """Every speaker at every seat, as `peaks_at` takes it."""
    assert arrivals.near_misses is not None
    tables = arrivals, arrivals.near_misses
    places = []
    for ears in arrivals.at_ears:
        place = ears.speaker, ears.seat
        own, near = (tuple(h for h in table.at_points if (h.speaker, h.seat) == place) for table in tables)
        first, first_near = (_first_row(table, place) for table in tables)
        places.append(HeardPlace(ZoneArrivals(own, near), (first, first_near)))
    return places


def peaks_at(scene: Scene, place: HeardPlace, *, until_s: float) -> tuple[Peak, ...]:
    """The peaks of one speaker at one seat, see `find_peaks`, in no order."""
    heard, first = place
    ears, missed = heard.found[0], heard.missed[0]
    judged, late = list[Peak](), list[Peak]()
    from_s = 0.0
    if is_judged(scene, ears):
        from_s = scene.limits.within_s
        judged = _judged_peaks(scene, judged_zone(scene, heard, (0.0, from_s), first))
    if from_s < until_s:
        late = _late_peaks(judged_zone(scene, ZoneArrivals((ears,), (missed,)), (from_s, until_s), first))
    taken = {row for peak in judged for row in peak.arrivals}
    return (*judged, *(peak for peak in late if not taken & set(peak.arrivals)))


def _first_row(table: Arrivals, place: tuple[int, int]) -> int:
    rows = table.at(*place)
    return int(rows[0]) if len(rows) else 0


def _lowest_db(scene: Scene) -> float:
    return scene.limits.level_db - FLOOR_DB


def judged_zone(
    scene: Scene, heard: ZoneArrivals, window_s: tuple[float, float], first_rows: tuple[int, int]
) -> JudgedZone:
    """What is heard in a head zone within a window after the direct sound, with its maxima."""
    lowest_db = _lowest_db(scene)
    curves = zone_curves(scene, heard, until_s=window_s[1], lowest_db=lowest_db - IN_STEP_DB)
    maxima = find_maxima(curves, from_s=window_s[0], until_s=window_s[1], lowest_db=lowest_db)
    return JudgedZone(curves, image_levels(curves, maxima, lowest_db), heard.found[0], first_rows)


def _members(zone: JudgedZone) -> list[Ints]:
    """Images of each peak, the strongest first."""
    leader = zone.levels.leader
    return [np.flatnonzero(leader == image) for image in np.unique(leader[leader >= 0])]


def _judged_peaks(scene: Scene, zone: JudgedZone) -> list[Peak]:
    """Peaks in the limit's window of a speaker that is judged."""
    survey_m = SURVEY_M if scene.job.survey_error is None else scene.job.survey_error
    found = []
    for members in _members(zone):
        loudest = int(members[np.argmax(zone.levels.judged_db[members])])
        judged_db = float(zone.levels.judged_db[loudest])
        margin_db = float(scene.limits.margin_db(judged_db))
        level_db = zone.levels.level_db[:, members].max(axis=1)
        survey_db = survey_m * _steepness_db_m(zone.curves.places, level_db, _lowest_db(scene))
        places_db = _places_db(zone.levels.level_db[:, loudest])
        uncertainty_db = hypot(survey_db, MODEL_DB, places_db)
        verdict = verdict_on(margin_db, uncertainty_db)
        share_over = np.count_nonzero(level_db > scene.limits.level_db) / len(level_db)
        joined = () if verdict == "below" else _joined(zone, int(members[0]), loudest)
        numbers = (judged_db, margin_db, uncertainty_db, share_over, verdict)
        found.append(_peak(zone, members, numbers, (joined, survey_db)))
    return found


def verdict_on(margin_db: float, uncertainty_db: float) -> str:
    """What is said of a margin: "over" or "below", "undecided" where it is smaller than its uncertainty."""
    return "undecided" if abs(margin_db) < uncertainty_db else "over" if margin_db < 0.0 else "below"


def _late_peaks(zone: JudgedZone) -> list[Peak]:
    """Peaks of the curve at the ears on which no verdict is passed."""
    return [
        _peak(zone, members, (zone.ears_db(members), np.nan, np.nan, 0.0, "not judged"), ((), np.nan))
        for members in _members(zone)
    ]


def _peak(
    zone: JudgedZone,
    members: Ints,
    numbers: tuple[float, float, float, float, str],
    others: tuple[tuple[tuple[int, ...], ...], float],
) -> Peak:
    """The peak of some images.

    `numbers`: its level, margin, uncertainty, share over and verdict; `others`: what has joined it, and the
    survey's part.
    """
    rows, near = (
        tuple(sorted(first + row for member in members for row in own[member]))
        for first, own in zip(zone.first_rows, (zone.curves.rows, zone.curves.near_rows), strict=True)
    )
    own_rows = zone.curves.rows[members[0]]
    delay_s = zone.ears.delay_s[own_rows[0]] if own_rows else zone.curves.delay_s[0, members[0]]
    return Peak(
        zone.ears.speaker,
        zone.ears.seat,
        float(delay_s),
        zone.ears_db(members),
        *numbers,
        rows,
        near,
        zone.curves.facets[members[0]],
        *others,
    )


def _joined(zone: JudgedZone, strongest: int, loudest: int) -> tuple[tuple[int, ...], ...]:
    """Facets of what lifts a peak to its level beside its strongest reflection, the strongest first."""
    levels, strength_db = zone.levels, zone.curves.strength_db
    judged_db = levels.judged_db[loudest]
    if judged_db <= strength_db[strongest] + JOINS_DB:
        return ()
    place = int(np.argmin(np.abs(levels.level_db[:, loudest] - judged_db)))
    beside = np.flatnonzero(levels.maximum[place] == levels.maximum[place, loudest])

    loud = [k for k in beside if k != strongest and strength_db[k] > strength_db[strongest] - IN_STEP_DB]
    return tuple(zone.curves.facets[k] for k in loud)


def _steepness_db_m(places: Floats, level_db: Floats, lowest_db: float) -> float:
    """How fast a peak's level rises over the zone in the direction in which it does so most. [dB/m]"""
    own = level_db > lowest_db
    if np.count_nonzero(own) < 2 * places.shape[1]:
        return 0.0
    about = places[own] - places[own].mean(axis=0)
    slope, *_ = np.linalg.lstsq(about, level_db[own] - level_db[own].mean(), rcond=1e-6)
    return float(np.linalg.norm(slope))


def _places_db(level_db: Floats) -> float:
    """Standard error of a judged level for the number of places that it is taken from, 0 for one. [dB]"""
    if len(level_db) == 1:
        return 0.0
    share = np.sqrt(JUDGED_SHARE * (1.0 - JUDGED_SHARE) / len(level_db))
    low, high = np.quantile(level_db, [1.0 - JUDGED_SHARE - share, 1.0 - JUDGED_SHARE + share])
    return float(0.5 * (high - low))


def main_arrivals(arrivals: Arrivals, peak: Peak) -> list[int]:
    """Rows of the arrivals that make a peak, the strongest first; weak ones beside them left out."""
    levels = {row: float(arrivals.band_level_db[row]) for row in peak.arrivals}
    loud = [row for row in levels if levels[row] > max(levels.values()) - IN_STEP_DB]
    return sorted(loud, key=lambda row: -levels[row])


def peak_leaders(at_point: PointArrivals) -> NDArray[np.int64]:
    """Strongest arrival among those within 0.15 ms that each path of a point belongs to, (n_paths,)."""
    from raytrace.kernels.peaks import lead_peaks

    leader = np.empty(len(at_point.delay_s), np.int64)
    lead_peaks(at_point.band_level_db, at_point.delay_s, PEAK_WIDTH_S, -np.inf, leader)
    return leader


def judge(scene: Scene, arrivals: Arrivals, peaks: tuple[Peak, ...]) -> tuple[Verdict, ...]:
    """One verdict per speaker and seat."""
    verdicts = []
    for ears, hidden_by in zip(arrivals.at_ears, arrivals.direct.hidden_by, strict=True):
        own = [p for p in peaks if (p.speaker, p.seat) == (ears.speaker, ears.seat)]
        passed = [p.verdict for p in own]
        if scene.speakers[ears.speaker].use == "sub":
            status = "sub"
        else:
            status = "judged" if is_judged(scene, ears) else "hidden"
        verdicts.append(
            Verdict(
                ears.speaker,
                ears.seat,
                status,
                hidden_by if status == "hidden" else None,
                n_over=passed.count("over"),
                n_undecided=passed.count("undecided"),
                n_below=passed.count("below"),
                worst_margin_db=min((p.margin_db for p in own if p.verdict != "not judged"), default=np.nan),
            )
        )
    return tuple(verdicts)


def size_note(room: Room, scene: Scene) -> Sentence | None:
    """What the scene's standard says of rooms of this size, None where it has no range or fits."""
    limits, area_m2 = scene.limits, room.floor_area_m2
    if limits.fits(area_m2):
        return None
    return sentence(
        "{standard} is written for rooms of {sizes}; this one has {area} and is {side}: outside the range, "
        "its limit is a guide here.",
        standard=limits.name,
        sizes=limits.sizes,
        area=Amount((round(area_m2, 3),), Unit.M2, 1),  # a tenth is a square foot to others
        side="smaller" if area_m2 < limits.from_m2 else "larger",
    )


def proportions_fit(length_m: float, width_m: float, height_m: float) -> bool:
    """Whether a box room's proportions keep its lowest modes apart.

    1.1 w/h <= l/h <= 4.5 w/h - 4, l/h < 3, w/h < 3: both published limits have it, after R. Walker,
    BBC RD 1993/8 (from memory).

    Examples
    --------
    >>> proportions_fit(5.0, 4.0, 2.6), proportions_fit(4.0, 4.0, 2.6)
    (True, False)
    """
    long, wide = max(length_m, width_m) / height_m, min(length_m, width_m) / height_m
    return bool(1.1 * wide <= long <= 4.5 * wide - 4.0 and long < 3.0 and wide < 3.0)


def proportion_note(scene: Scene) -> Sentence | None:
    """What the standards' rule of proportions says of a box room; None where it fits or does not apply."""
    room = scene.room
    if room.shape != "box" or room.slopes or proportions_fit(room.length, room.width, room.height):
        return None
    return sentence(
        f"The proportions lie outside the rule of {EBU_TECH_3276} and {ITU_R_BS_1116_3} "
        "(1.1 w/h ≤ l/h ≤ 4.5 w/h − 4): expect uneven bass; early reflections are not concerned."
    )
