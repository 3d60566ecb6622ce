"""The command that tells what errors of the survey do, and adjusts a plan to all that was measured of it."""

from pathlib import Path

from viewer.cli.commandline import (
    Flag,
    Mistake,
    SceneFile,
    Units,
    check_form,
    check_scene_file,
    mistakes,
    read_scene,
    showing_progress,
    units_of,
)
from viewer.cli.printing import print_json, say, show


def survey(
    scene: SceneFile,
    *,
    write: Path | None = None,
    json: Flag = False,
    replace: Flag = False,
    units: Units = None,
) -> None:
    """Print how far spots and margins may be off for errors of the tape, and what to measure again.

    The scene is run again for every length that a tape is laid along, on all cores. A plan with `diagonals`
    or `heights` is adjusted to them, and a length that does not fit is named.

    Parameters
    ----------
    write
        Scene file to write the adjusted plan to (TOML): corners and height changed, all else as it was.
    json
        One JSON object in full precision.
    replace
        Overwrite the file that is to be written.
    """
    from raytrace import SpreadError, all_cores, find_survey, run_study
    from viewer.tables import survey_json, survey_tables

    check_form(json, False, units)
    check_scene_file(write, "--write", scene, replace=replace)
    read = read_scene(scene)
    if write is not None and not (getattr(read.room, "diagonals", ()) or getattr(read.room, "heights", ())):
        raise Mistake('--write: nothing to adjust; a room of shape "plan" with diagonals or heights has it')
    with (
        mistakes(SpreadError),
        showing_progress("taking every measured length a little longer") as progress,
    ):
        found = find_survey(run_study(read, progress=progress), progress=progress, hands=all_cores())
    if write is not None:
        if found.adjustment is None:
            raise Mistake(
                '--write: nothing to adjust; a room of shape "plan" with diagonals or heights has it'
            )
        from raytrace import adjusted_text
        from viewer.files import OutputRefused, write_whole

        with mistakes(OutputRefused):
            write_whole(write, adjusted_text(read, found.adjustment))
    if json:
        print_json(survey_json(found))
        return
    show(survey_tables(found, units=units_of(read, units)))
    if write is not None:
        say(f"Written: {write}")
