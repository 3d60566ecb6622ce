"""Before and after as others read it: one JSON object, one CSV table, tables for the terminal."""

from typing import Any

import numpy as np
from rich.console import Group
from rich.table import Table
from rich.text import Text

from raytrace import (
    BAND_NAMES,
    ArrivalPair,
    Comparison,
    Peak,
    PeakPair,
    VerdictPair,
    headline,
)
from viewer.tables.arrivals import LEVEL_KEYS, Row, figures_of, level_cells, number, peak_figures
from viewer.tables.csvtext import csv_text
from viewer.tables.grid import grid
from viewer.tables.terminal import SHOWN_ABOVE_DB, notes_text
from viewer.words import TOO_CLOSE, decibels, from_limit, joined_way, limit_side, peak_words, signed, told

Pair = ArrivalPair | PeakPair | VerdictPair

# A change this small is hardly heard (common practice, no source); such peaks are only counted.
HARDLY_HEARD_DB = 1.0

EXPLAINED = (
    "Levels re the direct sound in the limit's band: what a peak exceeds at a tenth of the places in the "
    'head zone; then how far that is over or below the limit, "?" where it is too close to say. Bold: over '
    "the limit after, or too close to say."
)


def comparison_json(
    comparison: Comparison, *, seat: str | None = None, speaker: str | None = None
) -> dict[str, Any]:
    """A comparison as plain numbers, None where there is no number or no counterpart.

    Parameters
    ----------
    comparison : Comparison
        Of any two studies.
    seat, speaker : str, optional
        Only what belongs to these.

    Returns
    -------
    dict
        Ready for `json.dumps(..., allow_nan=False)`; "pairs" are single reflections. Delays in
        milliseconds after the direct sound, levels in dB re direct, changes after less before.
    """
    sides = (comparison.before, comparison.after)
    left_right = [None if pair is None else number(pair.difference_db) for pair in comparison.left_right]
    return {
        "before": {"scene": sides[0].scene.title, "treated_m2": comparison.treated_m2[0]},
        "after": {"scene": sides[1].scene.title, "treated_m2": comparison.treated_m2[1]},
        "headline": headline(comparison),
        "not_compared": list(comparison.not_compared),
        "left_right_difference_db": {"before": left_right[0], "after": left_right[1]},
        "bands_hz": list(BAND_NAMES),
        "verdicts": [_verdict(pair) for pair in comparison.verdicts if _is_chosen(pair, seat, speaker)],
        "peaks": [
            {
                "speaker": pair.speaker,
                "seat": pair.seat,
                "by_way_of": _way(comparison, pair),
                "before": _peak(pair.before),
                "after": _peak(pair.after),
            }
            for pair in comparison.peaks
            if _is_chosen(pair, seat, speaker)
        ],
        "pairs": [_pair(comparison, p) for p in comparison.arrivals if _is_chosen(p, seat, speaker)],
        "notes": _notes(comparison, "metric", everything=True),
    }


def _is_chosen(pair: Pair, seat: str | None, speaker: str | None) -> bool:
    return seat in (None, pair.seat) and speaker in (None, pair.speaker)


def _notes(comparison: Comparison, units: str, *, everything: bool) -> list[str]:
    """Notes of both studies, those of one only with its name."""
    before, after = (
        own.notes if everything else own.room_notes for own in (comparison.before, comparison.after)
    )
    shared = [note for note in after if note in before]
    return [
        *(told(note, units) for note in shared),
        *(f"Before: {told(note, units)}" for note in before if note not in shared),
        *(f"After: {told(note, units)}" for note in after if note not in shared),
    ]


def _verdict(pair: VerdictPair) -> Row:
    return {
        "speaker": pair.speaker,
        "seat": pair.seat,
        "cleared": pair.n_cleared,
        "new": pair.n_new,
        **{
            when: {
                "in_window": verdict.n_in_window,
                "over_limit": verdict.n_over,
                "undecided": verdict.n_undecided,
                "worst_margin_db": number(verdict.worst_margin_db),
            }
            for when, verdict in (("before", pair.before), ("after", pair.after))
        },
    }


def _peak(peak: Peak | None) -> Row | None:
    return None if peak is None else peak_figures(peak)


def _pair(comparison: Comparison, pair: ArrivalPair) -> Row:
    change = comparison.change_db(pair)
    before, after = (
        None if row is None else figures_of(study.arrivals, row)
        for study, row in ((comparison.before, pair.before), (comparison.after, pair.after))
    )
    return {
        "speaker": pair.speaker,
        "seat": pair.seat,
        "surfaces": list(pair.surfaces),
        "before": before,
        "after": after,
        "change_db": [number(x) for x in change[:-1]],
        "band_change_db": number(change[-1]),
    }


def comparison_csv(comparison: Comparison, *, seat: str | None = None, speaker: str | None = None) -> str:
    """Every reflection before and after, one line each, cells empty where there is no number.

    Columns: speaker, seat, surfaces (joined by " › "); then before_ and after_ delay_ms, level per band,
    band_level_db, zone_worst_db, margin_db, over_limit, zone_margin_db, over_limit_in_zone; then the
    change per band and in the limit's band.
    """
    side = ["delay_ms", *(f"level_{band}_hz_db" for band in BAND_NAMES)]
    side += LEVEL_KEYS
    head = [
        *("speaker", "seat", "surfaces"),
        *(f"{when}_{part}" for when in ("before", "after") for part in side),
        *(f"change_{band}_hz_db" for band in BAND_NAMES),
        "band_change_db",
    ]
    chosen = (pair for pair in comparison.arrivals if _is_chosen(pair, seat, speaker))
    return csv_text([head, *(_cells(_pair(comparison, pair), len(side)) for pair in chosen)])


def _cells(row: Row, n_side: int) -> list[Any]:
    cells = [row["speaker"], row["seat"], joined_way(row["surfaces"])]
    for when in ("before", "after"):
        own = row[when]
        if own is None:
            cells += [None] * n_side
        else:
            cells += [own["delay_ms"], *own["level_db"], *level_cells(own)]
    return [*cells, *row["change_db"], row["band_change_db"]]


def comparison_tables(
    comparison: Comparison,
    *,
    seat: str | None = None,
    speaker: str | None = None,
    everything: bool = False,
    units: str = "metric",
) -> Group:
    """The headline, then peaks side by side per speaker and seat; `everything` adds single reflections."""
    parts: list[Table | Text] = [Text(headline(comparison), style="bold")]
    parts += [Text(why) for why in comparison.not_compared]
    if any(comparison.treated_m2):
        old, new = (" ".join(area_figure(area, units)) for area in comparison.treated_m2)
        parts.append(Text(f"Area of all panels: {new} instead of {old}."))
    places = dict.fromkeys((p.speaker, p.seat) for p in comparison.peaks if _is_chosen(p, seat, speaker))
    for place in places:
        own = [p for p in comparison.peaks if (p.speaker, p.seat) == place]
        shown = [p for p in own if everything or _matters(comparison, p)]
        parts += [Text(""), Text(f"{place[0]} at {place[1]}", style="bold")]
        parts.append(Text(_verdict_words(comparison, place)))
        if shown:
            parts.append(_peaks_table(comparison, shown))
        if len(own) > len(shown):
            rest = (
                f"{len(own) - len(shown)} not shown: weak, late, or below the limit and changed by less than "
                f"{HARDLY_HEARD_DB:g} dB. --all shows them."
            )
            parts.append(Text(rest, style="dim"))
        if everything:
            parts.append(_bands_table(comparison, place))
    parts += [Text(""), Text(EXPLAINED, style="dim")]
    return Group(*parts, *notes_text(_notes(comparison, units, everything=everything), everything=everything))


def area_figure(square_metres: float, units: str) -> tuple[str, str]:
    """An area as people read it, to 0.1 m² or 1 ft², and its unit."""
    return (f"{square_metres:.1f}", "m²") if units == "metric" else (f"{square_metres * 10.7639:.0f}", "ft²")


def _matters(comparison: Comparison, pair: PeakPair) -> bool:
    """Whether a judged peak is strong on either side, and over the limit or too close on one, or changed."""
    sides = [
        peak
        for study, peak in ((comparison.before, pair.before), (comparison.after, pair.after))
        if peak is not None
        and peak.delay_s * 1e3 <= study.scene.limits.within_ms
        and not np.isnan(peak.margin_db)
    ]
    if not any(peak.level_db > SHOWN_ABOVE_DB for peak in sides):
        return False
    if pair.before is None or pair.after is None or any(peak.may_be_over for peak in sides):
        return True
    return abs(pair.change_db) >= HARDLY_HEARD_DB


def _verdict_words(comparison: Comparison, place: tuple[str, str]) -> str:
    pair = next((v for v in comparison.verdicts if (v.speaker, v.seat) == place), None)
    if pair is None:
        return "Not judged in both: listed by --all."
    old, new = pair.before, pair.after
    was, now = (f"{verdict.n_over} of {verdict.n_in_window}" for verdict in (old, new))
    counts = f"Over the limit: {now} peaks instead of {was}"
    if old.n_undecided or new.n_undecided:
        counts += f"; {TOO_CLOSE}: {new.n_undecided} instead of {old.n_undecided}"
    if not np.isfinite([old.worst_margin_db, new.worst_margin_db]).all():
        return f"{counts}."
    strongest = f"{from_limit(new.worst_margin_db)} instead of {limit_side(old.worst_margin_db)}"
    return f"{counts}; the strongest is {strongest}."


def _way(comparison: Comparison, pair: PeakPair) -> str:
    """The ways that make up a peak, before if it was there."""
    study, peak = comparison.before, pair.before
    if peak is None:
        study, peak = comparison.after, pair.after
    assert peak is not None
    return peak_words(study, peak)


def _peaks_table(comparison: Comparison, pairs: list[PeakPair]) -> Table:
    numbers = ("delay ms", "before dB", "after dB", "change", "limit before", "limit after")
    table = grid([*numbers, "by way of"], numbers=numbers)
    for pair in pairs:
        old, new = pair.before, pair.after
        change = "new" if old is None else "gone"
        if old is not None and new is not None:
            change = signed(pair.change_db)
        table.add_row(
            f"{pair.delay_s * 1e3:.2f}",
            "" if old is None else decibels(old.level_db),
            "" if new is None else decibels(new.level_db),
            change,
            _against_limit(old),
            _against_limit(new),
            _way(comparison, pair),
            style="bold" if new is not None and new.may_be_over else None,
        )
    return table


def _against_limit(peak: Peak | None) -> str:
    """How far a peak is over or below the limit, with a question mark where that is too close to say."""
    if peak is None or peak.verdict == "not judged":
        return ""
    return limit_side(peak.margin_db) + (" ?" if peak.verdict == "undecided" else "")


def _bands_table(comparison: Comparison, place: tuple[str, str]) -> Table:
    """Single reflections at the ears: what each octave changes by."""
    numbers = ("delay ms", "ears before", "ears after", *map(str, BAND_NAMES))
    table = grid([*numbers, "by way of"], numbers=numbers, title="change per octave at the ears, dB")
    for pair in comparison.arrivals:
        if (pair.speaker, pair.seat) == place:
            row = _pair(comparison, pair)
            old, new = row["before"], row["after"]
            table.add_row(
                f"{(old or new)['delay_ms']:.2f}",
                *("" if own is None else _plain(own["band_level_db"]) for own in (old, new)),
                *map(_change, comparison.change_db(pair)[:-1]),
                joined_way(pair.surfaces),
            )
    return table


def _plain(level: float | None) -> str:
    return "" if level is None else decibels(level)


def _change(value: float) -> str:
    return signed(value) if np.isfinite(value) else ""
