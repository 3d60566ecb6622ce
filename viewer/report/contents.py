"""A study as the plain data that report.typ lays out."""

import hashlib
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from importlib.metadata import version
from typing import Any

import numpy as np

from raytrace import LOCAL_CODES_FIRST, Bass, Comparison, Decay, Proposal, Study, Treatment, format_length
from viewer import look
from viewer.pictures import surface_pages
from viewer.report.appendix import appendix
from viewer.report.bass import BASS_TITLE, bass_pages
from viewer.report.change import Change, change_pages, changed_client
from viewer.report.decay import captioned, decay_chapter
from viewer.report.proposal import proposal_pages
from viewer.sheets import CARD_MM, Sheet
from viewer.words import (
    NEAR,
    WHY_TOO_CLOSE,
    TooStrong,
    headline,
    hidden_sentences,
    job_lines,
    judged,
    length_figure,
    ringing,
    today,
    too_strong,
    will_change,
    will_not_change,
)

Contents = dict[str, Any]
Chart = tuple[int, int, str, str]  # speaker, seat, path, caption

WORDS = {
    "client": "Early reflections at the listening seat",
    "set_out": "Set-out",
    "decay": "Decay",
    "appendix": "Appendix",
    "today": "Today",
    "will": "What treatment changes",
    "wont": "What it will not change",
    "too_strong": "Reflections that are too strong, the worst first",
    "near_too": "Reflections that are too strong or too close to the limit to say, the worst first",
    "too_strong_head": ("speaker", "by way of", "ms later", "strength dB", "limit dB", "of places", "sheet"),
    "where": "Where things stand",
    "work": "Where the spots are",
    "sequence": "Sequence",
    "positions": "Speakers and seats",
    "positions_head": ("", "from the front wall", "from the left wall", "above the floor"),
    "spots_head": (
        "sheet",
        "mark",
        "surface",
        "from left",
        "from right",
        "from top or front",
        "from bottom or back",
    ),
    "cautions": "Before anything is marked, drilled or hung",
    "notes": "Limits of the method",
    "sources": "What was assumed",
    "materials": "Materials",
    "all": "Every reflection",
    "near": "Near misses",
    "absorbs": "absorbs",
    "scatters": "scatters",
    "measure": "measure",
    "as_built": "as built",
    "jottings": "found on site",
    "key": "Big figures: the spot. Small figures: the dashed rectangle round the area to cover.",
}


UNIT_WORDS = {
    "metric": {
        "spots": "Spots, in mm from two edges",
        "units": "all figures in millimetres",
        "figure": "mm",
        "big_pt": 12,
    },
    "imperial": {
        "spots": "Spots, in feet and inches from two edges",
        "units": "all figures in feet and inches",
        "figure": "ft in",
        "big_pt": 10,
    },
}

# The usual way of working with a tape and a hand mirror (common practice, no source).
STEPS = (
    "Read the cautions below and the notes on each sheet.",
    "Tape the whole width and height of the surface against the sheet. More than {far} out: stop and ask.",
    "Mark each spot from both edges. The two marks must meet within {near}.",
    "Hold a hand mirror flat at the spot: from the seat the speaker shows in it, unless the card names more "
    "than one surface.",
    "Mark the dashed rectangle round the spot, leave out what is hatched.",
    "Look for cables, pipes and something to fix to before anything is drilled.",
    "Write what was built beside each figure and tick it off.",
)


@dataclass(frozen=True)
class Findings:
    """What is known of a room when its report is written.

    Attributes
    ----------
    study : Study
        A finished run.
    decays : sequence of Decay
        How sound dies away, of the same scene.
    bare : Study or None
        Of the same scene without its panels: what the study is compared with.
    decays_before : sequence of Decay
        Of the bare room; empty without it.
    comparison : Comparison or None
        The bare room against the study.
    proposal : Proposal or None
        What led to the study.
    treatment : Treatment or None
        What is made and hung; None in a room without panels.
    bass : Bass or None
        What the room does to low notes, where that was asked for.
    """

    study: Study
    decays: Sequence[Decay]
    bare: Study | None = None
    decays_before: Sequence[Decay] = ()
    comparison: Comparison | None = None
    proposal: Proposal | None = None
    treatment: Treatment | None = None
    bass: Bass | None = None


@dataclass(frozen=True)
class Drawn:
    """What was drawn for a report; paths are relative to its folder.

    Attributes
    ----------
    sheets : sequence of Sheet
        Set-out sheets.
    pictures : dict
        "room", "plan", "section" and treated surfaces to path and caption.
    curves, tones, decays, changes, bass : sequence of (speaker, seat, path, caption)
        Charts of level over time, of level over pitch, of decay, of level over time before and after, and of
        the bass.
    making : sequence of dict
        Pages on making, hanging and builds.
    drawings : sequence of dict
        The installer's drawings, whole pages.
    """

    sheets: Sequence[Sheet]
    pictures: dict[str, tuple[str, str]]
    curves: Sequence[Chart] = ()
    tones: Sequence[Chart] = ()
    decays: Sequence[Chart] = ()
    changes: Sequence[Chart] = ()
    bass: Sequence[Chart] = ()
    making: Sequence[Contents] = ()
    drawings: Sequence[Contents] = ()


def sheet_contents(study: Study, sheets: Sequence[Sheet], *, units: str) -> Contents:
    """What report.typ needs for set-out sheets alone."""
    return _frame(study, units) | {
        "part": "sheets",
        "sheets": [_sheet(sheet, number, len(sheets)) for number, sheet in enumerate(sheets, start=1)],
    }


def report_contents(found: Findings, drawn: Drawn, *, units: str) -> Contents:
    """What report.typ needs for the whole report.

    Parameters
    ----------
    found : Findings
        What it tells.
    drawn : Drawn
        What it shows.
    units : {"metric", "imperial"}
        Units of every length.
    """
    study, sheets = found.study, drawn.sheets
    sheets_of_row = _sheets_of_rows(study, sheets)
    change = None if found.comparison is None else Change(found.comparison, found.decays_before, found.decays)
    return sheet_contents(study, sheets, units=units) | {
        "part": "report",
        "client": _client(found, drawn, change, units),
        "changes": [] if change is None else change_pages(change, drawn.changes),
        "seats": [
            page
            for seat in _heard_seats(study)
            for page in (_seat(study, seat, drawn.curves, sheets_of_row), _tone(study, seat, drawn.tones))
            if page["curves"] or page["rows"] or page["after"]
        ],
        "bass": bass_pages(found.bass, drawn.bass, units=units),
        "set_out": _set_out(study, sheets, drawn.pictures, units),
        "proposed": [] if found.proposal is None else proposal_pages(found.proposal, units=units),
        "treated": surface_pages(study, drawn.pictures, units=units),
        "decay": decay_chapter(study, found.decays, drawn.decays, units=units),
        "making": list(drawn.making),
        "drawings": list(drawn.drawings),
        "appendix": appendix(study, units=units),
    }


def _client(found: Findings, drawn: Drawn, change: Change | None, units: str) -> Contents:
    """The page that a client reads, if no other."""
    study = found.study
    n_areas = sum(len(sheet.spots) for sheet in drawn.sheets)
    surfaces = [study.room.surfaces[sheet.surface].name for sheet in drawn.sheets]
    picture, caption = drawn.pictures["room"]
    today_alone = {
        "job": job_lines(study, units),
        "picture": picture,
        "caption": caption,
        "lead": "",
        "headline": headline(study),
        "today": [*today(study), *ringing(found.decays)],
        "will_title": WORDS["will"],
        "will": will_change(study, n_areas, surfaces),
        "wont": will_not_change(study, units, see="" if found.bass is None else BASS_TITLE),
        "foot": f"{LOCAL_CODES_FIRST} A step of 10 dB sounds about twice or half as loud "
        "(common practice). The file page.html beside this one shows the room to turn, in any browser.",
    }
    return today_alone | ({} if change is None else changed_client(change, surfaces, units=units))


def _sheets_of_rows(study: Study, sheets: Sequence[Sheet]) -> dict[int, str]:
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


def _frame(study: Study, units: str) -> Contents:
    """Title, footer, colours and words that every page shares."""
    title = study.scene.title or study.scene.path.stem
    digest = hashlib.sha256(study.scene.text.encode("utf-8")).hexdigest()[:12]
    return {
        "title": title,
        "footer": f"{title} · {study.scene.path.name}, SHA-256 {digest} · hitspot {version('hitspot')}",
        "look": {
            "ink": look.INK,
            "muted": look.MUTED,
            "rule": look.HAIRLINE,
            "accent": look.ACCENT,
            "font": look.FONT,
        },
        "words": WORDS | UNIT_WORDS[units] | {"card_mm": CARD_MM[units]},
    }


def _sheet(sheet: Sheet, number: int, total: int) -> Contents:
    return {
        "title": sheet.title,
        "number": f"Set-out sheet {number} of {total}",
        "facing": sheet.facing,
        "scale": sheet.scale,
        "landscape": sheet.landscape,
        "size_mm": sheet.size_mm,
        "marks": [asdict(mark) for mark in sheet.marks],
        "cards": [asdict(card) for card in sheet.cards],
        "notes": sheet.notes,
    }


def _heard_seats(study: Study) -> list[int]:
    """Seats at which a speaker is judged, the first one in any case."""
    return sorted({0, *(verdict.seat for verdict in judged(study))})


def _seat(
    study: Study,
    seat: int,
    curves: Sequence[Chart],
    sheets_of_row: dict[int, str],
) -> Contents:
    """The page of one seat: its curves and what is too strong there."""
    lines, left_out = too_strong(study, seat, sheets_of_row)
    shown = {v.speaker for v in judged(study) if v.seat == seat}
    own = [chart for chart in curves if chart[1] == seat and chart[0] in shown]
    verdicts = [verdict for verdict in judged(study) if verdict.seat == seat]
    near = any(verdict.n_undecided for verdict in verdicts)
    return {
        "title": f"What the seat hears{_with(study)}{_of_seat(study, seat)}",
        "intro": "Each curve shows one speaker alone. The sound itself comes first, at 0; every later peak "
        "is a reflection, the higher the stronger. Peaks that rise above the limit line blur the sound.",
        "curves": captioned(own),
        "rows_title": WORDS["near_too" if near else "too_strong"],
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
        parts.append(f"{left_out} weaker ones are left out here; the table at the end lists every one.")
    return " ".join(parts)


def _tone(study: Study, seat: int, tones: Sequence[Chart]) -> Contents:
    """The page of one seat about tone, empty where nothing is drawn of it."""
    return {
        "title": f"What reflections do to the tone{_of_seat(study, seat)}",
        "intro": "A reflection that joins the sound itself makes some pitches louder and cancels others. "
        "Each line shows one speaker as it arrives at the seat, bass on the left, treble on the right.",
        "curves": captioned([chart for chart in tones if chart[1] == seat]),
        "rows_title": "",
        "rows": [],
        "after": "",
    }


def _with(study: Study) -> str:
    """What tells the pages of a treated room from those of a bare one."""
    return " with the panels" if study.room.panels else ""


def _of_seat(study: Study, seat: int) -> str:
    """What tells the pages of several seats apart."""
    return f": {study.arrivals.seat_names[seat]}" if len(study.scene.seats) > 1 else ""


def _set_out(
    study: Study, sheets: Sequence[Sheet], pictures: dict[str, tuple[str, str]], units: str
) -> Contents:
    scene = study.scene
    places = [(f"{s.name} ({'sub' if s.use == 'sub' else 'speaker'})", s.position) for s in scene.speakers]
    places += [(f"{s.name} (ears)", s.ears) for s in scene.seats]
    return {
        "pictures": [pictures[name][0] for name in ("plan", "section") if name in pictures],
        "positions": [(name, *(_length(x, units) for x in position)) for name, position in places],
        "spots": [
            (
                str(number),
                spot.letter,
                study.room.surfaces[sheet.surface].name,
                *(length_figure(metres, units) for metres in spot.sides_m),
            )
            for number, sheet in enumerate(sheets, start=1)
            for spot in sheet.spots
        ],
        "steps": [step.format(far=_length(0.02, units), near=_length(0.01, units)) for step in STEPS],
        "cautions": study.cautions,
    }


def _length(metres: float, units: str) -> str:
    return format_length(metres, units=units)
