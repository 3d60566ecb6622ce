"""The main job: everything a technician sends to a client, in one folder."""

import json
import re
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from raytrace import Comparison, Proposal, Study, compare, find_decay, list_datasheets
from viewer.files import Kind, moved_into_place
from viewer.paper import typeset
from viewer.report.contents import Chart, report_contents, sheet_contents
from viewer.report.making import datasheet_pages, making_pages
from viewer.report.proposal import proposal_pages
from viewer.sheets import Sheet, draw_sheets
from viewer.tables import (
    arrivals_csv,
    arrivals_json,
    comparison_csv,
    comparison_json,
    decay_json,
    make_worklist,
    making_csv,
    making_json,
)

Progress = Callable[[str, float], None]

_OURS = re.compile(
    r"report\.pdf|page\.html|proposed\.toml|(arrivals|comparison|cutlist)\.(csv|json)|decay\.json"
    r"|stills/(room|plan|section|surface-[a-z0-9-]+)\.png"
    r"|curves/[\w-]+\.(svg|png)|builds/[\w-]+\.png|sheets/\d\d-[\w-]+\.(pdf|png)"
    r"|drawings/\d\d-[\w-]+\.(svg|dxf)"
)
_FOLDER = Kind("report", "report.pdf", _OURS)


def write_report(
    study: Study,
    folder: str | Path,
    *,
    bare: Study | None = None,
    proposal: Proposal | None = None,
    units: str = "metric",
    size: tuple[int, int] = (2400, 1600),
    progress: Progress | None = None,
) -> Path:
    """Write report.pdf, what it is made of, and the page to turn the room into one folder.

    Parameters
    ----------
    study : Study
        A finished run.
    folder : path
        Where to. It is written beside and moved there when complete; a folder that is there already is
        replaced if it is an earlier report and nothing else.
    bare : Study, optional
        Of the same scene without its panels: what the report compares it with, before and after.
    proposal : Proposal, optional
        What led to the study, told in a chapter of its own; its scene file is written too.
    units : {"metric", "imperial"}
        Of every length in print; the data files stay in metres.
    size : (width, height)
        Of the pictures in pixels.
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
    folder = Path(folder)
    with moved_into_place(folder, _FOLDER) as staging:
        _write_all(
            study,
            bare,
            proposal,
            staging,
            units=units,
            size=size,
            progress=progress or (lambda _text, _share: None),
        )
    return folder


def _write_all(
    study: Study,
    bare: Study | None,
    proposal: Proposal | None,
    folder: Path,
    *,
    units: str,
    size: tuple[int, int],
    progress: Progress,
) -> None:
    from viewer.charts import draw_changes, draw_curves, draw_decays, draw_tones
    from viewer.page import write_page
    from viewer.pictures import draw_stills

    for name in ("stills", "curves", "sheets"):
        (folder / name).mkdir()
    progress("tables", 0.0)
    if proposal is not None:
        (folder / "proposed.toml").write_text(proposal.text, encoding="utf-8", newline="")
    _write_json(arrivals_json(study), folder / "arrivals.json")
    (folder / "arrivals.csv").write_text(arrivals_csv(study), encoding="utf-8")
    stills = draw_stills(
        study,
        folder / "stills",
        size,
        units=units,
        progress=lambda what, share: progress(what, 0.02 + 0.5 * share),
    )
    runs = [run for run in (study, bare) if run is not None]
    decays, *decays_before = (
        find_decay(
            run.scene,
            run.room,
            run.arrivals,
            progress=lambda what, share, i=i: progress(what, 0.52 + 0.18 * (i + share) / len(runs)),
        )
        for i, run in enumerate(runs)
    )
    _write_json(decay_json(study.scene, decays), folder / "decay.json")
    progress("charts", 0.7)
    curves = draw_curves(study, folder / "curves")
    tones = draw_tones(study, folder / "curves", before=bare)
    decay_charts = draw_decays(study, decays, folder / "curves")
    comparison = None if bare is None else compare(bare, study)
    changes = () if comparison is None else draw_changes(comparison, folder / "curves")
    if comparison is not None:
        _write_comparison(comparison, folder)
    sheets = draw_sheets(study, units=units)
    for i, sheet in enumerate(sheets):
        progress(f"sheet: {sheet.title.lower()}", 0.8 + 0.1 * i / len(sheets))
        _write_sheet(sheet_contents(study, sheets, units=units), i, sheet, folder)
    progress("page.html", 0.9)
    before, *after = (study,) if bare is None else (bare, study)
    write_page(before, folder / "page.html", *after, units=units)
    progress("making", 0.91)
    making = _write_making(study, folder, units) if study.room.panels else []
    progress("drawings", 0.915)
    drawings = _write_drawings(study, folder, units) if study.room.panels else []
    progress("report.pdf", 0.92)
    contents = report_contents(
        study,
        sheets,
        pictures={s.name: (s.path.relative_to(folder).as_posix(), _caption(s)) for s in stills},
        curves=_listed(curves, folder),
        tones=_listed(tones, folder),
        decays=decays,
        decays_before=decays_before[0] if decays_before else (),
        decay_charts=_listed(decay_charts, folder),
        comparison=comparison,
        changes=_listed(changes, folder),
        proposed=[] if proposal is None else proposal_pages(proposal, units=units),
        making=making,
        drawings=drawings,
        units=units,
    )
    (folder / "report.pdf").write_bytes(typeset(contents, folder))
    progress("report.pdf", 1.0)


def _write_comparison(comparison: Comparison, folder: Path) -> None:
    _write_json(comparison_json(comparison), folder / "comparison.json")
    (folder / "comparison.csv").write_text(comparison_csv(comparison), encoding="utf-8")


def _listed(charts: Iterable[Any], folder: Path) -> list[Chart]:
    return [(c.speaker, c.seat, c.path.relative_to(folder).as_posix(), c.caption) for c in charts]


def _write_json(contents: dict[str, Any], path: Path) -> None:
    text = json.dumps(contents, indent=1, allow_nan=False, ensure_ascii=False)
    path.write_text(text + "\n", encoding="utf-8")


def _write_drawings(study: Study, folder: Path, units: str) -> list[dict[str, Any]]:
    """The installer's drawings as SVG and DXF; the same pages for the report, on its own paper."""
    from viewer.sheets import draw_panels, page_contents, write_sheets

    (folder / "drawings").mkdir()
    pages = draw_panels(study.scene, study.room, units=units, paper="A4")
    write_sheets(pages, folder / "drawings")
    return page_contents(pages)


def _write_making(study: Study, folder: Path, units: str) -> list[dict[str, Any]]:
    """The cut list as tables, the charts of the builds; pages on both for the report."""
    from viewer.charts import draw_datasheets

    (folder / "builds").mkdir()
    worklist = make_worklist(study.scene, study.room)
    _write_json(making_json(worklist), folder / "cutlist.json")
    (folder / "cutlist.csv").write_text(making_csv(worklist.making), encoding="utf-8")
    sheets = list_datasheets(study.scene, study.room)
    charts = draw_datasheets(sheets, folder / "builds", units=units)
    paths = [chart.path.relative_to(folder).as_posix() for chart in charts]
    return [*making_pages(worklist, units=units), *datasheet_pages(sheets, paths, units=units)]


def _caption(still: Any) -> str:
    return f"{still.caption} {still.note}".strip()


def _write_sheet(contents: dict[str, Any], index: int, sheet: Sheet, folder: Path) -> None:
    """One sheet as PDF and as picture."""
    contents = contents | {"sheets": [contents["sheets"][index]]}
    slug = re.sub(r"[^a-z0-9]+", "-", sheet.title.lower()).strip("-") or "sheet"
    stem = folder / "sheets" / f"{index + 1:02d}-{slug}"
    stem.with_suffix(".pdf").write_bytes(typeset(contents, folder))
    stem.with_suffix(".png").write_bytes(typeset(contents, folder, picture=True))
