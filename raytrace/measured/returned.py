"""What surfaces send back, as measured: louder or weaker than what they are drawn of, and what hides them."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Amount, Sentence, millimetres, sentence
from raytrace.measured.compared import Held, Measurement
from raytrace.measured.corrections import LEAST_SHARE, SURE
from raytrace.measured.predicted import PeakPart, PredictedPeak
from raytrace.measured.responses import OCTAVES_HZ, bands_of
from raytrace.verdicts import PEAK_WIDTH_S

Floats = NDArray[np.float64]

MOST_BOUNCES = 2
# Standard errors: of one arrival's level in an octave (own choice; single arrivals of alike walls differed by
# 10 dB between two sides of a measured room), and of what a table says of a surface.
ARRIVAL_DB = 3.0
MATERIAL_DB = 6.0
ENOUGH = 3  # arrivals that carry a figure
TOLD_DB, TOLD = 3.0, 2.5  # by so much, and so many standard errors, a surface must be off to be told
# In the limit's band more arrivals are alone, most of them of two bounces: hard walls of a measured room were
# 3 and 4 dB below their drawing there.
TOLD_WHOLE_DB = 5.0
BEFORE_M = 0.5  # what hides a surface hangs or stands so near before it, and so far off one can be misread
_ALIKE_M = 0.020  # and at several places in one plane, to about two picks and the tape
_CHANCE = 0.2  # more often than this by chance is no plane
_APART_DB = 10.0  # what lies within an octave's pulse of an arrival is weaker than it by so much
_WIDE, _OUTLIER = 10.0, 3.0  # standard errors from which a level counts less (Cauchy's weights)
_N_WEIGHTINGS = 20

Met = tuple[str, str]  # surface and panel, "" where it is bare


@dataclass(frozen=True)
class Returned:
    """By how much a surface returns more than its material should, in the limit's band or an octave.

    Attributes
    ----------
    surface, panel : str
        Panel "" where the surface is bare.
    material : str
        What the surface is drawn of.
    from_hz, to_hz : float
    octave_hz : float or None
        Its centre; None: the limit's band.
    by_db, uncertainty_db : float
        Negative: less.
    n_arrivals : int
        That carry it.
    before_m : float
        So far before it lies a face that what nothing drawn explains fits, at two places or more; negative:
        behind it; NaN: there is none. [m]
    """

    surface: str
    panel: str
    material: str
    from_hz: float
    to_hz: float
    octave_hz: float | None
    by_db: float
    uncertainty_db: float
    n_arrivals: int
    before_m: float = np.nan


@dataclass(frozen=True)
class _Level:
    """An arrival that is alone in a band: what it met, and measured less predicted level."""

    met: tuple[Met, ...]
    louder_db: float


def find_returned(states: Sequence[Held]) -> tuple[Returned, ...]:
    """Surfaces that send back more or less than drawn, by surface: in the limit's band, then by octave.

    The level of an arrival that is surely named, or missing, and alone within a band's pulse is what its
    bounces send back: robust least squares over all of them, with the tables' own uncertainty as prior.

    Parameters
    ----------
    states : sequence of Held
        Only those of the last one's scene count, and none whose drawing is in doubt: its names are.
    """
    own = [held for held in states if held.scene.path == states[-1].scene.path]
    own = [held for held in own if held.scene.text == states[-1].scene.text and not held.is_doubtful]
    found: list[Returned] = []
    for band in range(1 + len(OCTAVES_HZ)):
        levels = [level for held in own for heard in held.heard for level in _alone(heard, band)]
        met = sorted({one for level in levels for one in level.met})
        if met:
            found += _told(own[-1], band, met, *_fitted(levels, met))
    return tuple(sorted(found, key=lambda one: (one.surface, one.panel, one.octave_hz or 0.0)))


def _alone(heard: Measurement, band: int) -> Iterator[_Level]:
    """Arrivals that nothing covers in a band: those that were named, and those that are missing.

    Without the latter a surface that sends nothing back would be judged by what is mistaken for it.
    """
    # 1 / bandwidth of an octave; peaks of the limit's band are told apart by theirs.
    pulse_s = np.sqrt(2.0) / OCTAVES_HZ[band - 1] if band else PEAK_WIDTH_S
    expected = heard.predicted.peaks
    named = {own.made_by: own for own in heard.peaks if own.made_by is not None}
    for k, peak in enumerate(expected):
        first = peak.parts[0]
        is_plain = len(first.surfaces) <= MOST_BOUNCES and first.share >= LEAST_SHARE
        if not (is_plain and peak.is_top and peak.delay_s > pulse_s):
            continue
        if any(_covers(other, first, pulse_s) for other in expected if other is not peak):
            continue
        if k in named and named[k].confidence >= SURE:
            seen_db = (named[k].peak.level_db, *named[k].peak.octaves_db)
        elif any(peak is missing for missing in heard.unheard):
            level_db, octaves_db = heard.curves.at(peak.delay_s)
            seen_db = (level_db, *octaves_db)
        else:
            continue
        met = tuple(zip(first.surfaces, first.panels, strict=True))
        yield _Level(met, float(seen_db[band] - (peak.level_db, *peak.octaves_db)[band]))


def _covers(other: PredictedPeak, part: PeakPart, pulse_s: float) -> bool:
    near = abs(other.delay_s - part.delay_s) < pulse_s
    return near and other.level_db > part.level_db - _APART_DB


def _fitted(levels: Sequence[_Level], met: Sequence[Met]) -> tuple[Floats, Floats, Floats]:
    """What each thing returns more, its standard error, and how many arrivals carry it."""
    met_by = np.array([[level.met.count(one) for one in met] for level in levels], np.float64)
    slope = met_by * (MATERIAL_DB / ARRIVAL_DB)
    late = np.array([level.louder_db for level in levels]) / ARRIVAL_DB
    weight = np.ones(len(levels))
    prior = np.eye(len(met))
    # From wide to narrow, so that many levels that are off alike are heard before they count as outliers.
    for outlier in np.geomspace(_WIDE, _OUTLIER, _N_WEIGHTINGS):
        steep = slope * weight[:, None]
        off = np.linalg.solve(steep.T @ slope + prior, steep.T @ late)
        weight = 1.0 / (1.0 + ((late - slope @ off) / outlier) ** 2)
    spread = np.linalg.inv((slope * weight[:, None]).T @ slope + prior)
    error = MATERIAL_DB * np.sqrt(np.diag(spread))
    count = (met_by > 0.0).sum(axis=0).astype(np.float64)
    return np.asarray(MATERIAL_DB * off, np.float64), error, count


def _told(
    held: Held, band: int, met: Sequence[Met], by_db: Floats, error_db: Floats, count: Floats
) -> Iterator[Returned]:
    """What is off by enough, and carried by enough arrivals."""
    least_db = TOLD_DB if band else TOLD_WHOLE_DB
    for k, (surface, panel) in enumerate(met):
        if count[k] >= ENOUGH and abs(by_db[k]) >= max(least_db, TOLD * error_db[k]):
            index = held.room.surface_index(surface)
            yield Returned(
                surface,
                panel,
                held.room.surfaces[index].material.name,
                *bands_of(held.scene)[band],
                OCTAVES_HZ[band - 1] if band else None,
                float(by_db[k]),
                float(error_db[k]),
                int(count[k]),
                np.nan if band or by_db[k] > 0.0 else _before_m(held, index),
            )


def _before_m(held: Held, surface: int) -> float:
    """How far before a surface, or behind, a face would lie that makes what nothing drawn explains. [m]

    The median over all places at which it lies in one plane; NaN where that may be chance.
    """
    off_m: list[float] = []
    for heard in held.heard:
        source = np.array(held.scene.speakers[heard.take.speaker].position)
        listener = np.array(held.scene.seats[heard.take.seat].ears)
        for own in heard.unexplained:
            way_m = float(np.linalg.norm(listener - source))
            way_m += own.peak.delay_s * held.room.speed_of_sound_m_s
            for facet in (facet for facet in held.room.facets if facet.surface == surface):
                heights = [float(end @ facet.normal) - facet.offset for end in (source, listener)]
                along = (listener - source) - (heights[1] - heights[0]) * facet.normal
                mirrored_m = np.sqrt(max(way_m**2 - float(along @ along), 0.0))
                off_m.append(0.5 * (sum(heights) - float(mirrored_m)))
    sides = [_in_one_plane([m for m in off_m if 0.0 < side * m < BEFORE_M]) for side in (1, -1)]
    return max(sides, key=lambda one: one[0])[1]


def _in_one_plane(off_m: Sequence[float]) -> tuple[int, float]:
    """How many of some distances are alike, and their median; 0 where chance may have put them so. [m]"""
    if not off_m:
        return 0, np.nan
    off = np.array(off_m)
    alike = np.abs(off[:, None] - off) <= _ALIKE_M
    most = int(np.argmax(alike.sum(axis=1)))
    n_alike = int(alike[most].sum())
    # About each distance others lie at random: so many are as near to it as these, or more (Poisson).
    mean = (len(off) - 1) * 2.0 * _ALIKE_M / BEFORE_M
    fewer = sum(math.exp(-mean) * mean**k / math.factorial(k) for k in range(n_alike - 1))
    by_chance = len(off) * (1.0 - fewer)
    return (n_alike, float(np.median(off[alike[most]]))) if by_chance < _CHANCE else (0, np.nan)


def returned_notes(found: Sequence[Returned]) -> tuple[Sentence, ...]:
    """What surfaces return, in words."""
    notes = []
    for own in found:
        where = "at {octave} kHz" if own.octave_hz else "from {from} to {to} kHz"
        text = "{surface} returns {by} dB {way} than {drawn} " + where
        text += " (± {error} dB, {count} arrivals): look what it is made of, or what stands before it."
        figures: dict[str, str | Amount] = {
            "surface": own.surface,
            "by": f"{abs(own.by_db):.0f}",
            "way": "less" if own.by_db < 0.0 else "more",
            "drawn": f"the panel {own.panel}" if own.panel else own.material,
            "error": f"{max(own.uncertainty_db, 1.0):.0f}",
            "count": f"{own.n_arrivals}",
        }
        if own.octave_hz:
            figures["octave"] = f"{own.octave_hz / 1000:.0f}"
        else:
            figures |= {"from": f"{own.from_hz / 1000:g}", "to": f"{own.to_hz / 1000:g}"}
        if np.isfinite(own.before_m):
            text += " What nothing drawn explains fits a face about {before} " + (
                "before it: something is there, or the surface itself lies so much nearer."
                if own.before_m > 0.0
                else "behind it: the surface may lie so much farther."
            )
            figures["before"] = millimetres(round(abs(own.before_m), 2))
        notes.append(sentence(text, **figures))
    return tuple(notes)
