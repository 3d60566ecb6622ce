"""The command that hands a room on to other programs."""

import dataclasses
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
    study_of,
)
from viewer.cli.printing import say

_FIRST_ORDER = 1


def export(scene: SceneFile, *, to: Path, extent: Extent = USUAL_EXTENT, replace: Flag = False) -> None:
    """Hand room, openings, panels, spots and paths on: a model with names and colours, or a table.

    Reflections of the first order, unless --order says more.

    Parameters
    ----------
    to
        File to write: .glb, .obj or .ply for the model, .stl for its faces alone, .csv for the paths.
    replace
        Overwrite it.
    """
    from viewer.files import OutputRefused, write_whole
    from viewer.models import MODEL_FORMATS, model_bytes, model_parts
    from viewer.tables import paths_csv

    suffix = to.suffix.lower()
    if suffix not in (*MODEL_FORMATS, ".csv"):
        raise Mistake(f"--to {to}: accepted are {', '.join(MODEL_FORMATS)} and .csv")
    read = read_scene(scene)
    check_file(to, "--to", replace=replace, reads=(scene, *read.named_files.values()))
    study = study_of(read, extent if extent.order else dataclasses.replace(extent, order=_FIRST_ORDER))
    content = (
        paths_csv(study) if suffix == ".csv" else model_bytes(model_parts(study), suffix, title=read.title)
    )
    with mistakes(OutputRefused):
        write_whole(to, content)
    said = ": surfaces and panels alone; STL has no colours, spots and paths" if suffix == ".stl" else ""
    say(f"Written: {to}{said}")
