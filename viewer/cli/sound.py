"""Commands that print what reaches the seats: reflections, alone or side by side, and the decay."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from viewer.cli.commandline import (
    Flag,
    Mistake,
    Order,
    SceneFile,
    Units,
    Until,
    check_form,
    check_name,
    console,
    mistakes,
    other_scene,
    print_json,
    read_scene,
    showing_progress,
    study_of,
)

if TYPE_CHECKING:
    import numpy as np

    from raytrace import Study


def arrivals(
    scene: SceneFile,
    *,
    order: Order = None,
    until: Until = 30.0,
    seat: str | None = None,
    speaker: str | None = None,
    against: str | None = None,
    all: Flag = False,
    json: Flag = False,
    csv: Flag = False,
    units: Units = "metric",
) -> None:
    """Print the table of reflections at the seats, of one scene or of two side by side.

    Parameters
    ----------
    seat
        Only this seat.
    speaker
        Only this speaker.
    against
        What the scene is compared with: OTHER.toml, or "bare" for the scene itself without its panels,
        stands and clouds. The other one is "before", the scene is "after".
    all
        Weak and late reflections too.
    json
        One JSON object in full precision.
    csv
        Comma-separated values.
    units
        Units of what is printed.
    """
    from viewer.tables import arrivals_csv, arrivals_json

    check_form(json, csv, units)
    if against is not None:
        form = "json" if json else "csv" if csv else "table"
        _print_comparison(scene, against, order, until, (seat, speaker), (form, all, units))
        return
    study = study_of(read_scene(scene), order, until)
    rows = _chosen(study, seat, speaker)
    if json:
        print_json(arrivals_json(study, rows=rows))
    elif csv:
        sys.stdout.write(arrivals_csv(study, rows=rows))
    else:
        from viewer.tables import arrivals_tables

        console().print(arrivals_tables(study, rows, units=units, everything=all))


def _print_comparison(
    scene: Path,
    against: str,
    order: int | None,
    until: float,
    only: tuple[str | None, str | None],
    style: tuple[str, bool, Units],
) -> None:
    """The scene beside another one, `only` at a seat or of a speaker of the scene.

    `style` is "json", "csv" or "table", whether everything is shown, and the units.
    """
    from raytrace import compare
    from viewer.tables import comparison_csv, comparison_json, comparison_tables

    read = read_scene(scene)
    other = other_scene(scene, read, against)
    for name, entries, what in ((only[0], read.seats, "seat"), (only[1], read.speakers, "speaker")):
        check_name(name, tuple(entry.name for entry in entries), what)
    comparison = compare(study_of(other, order, until), study_of(read, order, until))
    form, everything, units = style
    if form == "json":
        print_json(comparison_json(comparison, seat=only[0], speaker=only[1]))
    elif form == "csv":
        sys.stdout.write(comparison_csv(comparison, seat=only[0], speaker=only[1]))
    else:
        tables = comparison_tables(
            comparison, seat=only[0], speaker=only[1], everything=everything, units=units
        )
        console().print(tables)


def _chosen(study: "Study", seat: str | None, speaker: str | None) -> "np.ndarray":
    """Rows of one speaker or seat, all where no name is given."""
    import numpy as np

    table = study.arrivals
    rows = np.arange(len(table.order))
    for name, names, column, what in (
        (seat, table.seat_names, table.seat, "seat"),
        (speaker, table.speaker_names, table.speaker, "speaker"),
    ):
        check_name(name, names, what)
        if name is not None:
            rows = rows[column[rows] == names.index(name)]
    return rows


def decay(
    scene: SceneFile,
    *,
    rays: int = 100_000,
    seed: int = 0,
    seat: str | None = None,
    speaker: str | None = None,
    json: Flag = False,
) -> None:
    """Print how sound dies away at the seats, per octave, beside classical formulas.

    Parameters
    ----------
    rays
        Rays per speaker; four times as many halve the error.
    seed
        The same seed gives the same figures.
    seat
        Only this seat.
    speaker
        Only this speaker.
    json
        One JSON object in full precision.
    """
    from raytrace import Sampling, build_room, find_arrivals, find_decay
    from viewer.tables import decay_json, decay_tables

    if not 320 <= rays <= 10_000_000:
        raise Mistake(f"--rays must lie between 320 and 10000000, not {rays}")
    read = read_scene(scene)
    check_name(seat, tuple(s.name for s in read.seats), "seat")
    check_name(speaker, tuple(s.name for s in read.speakers), "speaker")
    with mistakes(), showing_progress() as progress:
        room = build_room(read)
        found = find_arrivals(read, room, progress=progress)
        decays = find_decay(read, room, found, sampling=Sampling(rays, seed), progress=progress)
    decays = tuple(
        d
        for d in decays
        if seat in (None, read.seats[d.seat].name) and speaker in (None, read.speakers[d.speaker].name)
    )
    if json:
        print_json(decay_json(read, decays))
    else:
        console().print(decay_tables(read, decays))
