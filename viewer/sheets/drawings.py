"""Installer's drawings of a scene with panels: sheets to scale as PDF, SVG and DXF."""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from raytrace import Room, Scene, Treatment
from viewer.files import Origin, Place, moved_into_place
from viewer.paper import papers_beside, typeset, usual_paper
from viewer.sheets.dxffile import dxf_text
from viewer.sheets.panelsheet import Page, draw_pages, numbered
from viewer.sheets.svgfile import svg_text
from viewer.sheets.treatedview import find_views

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class SheetFormat:
    """A kind of file that sheets are written as: one file a sheet.

    Attributes
    ----------
    name : str
        As a person says it; in small letters what the files end in.
    text : callable
        What such a file holds of a page.
    holds_lists : bool
        Whether pages without a drawing are written too.
    """

    name: str
    text: Callable[[Page], str]
    holds_lists: bool

    @property
    def suffix(self) -> str:
        """What its files end in."""
        return f".{self.name.lower()}"


FORMATS = (SheetFormat("SVG", svg_text, holds_lists=True), SheetFormat("DXF", dxf_text, holds_lists=False))
DRAWINGS = "set of drawings"
"""What drawings are called in their record."""
_PDF = "drawings.pdf"


def draw_panels(
    scene: Scene, room: Room, *, units: str = "metric", paper: str | None = None
) -> tuple[Page, ...]:
    """Sheets of everything that is hung or stood in a room.

    Parameters
    ----------
    scene, room : Scene, Room
    units : {"metric", "imperial"}
        Of the figures.
    paper : {"A4", "A3", "Letter", "Tabloid"} or None
        None for what the scene or else the units ask for, in the size that serves each drawing best.

    Returns
    -------
    tuple of Page
        Ceiling plan, treated faces in the room's order, floor plan; none where the scene has no panels.
    """
    treatment = Treatment(scene, room)
    papers = papers_beside(scene.job.paper or usual_paper(units)) if paper is None else (paper,)
    views = find_views(treatment)
    pages = [page for view in views for page in draw_pages(treatment, view, units=units, papers=papers)]
    return numbered(treatment, pages, units)


def write_drawings(
    scene: Scene,
    room: Room,
    where: str | Path | Place,
    *,
    units: str = "metric",
    paper: str | None = None,
    progress: Progress | None = None,
) -> tuple[Page, ...]:
    """Write drawings.pdf, and every sheet in all `FORMATS`, into one folder.

    Parameters
    ----------
    scene, room : Scene, Room
        With at least one panel.
    where : path or Place
        The folder. It is written beside and moved there when complete; one that is there already is replaced
        if it is an earlier set of drawings of the same scene, as it was written.
    units, paper
        As in `draw_panels`.
    progress : callable, optional
        Called with a text and the share done (0 to 1).

    Returns
    -------
    tuple of Page

    Raises
    ------
    OutputRefused
        If something stands there that is not an earlier set of drawings, or nothing can be written.
    ValueError
        If the scene has no panels.
    """
    if not room.panels:
        raise ValueError("there is nothing to draw: the scene has no panels")
    told = progress or (lambda _text, _share: None)
    with moved_into_place(where, Origin.of(DRAWINGS, scene)) as staging:
        told("drawing", 0.0)
        pages = draw_panels(scene, room, units=units, paper=paper)
        write_sheets(pages, staging, progress=lambda text, share: told(text, 0.2 + 0.4 * share))
        told(_PDF, 0.6)
        contents = drawing_contents(scene, pages)
        (staging / _PDF).write_bytes(typeset(contents, staging))
        told(_PDF, 1.0)
    return pages


def panel_picture(scene: Scene, room: Room, panel: int, *, units: str = "metric") -> list[tuple[str, bytes]]:
    """The sheets that one panel is on, with its side section: what each shows, and it as a PNG.

    Raises
    ------
    SceneError
        For a stand that would not stand as it is given.
    """
    treatment = Treatment(scene, room)
    papers = papers_beside(scene.job.paper or usual_paper(units))
    views = [view for view in find_views(treatment) if panel in view.listed]
    pages = [page for view in views for page in draw_pages(treatment, view, units=units, papers=papers)]
    with TemporaryDirectory() as folder:
        return [
            (page.title, typeset(drawing_contents(scene, [page]), Path(folder), picture=True))
            for page in numbered(treatment, pages, units)
        ]


def write_sheets(pages: Sequence[Page], folder: Path, *, progress: Progress | None = None) -> None:
    """Every page in every format that holds it, into a folder."""
    for i, page in enumerate(pages):
        if progress is not None:
            progress(page.name, i / len(pages))
        for form in FORMATS:
            if page.scale is not None or form.holds_lists:
                path = folder / f"{page.name}{form.suffix}"
                path.write_text(form.text(page), encoding="utf-8", newline="\n")


def drawing_contents(scene: Scene, pages: Sequence[Page]) -> dict[str, Any]:
    """What report.typ needs for the drawings alone."""
    return {
        "title": scene.title,
        "subject": "drawings",
        "footer": "",
        "paper": "a4",
        "words": {"jottings": ""},
        "pages": page_contents(pages),
    }


def page_contents(pages: Sequence[Page]) -> list[dict[str, Any]]:
    """Pages as plain data."""
    return [
        {
            "kind": "drawing",
            "title": page.title,
            "subject": page.subject,
            "size_mm": page.size_mm,
            "marks": [asdict(mark) for mark in page.marks],
        }
        for page in pages
    ]
