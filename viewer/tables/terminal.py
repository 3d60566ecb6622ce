"""Tables for the terminal: what `check` and `arrivals` print."""

import numpy as np
from rich.console import Group
from rich.table import Table
from rich.text import Text

from raytrace import Arrivals, Study, Verdict
from viewer.words import length_figure, margin_words, met_names, off_limit, peak_words, told

# What the table leaves out unless asked for everything: weaker than this, re direct in the limit's band.
SHOWN_ABOVE_DB = -25.0

NEAR_MISSES_EXPLAINED = (
    "Near misses: for the ears the spot lies just beyond an edge. What is left of it shows in a measurement; "
    "verdicts leave it out."
)
# Rows that arrive together make one peak, so nobody may add rows up to what the verdict counts.
ROWS_EXPLAINED = (
    "Rows: every reflection by itself, bold where it is over the limit alone. Rows that arrive together make "
    "one peak; the verdict counts peaks, not rows."
)
SPOTS_EXPLAINED = (
    "Levels re the direct sound in the limit's band; worst level and margin over the whole head zone. "
    "Spots, facing the surface: from its left edge / "
    "from its bottom edge, slopes included; level floor and ceiling: from the front wall / from the left "
    "wall; an object's top: along it / across it."
)


def notes_text(notes: tuple[str, ...]) -> list[Text]:
    """Notes as lines, after a blank one."""
    return [Text(""), *(Text(f"Note: {note}", style="dim") for note in notes)] if notes else []


def arrivals_tables(study: Study, rows: np.ndarray, *, units: str, everything: bool) -> Group:
    """One table per speaker and seat, the verdict above it, notes below."""
    arrivals, near = study.arrivals, study.arrivals.near_misses
    assert near is not None
    parts: list[Table | Text] = []
    for verdict in study.verdicts:
        own = [r for r in rows if (arrivals.speaker[r], arrivals.seat[r]) == (verdict.speaker, verdict.seat)]
        if not own:
            continue
        shown = [r for r in own if everything or _matters(study, arrivals, r, arrivals.zone_worst_db)]
        title = f"{arrivals.speaker_names[verdict.speaker]} at {arrivals.seat_names[verdict.seat]}"
        parts += [Text(title, style="bold"), Text(verdict_sentence(study, verdict))]
        parts += [*peak_lines(study, verdict), Text(ROWS_EXPLAINED, style="dim")]
        parts.append(_table(study, arrivals, shown, units))
        if len(own) > len(shown):
            parts.append(
                Text(
                    f"{len(own) - len(shown)} weaker or later ones not shown; --all shows them.", style="dim"
                )
            )
        missed = [
            r
            for r in near.at(verdict.speaker, verdict.seat)
            if everything or _matters(study, near, r, near.band_level_db)
        ]
        if missed:
            parts += [Text(NEAR_MISSES_EXPLAINED), _table(study, near, missed, units)]
        parts.append(Text(""))
    parts.append(Text(SPOTS_EXPLAINED, style="dim"))
    if study.left_right is not None:
        parts += [Text(""), Text(left_right_sentence(study))]
    return Group(*parts, *notes_text(tuple(told(note, units) for note in study.notes)))


def _matters(study: Study, arrivals: Arrivals, row: int, level_db: np.ndarray) -> bool:
    in_window = arrivals.delay_s[row] * 1e3 <= study.scene.limits.within_ms
    return bool(in_window and level_db[row] > SHOWN_ABOVE_DB)


def verdict_sentence(study: Study, verdict: Verdict) -> str:
    """One line on a speaker at a seat."""
    limits = study.scene.limits
    if verdict.status == "sub":
        return "A sub: listed, not judged."
    if verdict.status == "blocked":
        return "The direct sound is hidden: listed, not judged."
    line = (
        f"{verdict.n_over} of {verdict.n_in_window} peaks within {limits.within_ms:g} ms are over the limit"
    )
    if verdict.n_in_window:
        margin = verdict.worst_margin_db
        how = f"{off_limit(margin)} dB {'over' if margin < 0 else 'below'} it"
        line += (
            f"; the strongest is {how} somewhere in the head zone"
            if np.isfinite(margin)
            else "; nothing of them comes back"
        )
    return line + "."


def peak_lines(study: Study, verdict: Verdict) -> list[Text]:
    """The peaks over the limit that a verdict counts, the worst first, one line each."""
    own = (verdict.speaker, verdict.seat)
    over = [peak for peak in study.peaks if peak.over_limit and (peak.speaker, peak.seat) == own]
    over.sort(key=lambda peak: (round(peak.margin_db, 1), peak.delay_s))
    return [
        Text(
            f"  peak {number}: {1e3 * peak.delay_s:.2f} ms, {off_limit(peak.margin_db)} dB over the limit, "
            f"{peak_words(study, peak)}"
        )
        for number, peak in enumerate(over, start=1)
    ]


def signed_margin(margin_db: float) -> str:
    """A margin with its sign for a narrow column, nothing for none; never "0.0" for what is over."""
    if not np.isfinite(margin_db):
        return ""
    text = margin_words(margin_db).replace("−", "-")
    return text if text.startswith("-") else f"+{text}"


def left_right_sentence(study: Study) -> str:
    """The headline number of left against right."""
    pair = study.left_right
    assert pair is not None
    names = study.arrivals.speaker_names
    if not np.isfinite(pair.difference_db):
        silent = [
            names[speaker]
            for speaker, level_db in ((pair.left, pair.left_energy_db), (pair.right, pair.right_energy_db))
            if level_db == -np.inf
        ]
        return f"Left against right cannot be compared: no reflections come from {' and '.join(silent)}."
    return (
        f"Left against right: reflections within 15 ms carry {pair.left_energy_db:.1f} dB from "
        f"{names[pair.left]} and {pair.right_energy_db:.1f} dB from {names[pair.right]} re their direct "
        f"sound: they differ by {abs(pair.difference_db):.1f} dB."
    )


def _table(study: Study, arrivals: Arrivals, rows: list[int], units: str) -> Table:
    table = Table(box=None, pad_edge=False)
    for name in ("delay ms", "ears dB", "worst dB", "worst margin"):
        table.add_column(name, justify="right")
    table.add_column("by way of")
    table.add_column("spots, mm" if units == "metric" else "spots")
    for row in rows:
        names, spots = _way(study, arrivals, row, units)
        table.add_row(
            f"{arrivals.delay_s[row] * 1e3:.2f}",
            f"{arrivals.band_level_db[row]:.1f}",
            f"{arrivals.zone_worst_db[row]:.1f}",
            signed_margin(arrivals.zone_margin_db[row]),
            " > ".join(names),
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
