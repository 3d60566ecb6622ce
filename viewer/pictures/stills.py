"""Still pictures of a study, drawn off-screen in a process of their own."""

import json
import os
import pickle
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from raytrace import Study
from viewer import look
from viewer.files import Origin, Place, moved_into_place
from viewer.look import View
from viewer.pictures.labels import Box
from viewer.pictures.pictures import Raster, make_picture
from viewer.pictures.shells import Shell, make_shell_picture
from viewer.pictures.stage import set_stage
from viewer.pictures.surfaceviews import views_of
from viewer.processes import python_path

NO_GL_NOTE = (
    "The pictures are flat drawings, because no graphics library (GL) can be loaded here. On Debian and "
    "Ubuntu two packages bring the shaded ones: libegl1 libgl1-mesa-dri."
)
STILLS = "set of pictures"
"""What pictures are called in their record."""
_GL_FOUND = "gl found"
Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Still:
    """One picture on disk.

    Attributes
    ----------
    name : str
        "room", "plan", "section", or "surface-" and the name of a treated surface.
    path : Path
        The PNG file.
    caption : str
        What to see in it, in client words.
    boxes : tuple of Box
        Every text in it. [px]
    drawing : Box
        The part that holds the room. [px]
    note : str
        Why it is a flat drawing; empty where it is shaded.
    """

    name: str
    path: Path
    caption: str
    boxes: tuple[Box, ...]
    drawing: Box
    note: str = ""


@dataclass(frozen=True)
class Job:
    """Pictures to draw: views of a study, or shells in its room, at a size in pixels and in some units."""

    study: Study
    shown: tuple[View, ...] | tuple[Shell, ...]
    size: tuple[int, int]
    units: str


def draw_stills(
    study: Study,
    folder: str | Path,
    size: tuple[int, int] = look.REFERENCE_SIZE,
    *,
    units: str = "metric",
    progress: Progress | None = None,
) -> tuple[Still, ...]:
    """The whole room, the plan, the side view and each treated surface as PNG files.

    Parameters
    ----------
    study : Study
        What to show; the pictures are about its first seat.
    folder : path
        Where to; must exist.
    size : (width, height)
        In pixels.
    units : str
        "metric" or "imperial", for what is written in the pictures.
    progress : callable, optional
        Called with a text and the share done (0 to 1).

    Returns
    -------
    tuple of Still
        Shaded where a GL library can be loaded, else flat drawings of the same views whose `note` says so.
    """
    folder = Path(folder)
    return _drawn(Job(study, views_of(study), size, units), folder, progress)


def draw_shells(
    study: Study, shells: Sequence[Shell], folder: str | Path, *, units: str = "metric"
) -> tuple[Still, ...]:
    """Where reflections that nothing drawn explains can have come over, a PNG file for each.

    Parameters
    ----------
    study : Study
        Of which only scene, room and arrivals are looked at.
    shells : sequence of Shell
    folder, units
        As in `draw_stills`.
    """
    return _drawn(Job(study, tuple(shells), look.REFERENCE_SIZE, units), Path(folder), None)


def _drawn(job: Job, folder: Path, progress: Progress | None) -> tuple[Still, ...]:
    stills, note = _drawn_by_child(job, folder, progress)
    if not note:
        return stills
    from viewer.pictures.painter import paint

    # All of them again: a set that is half shaded would look like a mistake.
    flat = _draw(job, folder, paint)
    return tuple(replace(still, note=note) for still in _reported(flat, job, progress))


def write_stills(
    study: Study,
    where: str | Path | Place,
    size: tuple[int, int] = look.REFERENCE_SIZE,
    *,
    units: str = "metric",
    progress: Progress | None = None,
    draw_more: Callable[[Path], None] = lambda _folder: None,
) -> tuple[Still, ...]:
    """The same as `draw_stills` as a folder of its own, complete or not at all.

    Parameters
    ----------
    study, size, units, progress
        As in `draw_stills`.
    where : path or Place
        The folder. It is written beside and moved there when complete; one that is there already is replaced
        if it holds earlier pictures of the same scene, as they were written.
    draw_more : callable
        Puts further files into the folder before it is moved.

    Returns
    -------
    tuple of Still

    Raises
    ------
    OutputRefused
        If something else stands there, or nothing can be written; nothing is touched then.
    """
    with moved_into_place(where, Origin.of(STILLS, study.scene)) as staging:
        stills = draw_stills(study, staging, size, units=units, progress=progress)
        draw_more(staging)
    return tuple(replace(still, path=Place.of(where).path / still.path.name) for still in stills)


def _draw(job: Job, folder: Path, raster: Raster) -> Iterator[Still]:
    """Draw and save one picture after the other."""
    stage = set_stage(job.study)
    for shown in job.shown:
        if isinstance(shown, Shell):
            picture = make_shell_picture(stage, shown, job.size, raster=raster)
        else:
            picture = make_picture(stage, shown, job.size, units=job.units, raster=raster)
        path = folder / f"{shown.name}.png"
        picture.image.save(path, dpi=(look.DPI, look.DPI))
        yield Still(shown.name, path, picture.caption, picture.boxes, picture.drawing)


def _reported(stills: Iterator[Still], job: Job, progress: Progress | None) -> Iterator[Still]:
    """The same, each announced before it is begun."""
    for i, shown in enumerate(job.shown):
        if progress:
            progress(f"picture: {shown.title.lower()}", i / len(job.shown))
        still = next(stills, None)
        if still is None:
            return
        yield still
    if progress:
        progress("pictures done", 1.0)


def _drawn_by_child(job: Job, folder: Path, progress: Progress | None) -> tuple[tuple[Still, ...], str]:
    """What a child process drew, and why that is not all, if so."""
    # What the corners of the head zone hear is not shown, and is most of what would be handed over.
    study = replace(job.study, arrivals=replace(job.study.arrivals, at_points=()))
    # Files without names: whatever ends this process, nothing of them is left.
    with tempfile.TemporaryFile() as handed, tempfile.TemporaryFile() as errors:
        pickle.dump(replace(job, study=study), handed)
        handed.seek(0)
        with subprocess.Popen(
            _command(folder),
            stdin=handed,
            stdout=subprocess.PIPE,
            stderr=errors,
            env=_environment(),
            text=True,
            encoding="utf-8",
        ) as child:
            try:
                assert child.stdout is not None
                has_gl = child.stdout.readline().strip() == _GL_FOUND
                lines = (line for line in child.stdout if line.startswith("{"))
                drawn = _reported((_from_json(line) for line in lines), job, progress)
                stills = tuple(drawn) if has_gl else ()
            except BaseException:
                child.kill()
                raise
        errors.seek(0)
        last_words = errors.read().decode(errors="replace").strip().rpartition("\n")[2]
    if not has_gl:
        return (), NO_GL_NOTE
    if child.returncode == 0:
        return stills, ""
    how = f"signal {-child.returncode}" if child.returncode < 0 else last_words
    return (), f"The pictures are flat drawings, because drawing the shaded ones stopped ({how})."


def _command(folder: Path) -> list[str]:
    return [sys.executable, "-m", "viewer.pictures", str(folder)]


def _environment() -> dict[str, str]:
    """The parent's, so that the child finds the same packages from any working folder."""
    return {**os.environ, "PYTHONPATH": python_path()}


def _from_json(line: str) -> Still:
    still = json.loads(line)
    return Still(
        still["name"],
        Path(still["path"]),
        still["caption"],
        tuple(Box(**box) for box in still["boxes"]),
        Box(**still["drawing"]),
    )


def draw_in_child(folder: Path) -> int:
    """Draw the job on standard input and say so line by line; if that fails, the parent draws flat."""
    from viewer.pictures.glrender import can_draw, prefer_off_screen_window, render

    prefer_off_screen_window()
    if not can_draw():
        return 3
    _say(_GL_FOUND)
    for still in _draw(pickle.load(sys.stdin.buffer), folder, render):
        _say(json.dumps(asdict(still), default=str))
    return 0


def _say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()
