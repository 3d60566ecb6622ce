"""Commands that print what reaches the seats: reflections, alone or side by side, and the decay."""

import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cyclopts import Parameter

from viewer.cli.commandline import (
    TABLE,
    USUAL_EXTENT,
    Extent,
    Flag,
    Form,
    Mistake,
    SceneFile,
    Whole,
    check_name,
    mistakes,
    other_scene,
    read_scene,
    showing_progress,
    study_of,
    units_of,
)
from viewer.cli.printing import print_json, show

if TYPE_CHECKING:
    import numpy as np

    from raytrace import Scene, Study


@Parameter(name="*")
@dataclass(frozen=True)
class Only:
    """Who is heard where.

    Parameters
    ----------
    seat
        Only this seat.
    speaker
        Only this speaker.
    """

    seat: str | None = None
    speaker: str | None = None


_EVERYONE = Only()


def arrivals(
    scene: SceneFile,
    *,
    extent: Extent = USUAL_EXTENT,
    only: Only = _EVERYONE,
    against: str | None = None,
    all: Flag = False,
    form: Form = TABLE,
) -> None:
    """Print the table of reflections at the seats, of one scene or of two side by side.

    Parameters
    ----------
    against
        What the scene is compared with: OTHER.toml, or "bare" for the scene itself without its panels,
        stands and clouds. The other one is "before", the scene is "after".
    all
        Weak and late reflections too, and how the figures are made.
    """
    from viewer.tables import arrivals_csv, arrivals_json

    form.check()
    read = read_scene(scene)
    if against is not None:
        _print_comparison((other_scene(scene, read, against), read), extent, only, form, everything=all)
        return
    study = study_of(read, extent)
    rows = _chosen(study, only)
    if form.json:
        print_json(arrivals_json(study, rows=rows))
    elif form.csv:
        sys.stdout.write(arrivals_csv(study, rows=rows))
    else:
        from viewer.tables import arrivals_tables

        show(arrivals_tables(study, rows, units=units_of(read, form.units), everything=all))


def _print_comparison(
    scenes: tuple["Scene", "Scene"], extent: Extent, only: Only, form: Form, *, everything: bool
) -> None:
    """Two scenes side by side, before and after; seat and speaker are those after."""
    from raytrace import compare
    from viewer.tables import comparison_csv, comparison_json, comparison_tables

    before, after = scenes
    for name, entries, what in ((only.seat, after.seats, "seat"), (only.speaker, after.speakers, "speaker")):
        check_name(name, tuple(entry.name for entry in entries), what)
    comparison = compare(study_of(before, extent), study_of(after, extent))
    named = {"seat": only.seat, "speaker": only.speaker}
    if form.json:
        print_json(comparison_json(comparison, **named))
    elif form.csv:
        sys.stdout.write(comparison_csv(comparison, **named))
    else:
        tables = comparison_tables(
            comparison, **named, everything=everything, units=units_of(after, form.units)
        )
        show(tables)


def _chosen(study: "Study", only: Only) -> "np.ndarray":
    """Rows of one speaker or seat, all where no name is given."""
    import numpy as np

    table = study.arrivals
    rows = np.arange(len(table.order))
    for name, names, column, what in (
        (only.seat, table.seat_names, table.seat, "seat"),
        (only.speaker, table.speaker_names, table.speaker, "speaker"),
    ):
        check_name(name, names, what)
        if name is not None:
            rows = rows[column[rows] == names.index(name)]
    return rows


def decay(
    scene: SceneFile,
    *,
    rays: Whole = 100_000,
    seed: Whole = 0,
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
        show(decay_tables(read, decays))
