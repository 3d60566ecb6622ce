"""Still pictures of a study, drawn off-screen in a process of their own."""

import json
import os
import pickle
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from raytrace import Study
from viewer import look
from viewer.look import View
from viewer.pictures.labels import Box
from viewer.pictures.pictures import Raster, make_picture
from viewer.pictures.stage import set_stage
from viewer.pictures.surfaceviews import views_of
from viewer.processes import python_path

NO_GL_NOTE = (
    "The pictures are flat drawings, because no graphics library (GL) can be loaded here. On Debian and "
    "Ubuntu two packages bring the shaded ones: libegl1 libgl1-mesa-dri."
)
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
    stills, note = _drawn_by_child(study, folder, size, units, progress)
    if not note:
        return stills
    from viewer.pictures.painter import paint

    # All of them again: a set that is half shaded would look like a mistake.
    flat = _draw(study, folder, size, units, paint)
    return tuple(replace(still, note=note) for still in _reported(flat, views_of(study), progress))


def _draw(study: Study, folder: Path, size: tuple[int, int], units: str, raster: Raster) -> Iterator[Still]:
    """Draw and save one view after the other."""
    stage = set_stage(study)
    for view in views_of(study):
        picture = make_picture(stage, view, size, units=units, raster=raster)
        path = folder / f"{view.name}.png"
        picture.image.save(path, dpi=(look.DPI, look.DPI))
        yield Still(view.name, path, picture.caption, picture.boxes, picture.drawing)


def _reported(stills: Iterator[Still], views: tuple[View, ...], progress: Progress | None) -> Iterator[Still]:
    """The same, each announced before it is begun."""
    for i, view in enumerate(views):
        if progress:
            progress(f"picture: {view.title.lower()}", i / len(views))
        still = next(stills, None)
        if still is None:
            return
        yield still
    if progress:
        progress("pictures done", 1.0)


def _drawn_by_child(
    study: Study, folder: Path, size: tuple[int, int], units: str, progress: Progress | None
) -> tuple[tuple[Still, ...], str]:
    """What a child process drew, and why that is not all, if so."""
    # What the corners of the head zone hear is not shown, and is most of what would be handed over.
    lean = replace(study, arrivals=replace(study.arrivals, at_points=()))
    with tempfile.TemporaryDirectory() as scratch:
        job, errors = Path(scratch) / "job", Path(scratch) / "errors"
        job.write_bytes(pickle.dumps((lean, size, units)))
        with (
            errors.open("wb") as error_file,
            subprocess.Popen(
                _command(job, folder),
                stdout=subprocess.PIPE,
                stderr=error_file,
                env=_environment(),
                text=True,
            ) as child,
        ):
            assert child.stdout is not None
            has_gl = child.stdout.readline().strip() == _GL_FOUND
            lines = (line for line in child.stdout if line.startswith("{"))
            drawn = _reported((_from_json(line) for line in lines), views_of(study), progress)
            stills = tuple(drawn) if has_gl else ()
        last_words = errors.read_text(errors="replace").strip().rpartition("\n")[2]
    if not has_gl:
        return (), NO_GL_NOTE
    if child.returncode == 0:
        return stills, ""
    how = f"signal {-child.returncode}" if child.returncode < 0 else last_words
    return (), f"The pictures are flat drawings, because drawing the shaded ones stopped ({how})."


def _command(job: Path, folder: Path) -> list[str]:
    return [sys.executable, "-m", "viewer.pictures", str(job), str(folder)]


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


def draw_in_child(job: Path, folder: Path) -> int:
    """Draw with shading and say so line by line; whatever goes wrong, the parent draws flat."""
    from viewer.pictures.glrender import can_draw, prefer_off_screen_window, render

    prefer_off_screen_window()
    if not can_draw():
        return 3
    _say(_GL_FOUND)
    study, size, units = pickle.loads(job.read_bytes())
    for still in _draw(study, folder, size, units, render):
        _say(json.dumps(asdict(still), default=str))
    return 0


def _say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()
