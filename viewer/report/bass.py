"""The report's chapter on the bass as plain data: map and curve, best places, dips and why; notes apart."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from raytrace import format_length
from viewer import tables
from viewer.report.blocks import Block, items, page, picture, small, sub, table
from viewer.words import decibels, listed, told

if TYPE_CHECKING:
    from raytrace import Bass

BASS_TITLE = "The bass"
"""What the chapter is called."""
_ABOVE = "Low notes"
_N_PLACES = 3
_MOST_DIPS = 5  # the deepest; more leave no room for the picture
_SUB_TOP_HZ = 120.0  # above it a subwoofer is left to the speakers
_EVENNESS = (
    "Uneven by: how far low notes, 30 to 120 Hz, lie from their mean level at the seats (standard deviation)."
)
_DIPS = (
    "Level against the same source in the open, 1 m away; a dip is lower than what lies on both sides of it. "
    "The room has notes of its own, its modes: each is loud at some places and quiet at others. Where the "
    "seat is quiet, moving the seat helps; where the source does not drive a mode, moving the source."
)


def bass_pages(
    bass: "Bass | None", charts: Sequence[tuple[int, int, str, str]], *, units: str
) -> list[dict[str, Any]]:
    """The page of the chapter; none where nobody asked for it.

    Parameters
    ----------
    bass : Bass or None
        What was found.
    charts : sequence of (speaker, seat, path, caption)
        Paths are relative to the report's folder.
    units : {"metric", "imperial"}
        Of every length.
    """
    if bass is None:
        return []
    blocks = [sub(tables.bass_headline(bass))]
    for _, _, path, caption in charts:
        blocks += [picture(path, caption, shares=True), small(f"{_EVENNESS} {caption}")]
    blocks += [
        *_places(bass, units),
        items([line[0].upper() + line[1:] for line in tables.tried_lines(bass, units)]),
        *_dips(bass),
        sub("Measure before anything is bought or fixed"),
        small(f"{told(bass.notes[-1], units)} What else these figures rest on: details.pdf."),
    ]
    return [page(_ABOVE, BASS_TITLE, blocks)]


def bass_notes_pages(bass: "Bass | None", *, units: str) -> list[dict[str, Any]]:
    """What the figures of the chapter rest on, for details; none where nobody asked for it."""
    if bass is None:
        return []
    notes = items([told(note, units) for note in bass.notes])
    return [page(_ABOVE, "What the figures on the bass rest on", [notes], flows=True)]


def _places(bass: "Bass", units: str) -> list[Block]:
    best = bass.places[:_N_PLACES]
    if not best:
        return []
    rows = [
        [
            f"{k}",
            *(format_length(float(x), units=units) for x in place.position_m[:2]),
            decibels(place.evenness_db),
            decibels(place.gain_db),
            f"{decibels(place.dip_db)} at {place.dip_hz:.0f} Hz",
        ]
        for k, place in enumerate(best, 1)
    ]
    head = [
        "place",
        "from the front wall",
        "from the left wall",
        "uneven by dB",
        "gain dB",
        "deepest dip dB",
    ]
    title = f"The {len(best)} best free places" if len(best) > 1 else "The best free place"
    title += "" if best[0].gain_db > 0.0 else ", no better than now,"
    kinds = ["left", *["right"] * 4, "fill"]
    return [
        sub(f"{title} for a sub, measured to its middle"),
        table(head, kinds, rows, inset_mm=1.0),
    ]


def _dips(bass: "Bass") -> list[Block]:
    """The deepest dips at the first seat, each once for all sources that have it."""
    top_hz = _SUB_TOP_HZ if bass.has_sub else bass.top_hz
    names: dict[tuple[float, str], list[str]] = {}
    levels: dict[tuple[float, str], float] = {}
    for response in bass.responses:
        if len(response.sources) > 1 or response.sources[0] not in bass.sources:
            continue
        for found in response.extremes:
            if found.is_dip and found.hz <= top_hz:
                key = found.hz, tables.cause_words(found)
                names.setdefault(key, []).append(response.sources[0])
                levels[key] = min(found.level_db, levels.get(key, found.level_db))
    deepest = sorted(sorted(levels, key=levels.__getitem__)[:_MOST_DIPS])
    if not deepest:
        return []
    rows = [
        [f"{hz:.0f}", decibels(levels[hz, why]), listed(names[hz, why]), why[0].upper() + why[1:]]
        for hz, why in deepest
    ]
    more = len(levels) - len(deepest)
    left_out = f" Left out: {more} less deep." if more else ""
    return [
        sub(f"Dips at the {bass.responses[0].seat} seat up to {top_hz:.0f} Hz, and why"),
        table(["Hz", "dB", "from", "why"], ["right", "right", "left", "fill"], rows, inset_mm=1.0),
        small(_DIPS + left_out),
    ]
