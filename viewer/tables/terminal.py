"""Tables for the terminal: what `check` and `arrivals` print."""

from collections.abc import Iterable

import numpy as np
from rich.console import Group
from rich.table import Table
from rich.text import Text

from raytrace import Arrivals, Peak, Study, Verdict
from viewer.tables.grid import grid
from viewer.words import (
    TOO_CLOSE,
    WHY_TOO_CLOSE,
    decibels,
    falls_short,
    from_limit,
    hider_words,
    in_sentence,
    joined_way,
    length_figure,
    limit_side,
    met_names,
    own_peaks,
    pair_is_heard,
    peak_words,
    share_words,
    told,
)

# What the table leaves out unless asked for everything: weaker than this, re direct in the limit's band.
SHOWN_ABOVE_DB = -25.0

NEAR_MISSES_EXPLAINED = (
    "Near misses: for the ears the spot lies just beyond an edge, or an object just cuts into the way. What "
    "is left shows in a measurement, and verdicts count it with what arrives beside it."
)
# Rows that arrive together make one peak, so nobody may add rows up to what the verdict counts.
ROWS_EXPLAINED = (
    "Rows: every reflection by itself, bold where it is over the limit alone somewhere in the head zone. "
    "Rows that arrive together make one peak, stronger or weaker; the verdict counts peaks, not rows."
)
SPOTS_EXPLAINED = (
    "Levels re the direct sound in the limit's band. Peaks are judged by the level that they exceed at a "
    "tenth of the places in the head zone; rows have the worst of its nodes, and how far that is over or "
    "below the limit. Spots, facing the surface: from its left edge / "
    "from its bottom edge, slopes included; level floor and ceiling: from the front wall / from the left "
    "wall; an object's top: along it / across it."
)


# What is the same for every room would bury what is odd about this one.
METHOD_ELSEWHERE = (
    "How these figures are made and how far they may be trusted: hitspot arrivals SCENE --all, or "
    "details.pdf of a report."
)


def notes_text(notes: Iterable[str], *, everything: bool = True) -> list[Text]:
    """Notes as lines, after a blank one, and where those on the method are told if not here."""
    parts = [Text(f"Note: {note}", style="dim") for note in notes]
    parts += [] if everything else [Text(METHOD_ELSEWHERE, style="dim")]
    return [Text(""), *parts] if parts else []


def arrivals_tables(study: Study, rows: np.ndarray, *, units: str, everything: bool) -> Group:
    """One table per speaker and seat, the verdict above it, notes below."""
    arrivals, near = study.arrivals, study.arrivals.near_misses
    assert near is not None
    parts: list[Table | Text] = []
    for verdict in study.verdicts:
        own = [r for r in rows if (arrivals.speaker[r], arrivals.seat[r]) == (verdict.speaker, verdict.seat)]
        if not own and len(arrivals.at(verdict.speaker, verdict.seat)):
            continue
        is_sub = verdict.status == "sub"
        shown = _listed(study, arrivals, own, arrivals.zone_worst_db, everything=everything, is_sub=is_sub)
        title = f"{arrivals.speaker_names[verdict.speaker]} at {arrivals.seat_names[verdict.seat]}"
        parts += [Text(title, style="bold"), Text(verdict_sentence(study, verdict))]
        parts += peak_lines(study, verdict)
        if shown:
            parts += [] if verdict.status in ("sub", "hidden") else [Text(ROWS_EXPLAINED, style="dim")]
            parts.append(_table(study, arrivals, shown, units))
        if len(own) > len(shown):
            which = "reflections" if is_sub else "weaker or later ones"
            parts.append(Text(f"{len(own) - len(shown)} {which} not shown; --all shows them.", style="dim"))
        beside = near.at(verdict.speaker, verdict.seat).tolist()
        missed = _listed(study, near, beside, near.band_level_db, everything=everything, is_sub=is_sub)
        if missed:
            parts += [Text(NEAR_MISSES_EXPLAINED), _table(study, near, missed, units)]
        parts.append(Text(""))
    parts.append(Text(SPOTS_EXPLAINED, style="dim"))
    if study.left_right is not None:
        parts += [Text(""), Text(left_right_sentence(study))]
    notes = study.notes if everything else study.room_notes
    return Group(*parts, *notes_text((told(note, units) for note in notes), everything=everything))


def _listed(
    study: Study,
    table: Arrivals,
    rows: Iterable[int],
    level_db: np.ndarray,
    *,
    everything: bool,
    is_sub: bool,
) -> list[int]:
    """Rows that are printed: of a sub, which is never judged, none unless all are asked for."""
    return [r for r in rows if everything or (not is_sub and _matters(study, table, r, level_db))]


def _matters(study: Study, arrivals: Arrivals, row: int, level_db: np.ndarray) -> bool:
    in_window = arrivals.delay_s[row] * 1e3 <= study.scene.limits.within_ms
    return bool(in_window and level_db[row] > SHOWN_ABOVE_DB)


def verdict_sentence(study: Study, verdict: Verdict) -> str:
    """One line on a speaker at a seat."""
    if verdict.status == "sub":
        return "A sub: not judged here; see hitspot bass."
    if verdict.status == "hidden":
        return f"Not judged: {hider_words(verdict)} hides the direct sound. Reflections are listed only."
    short = falls_short(study)
    within = f"within {study.scene.limits.within_ms:g} ms" + (f" ({short})" if short else "")
    if not verdict.n_in_window:
        return f"No peaks {within}: nothing is over the limit."
    near = verdict.n_undecided
    are = "is" if verdict.n_over == 1 else "are"
    counts = [f"{verdict.n_over} of {verdict.n_in_window} peaks {within} {are} over the limit"]
    counts += [f"{near} {'is' if near == 1 else 'are'} {TOO_CLOSE} ({WHY_TOO_CLOSE})"] if near else []
    if verdict.n_over or not near:
        counts.append(f"the strongest is {from_limit(verdict.worst_margin_db)}")
    return f"{'; '.join(counts)}."


def peak_lines(study: Study, verdict: Verdict) -> list[Text]:
    """The peaks that are over the limit or may be, the worst first, one line each."""
    return [
        Text(
            f"  peak {number}: {1e3 * peak.delay_s:.2f} ms, {in_sentence(peak)}"
            f"{_of_peak(peak)}, {peak_words(study, peak)}"
        )
        for number, peak in enumerate(own_peaks(study, verdict), start=1)
    ]


def _of_peak(peak: Peak) -> str:
    """Where a peak is over the limit and, if that leaves it open, by how much."""
    share = f"over at {share_words(peak)} of the head positions"
    if peak.verdict != "undecided":
        return f" ({share})"
    return f" ({from_limit(peak.margin_db)} ± {peak.uncertainty_db:.1f} dB; {share})"


def left_right_sentence(study: Study) -> str:
    """The headline number of left against right."""
    pair = study.left_right
    assert pair is not None
    names = study.arrivals.speaker_names
    if not pair_is_heard(study):
        return "Left against right is not compared: the direct sound of one of them or both is hidden."
    if not np.isfinite(pair.difference_db):
        silent = [
            names[speaker]
            for speaker, level_db in ((pair.left, pair.left_energy_db), (pair.right, pair.right_energy_db))
            if level_db == -np.inf
        ]
        return f"Left against right cannot be compared: no reflections come from {' and '.join(silent)}."
    return (
        f"Left against right: reflections within 15 ms carry {decibels(pair.left_energy_db)} dB from "
        f"{names[pair.left]} and {decibels(pair.right_energy_db)} dB from {names[pair.right]} re "
        f"their direct sound: they differ by {abs(pair.difference_db):.1f} dB."
    )


def _table(study: Study, arrivals: Arrivals, rows: list[int], units: str) -> Table:
    numbers = ("delay ms", "ears dB", "worst dB", "limit, dB")
    table = grid([*numbers, "by way of", "spots, mm" if units == "metric" else "spots"], numbers=numbers)
    for row in rows:
        names, spots = _way(study, arrivals, row, units)
        table.add_row(
            f"{arrivals.delay_s[row] * 1e3:.2f}",
            decibels(float(arrivals.band_level_db[row])),
            decibels(float(arrivals.zone_worst_db[row])),
            limit_side(arrivals.zone_margin_db[row]),
            joined_way(names),
            "; ".join(spots),
            style="bold" if arrivals.over_limit_in_zone[row] else None,
        )
    return table


def _way(study: Study, arrivals: Arrivals, row: int, units: str) -> tuple[list[str], list[str]]:
    """Surfaces and spots of one row, in bounce order."""
    spots = []
    for bounce in range(arrivals.order[row]):
        lengths = [length_figure(x, units) for x in arrivals.spots[row, bounce]]
        spots.append(" / ".join(lengths))
    return met_names(study, arrivals, row), spots
