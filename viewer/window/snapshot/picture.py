"""The window's view as a picture in report quality, drawn in a process of its own."""

import pickle
import subprocess
import sys
import tempfile
from dataclasses import fields, replace
from pathlib import Path

from raytrace import Arrivals
from viewer import look
from viewer.pictures import Raster, set_stage
from viewer.window.snapshot.plate import make_view
from viewer.window.state import OnScreen

NO_GL_WORDS = (
    "It is a flat drawing, because no graphics library (GL) can be loaded; on Debian and Ubuntu "
    "libegl1 and libgl1-mesa-dri bring the shaded one."
)
_SHADED = "--shaded"


def keep_job(shown: OnScreen, window_px: tuple[int, int], *, is_before: bool = False) -> Path:
    """Keep what is needed to draw a view in a file for `draw_job`.

    Parameters
    ----------
    shown : OnScreen
    window_px : (width, height)
        Of the window's room. [px]
    is_before : bool
        Whether it is the room as its file had it.
    """
    # What the corners of the head zone hear is not shown, and is most of what would be handed over.
    near = shown.study.arrivals.near_misses
    arrivals = replace(_lean(shown.study.arrivals), near_misses=None if near is None else _lean(near))
    study = replace(shown.study, arrivals=arrivals)
    others = {f.name: getattr(shown, f.name) for f in fields(shown) if f.name not in ("study", "stage")}
    with tempfile.NamedTemporaryFile(prefix="hitspot-view-", delete=False) as file:
        pickle.dump((study, others, window_px, is_before), file)
    return Path(file.name)


def _lean(arrivals: Arrivals) -> Arrivals:
    return replace(arrivals, at_points=())


def draw_job(job: Path, target: Path) -> str:
    """Draw a kept view, shaded in a process of its own or flat where that fails.

    Returns
    -------
    str
        Why it is a flat drawing; empty where it is shaded.
    """
    if subprocess.run(_command(job, target), capture_output=True, check=False).returncode == 0:
        return ""
    from viewer.pictures import paint

    _draw(job, target, paint)
    return NO_GL_WORDS


def _command(job: Path, target: Path) -> list[str]:
    return [sys.executable, "-m", "viewer.window.snapshot", _SHADED, str(job), str(target)]


def _draw(job: Path, target: Path, raster: Raster) -> None:
    study, others, window_px, is_before = pickle.loads(job.read_bytes())
    shown = OnScreen(study=study, stage=set_stage(study), **others)
    picture = make_view(shown, window_px, is_before=is_before, raster=raster)
    picture.image.save(target, dpi=(look.DPI, look.DPI))


def _draw_shaded(job: Path, target: Path) -> int:
    """Without any graphics library this ends the process, which is why it has one of its own."""
    from viewer.pictures import can_draw, prefer_off_screen_window, render

    prefer_off_screen_window()
    if not can_draw():
        return 3
    _draw(job, target, render)
    return 0


def main(arguments: list[str]) -> int:
    """Draw a kept view as the words on the command line say; the exit code."""
    if arguments[0] == _SHADED:
        return _draw_shaded(Path(arguments[1]), Path(arguments[2]))
    note = draw_job(Path(arguments[0]), Path(arguments[1]))
    sys.stdout.write(note)
    return 0
