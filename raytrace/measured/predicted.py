"""What a measurement at the seat should show: the prediction's arrivals as peaks that can be told apart."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from raytrace.measured.responses import CurvePeak, Curves, bands_of, find_curve_peaks
from raytrace.reflections import (
    SAMPLE_RATE_HZ,
    Arrivals,
    PointArrivals,
    band_window,
    decibels,
    direct_peaks,
    pressure_at,
    transfer,
)
from raytrace.room import Room
from raytrace.scene import Scene
from raytrace.verdicts import BETWEEN_S, IN_STEP_DB, LOBE_S, PEAK_WIDTH_S, curve_maxima

Floats = NDArray[np.float64]

_LEAD_S = 0.001
_RECORD_S = 0.064
_HIDDEN_DB = 6.0  # below the lowest level that is told a group may still be lifted by others beside it
_WEAK_DB = 20.0  # what is weaker than the strongest of its group by this has no part in it


@dataclass(frozen=True)
class PeakPart:
    """One arrival in a peak.

    Attributes
    ----------
    row : int
        In `Arrivals`, or in its near misses.
    is_near_miss : bool
    surfaces, panels : tuple of str
        What it meets from speaker to seat, and the panel there or "".
    facets : tuple of int
        The same as facets of the room.
    delay_s, level_db : float
        In the limit's band, alone.
    share : float
        Of the energy of all parts of the peak.
    """

    row: int
    is_near_miss: bool
    surfaces: tuple[str, ...]
    panels: tuple[str, ...]
    facets: tuple[int, ...]
    delay_s: float
    level_db: float
    share: float


@dataclass(frozen=True)
class PredictedPeak:
    """Arrivals nearer to each other than a measurement can part, and what they amount to together.

    Attributes
    ----------
    delay_s : float
        Where the curve has its top.
    level_db : float
    octaves_db : (3,) float
    parts : tuple of PeakPart
        The strongest first.
    is_top : bool
        Whether the curve shows it; one that stronger sound beside it covers may still be measured.
    """

    delay_s: float
    level_db: float
    octaves_db: Floats
    parts: tuple[PeakPart, ...]
    is_top: bool

    @property
    def is_arrival(self) -> bool:
        """Whether its strongest arrival alone lies there and is about as strong."""
        first = self.parts[0]
        is_near = abs(first.delay_s - self.delay_s) <= 0.5 * PEAK_WIDTH_S
        return is_near and first.level_db >= self.level_db - IN_STEP_DB


@dataclass(frozen=True)
class Predicted:
    """Curves and peaks of one speaker at one seat.

    Attributes
    ----------
    speaker, seat : int
    curves : Curves
    peaks : tuple of PredictedPeak
        By delay.
    edges : tuple of CurvePeak
        Peaks of the curve that no arrival is near: what bends round edges comes over them.
    """

    speaker: int
    seat: int
    curves: Curves
    peaks: tuple[PredictedPeak, ...]
    edges: tuple[CurvePeak, ...]


def predicted_peaks(
    scene: Scene, room: Room, arrivals: Arrivals, *, until_s: float, lowest_db: float
) -> tuple[Predicted, ...]:
    """Peaks of every speaker at every seat, near misses counted.

    The curves are those of `energy_time_curves`, their peaks found like measured ones. A peak is made by
    what is less than a pulse's width from it, where there is nothing by what is less than two.
    """
    assert arrivals.near_misses is not None
    found = []
    for ears, missed in zip(arrivals.at_ears, arrivals.near_misses.at_ears, strict=True):
        curves = _curves(scene, ears, missed, until_s + BETWEEN_S)
        ways = _ways(room, arrivals, ears, missed, lowest_db - _HIDDEN_DB)
        tops = find_curve_peaks(scene, curves, lowest_db=lowest_db, until_s=until_s)
        peaks = _made(tops, ways, is_top=True)
        peaks += _made(_other_maxima(curves, tops, lowest_db, until_s), ways, is_top=False)
        told = {(part.row, part.is_near_miss) for peak in peaks for part in peak.parts}
        rest = [way for way in ways if (way.row, way.is_near_miss) not in told]
        own_s = {peak.delay_s for peak in peaks}
        edges = tuple(top for top in tops if top.delay_s not in own_s)
        peaks += _covered(curves, rest, lowest_db, until_s)
        ordered = tuple(sorted(peaks, key=lambda p: p.delay_s))
        found.append(Predicted(ears.speaker, ears.seat, curves, ordered, edges))
    return tuple(found)


def _curves(scene: Scene, ears: PointArrivals, missed: PointArrivals, until_s: float) -> Curves:
    """Envelopes of all that arrives, each band re the direct sound's own top."""
    n = round(max(_RECORD_S, 2.0 * until_s) * SAMPLE_RATE_HZ)
    frequency_hz: Floats = np.arange(n // 2, dtype=np.float64) * (SAMPLE_RATE_HZ / n)
    windows = np.array([band_window(frequency_hz, *band) for band in bands_of(scene)])
    lines = np.flatnonzero(windows.any(axis=0))
    heard = transfer(ears, missed, frequency_hz[lines])
    direct = pressure_at(ears.direct[None], frequency_hz[lines])
    n_lead, n_shown = round(_LEAD_S * SAMPLE_RATE_HZ), round((_LEAD_S + until_s) * SAMPLE_RATE_HZ) + 1
    levels_db = []
    for window in windows[:, lines]:
        spectrum = np.zeros(n, np.complex128)
        spectrum[lines] = heard * window
        envelope = np.roll(np.abs(np.fft.ifft(spectrum)), n_lead)[:n_shown]
        levels_db.append(decibels((envelope / direct_peaks(direct, window, n)[0]) ** 2))
    time_s = np.arange(n_shown) / SAMPLE_RATE_HZ - _LEAD_S
    return Curves(time_s, levels_db[0], np.array(levels_db[1:]))


def _other_maxima(
    curves: Curves, tops: tuple[CurvePeak, ...], lowest_db: float, until_s: float
) -> list[CurvePeak]:
    """What else rises on the curve, by less than a peak does: there a measurement may show one."""
    _, column, level_db = curve_maxima(curves.level_db[None], lowest_db - _HIDDEN_DB)
    delay_s = column / SAMPLE_RATE_HZ + curves.time_s[0]
    return [
        CurvePeak(at_s, level, curves.at(at_s)[1])
        for at_s, level in zip(delay_s.tolist(), level_db.tolist(), strict=True)
        if LOBE_S < at_s <= until_s and all(at_s != top.delay_s for top in tops)
    ]


def _made(maxima: Sequence[CurvePeak], ways: list[PeakPart], *, is_top: bool) -> list[PredictedPeak]:
    """Maxima of the curve with the arrivals that make them; those that nothing near them makes left out."""
    delay_s = np.array([way.delay_s for way in ways])
    peaks = []
    for top in maxima:
        off_s = np.abs(delay_s - top.delay_s)
        makes = off_s <= (PEAK_WIDTH_S if (off_s <= PEAK_WIDTH_S).any() else BETWEEN_S)
        parts = _parts([ways[k] for k in np.flatnonzero(makes)])
        if parts:
            peaks.append(PredictedPeak(top.delay_s, top.level_db, top.octaves_db, parts, is_top))
    return peaks


def _ways(
    room: Room, arrivals: Arrivals, ears: PointArrivals, missed: PointArrivals, floor_db: float
) -> list[PeakPart]:
    """Arrivals and near misses of a speaker at a seat that are not too weak, by delay."""
    assert arrivals.near_misses is not None
    ways = []
    for own, table, is_near in ((ears, arrivals, False), (missed, arrivals.near_misses, True)):
        rows = table.at(ears.speaker, ears.seat)
        for row, level_db in zip(rows.tolist(), own.band_level_db.tolist(), strict=True):
            if level_db > floor_db:
                ways.append(_part(room, table, row, is_near, level_db))
    return sorted(ways, key=lambda way: way.delay_s)


def _part(room: Room, table: Arrivals, row: int, is_near: bool, level_db: float) -> PeakPart:
    met = range(int(table.order[row]))
    panels = (int(table.path_panels[row, k]) for k in met)
    return PeakPart(
        row,
        is_near,
        tuple(room.surfaces[table.path_surfaces[row, k]].name for k in met),
        tuple(room.panels[panel].group if panel >= 0 else "" for panel in panels),
        tuple(int(table.path_facets[row, k]) for k in met),
        float(table.delay_s[row]),
        level_db,
        1.0,
    )


def _parts(ways: list[PeakPart]) -> tuple[PeakPart, ...]:
    """What makes a peak, the strongest first, with the share of each; the weakest left out."""
    if not ways:
        return ()
    strongest_db = max(way.level_db for way in ways)
    own = [way for way in ways if way.level_db > strongest_db - _WEAK_DB]
    whole = sum(10.0 ** (way.level_db / 10.0) for way in own)
    shares = [replace(way, share=10.0 ** (way.level_db / 10.0) / whole) for way in own]
    return tuple(sorted(shares, key=lambda way: -way.level_db))


def _covered(curves: Curves, ways: list[PeakPart], lowest_db: float, until_s: float) -> list[PredictedPeak]:
    """Groups of arrivals that make no peak of the curve, each by what it is alone."""
    from raytrace.kernels.peaks import lead_peaks

    level_db, delay_s = (np.array([getattr(way, of) for way in ways]) for of in ("level_db", "delay_s"))
    leader = np.empty(len(ways), np.int64)
    lead_peaks(level_db, delay_s, PEAK_WIDTH_S, lowest_db, leader)
    peaks = []
    for lead in np.unique(leader[leader >= 0]):
        parts = _parts([ways[k] for k in np.flatnonzero(leader == lead)])
        alone_db = float(decibels(sum(10.0 ** (part.level_db / 10.0) for part in parts)))
        if parts[0].delay_s <= until_s:
            octaves_db = curves.at(parts[0].delay_s)[1]
            peaks.append(PredictedPeak(parts[0].delay_s, alone_db, octaves_db, parts, False))
    return peaks
