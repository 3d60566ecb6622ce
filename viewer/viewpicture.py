"""The window's view as a picture in report quality, drawn in a process of its own."""

import pickle
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

from viewer import look
from viewer.camera import Camera
from viewer.layers import layers, set_stage
from viewer.shown import OnScreen

WIDTH_PX = 2400


def keep_job(shown: OnScreen, size: tuple[int, int]) -> Path:
    """Keep what is needed to draw a view in a file for `draw_job`."""
    lean = replace(shown.study, arrivals=replace(shown.study.arrivals, heard=()))
    height = round(WIDTH_PX * size[1] / size[0])
    camera = shown.eye.camera((WIDTH_PX, height))
    with tempfile.NamedTemporaryFile(prefix="hitspot-view-", delete=False) as file:
        pickle.dump((lean, shown.seat, camera), file)
    return Path(file.name)


def draw_job(job: Path, target: Path) -> None:
    """Draw a kept view: as the stills do where there is a graphics library, flat where there is none."""
    study, seat, camera = pickle.loads(job.read_bytes())
    _draw(study, seat, camera).save(target, dpi=(look.DPI, look.DPI))


def _draw(study: object, seat: int, camera: Camera):  # type: ignore[no-untyped-def]
    from PIL import Image

    from viewer.glrender import prefer_off_screen_window, render

    prefer_off_screen_window()
    stage = set_stage(study, seat)  # type: ignore[arg-type]
    image = render(layers(stage, camera), camera)
    return image.resize((camera.width, camera.height), Image.Resampling.LANCZOS)


if __name__ == "__main__":
    draw_job(Path(sys.argv[1]), Path(sys.argv[2]))
