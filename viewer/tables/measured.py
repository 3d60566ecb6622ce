"""Measured against predicted, as others read it: one JSON object, CSV tables, tables for the terminal."""

import math
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from raytrace import (
    BAND_NAMES,
    Attribution,
    Correction,
    Held,
    MeasuredBass,
    MeasuredChange,
    MeasuredLeftRight,
    MeasuredRoom,
    Measurement,
    PeakPart,
    PredictedPeak,
    Returned,
    judge_measured,
    measured_left_right,
    unexplained_points,
)
from viewer.tables.csvtext import csv_text
from viewer.tables.grid import grid
from viewer.words import decibels, joined_way, signed, told

_OCTAVES = ("1k", "2k", "4k")
_FEW = 3
_TOLD_DB = -20.0
_DECAY = ("edt_s", "t20_s", "t30_s", "c50_db", "c80_db", "d50", "ts_s")


def measured_json(found: MeasuredRoom) -> dict[str, Any]:
    """Everything in full precision; null where there is no number."""
    states = found.states
    return {
        "scene": found.last.scene.title,
        "measured": [_heard_json(name, held, heard) for name, held in states for heard in held.heard],
        "changes": [_change_json(change) for change in found.changes],
        "bass": [_bass_json(found.last, own) for own in found.bass],
        "left_right": [
            _left_right_json(state, held, own) for state, held in states for own in measured_left_right(held)
        ],
        "corrections": [*map(_correction_json, found.corrections), *map(_returned_json, found.returned)],
        "notes": [str(note) for note in found.notes],
    }


def _heard_json(state: str, held: Held, heard: Measurement) -> dict[str, Any]:
    decay, verdict = heard.decay, judge_measured(held, heard)
    return {
        "speaker": held.scene.speakers[heard.take.speaker].name,
        "seat": held.scene.seats[heard.take.seat].name,
        "file": heard.take.file,
        "state": state,
        "noise_floor_db": _number(heard.response.noise_floor_db),
        "until_ms": 1e3 * heard.until_s,
        "verdict": verdict.verdict,
        "over_limit": verdict.n_over,
        "worst_db": _number(verdict.worst_db),
        "decay": {
            "bands_hz": list(BAND_NAMES),
            **{name: [_number(x) for x in getattr(decay.parameters, name)] for name in _DECAY},
            "range_db": [_number(x) for x in decay.range_db],
            "is_cut": decay.is_cut.tolist(),
            "is_ringing": decay.is_ringing.tolist(),
        },
        "fit": {
            "peaks": heard.fit.n_peaks,
            "explained": heard.fit.explained,
            "by_chance": heard.fit.by_chance,
            "chance_spread": heard.fit.chance_spread,
            "drawing_in_doubt": held.is_doubtful,
        },
        "fits_better": _label_json(held, heard),
        "peaks": [_peak_json(held, heard, k) for k in range(len(heard.peaks))],
        "unheard": [_predicted_json(peak) for peak in heard.unheard],
        "beyond_record": [_predicted_json(peak) for peak in heard.beyond],
    }


def _label_json(held: Held, heard: Measurement) -> dict[str, str] | None:
    """Whose it seems to be instead of what was said."""
    if heard.fits_better is None:
        return None
    speaker, seat = heard.fits_better
    return {"speaker": held.scene.speakers[speaker].name, "seat": held.scene.seats[seat].name}


def _bass_json(held: Held, own: MeasuredBass) -> dict[str, Any]:
    return {
        "speaker": held.scene.speakers[own.speaker].name,
        "seat": held.scene.seats[own.seat].name,
        "frequencies_hz": own.frequencies_hz.tolist(),
        "measured_db": [_number(level) for level in own.measured_db.tolist()],
        "predicted_db": own.predicted_db.tolist(),
        "apart_db": own.apart_db,
    }


def _left_right_json(state: str, held: Held, own: MeasuredLeftRight) -> dict[str, Any]:
    scene = held.scene
    return {
        "state": state,
        "left": scene.speakers[own.left].name,
        "right": scene.speakers[own.right].name,
        "seat": scene.seats[own.seat].name,
        "left_db": own.left_db,
        "right_db": own.right_db,
        "difference_db": own.difference_db,
        "predicted_difference_db": own.predicted_difference_db,
    }


def _peak_json(held: Held, heard: Measurement, k: int) -> dict[str, Any]:
    own, all_expected = heard.peaks[k], heard.predicted.peaks
    made_by = None if own.made_by is None else all_expected[own.made_by]
    other = None if own.runner_up is None else all_expected[own.runner_up]
    return {
        "delay_ms": 1e3 * own.peak.delay_s,
        "level_db": own.peak.level_db,
        "octaves_db": dict(zip(_OCTAVES, own.peak.octaves_db.tolist(), strict=True)),
        "explained": not own.is_unexplained,
        "is_speakers_own": own.is_speakers_own,
        "is_of_edges": own.is_of_edges,
        "arrivals": [] if made_by is None else [_part_json(part) for part in made_by.parts],
        "predicted": None if made_by is None else _predicted_json(made_by),
        "runner_up": None if other is None else list(other.parts[0].surfaces),
        "confidence": own.confidence,
        "extra_path_m": own.peak.delay_s * held.room.speed_of_sound_m_s,
        "points": _points_json(held, heard, own) if own.is_unexplained else [],
    }


def _points_json(held: Held, heard: Measurement, own: Attribution) -> list[dict[str, Any]]:
    """Curves on surfaces over which an unexplained peak can have come."""
    names = held.room.surface_names
    return [
        {"surface": names[curve.surface], "points_m": curve.points.tolist()}
        for curve in unexplained_points(held, heard, own).curves
    ]


def _part_json(part: PeakPart) -> dict[str, Any]:
    return {
        "surfaces": list(part.surfaces),
        "panels": [panel or None for panel in part.panels],
        "near_miss": part.is_near_miss,
        "delay_ms": 1e3 * part.delay_s,
        "level_db": part.level_db,
        "share": part.share,
    }


def _predicted_json(peak: PredictedPeak) -> dict[str, Any]:
    surfaces = list(peak.parts[0].surfaces)
    return {"surfaces": surfaces, "delay_ms": 1e3 * peak.delay_s, "level_db": _number(peak.level_db)}


def _change_json(change: MeasuredChange) -> dict[str, Any]:
    return {
        "speaker": change.speaker,
        "seat": change.seat,
        "surfaces": list(change.peak.parts[0].surfaces),
        "delay_ms": 1e3 * change.peak.delay_s,
        "before_db": _number(change.before_db),
        "after_db": _number(change.after_db),
        "predicted_before_db": _number(change.predicted_before_db),
        "predicted_after_db": _number(change.predicted_after_db),
        "octaves_db": dict(zip(_OCTAVES, map(_number, change.octaves_db.tolist()), strict=True)),
        "predicted_octaves_db": dict(
            zip(_OCTAVES, map(_number, change.predicted_octaves_db.tolist()), strict=True)
        ),
    }


def _correction_json(correction: Correction) -> dict[str, Any]:
    return {
        "what": correction.what,
        "from": correction.was,
        "to": correction.is_likely,
        "uncertainty": correction.uncertainty,
        "unit": correction.unit,
        "alike": list(correction.alike),
    }


def _returned_json(returned: Returned) -> dict[str, Any]:
    """A surface's level in the limit's band or an octave, re what it is drawn of."""
    where = f"{returned.from_hz:.0f}-{returned.to_hz:.0f} Hz"
    if returned.octave_hz:
        where = f"{1000 * round(returned.octave_hz / 1000)} Hz"
    panel = f" ({returned.panel})" if returned.panel else ""
    return {
        "what": f"{returned.surface}{panel}, {where}",
        "from": 0.0,
        "to": returned.by_db,
        "uncertainty": returned.uncertainty_db,
        "unit": "dB",
        "alike": [],
        "before_m": _number(returned.before_m),
    }


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def measured_csv(states: Sequence[tuple[str, Held]]) -> str:
    """A row for every measured peak."""
    rows = [
        [
            state,
            held.scene.speakers[heard.take.speaker].name,
            held.scene.seats[heard.take.seat].name,
            f"{1e3 * own.peak.delay_s:.3f}",
            f"{own.peak.level_db:.2f}",
            _made_by(heard, own),
            "" if own.made_by is None else f"{heard.predicted.peaks[own.made_by].level_db:.2f}",
            f"{own.confidence:.2f}",
            f"{own.peak.delay_s * held.room.speed_of_sound_m_s:.3f}",
        ]
        for state, held in states
        for heard in held.heard
        for own in heard.peaks
    ]
    heads = ["state", "speaker", "seat", "delay_ms", "level_db", "made_by", "predicted_db", "confidence"]
    heads.append("extra_path_m")
    return csv_text([heads, *rows])


def changes_csv(changes: Sequence[MeasuredChange]) -> str:
    """A row for every arrival that was measured before and after."""
    heads = ["speaker", "seat", "made_by", "delay_ms", "before_db", "after_db", "predicted_before_db"]
    heads += ["predicted_after_db", *(f"change_{octave}_db" for octave in _OCTAVES)]
    rows = [
        [
            change.speaker,
            change.seat,
            _path_words(change.peak.parts[0]),
            *(f"{value:.2f}" for value in _figures(change)),
            *(f"{value:.2f}" for value in change.octaves_db.tolist()),
        ]
        for change in changes
    ]
    return csv_text([heads, *rows])


def _figures(change: MeasuredChange) -> tuple[float, ...]:
    return (
        1e3 * change.peak.delay_s,
        change.before_db,
        change.after_db,
        change.predicted_before_db,
        change.predicted_after_db,
    )


def measured_tables(found: MeasuredRoom, *, units: str, everything: bool = False) -> Group:
    """What was heard and who made it, what changed, how sound dies away, and notes."""
    states, changes = found.states, found.changes
    parts: list[RenderableType] = []
    for state, held in states:
        for heard in held.heard:
            place = (
                f"{held.scene.speakers[heard.take.speaker].name} at {held.scene.seats[heard.take.seat].name}"
            )
            title = place if len(states) == 1 else f"{place}, {state}"
            parts += [_peaks(title, heard, everything), Text("")]
            parts += [Text(line) for line in (*heard_lines(held, heard), *_left_out(heard, everything))]
            parts.append(Text(""))
            if (heard.decay.range_db > 0.0).any():
                parts += [_decay(heard), Text("")]
    parts += [Text(line) for state, held in states for line in _left_right(state, held)]
    if changes:
        parts += [*_changes(changes, everything), Text("")]
    parts += [Text(f"Note: {told(note, units)}", style="dim") for note in found.notes]
    return Group(*parts)


class PeakRow(NamedTuple):
    """A measured peak: when, how strong, and the cells ms, dB, made by, predicted dB, sure %."""

    ms: float
    level_db: float
    cells: tuple[str, ...]


def peak_rows(heard: Measurement) -> list[PeakRow]:
    """The peaks of a measurement by delay."""
    rows = []
    for own in heard.peaks:
        expected = None if own.made_by is None else heard.predicted.peaks[own.made_by]
        ms, level_db = 1e3 * own.peak.delay_s, own.peak.level_db
        cells = (
            f"{ms:.2f}",
            decibels(level_db),
            _made_by(heard, own),
            "" if expected is None else decibels(expected.level_db),
            f"{100.0 * own.confidence:.0f}",
        )
        rows.append(PeakRow(ms, level_db, cells))
    return rows


def _peaks(title: str, heard: Measurement, everything: bool) -> Table:
    heads = ["ms", "dB", "made by", "predicted dB", "sure %"]
    table = grid(heads, numbers=["ms", "dB", "predicted dB", "sure %"], title=f"Measured: {title}")
    for row in peak_rows(heard):
        if everything or row.level_db >= _TOLD_DB:
            table.add_row(*row.cells)
    return table


def _made_by(heard: Measurement, own: Attribution) -> str:
    if own.is_speakers_own:
        return "the loudspeaker itself"
    if own.made_by is None:
        return "edges of what is drawn" if own.is_of_edges else "nothing drawn"
    parts = heard.predicted.peaks[own.made_by].parts
    words = "; ".join(_path_words(part) for part in parts[:_FEW])
    return words if len(parts) <= _FEW else f"{words}; {len(parts) - _FEW} more"


def _path_words(part: PeakPart) -> str:
    """The surfaces from speaker to seat, a panel in brackets behind what it is on."""
    named = zip(part.surfaces, part.panels, strict=True)
    return joined_way(f"{name} ({panel})" if panel else name for name, panel in named)


def heard_lines(held: Held, heard: Measurement) -> Iterable[str]:
    """One measurement in words: against the limit, its noise, what was not heard."""
    limits = held.scene.limits
    own = judge_measured(held, heard)
    window = f"up to {limits.within_ms:g} ms"
    if not own.n_peaks:
        yield f"No peak above {decibels(heard.lowest_db)} dB {window}."
    else:
        at = f"the strongest {decibels(own.worst_db)} dB at {1e3 * own.worst_s:.1f} ms"
        count = f"{own.n_over} of {own.n_peaks} peaks {window}"
        yield f"{count} over {decibels(limits.level_db, 0)} dB as measured; {at}: {own.verdict}."
    noise = f"{decibels(heard.response.noise_floor_db, 0)} dB re direct"
    yield f"Noise {noise}; peaks are told from {decibels(heard.lowest_db, 0)} dB."
    for peak in heard.unheard:
        yield (
            f"Not heard: {_path_words(peak.parts[0])}, predicted {decibels(peak.level_db)} dB at "
            f"{1e3 * peak.delay_s:.2f} ms."
        )
    if heard.beyond:
        yield (
            f"The record ends {1e3 * heard.until_s:.1f} ms after the direct sound: of "
            f"{_counted(len(heard.beyond), 'predicted peak')} behind that, up to "
            f"{1e3 * max(peak.delay_s for peak in heard.beyond):.1f} ms, it tells nothing."
        )


def _left_right(state: str, held: Held) -> Iterable[str]:
    """Left against right in one line for each seat."""
    for own in measured_left_right(held):
        names = [held.scene.speakers[k].name for k in (own.left, own.right)]
        measured, predicted = (decibels(x) for x in (own.difference_db, own.predicted_difference_db))
        yield (
            f"Early energy at {held.scene.seats[own.seat].name}, {state}: {names[0]} "
            f"{decibels(own.left_db)} dB, {names[1]} {decibels(own.right_db)} dB re direct; apart by "
            f"{measured} dB, predicted {predicted} dB."
        )


def _left_out(heard: Measurement, everything: bool) -> Iterable[str]:
    """How much is not told line by line because it is weak."""
    weak = sum(own.peak.level_db < _TOLD_DB for own in heard.peaks)
    if weak and not everything:
        peaks = _counted(weak, "measured peak")
        yield f"Left out: {peaks} below {decibels(_TOLD_DB, 0)} dB (--all lists them)."
    if heard.n_too_weak:
        yield f"Too weak to be listened for: {_counted(heard.n_too_weak, 'predicted peak')}."


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _decay(heard: Measurement) -> Table:
    bands = [f"{band}" for band in BAND_NAMES]
    table = grid(["Hz", *bands], numbers=bands, title="Decay as measured")
    for row in decay_rows(heard):
        table.add_row(*row)
    return table


def decay_rows(heard: Measurement) -> list[list[str]]:
    """Decay figures as cells, a label and eight octaves; empty where the record does not hold them."""
    p = heard.decay.parameters
    rows = (
        ("EDT s", p.edt_s, 2),
        ("T20 s", p.t20_s, 2),
        ("T30 s", p.t30_s, 2),
        ("C50 dB", p.c50_db, 1),
        ("C80 dB", p.c80_db, 1),
        ("D50", p.d50, 2),
        ("Ts ms", 1e3 * p.ts_s, 0),
        ("range dB", heard.decay.range_db, 0),
    )
    return [
        [label, *(decibels(x, digits) if math.isfinite(x) else "" for x in values)]
        for label, values, digits in rows
    ]


def change_rows(changes: Sequence[MeasuredChange]) -> list[list[str]]:
    """Changes as cells: speaker, seat, arrival, ms, before, after, change and predicted change in dB."""
    return [
        [
            change.speaker,
            change.seat,
            _path_words(change.peak.parts[0]),
            f"{1e3 * change.peak.delay_s:.2f}",
            decibels(change.before_db),
            decibels(change.after_db),
            signed(change.after_db - change.before_db),
            signed(change.predicted_after_db - change.predicted_before_db),
        ]
        for change in changes
    ]


def _changes(changes: Sequence[MeasuredChange], everything: bool) -> Iterable[Table | Text]:
    heads = ["speaker", "seat", "arrival", "ms", "before dB", "after dB", "change dB", "predicted dB"]
    table = grid(heads, numbers=heads[3:], title="Before and after, as measured and as predicted")
    shown = [change for change in changes if everything or change.before_db >= _TOLD_DB]
    for row in change_rows(shown):
        table.add_row(*row)
    yield table
    if len(shown) < len(changes):
        weak = _counted(len(changes) - len(shown), "arrival")
        yield Text(f"Left out: {weak} below {decibels(_TOLD_DB, 0)} dB before (--all lists them).")
