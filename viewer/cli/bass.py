"""The command that prints the bass of a room: its modes, its curve, places for a subwoofer."""

from pathlib import Path
from typing import TYPE_CHECKING

from viewer.cli.commandline import (
    Flag,
    Mistake,
    SceneFile,
    Units,
    check_form,
    mistakes,
    read_scene,
    showing_progress,
)
from viewer.cli.printing import print_json, show

if TYPE_CHECKING:
    from raytrace import Bass, Room, Scene


def bass(
    scene: SceneFile,
    *,
    json: Flag = False,
    all: Flag = False,
    picture: Path | None = None,
    units: Units = "metric",
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
        A new file for the map of the floor and the curve: .png, .svg or .pdf.
    units
        Units of what is printed.
    """
    from raytrace import build_room, find_bass
    from viewer.tables import bass_json, bass_tables

    check_form(json, False, units)
    if picture is not None:
        _check_picture(picture)
    read = read_scene(scene)
    with mistakes(), showing_progress() as progress:
        room = build_room(read)
        found = find_bass(read, room, progress=progress)
    if picture is not None:
        _write_picture(found, read, room, picture)
    if json:
        print_json(bass_json(found))
    else:
        show(bass_tables(found, units=units, everything=all))


def _check_picture(picture: Path) -> None:
    """Refuse what cannot be drawn and what would be written over."""
    if picture.suffix not in (".png", ".svg", ".pdf"):
        raise Mistake(f"--picture takes a file that ends in .png, .svg or .pdf, not {picture}")
    if picture.exists():
        raise Mistake(f"{picture} is there already; name a new file")


def _write_picture(found: "Bass", scene: "Scene", room: "Room", picture: Path) -> None:
    from tempfile import TemporaryDirectory

    from viewer.charts import draw_bass
    from viewer.files import OutputRefused, write_whole

    with TemporaryDirectory() as folder, mistakes(OutputRefused):
        drawn = draw_bass(found, scene, room, Path(folder) / f"bass{picture.suffix}")
        write_whole(picture, drawn.path.read_bytes())
