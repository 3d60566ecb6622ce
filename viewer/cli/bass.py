"""The command that prints the bass of a room: its modes, its curve, places for a subwoofer."""

from pathlib import Path

from viewer.cli.commandline import (
    Flag,
    SceneFile,
    Units,
    check_drawing,
    check_form,
    mistakes,
    read_scene,
    showing_progress,
    units_of,
    write_files,
)
from viewer.cli.printing import print_json, say, show


def bass(
    scene: SceneFile,
    *,
    json: Flag = False,
    all: Flag = False,
    picture: Path | None = None,
    replace: Flag = False,
    units: Units = None,
) -> None:
    """Print what the room does to bass: modes, the curve at the seats, and where a subwoofer is best.

    Rooms of any shape, with their large objects. Without a subwoofer the speakers are judged.

    Parameters
    ----------
    json
        One JSON object in full precision.
    all
        Every mode and every frequency of the curve.
    picture
        File to draw the map of the floor and the curve into: .png, .svg or .pdf. An existing file is never
        overwritten without --replace.
    replace
        Overwrite the file that is to be drawn.
    """
    from raytrace import build_room, find_bass
    from viewer.tables import bass_json, bass_tables

    check_form(json, False, units)
    check_drawing(picture, "--picture", replace=replace)
    read = read_scene(scene)
    with mistakes(), showing_progress() as progress:
        room = build_room(read)
        found = find_bass(read, room, progress=progress)
    if picture is not None:
        from viewer.charts import draw_bass

        shown = units_of(read, units)
        write_files({picture: lambda path: draw_bass(found, read, room, path, units=shown)})
    if json:
        print_json(bass_json(found))
        return
    show(bass_tables(found, units=units_of(read, units), everything=all))
    if picture is not None:
        say(f"Written: {picture}")
