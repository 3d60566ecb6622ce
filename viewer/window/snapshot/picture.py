"""The window's view as a picture in report quality, drawn in a process of its own."""

import pickle
import tempfile
from dataclasses import fields, replace
from functools import partial
from pathlib import Path

from raytrace import Arrivals
from viewer import look
from viewer.pictures import light_room, see, set_stage
from viewer.window.snapshot.plate import make_view
from viewer.window.state import OnScreen


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


def draw_job(job: Path, target: Path) -> None:
    """Draw a kept view."""
    study, others, window_px, is_before = pickle.loads(job.read_bytes())
    shown = OnScreen(study=study, stage=set_stage(study), **others)
    raster = partial(see, lighting=light_room(shown.stage))
    picture = make_view(shown, window_px, is_before=is_before, raster=raster)
    picture.image.save(target, dpi=(look.DPI, look.DPI))


def main(arguments: list[str]) -> int:
    """Draw a kept view as the words on the command line say; the exit code."""
    draw_job(Path(arguments[0]), Path(arguments[1]))
    return 0
