"""The command that prints the bass of a room: its modes, its curve, places for a subwoofer."""

import os

from viewer.cli.commandline import Flag, SceneFile, Units, check_form, mistakes, read_scene, showing_progress
from viewer.cli.printing import print_json, show


def bass(scene: SceneFile, *, json: Flag = False, all: Flag = False, units: Units = "metric") -> None:
    """Print what the room does to bass: modes, the curve at the seats, and where a subwoofer is best.

    Modes are those of the room as it is drawn, whatever its shape, with its large objects. Without a
    subwoofer in the scene its speakers are judged, and places are found for one.

    Parameters
    ----------
    json
        One JSON object in full precision.
    all
        Every mode and every frequency of the curve.
    units
        Units of what is printed.
    """
    # Many small products: on a busy machine threads get in each other's way, and take three times as long.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from raytrace import build_room, find_bass
    from viewer.tables import bass_json, bass_tables

    check_form(json, False, units)
    read = read_scene(scene)
    with mistakes(), showing_progress() as progress:
        found = find_bass(read, build_room(read), progress=progress)
    if json:
        print_json(bass_json(found))
    else:
        show(bass_tables(found, units=units, everything=all))
