"""What surfaces send back, as measured: louder or weaker than what they are drawn of, per octave."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Sentence, sentence
from raytrace.measured.compared import Held, Measurement
from raytrace.measured.corrections import LEAST_SHARE, SURE
from raytrace.measured.predicted import PeakPart, PredictedPeak
from raytrace.measured.responses import OCTAVES_HZ

Floats = NDArray[np.float64]

MOST_BOUNCES = 2
# Standard errors: of one arrival's level in an octave (own choice; single arrivals of alike walls differed by
# 10 dB between two sides of a measured room), and of what a table says of a surface.
ARRIVAL_DB = 3.0
MATERIAL_DB = 6.0
ENOUGH = 3  # arrivals that carry a figure
TOLD_DB, TOLD = 3.0, 2.5  # by so much, and so many standard errors, a surface must be off to be told
_APART_DB = 10.0  # what lies within an octave's pulse of an arrival is weaker than it by so much
_WIDE, _OUTLIER = 10.0, 3.0  # standard errors from which a level counts less (Cauchy's weights)
_N_WEIGHTINGS = 20

Met = tuple[str, str]  # surface and panel, "" where it is bare


@dataclass(frozen=True)
class Returned:
    """By how much a surface returns more than its material should, in an octave.

    Attributes
    ----------
    surface, panel : str
        Panel "" where the surface is bare.
    material : str
        What the surface is drawn of.
    octave_hz : float
    by_db, uncertainty_db : float
        Negative: less.
    n_arrivals : int
        That carry it.
    """

    surface: str
    panel: str
    material: str
    octave_hz: float
    by_db: float
    uncertainty_db: float
    n_arrivals: int


@dataclass(frozen=True)
class _Level:
    """An arrival that is alone in an octave: what it met, and measured less predicted level."""

    met: tuple[Met, ...]
    louder_db: float


def find_returned(states: Sequence[Held]) -> tuple[Returned, ...]:
    """Surfaces that send back more or less than drawn, by surface and octave.

    The level of an arrival that is surely named, or missing, and alone within an octave's pulse is what its
    bounces send back: robust least squares over all of them, with the tables' own uncertainty as prior.

    Parameters
    ----------
    states : sequence of Held
        Only those of the last one's scene count.
    """
    own = [held for held in states if held.scene.path == states[-1].scene.path]
    own = [held for held in own if held.scene.text == states[-1].scene.text]
    found: list[Returned] = []
    for octave in range(len(OCTAVES_HZ)):
        levels = [level for held in own for heard in held.heard for level in _alone(heard, octave)]
        met = sorted({one for level in levels for one in level.met})
        if met:
            found += _told(own[-1], octave, met, *_fitted(levels, met))
    return tuple(sorted(found, key=lambda one: (one.surface, one.panel, one.octave_hz)))


def _alone(heard: Measurement, octave: int) -> Iterator[_Level]:
    """Arrivals that nothing covers in an octave: those that were named, and those that are missing.

    Without the latter a surface that sends nothing back would be judged by what is mistaken for it.
    """
    pulse_s = np.sqrt(2.0) / OCTAVES_HZ[octave]  # 1 / bandwidth
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
            level_db = named[k].peak.octaves_db
        elif any(peak is missing for missing in heard.unheard):
            level_db = heard.curves.at(peak.delay_s)[1]
        else:
            continue
        met = tuple(zip(first.surfaces, first.panels, strict=True))
        yield _Level(met, float(level_db[octave] - peak.octaves_db[octave]))


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
    held: Held, octave: int, met: Sequence[Met], by_db: Floats, error_db: Floats, count: Floats
) -> Iterator[Returned]:
    """What is off by enough, and carried by enough arrivals."""
    for k, (surface, panel) in enumerate(met):
        if count[k] >= ENOUGH and abs(by_db[k]) >= max(TOLD_DB, TOLD * error_db[k]):
            material = held.room.surfaces[held.room.surface_index(surface)].material.name
            yield Returned(
                surface,
                panel,
                material,
                OCTAVES_HZ[octave],
                float(by_db[k]),
                float(error_db[k]),
                int(count[k]),
            )


def returned_notes(found: Sequence[Returned]) -> tuple[Sentence, ...]:
    """What surfaces return, in words."""
    notes = []
    for own in found:
        text = (
            "{surface} returns {by} dB {way} than {drawn} at {octave} kHz (± {error} dB, {count} arrivals): "
            "look what it is made of, or what stands before it."
        )
        figures = {
            "surface": own.surface,
            "by": f"{abs(own.by_db):.0f}",
            "way": "less" if own.by_db < 0.0 else "more",
            "drawn": f"the panel {own.panel}" if own.panel else own.material,
            "octave": f"{own.octave_hz / 1000:.0f}",
            "error": f"{max(own.uncertainty_db, 1.0):.0f}",
            "count": f"{own.n_arrivals}",
        }
        notes.append(sentence(text, **figures))
    return tuple(notes)
