"""Commands that write what a client gets: the report, the page, the pictures."""

import re
from pathlib import Path

from viewer.cli.commandline import (
    NO_LISTS,
    USUAL_EXTENT,
    Extent,
    Flag,
    Lists,
    Mistake,
    Order,
    SceneFile,
    Units,
    console,
    mistakes,
    other_scene,
    read_scene,
    showing_progress,
    study_of,
)

# Drawn at twice the size, several layers deep: some gigabytes of memory at 64 million (8000x8000).
MOST_PIXELS = 24_000_000


def report(
    scene: SceneFile,
    *,
    out: Path | None = None,
    propose: Flag = False,
    lists: Lists = NO_LISTS,
    extent: Extent = USUAL_EXTENT,
    size: str = "2400x1600",
    units: Units = "metric",
) -> None:
    """Do the main job: pictures, curves, set-out sheets, tables, page and the PDF into one folder.

    Parameters
    ----------
    out
        Folder to write; the default is the scene's name with "-report" in the current folder.
    propose
        Propose panels first, report on the room with them, and put the new scene into the folder.
    size
        Width x height of the pictures.
    units
        Units of what is printed.
    """
    from viewer.files import OutputRefused
    from viewer.report import PrintStyle, write_report

    pixels = _size(size)
    folder = out or Path(f"{scene.stem}-report")
    read = lists.added_to(read_scene(scene))
    extent.check(read)
    proposal = None
    if propose:
        from raytrace import propose as find_proposal

        with mistakes(), showing_progress() as progress:
            target = folder / "proposed.toml"
            proposal = find_proposal(read, out=target, **extent.options, progress=progress)
    # Before and after are run to the same extent, whatever the proof needed.
    study = study_of(read if proposal is None else proposal.after.scene, extent)
    without = study.scene.without_panels()
    bare = None if study.scene.is_bare else study_of(without, extent)
    with mistakes(OutputRefused), showing_progress() as progress:
        style = PrintStyle(units, pixels)
        written = write_report(study, folder, bare=bare, proposal=proposal, style=style, progress=progress)
    console().print(
        f"Written: {written}{'' if str(written).endswith('/') else '/'}report.pdf, what it is made of, and "
        "page.html, the room to turn in a browser",
        soft_wrap=True,
    )


def page(
    scene: SceneFile,
    *,
    against: str | None = None,
    out: Path | None = None,
    extent: Extent = USUAL_EXTENT,
    units: Units = "metric",
) -> None:
    """Write the room as one file that opens in any browser, offline: turn it, point at a path, read it.

    Parameters
    ----------
    against
        What came before, to switch to and fro: OTHER.toml, or "bare" for the scene itself without its
        panels, which is the default where it holds any.
    out
        HTML file to write; the default is the scene's name with ".html" in the current folder.
    units
        Units of what is written on the page.
    """
    from viewer.page import PageRefused, write_page

    read = read_scene(scene)
    against = against or (None if read.is_bare else "bare")
    scenes = [read] if against is None else [other_scene(scene, read, against), read]
    studies = [study_of(each, extent) for each in scenes]
    with mistakes(PageRefused):
        written = write_page(studies[0], out or Path(f"{scene.stem}.html"), *studies[1:], units=units)
    console().print(f"Written: {written}", soft_wrap=True)


def stills(
    scene: SceneFile,
    *,
    out: Path | None = None,
    size: str = "2400x1600",
    order: Order = None,
    units: Units = "metric",
) -> None:
    """Draw the named pictures: the whole room, the plan, the side section.

    Parameters
    ----------
    out
        Folder to write; the default is the scene's name with "-stills" in the current folder.
    size
        Width x height in pixels.
    units
        Units of what is written in the pictures.
    """
    from viewer.pictures import draw_stills

    pixels = _size(size)
    folder = out or Path(f"{scene.stem}-stills")
    study = study_of(read_scene(scene), Extent(order))
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise Mistake(f"{folder} cannot be made a folder: {problem.strerror}") from None
    with showing_progress() as progress:
        pictures = draw_stills(study, folder, size=pixels, units=units, progress=progress)
    for picture in pictures:
        console().print(f"{picture.path}: {picture.caption}")
    for note in dict.fromkeys(picture.note for picture in pictures if picture.note):
        console().print(f"Note: {note}")


def _size(text: str) -> tuple[int, int]:
    """Width and height of a picture from "2400x1600"."""
    width, cross, height = text.lower().partition("x")
    if not (cross and re.fullmatch(r"[0-9]{1,9}", width) and re.fullmatch(r"[0-9]{1,9}", height)):
        raise Mistake(f'--size "{text[:20]}" is not a size; accepted for example 2400x1600')
    size = int(width), int(height)
    if not all(300 <= side <= 8000 for side in size):
        raise Mistake(f"--size {text}: each side must lie between 300 and 8000")
    if size[0] * size[1] > MOST_PIXELS:
        smaller = (MOST_PIXELS / (size[0] * size[1])) ** 0.5
        fits = "x".join(str(int(side * smaller)) for side in size)
        raise Mistake(
            f"--size {text}: {size[0] * size[1] / 1e6:.1f} million pixels; accepted: up to "
            f"{MOST_PIXELS / 1e6:g} million, the most that fits: {fits}"
        )
    return size
