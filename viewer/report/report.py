"""The main job: everything a technician sends to a client, in one folder."""

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

from raytrace import (
    Comparison,
    Study,
    Treatment,
    compare,
    covers_to_buy,
    find_decay,
    list_datasheets,
)
from viewer import tables
from viewer.files import Origin, Place, file_stem, moved_into_place
from viewer.paper import Press, usual_paper
from viewer.report.contents import DOCUMENTS, document_contents, sheet_contents
from viewer.report.findings import Besides, Chart, Drawn, Findings
from viewer.report.workshop import datasheet_pages, shopping_page
from viewer.sheets import Sheet, draw_sheets

if TYPE_CHECKING:
    from raytrace import Proposal

Progress = Callable[[str, float], None]

READERS = tuple(document.reader for document in DOCUMENTS)
"""For whom a document can be written."""


@dataclass(frozen=True)
class PrintStyle:
    """How a report is printed.

    Attributes
    ----------
    units : {"metric", "imperial"}
        Of every length in print; the data files stay in metres.
    size : (width, height)
        Of the pictures in pixels.
    with_bass : bool
        Whether it has the chapter on the bass, which takes long in large rooms.
    paper : {"A4", "Letter"} or None
        None for what goes with the units.
    readers : sequence of str
        For whom a document is written, of "client", "installer", "workshop", "details".
    """

    units: str = "metric"
    size: tuple[int, int] = (2400, 1600)
    with_bass: bool = False
    readers: Sequence[str] = READERS
    paper: str | None = None

    @property
    def sheet(self) -> str:
        """What it is printed on."""
        return self.paper or usual_paper(self.units)


def _json(contents: dict[str, Any]) -> str:
    return json.dumps(contents, indent=1, allow_nan=False, ensure_ascii=False) + "\n"


def _proposed(found: Findings) -> str | None:
    return None if found.proposal is None else found.proposal.text


def _bass(found: Findings) -> str | None:
    return None if found.bass is None else _json(tables.bass_json(found.bass))


def _measured(found: Findings) -> str | None:
    return None if found.measured is None else _json(tables.measured_json(found.measured))


def _of_comparison(text: Callable[[Comparison], str]) -> Callable[[Findings], str | None]:
    """A text on before and after, None where there is nothing to compare with."""
    return lambda found: None if found.comparison is None else text(found.comparison)


def _of_treatment(text: Callable[[Treatment], str]) -> Callable[[Findings], str | None]:
    """A text on what is made and hung, None in a room without panels."""
    return lambda found: None if found.treatment is None else text(found.treatment)


REPORT = "report"
"""What a report is called in its record."""
# Names of the files of a report: texts with what they hold, None for no file.
_PAGE = "page.html"
TEXTS: Mapping[str, Callable[[Findings], str | None]] = {
    "proposed.toml": _proposed,
    "arrivals.json": lambda found: _json(tables.arrivals_json(found.study)),
    "arrivals.csv": lambda found: tables.arrivals_csv(found.study),
    "decay.json": lambda found: _json(tables.decay_json(found.study.scene, found.decays)),
    "bass.json": _bass,
    "measured.json": _measured,
    "comparison.json": _of_comparison(lambda comparison: _json(tables.comparison_json(comparison))),
    "comparison.csv": _of_comparison(lambda comparison: tables.comparison_csv(comparison)),
    "cutlist.json": _of_treatment(lambda treatment: _json(tables.making_json(treatment))),
    "cutlist.csv": _of_treatment(lambda treatment: tables.making_csv(treatment)),
}
_SET_OUT = {".pdf": False, ".png": True}  # whether each kind of file of a set-out sheet is a picture
_CHARTS = ".png"
_PICTURES = 0.4  # share of the work, roughly


_NOTHING = Besides()


def write_report(
    study: Study,
    where: str | Path | Place,
    *,
    besides: Besides = _NOTHING,
    style: PrintStyle = PrintStyle(),
    progress: Progress | None = None,
) -> Path:
    """Write a document for each reader, what they are made of, and the page to turn the room into one folder.

    Parameters
    ----------
    study : Study
        A finished run.
    where : path or Place
        The folder. It is written beside and moved there when complete; one that is there already is replaced
        if it is an earlier report of the same scene, as it was written.
    besides : Besides
        What it is compared with, what led to it, what was measured.
    style : PrintStyle
        Units, size of the pictures, and whether it tells of the bass.
    progress : callable, optional
        Called with a text and the share done (0 to 1).

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    OutputRefused
        If something stands there that is not an earlier report, or nothing can be written; nothing is
        touched then.
    """
    bare, proposal = besides.bare, besides.proposal
    origin = Origin.of(REPORT, (study if proposal is None else proposal.before).scene)
    told, told_of_pictures = _told_together(
        progress or (lambda _text, _share: None), 1.0 - _PICTURES, _PICTURES
    )
    # Pictures take as long as all before the documents that is not drawn with them: both go on side by side.
    with moved_into_place(where, origin) as staging, ThreadPoolExecutor(1) as artist:
        told("pictures", 0.0)
        pictures = artist.submit(_draw_pictures, study, bare, staging, style, told_of_pictures)
        found = replace(_find(study, bare, proposal, style, told), measured=besides.measured)
        told("tables", 0.3)
        for name, text in TEXTS.items():
            if (content := text(found)) is not None:
                (staging / name).write_text(content, encoding="utf-8", newline="")
        with Press(staging) as press:
            drawn = _draw(found, pictures, press, staging, style, told)
            asked = [document for document in DOCUMENTS if document.reader in style.readers]
            for i, document in enumerate(asked):
                told(document.file, 0.8 + 0.2 * i / len(asked))
                contents = document_contents(document, found, drawn, units=style.units, paper=style.sheet)
                if contents is not None:
                    press.put(staging / document.file, contents)
        told("documents", 1.0)
    return Place.of(where).path


def _told_together(progress: Progress, *shares: float) -> list[Progress]:
    """Whom each part of a work, a share of the whole, tells how far it is where parts go on side by side."""
    done, lock = [0.0] * len(shares), Lock()

    def teller(part: int) -> Progress:
        def tell(text: str, share: float) -> None:
            with lock:
                done[part] = share * shares[part]
                progress(text, sum(done))

        return tell

    return [teller(part) for part in range(len(shares))]


def _draw_pictures(
    study: Study, bare: Study | None, folder: Path, style: PrintStyle, told: Progress
) -> dict[str, tuple[str, str]]:
    """Path and caption of every still picture by its name."""
    from viewer.pictures import Lettering, draw_stills

    (folder / "stills").mkdir()
    stills = draw_stills(
        study,
        folder / "stills",
        style.size,
        lettering=Lettering(style.units),
        before=bare,
        progress=told,
    )
    return {still.name: (still.path.relative_to(folder).as_posix(), still.caption) for still in stills}


def _find(
    study: Study, bare: Study | None, proposal: "Proposal | None", style: PrintStyle, told: Progress
) -> Findings:
    """What the study leaves to be found: the decay, before and after, what is made and hung, the bass."""
    runs = [run for run in (study, bare) if run is not None]

    def telling(run: int) -> Progress:
        return lambda what, share: told(what, 0.25 * (run + share) / len(runs))

    decays, *decays_before = (
        find_decay(run.scene, run.room, run.arrivals, progress=telling(i)) for i, run in enumerate(runs)
    )
    bass = None
    if style.with_bass:
        from raytrace import find_bass

        scene, room = study.scene, study.room
        bass = find_bass(scene, room, progress=lambda what, share: told(what, 0.25 + 0.05 * share))
    return Findings(
        study,
        decays,
        bare=bare,
        decays_before=decays_before[0] if decays_before else (),
        comparison=None if bare is None else compare(bare, study),
        proposal=proposal,
        treatment=_treatment(study),
        bass=bass,
    )


def _treatment(study: Study) -> Treatment | None:
    """What is to be bought, made and hung; None where that is nothing."""
    if not study.room.panels and not covers_to_buy(study.scene):
        return None
    return Treatment(study.scene, study.room)


def _draw(
    found: Findings,
    pictures: "Future[dict[str, tuple[str, str]]]",
    press: Press,
    folder: Path,
    style: PrintStyle,
    told: Progress,
) -> Drawn:
    """Sheets, charts, the page and the installer's drawings."""
    from viewer.page import write_page

    study, units = found.study, style.units
    told("sheets", 0.32)
    sheets = draw_sheets(study, units=units, paper=style.sheet)
    if sheets and "installer" in style.readers:
        _put_set_out(study, sheets, press, folder, style)
    told("charts", 0.4)
    charts = _draw_charts(found, folder / "curves", units)
    told("making", 0.6)
    making = _draw_making(study, found.treatment, folder, units) if "workshop" in style.readers else []
    told("drawings", 0.65)
    drawings = _draw_panels(study, folder, style) if "installer" in style.readers else []
    stills = pictures.result()
    told(_PAGE, 0.75)  # in the light of the pictures
    before, *after = (study,) if found.bare is None else (found.bare, study)
    write_page(before, folder / _PAGE, *after, units=units, bass=found.bass, measured=found.measured)
    return Drawn(
        sheets,
        stills,
        **{name: _listed(several, folder) for name, several in charts.items()},
        making=making,
        drawings=drawings,
    )


def _draw_charts(found: Findings, folder: Path, units: str) -> dict[str, Sequence[Any]]:
    """Every chart by what it shows, in a new folder."""
    # Each drawer loads what it draws of, so those of what was not asked for are left where they are.
    from viewer import charts
    from viewer.charts import draw_curves, draw_decays, draw_tones

    folder.mkdir()
    study = found.study
    return {
        "curves": draw_curves(study, folder, suffix=_CHARTS),
        "tones": draw_tones(
            study,
            folder,
            before=found.bare,
            below_hz=max(d.schroeder_hz for d in found.decays),
            has_bass=found.bass is not None,
            suffix=_CHARTS,
        ),
        "decays": draw_decays(study, found.decays, folder, suffix=_CHARTS),
        "bass": ()
        if found.bass is None
        else [charts.draw_bass(found.bass, study.scene, study.room, folder / f"bass{_CHARTS}", units=units)],
        "measured": ()
        if found.measured is None
        else charts.draw_all_measured(found.measured, folder, suffix=_CHARTS),
        "changes": ()
        if found.comparison is None
        else charts.draw_changes(found.comparison, folder, suffix=_CHARTS),
    }


def _listed(charts: Iterable[Any], folder: Path) -> list[Chart]:
    return [(c.speaker, c.seat, c.path.relative_to(folder).as_posix(), c.caption) for c in charts]


def _put_set_out(
    study: Study, sheets: Sequence[Sheet], press: Press, folder: Path, style: PrintStyle
) -> None:
    """Set-out sheets, each in a PDF and a picture of its own."""
    (folder / "sheets").mkdir()
    contents = sheet_contents(study, sheets, units=style.units, paper=style.sheet)
    for i, sheet in enumerate(sheets):
        for suffix, is_picture in _SET_OUT.items():
            path = folder / "sheets" / f"{i + 1:02d}-{file_stem(sheet.title)}{suffix}"
            press.put(path, contents | {"pages": [contents["pages"][i]]}, picture=is_picture)


def _draw_panels(study: Study, folder: Path, style: PrintStyle) -> list[dict[str, Any]]:
    """The installer's drawings as files of their own; the same pages for the report, on its own paper."""
    from viewer.sheets import draw_panels, page_contents, write_sheets

    if not study.room.panels:
        return []
    (folder / "drawings").mkdir()
    pages = draw_panels(study.scene, study.room, units=style.units, paper=style.sheet)
    write_sheets(pages, folder / "drawings")
    return page_contents(pages)


def _draw_making(study: Study, treatment: Treatment | None, folder: Path, units: str) -> list[dict[str, Any]]:
    """The charts of the builds; pages on them and on the cut list for the report."""
    from viewer.charts import draw_datasheets

    if treatment is None:
        return []
    page = shopping_page(treatment, units=units)
    if not study.room.panels:
        return [page]
    (folder / "builds").mkdir()
    sheets = list_datasheets(study.scene, study.room)
    charts = draw_datasheets(sheets, folder / "builds", units=units, suffix=_CHARTS)
    paths = [chart.path.relative_to(folder).as_posix() for chart in charts]
    return [page, *datasheet_pages(sheets, paths, units=units)]
