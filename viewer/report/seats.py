"""What a seat hears, as plain data: level over time with what is too strong, and the tone."""

from collections.abc import Mapping, Sequence

import numpy as np

from raytrace import Study
from viewer.report.decay import captioned
from viewer.report.findings import Chart, Contents
from viewer.sheets import Sheet
from viewer.words import NEAR, WHY_TOO_CLOSE, TooStrong, hidden_sentences, judged, too_strong

_ABOVE = "Early reflections at the listening seat"
_TOO_STRONG = "Reflections that are too strong, the worst first"
_NEAR_TOO = "Reflections that are too strong or too close to the limit to say, the worst first"


def sheets_of_rows(study: Study, sheets: Sequence[Sheet]) -> dict[int, str]:
    """The sheet on which an arrival of `Arrivals` is set out, or whose area it crosses."""
    arrivals = study.arrivals
    found: dict[int, str] = {}
    for number, sheet in enumerate(sheets, start=1):
        for spot in sheet.spots:
            u0, v0, u1, v1 = spot.patch.rect
            u, v = np.moveaxis(arrivals.spots, 2, 0)
            crossed = arrivals.path_surfaces == sheet.surface
            crossed &= (u >= u0) & (u <= u1) & (v >= v0) & (v <= v1)
            for row in (*spot.patch.rows, *spot.caught, *np.flatnonzero(crossed.any(axis=1)).tolist()):
                found.setdefault(row, str(number))
    for number, sheet in enumerate(sheets, start=1):
        found |= {row: str(number) for spot in sheet.spots for row in spot.patch.rows}
    return found


def heard_seats(study: Study) -> list[int]:
    """Seats at which a speaker is judged, the first one in any case."""
    return sorted({0, *(verdict.seat for verdict in judged(study))})


def seat_page(study: Study, seat: int, curves: Sequence[Chart], sheets_of_row: Mapping[int, str]) -> Contents:
    """The page of one seat: its curves and what is too strong there.

    Parameters
    ----------
    study : Study
    seat : int
        Index into the study's seats.
    curves : sequence of (speaker, seat, path, caption)
        Of all seats.
    sheets_of_row : mapping
        The sheet on which an arrival is set out; what has none is told apart.
    """
    lines, left_out = too_strong(study, seat, sheets_of_row)
    shown = {v.speaker for v in judged(study) if v.seat == seat}
    own = [chart for chart in curves if chart[1] == seat and chart[0] in shown]
    verdicts = [verdict for verdict in judged(study) if verdict.seat == seat]
    near = any(verdict.n_undecided for verdict in verdicts)
    return {
        "kind": "seat",
        "above": _ABOVE + (" with the panels" if study.room.panels else ""),
        "title": f"What the seat hears{_of_seat(study, seat)}",
        "intro": "Each curve shows one speaker alone. The direct sound comes first, at 0; every later peak "
        "is a reflection, the higher the stronger. Peaks that rise above the limit line blur the sound.",
        "curves": captioned(own),
        "rows_title": _NEAR_TOO if near else _TOO_STRONG,
        "rows": [
            (x.speaker, x.way, x.delay_ms, x.below_direct_db, x.against_limit, x.share_over, x.sheets)
            for x in lines
        ],
        "after": _after(study, seat, lines, left_out) if verdicts else "",
    }


def _after(study: Study, seat: int, lines: Sequence[TooStrong], left_out: int) -> str:
    """What stands below the table of a seat at which something was judged."""
    parts = hidden_sentences(study, (seat,))
    if not lines:
        judged_ones = " that was judged" if parts else ""
        return " ".join([f"No early reflection{judged_ones} is too strong here.", *parts])
    parts.append("Of places: at how many of those where the head may be it is over the limit.")
    if any(line.against_limit == NEAR for line in lines):
        parts.append(f"Too close to say: {WHY_TOO_CLOSE}.")
    if any(line.sheets == "–" for line in lines):
        parts.append("Without a sheet: only together with others, or with the head off the middle.")
    if left_out:
        weaker = "1 weaker one is" if left_out == 1 else f"{left_out} weaker ones are"
        parts.append(f"{weaker} left out here; arrivals.csv lists every one.")
    return " ".join(parts)


def tone_page(study: Study, seat: int, tones: Sequence[Chart]) -> Contents:
    """The page of one seat about tone, empty where nothing is drawn of it."""
    return {
        "kind": "seat",
        "above": _ABOVE,
        "title": f"What reflections do to the tone{_of_seat(study, seat)}",
        "intro": "A reflection that joins the direct sound makes some pitches louder and cancels others. "
        "Each line shows one speaker as it arrives at the seat, bass on the left, treble on the right.",
        "curves": captioned([chart for chart in tones if chart[1] == seat]),
        "rows_title": "",
        "rows": [],
        "after": "",
    }


def _of_seat(study: Study, seat: int) -> str:
    """What tells the pages of several seats apart."""
    return f": {study.arrivals.seat_names[seat]}" if len(study.scene.seats) > 1 else ""
