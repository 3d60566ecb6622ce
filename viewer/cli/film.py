"""The command that films a room for a client."""

from pathlib import Path

from viewer.cli.commandline import (
    USUAL_EXTENT,
    Extent,
    Flag,
    Mistake,
    SceneFile,
    check_file,
    mistakes,
    read_scene,
    showing_progress,
    study_of,
)
from viewer.cli.printing import say


def film(scene: SceneFile, *, out: Path, extent: Extent = USUAL_EXTENT, replace: Flag = False) -> None:
    """Film the room for a client: ten seconds, a slow turn, then the sound's first 20 ms along its paths.

    Parameters
    ----------
    out
        File to write: .webp or .gif.
    replace
        Overwrite it.
    """
    from viewer.files import OutputRefused
    from viewer.pictures import FILM_FORMATS, write_film

    if out.suffix.lower() not in FILM_FORMATS:
        raise Mistake(f"--out {out}: accepted are {', '.join(FILM_FORMATS)}")
    check_file(out, "--out", replace=replace)
    study = study_of(read_scene(scene), extent)
    with mistakes(OutputRefused), showing_progress("drawing the pictures of the film") as progress:
        write_film(study, out, progress=progress)
    say(f"Written: {out} ({out.stat().st_size / 1e6:.1f} MB)")
