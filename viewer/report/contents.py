"""A study as the plain data that report.typ lays out: a document for each of its readers."""

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from tempfile import TemporaryDirectory

from raytrace import Study
from viewer.paper import TYPST_PAPERS, typeset, usual_paper
from viewer.pictures import surface_pages
from viewer.report.appendix import appendix
from viewer.report.bass import bass_notes_pages
from viewer.report.change import change_pages
from viewer.report.client import client_pages
from viewer.report.decay import decay_chapter
from viewer.report.findings import Change, Contents, Drawn, Findings
from viewer.report.installer import installer_pages, sheet_pages
from viewer.report.measured import measured_tables_pages
from viewer.report.proposal import proposal_pages
from viewer.report.seats import heard_seats, seat_page, sheets_of_rows, tone_page
from viewer.sheets import CARD_MM, Sheet, surface_sheets

WORDS = {
    "client": "Early reflections at the listening seat",
    "set_out": "Set-out",
    "decay": "Decay",
    "appendix": "Appendix",
    "today": "Today",
    "wont": "What it will not change",
    "too_strong_head": ("speaker", "by way of", "ms later", "level dB", "limit dB", "of places", "sheet"),
    "where": "Where things stand",
    "work": "What to do, in this order",
    "sequence": "Sequence",
    "positions": "Speakers and seats",
    "positions_head": ("", "from the front wall", "from the left wall", "above the floor"),
    "cautions": "Before anything is marked, drilled or hung",
    "notes": "Limits of the method",
    "sources": "What was assumed",
    "materials": "Materials",
    "near": "Near misses",
    "absorbs": "absorbs",
    "scatters": "scatters",
    "measure": "measure",
    "as_built": "as built",
    "jottings": "found on site",
    "key": "Big figures: the spot. Small figures: the dashed rectangle round the area to cover.",
}


UNIT_WORDS = {
    "metric": {"units": "all figures in millimetres", "figure": "mm", "big_pt": 12},
    "imperial": {"units": "all figures in feet and inches", "figure": "ft in", "big_pt": 10},
}


@dataclass(frozen=True)
class Document:
    """A document of the report: its reader, what it is called, and its pages.

    Attributes
    ----------
    reader : str
        As `--for` takes it; the file is called after it.
    subject : str
        What stands in its title and footer.
    pages : callable
        Findings, what was drawn, and units to pages; none where there is nothing to tell.
    """

    reader: str
    subject: str
    pages: Callable[[Findings, Drawn, str], Sequence[Contents]]

    @property
    def file(self) -> str:
        """Name of its file."""
        return f"{self.reader}.pdf"


def sheet_contents(study: Study, sheets: Sequence[Sheet], *, units: str, paper: str) -> Contents:
    """What report.typ needs for set-out sheets alone, each with its own number in its footer."""
    pages = [page | {"alone": True} for page in sheet_pages(sheets, units=units)]
    return _frame(study, "set-out", units, paper) | {"pages": pages}


def spot_pictures(study: Study, surface: int, *, units: str) -> list[tuple[str, bytes]]:
    """Set-out sheets of one surface: what each shows, and it as a PNG; none where no spot needs treatment."""
    paper = study.scene.job.paper or usual_paper(units)
    sheets = surface_sheets(study, surface, units=units, paper=paper)
    contents = sheet_contents(study, sheets, units=units, paper=paper) if sheets else {"pages": []}
    with TemporaryDirectory() as folder:
        return [
            (sheet.title, typeset(contents | {"pages": [page]}, Path(folder), picture=True))
            for sheet, page in zip(sheets, contents["pages"], strict=True)
        ]


def document_contents(
    document: Document, found: Findings, drawn: Drawn, *, units: str, paper: str = "A4"
) -> Contents | None:
    """What report.typ needs for one document; None where it would be empty.

    Parameters
    ----------
    document : Document
        One of `DOCUMENTS`.
    found : Findings
        What it tells.
    drawn : Drawn
        What it shows.
    units : {"metric", "imperial"}
        Units of every length.
    paper : {"A4", "Letter"}
        As the set-out sheets were drawn for.
    """
    pages = document.pages(found, drawn, units)
    return _frame(found.study, document.subject, units, paper) | {"pages": list(pages)} if pages else None


def _client(found: Findings, drawn: Drawn, units: str) -> Sequence[Contents]:
    return client_pages(found, drawn, _change(found), sheets_of_rows(found.study, drawn.sheets), units=units)


def _installer(found: Findings, drawn: Drawn, units: str) -> Sequence[Contents]:
    return installer_pages(found, drawn, units=units)


def _workshop(_found: Findings, drawn: Drawn, _units: str) -> Sequence[Contents]:
    return drawn.making


def _details(found: Findings, drawn: Drawn, units: str) -> Sequence[Contents]:
    study, change = found.study, _change(found)
    sheets_of_row = sheets_of_rows(study, drawn.sheets)
    seats = [
        page
        for seat in heard_seats(study)
        for page in (seat_page(study, seat, drawn.curves, sheets_of_row), tone_page(study, seat, drawn.tones))
        if page["curves"] or page["rows"] or page["after"]
    ]
    return [
        *measured_tables_pages(found.measured, drawn.measured, units),
        *([] if change is None else change_pages(change, drawn.changes)[1:]),
        *surface_pages(study, drawn.pictures, units=units),
        *seats,
        {"kind": "decay"} | decay_chapter(study, found.decays, drawn.decays, before=change, units=units),
        *bass_notes_pages(found.bass, units=units),
        *([] if found.proposal is None else proposal_pages(found.proposal, units=units)),
        {"kind": "appendix"} | appendix(study, units=units, has_bass=found.bass is not None),
    ]


DOCUMENTS = (
    Document("client", "for the client", _client),
    Document("installer", "for the installer", _installer),
    Document("workshop", "for the workshop", _workshop),
    Document("details", "details", _details),
)
"""The documents of a report, in the order in which they are read."""


def _change(found: Findings) -> Change | None:
    """Before and after, where there is something to compare with."""
    if found.comparison is None:
        return None
    return Change(found.comparison, found.decays_before, found.decays)


def _frame(study: Study, subject: str, units: str, paper: str) -> Contents:
    """Title, footer, colours and words that every page shares."""
    title = study.scene.title
    digest = hashlib.sha256(study.scene.text.encode("utf-8")).hexdigest()[:12]
    source = f"{study.scene.file_name}, SHA-256 {digest} · hitspot {version('hitspot')}"
    return {
        "title": title,
        "subject": subject,
        "paper": TYPST_PAPERS[paper],
        "footer": f"{title}, {subject} · {source}",
        "words": WORDS | UNIT_WORDS[units] | {"card_mm": CARD_MM[units]},
    }
