"""Verdicts on the arrivals: peaks against published limits, and the sizes of room these are meant for."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import EBU_TECH_3276, ITU_R_BS_1116_3, band_frequencies_hz
from raytrace.facts import Amount, Sentence, Unit, sentence
from raytrace.reflections import Arrivals, PointArrivals, is_judged, limit_level_db
from raytrace.room import Room
from raytrace.scene import Scene

Floats = NDArray[np.float64]

# Two arrivals closer than the pulse width of a band 1-8 kHz wide, 1/(7 kHz), form one peak.
PEAK_WIDTH_S = 0.00015
# Two equal arrivals in step add up to 6 dB: one weaker by more than this is not what makes a peak.
IN_STEP_DB = 6.0
# Taking an arrival away lowers a peak by this much: it has a part in it that can be heard of.
JOINS_DB = 1.0


@dataclass(frozen=True)
class Peak:
    """Arrivals that a measurement could not tell apart.

    Attributes
    ----------
    speaker, seat : int
        Indices into the scene's lists.
    delay_s : float
        Of the strongest arrival in it, after the direct sound.
    level_db : float
        At the ears, re direct in the limit's band; -inf if it is met only elsewhere in the head zone.
    zone_worst_db : float
        The highest level over the nine points of the head zone.
    arrivals : tuple of int
        Rows of `Arrivals`; empty if the ears do not receive it.
    margin_db : float
        Limit less `zone_worst_db`; NaN where no verdict is passed.
    over_limit : bool
        Whether the margin is negative.
    facets : tuple of int
        What its strongest arrival meets, from speaker to seat.
    joined : tuple of tuple of int
        Facets met by each arrival that lifts a peak over the limit at its loudest place, the strongest first;
        empty where that place is at the ears, or the strongest arrival alone comes within 1 dB somewhere.
    """

    speaker: int
    seat: int
    delay_s: float
    level_db: float
    zone_worst_db: float
    arrivals: tuple[int, ...]
    margin_db: float
    over_limit: bool
    facets: tuple[int, ...]
    joined: tuple[tuple[int, ...], ...] = ()


@dataclass(frozen=True)
class Verdict:
    """What a standard says of one speaker at one seat.

    Attributes
    ----------
    speaker, seat : int
        Indices into the scene's lists.
    status : str
        "judged", "blocked" (something hides the direct sound) or "sub".
    n_in_window, n_over : int
        Peaks inside the limit's window, and how many exceed it anywhere in the head zone.
    worst_margin_db : float
        Smallest margin of them; NaN without a peak or verdict.
    """

    speaker: int
    seat: int
    status: str
    n_in_window: int
    n_over: int
    worst_margin_db: float


def find_peaks(scene: Scene, arrivals: Arrivals) -> tuple[Peak, ...]:
    """Peaks as a measurement would show them, for every speaker and seat, by delay.

    Arrivals less than 0.15 ms from a stronger one form one peak with it; its level is that of the sum of
    their pressures with their phases. The verdict takes the worst of the nine points of the head zone.
    """
    peaks: list[Peak] = []
    for ears in arrivals.at_ears:
        first_row = int(arrivals.at(ears.speaker, ears.seat)[0]) if len(ears.paths.order) else 0
        zone = [
            h
            for h in arrivals.at_points
            if (h.speaker, h.seat) == (ears.speaker, ears.seat) and h.zone_point != 0
        ]
        peaks += _peaks_at(scene, ears, zone, first_row)
    return tuple(sorted(peaks, key=lambda p: (p.speaker, p.seat, p.delay_s)))


def _peaks_at(scene: Scene, ears: PointArrivals, zone: list[PointArrivals], first_row: int) -> list[Peak]:
    own = _groups(ears)
    levels = [_peak_level_db(scene, ears, rows) for rows in own]
    worst = list(levels)
    alone = [float(ears.band_level_db[rows[0]]) for rows in own]
    place: list[tuple[PointArrivals, NDArray[np.int64]] | None] = [None] * len(own)
    peak_of = {tuple(ears.paths.facets[row]): i for i, rows in enumerate(own) for row in rows}
    strangers: dict[tuple[int, ...], tuple[float, float]] = {}
    for other in zone:
        for rows in _groups(other):
            # What its strongest arrival is, the whole peak is: so no excess is counted twice.
            name, delay_s = tuple(other.paths.facets[rows[0]]), float(other.delay_s[rows[0]])
            level = _peak_level_db(scene, other, rows)
            if name in peak_of:
                peak = peak_of[name]
                alone[peak] = max(alone[peak], float(other.band_level_db[rows[0]]))
                if _in_window(scene, delay_s) and level > worst[peak]:
                    worst[peak], place[peak] = level, (other, rows)
            elif level > strangers.get(name, (0.0, -np.inf))[1]:
                strangers[name] = delay_s, level
    found = []
    for rows, level, zone_worst, single, there in zip(own, levels, worst, alone, place, strict=True):
        table_rows = tuple(sorted(first_row + int(row) for row in rows))
        delay_s, facets = float(ears.delay_s[rows[0]]), tuple(ears.paths.facets[rows[0]].tolist())
        peak_here = _peak(scene, ears, delay_s, (level, zone_worst), table_rows, facets)
        if peak_here.over_limit and there is not None and zone_worst > single + JOINS_DB:
            peak_here = replace(peak_here, joined=tuple(_joined(scene, *there)))
        found.append(peak_here)
    for facets, (delay_s, level) in strangers.items():
        found.append(_peak(scene, ears, delay_s, (-np.inf, level), (), facets))
    return found


def _joined(scene: Scene, at_point: PointArrivals, rows: NDArray[np.int64]) -> list[tuple[int, ...]]:
    """Facets of what lifts a peak beside its strongest arrival, the strongest first."""
    level = _peak_level_db(scene, at_point, rows)
    parts = [row for row in rows[1:] if level - _peak_level_db(scene, at_point, rows[rows != row]) > JOINS_DB]
    return [tuple(int(f) for f in at_point.paths.facets[row] if f >= 0) for row in parts]


def peak_leaders(at_point: PointArrivals) -> NDArray[np.int64]:
    """Strongest arrival of the peak that each path of a listening point belongs to, (n_paths,)."""
    from raytrace.kernels.peaks import lead_peaks

    leader = np.empty(len(at_point.delay_s), np.int64)
    lead_peaks(at_point.band_level_db, at_point.delay_s, PEAK_WIDTH_S, -np.inf, leader)
    return leader


def main_arrivals(arrivals: Arrivals, peak: Peak) -> list[int]:
    """Rows of the arrivals that make a peak, the strongest first; weak ones beside them left out."""
    levels = {row: float(arrivals.band_level_db[row]) for row in peak.arrivals}
    loud = [row for row in levels if levels[row] > max(levels.values()) - IN_STEP_DB]
    return sorted(loud, key=lambda row: -levels[row])


def _in_window(scene: Scene, delay_s: float) -> bool:
    return delay_s <= scene.limits.within_s


def _peak(
    scene: Scene,
    ears: PointArrivals,
    delay_s: float,
    levels_db: tuple[float, float],
    rows: tuple[int, ...],
    facets: tuple[int, ...],
) -> Peak:
    """One peak with its verdict; `levels_db` at the ears and at the worst place, `facets` ended by -1."""
    level_db, zone_worst_db = levels_db
    judged = is_judged(scene, ears) and _in_window(scene, delay_s)
    margin_db = float(scene.limits.margin_db(zone_worst_db)) if judged else np.nan
    return Peak(
        ears.speaker,
        ears.seat,
        delay_s,
        level_db,
        zone_worst_db,
        rows,
        margin_db,
        bool(margin_db < 0.0),
        tuple(int(facet) for facet in facets if facet >= 0),
    )


def _groups(at_point: PointArrivals) -> list[NDArray[np.int64]]:
    """Rows that form one peak each, strongest first, and so are the peaks."""
    leader = peak_leaders(at_point)
    ordered = np.lexsort((at_point.delay_s, -at_point.band_level_db))
    return [ordered[leader[ordered] == lead] for lead in ordered if leader[lead] == lead]


def _peak_level_db(scene: Scene, at_point: PointArrivals, rows: NDArray[np.int64]) -> float:
    if len(rows) == 1:
        return float(at_point.band_level_db[rows[0]])
    later_s = at_point.delay_s[rows] - at_point.delay_s[rows[0]]
    phase = np.exp(-2j * np.pi * band_frequencies_hz() * later_s[:, None, None])
    return float(limit_level_db(scene, np.sum(at_point.pressure[rows] * phase, axis=0)))


def judge(scene: Scene, arrivals: Arrivals, peaks: tuple[Peak, ...]) -> tuple[Verdict, ...]:
    """One verdict per speaker and seat."""
    verdicts = []
    for ears in arrivals.at_ears:
        own = [p for p in peaks if (p.speaker, p.seat) == (ears.speaker, ears.seat)]
        judged = [p for p in own if not np.isnan(p.margin_db)]
        if scene.speakers[ears.speaker].use == "sub":
            status = "sub"
        else:
            status = "judged" if ears.paths.direct_visible else "blocked"
        verdicts.append(
            Verdict(
                ears.speaker,
                ears.seat,
                status,
                n_in_window=len(judged),
                n_over=sum(p.over_limit for p in judged),
                worst_margin_db=min((p.margin_db for p in judged), default=np.nan),
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
        area=Amount((round(area_m2, 1),), Unit.M2, 1),
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
        "(1.1 w/h <= l/h <= 4.5 w/h - 4): expect uneven bass; early reflections are not concerned."
    )
