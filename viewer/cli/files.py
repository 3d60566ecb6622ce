"""Commands that write what a client gets: the report, the page, the pictures."""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from viewer.cli.commandline import (
    BESIDE,
    NO_LISTS,
    USUAL_EXTENT,
    Extent,
    Flag,
    Hidden,
    Lists,
    Mistake,
    Order,
    Output,
    SceneFile,
    Units,
    mistakes,
    other_scene,
    read_scene,
    showing_progress,
    study_of,
    units_of,
)
from viewer.cli.measured import NO_FILES, NO_SOUNDS, Files, Sounds, measured_beside
from viewer.cli.panels import ANY_PANELS, Wish
from viewer.cli.printing import say

if TYPE_CHECKING:
    from raytrace import Bass, Proposal, Scene, Study

# Drawn at twice the size, several layers deep: some gigabytes of memory at 64 million (8000x8000).
MOST_PIXELS = 24_000_000

Reader = Literal["client", "installer", "workshop", "details"]
Readers = Annotated[list[Reader] | None, Parameter(name="--for", negative="")]


@Parameter(name="*")
@dataclass(frozen=True)
class Print:
    """How pictures and words are printed.

    Parameters
    ----------
    size
        Width x height of the pictures in pixels.
    """

    size: str = "2400x1600"
    units: Units = None

    @property
    def pixels(self) -> tuple[int, int]:
        """Width and height of a picture from "2400x1600"."""
        text = self.size
        width, cross, height = text.lower().partition("x")
        if not (cross and re.fullmatch(r"[0-9]{1,9}", width) and re.fullmatch(r"[0-9]{1,9}", height)):
            raise Mistake(f'--size "{text[:20]}" is not a size; accepted for example 2400x1600')
        size = int(width), int(height)
        if not all(300 <= side <= 8000 for side in size):
            raise Mistake(f"--size {text}: each side must lie between 300 and 8000")
        if max(size) > 3 * min(size):
            raise Mistake(f"--size {text}: one side may be three times as long as the other at most")
        if size[0] * size[1] > MOST_PIXELS:
            smaller = (MOST_PIXELS / (size[0] * size[1])) ** 0.5
            fits = "x".join(str(int(side * smaller)) for side in size)
            raise Mistake(
                f"--size {text}: {size[0] * size[1] / 1e6:.1f} million pixels; accepted: up to "
                f"{MOST_PIXELS / 1e6:g} million, the most that fits: {fits}"
            )
        return size


_USUAL_PRINT = Print()


def report(
    scene: SceneFile,
    *,
    to: Output = BESIDE,
    propose: Flag = False,
    bass: Flag = False,
    readers: Readers = None,
    wish: Wish = ANY_PANELS,
    lists: Lists = NO_LISTS,
    extent: Extent = USUAL_EXTENT,
    style: Print = _USUAL_PRINT,
    files: Files = NO_FILES,
    text: Hidden = None,
) -> None:
    """Do the main job: documents for client, installer and workshop, pictures, sheets, tables and page.

    Parameters
    ----------
    propose
        Propose panels first, report on the room with them, and put the new scene into the folder.
    bass
        A chapter on the bass too: how even it is, where a subwoofer is best. Takes long in large rooms.
    readers
        Write one document only: client, installer, workshop or details. May be given more than once;
        without it all are written.
    text
        File that holds the scene as it stands in a window, while it is edited.
    """
    from viewer.files import Origin, OutputRefused, check_folder
    from viewer.paper import typeface_note
    from viewer.report import READERS, REPORT, Besides, PrintStyle, write_report
    from viewer.words import listed

    pixels = style.pixels
    place = to.place(f"{scene.stem}-report")
    read = lists.added_to(read_scene(scene, text))
    extent.check(read)
    with mistakes(OutputRefused):
        check_folder(place, Origin.of(REPORT, read))
    if bass:
        _check_bass(read)
    wish.check()
    if wish != ANY_PANELS and not propose:
        raise Mistake(
            "--panels, --budget, --spend, --build, --seat, --margin, --singles, --moves and --panels-only go "
            "with --propose"
        )
    measured = measured_beside(scene, read, files, extent)
    proposal = _proposed(read, wish, extent, place.path / "proposed.toml") if propose else None
    study, bare = _after_and_before(read, proposal, extent)
    with mistakes(OutputRefused), showing_progress() as progress:
        printed = PrintStyle(
            units_of(read, style.units),
            pixels,
            with_bass=bass,
            readers=readers or READERS,
            paper=read.job.paper,
        )
        besides = Besides(bare, proposal, measured)
        written = write_report(study, place, besides=besides, style=printed, progress=progress)
    documents = listed([name for reader in READERS if (written / (name := f"{reader}.pdf")).is_file()])
    say(
        f"Written: {documents} in {written}, what they are made of, and page.html, the room to turn in a "
        "browser"
    )
    if note := typeface_note(read):
        say(f"Note: {note}")


def _proposed(read: "Scene", wish: Wish, extent: Extent, target: Path) -> "Proposal":
    from raytrace import propose as find_proposal

    with mistakes(ValueError), showing_progress("looking for panels") as progress:
        return find_proposal(read, wish.asked(read), out=target, **extent.options, progress=progress)


def _after_and_before(
    read: "Scene", proposal: "Proposal | None", extent: Extent
) -> tuple["Study", "Study | None"]:
    """What is reported on and what it is compared with, both to the same extent, whatever a proof needed."""
    study = study_of(read if proposal is None else proposal.after.scene, extent)
    if proposal is not None and (proposal.moved or any(cover.is_proposed for cover in proposal.covers)):
        return study, study_of(read, extent)  # what comes before is the room as it is today
    return study, None if study.scene.is_bare else study_of(study.scene.without_panels(), extent)


def _check_bass(scene: "Scene") -> None:
    """Refuse a room too large for the chapter on the bass before anything is run."""
    from raytrace import build_room, check_bass

    with mistakes():
        check_bass(scene, build_room(scene))


def _found_bass(study: "Study") -> "Bass":
    from raytrace import find_bass

    with mistakes(), showing_progress() as progress:
        return find_bass(study.scene, study.room, progress=progress)


def page(
    scene: SceneFile,
    *,
    against: str | None = None,
    to: Output = BESIDE,
    extent: Extent = USUAL_EXTENT,
    bass: Flag = False,
    files: Sounds = NO_SOUNDS,
    units: Units = None,
    text: Hidden = None,
) -> None:
    """Write the room as one file that opens in any browser, offline: turn it, point at a path, read it.

    Parameters
    ----------
    against
        What came before, to switch to and fro and to hold an earlier measurement against: OTHER.toml, or
        "bare" for the scene itself without its panels, which is the default where it holds any.
    bass
        How even the bass is with a subwoofer at each place of the floor, and the curve at the seat now and
        from the best place. Takes long in large rooms.
    text
        File that holds the scene as it stands in a window, while it is edited.
    """
    from viewer.files import Origin, OutputRefused
    from viewer.page import PAGE, check_page, write_page

    read = read_scene(scene, text)
    place = to.place(f"{scene.stem}.html")
    with mistakes(OutputRefused):
        check_page(place, Origin.of(PAGE, read))
    if bass:
        _check_bass(read)
    heard = Files(files.measured, files.after, files.sweep, against if files.after else None)
    measured = measured_beside(scene, read, heard, extent)
    against = against or (None if read.is_bare else "bare")
    scenes = [read] if against is None else [other_scene(scene, read, against), read]
    studies = [study_of(each, extent) for each in scenes]
    found = _found_bass(studies[-1]) if bass else None
    with mistakes(OutputRefused):
        written = write_page(
            studies[0], place, *studies[1:], units=units_of(read, units), bass=found, measured=measured
        )
    say(f"Written: {written}")


def stills(
    scene: SceneFile,
    *,
    to: Output = BESIDE,
    order: Order = None,
    bass: Flag = False,
    plate: Literal["words", "plain", "clear"] = "words",
    style: Print = _USUAL_PRINT,
) -> None:
    """Draw the named pictures: the whole room, the plan, the side section; with panels, before and after.

    Parameters
    ----------
    plate
        What is around the room: words, nothing on white (plain), or nothing on clear ground (clear), for a
        website.
    bass
        A chart of the bass too, bass.png: the map of the floor, and the curve now and from the best place.
    """
    from viewer.files import Origin, OutputRefused, check_folder
    from viewer.paper import typeface_note
    from viewer.pictures import STILLS, Lettering, write_stills

    pixels = style.pixels
    place = to.place(f"{scene.stem}-stills")
    read = read_scene(scene)
    with mistakes(OutputRefused):
        check_folder(place, Origin.of(STILLS, read))
    if bass:
        _check_bass(read)
    study = study_of(read, Extent(order))
    before = None if read.is_bare else study_of(read.without_panels(), Extent(order))
    found = _found_bass(study) if bass else None
    told: list[str] = []

    def draw_more(folder: Path) -> None:
        if found is not None:
            from viewer.charts import draw_bass

            shown = units_of(read, style.units)
            chart = draw_bass(found, read, study.room, folder / "bass.png", units=shown)
            told.append(f"{place.path / chart.path.name}: {chart.caption}")

    with mistakes(OutputRefused), showing_progress() as progress:
        pictures = write_stills(
            study,
            place,
            size=pixels,
            lettering=Lettering(units_of(read, style.units), plate),
            before=before,
            progress=progress,
            draw_more=draw_more,
        )
    for line in [*(f"{picture.path}: {picture.caption}" for picture in pictures), *told]:
        say(line)
    for note in filter(None, [typeface_note(read)]):
        say(f"Note: {note}")
