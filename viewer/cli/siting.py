"""The command that finds where to sit, and who does work that is spread over cores or a cluster."""

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from cyclopts import Parameter

from viewer.cli.commandline import (
    Flag,
    MaybeWhole,
    Mistake,
    Names,
    SceneFile,
    Units,
    Whole,
    check_drawing,
    check_form,
    check_scene_file,
    mistakes,
    read_scene,
    showing_progress,
    units_of,
    write_files,
)
from viewer.cli.printing import complain, print_json, say, show
from viewer.statefolder import state_folder

if TYPE_CHECKING:
    from raytrace import Hands, Scene, TaskRecord
    from viewer.files import Content

_LEAST_STEP_M, _MOST_STEP_M = 0.05, 2.0
_MOST_BEST, _MOST_PROCESSES = 12, 256
_DOING = "judging every free place for the seat, the best of them in full"


@Parameter(name="*")
@dataclass(frozen=True)
class Spread:
    """Who does the work.

    Parameters
    ----------
    processes
        How many processes of this machine; the default is one for each core.
    scheduler
        Address of a Dask cluster that is there already and does the work instead, tcp://10.0.0.5:8786 say;
        needs pip install "hitspot[cluster]" here and hitspot, in the same version, on its workers.
    record
        File that keeps what is finished, so that a run that was interrupted goes on from there; it stays.
        Without it such a file is kept in this user's own folder until the run is complete.
    """

    processes: MaybeWhole = None
    scheduler: str | None = None
    record: Path | None = None

    def hands(self) -> "Hands":
        """The same as the work is spread by."""
        from raytrace import Hands, all_cores

        if self.processes is not None and not 1 <= self.processes <= _MOST_PROCESSES:
            raise Mistake(f"--processes must lie between 1 and {_MOST_PROCESSES}, not {self.processes}")
        if self.scheduler is not None and self.processes is not None:
            raise Mistake("--scheduler and --processes exclude each other")
        if self.scheduler is not None and not _is_address(self.scheduler):
            raise Mistake(f"--scheduler {self.scheduler}: give an address such as tcp://10.0.0.5:8786")
        usual = all_cores()
        return Hands(self.processes or usual.processes, self.scheduler)

    @contextmanager
    def kept(self, what: str) -> Iterator["TaskRecord"]:
        """The record of finished work; one that nobody asked for goes when all is done."""
        from raytrace import SpreadError, TaskRecord

        path = (
            self.record
            or state_folder("unfinished") / f"{hashlib.sha256(what.encode()).hexdigest()[:16]}.jsonl"
        )
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            record = TaskRecord(path)
        except (OSError, SpreadError) as problem:
            raise Mistake(
                f"the record {path} cannot be used: {getattr(problem, 'strerror', problem)}"
            ) from None
        before = len(record)
        try:
            yield record
        except (KeyboardInterrupt, SpreadError) as end:
            if len(record):
                complain(f"{len(record)} finished are kept; the same command goes on from there.")
            if isinstance(end, SpreadError):
                raise Mistake(str(end)) from None
            raise
        if self.record is None:
            path.unlink(missing_ok=True)
        elif before:
            complain(f"{before} were finished before, in {path}.")


def _is_address(text: str) -> bool:
    """Whether a text names a machine and a port of it."""
    try:
        parts = urlsplit(text)
        return bool(parts.scheme and parts.hostname and parts.port)
    except ValueError:
        return False


ALL_CORES = Spread()


@Parameter(name="*")
@dataclass(frozen=True)
class Which:
    """Which places are tried and told.

    Parameters
    ----------
    wall
        Wall that may be faced, as the scene calls it. May be given more than once; without it all of them.
    step
        Between depths that are tried, a length such as "100 mm"; the default is 100 mm, more in large rooms.
    best
        How many places are told.
    """

    wall: Names = None
    step: str | None = None
    best: Whole = 5


@Parameter(name="*")
@dataclass(frozen=True)
class Made:
    """What is written.

    Parameters
    ----------
    write
        Scene file to write with the seat at the place that --place names; comments are kept.
    place
        Number of that place in the list; the default is the best.
    picture
        File to draw the map of the floor into: .png, .svg or .pdf.
    replace
        Overwrite files that are to be written.
    """

    write: Path | None = None
    place: Whole = 1
    picture: Path | None = None
    replace: Flag = False

    def check(self, scene: Path) -> None:
        """Refuse what must not be written, before anything is computed."""
        check_drawing(self.picture, "--picture", replace=self.replace)
        check_scene_file(self.write, "--write", scene, replace=self.replace)


_ALL_PLACES, _NOTHING = Which(), Made()


def seats(
    scene: SceneFile,
    *,
    which: Which = _ALL_PLACES,
    to: Made = _NOTHING,
    by: Spread = ALL_CORES,
    json: Flag = False,
    units: Units = None,
) -> None:
    """Find where to sit and which wall to face, before anything is bought: places with reasons.

    The speakers and what stands between them and the seat move with it. Reflections, left against right,
    bass and dips of near boundaries are judged at every free place, the best are run in full.

    Parameters
    ----------
    json
        One JSON object in full precision.
    units
        Units of what is printed.
    """
    from raytrace import SeatWish, find_seats
    from viewer.tables import seats_json, seats_tables

    check_form(json, False, units)
    to.check(scene)
    if not 1 <= which.best <= _MOST_BEST:
        raise Mistake(f"--best must lie between 1 and {_MOST_BEST}, not {which.best}")
    if not 1 <= to.place <= which.best:
        raise Mistake(f"--place must lie between 1 and --best {which.best}, not {to.place}")
    read, hands = read_scene(scene), by.hands()
    wish = SeatWish(_walls(read, which.wall), _step_m(which.step), which.best)
    with mistakes(), by.kept(f"seats {scene.resolve()}") as record, showing_progress(_DOING) as progress:
        found = find_seats(read, wish, hands=hands, record=record, progress=progress)
    if to.write is not None and to.place > len(found.best):
        raise Mistake(f"--place {to.place}: only {len(found.best)} places were found, so nothing is written")
    written: dict[Path, Content] = {}
    if to.write is not None:
        written[to.write] = found.text_of(found.best[to.place - 1])
    if to.picture is not None:
        from viewer.charts import draw_seats

        shown = units_of(read, units)
        written[to.picture] = lambda path: draw_seats(found, path, units=shown)
    write_files(written)
    if json:
        print_json(seats_json(found))
        return
    show(seats_tables(found, units=units_of(read, units)))
    for path in written:
        say(f"Written: {path}")


def _walls(scene: "Scene", names: list[str] | None) -> tuple[str, ...]:
    """Walls that may be faced, checked."""
    from raytrace import build_room

    if not names:
        return ()
    with mistakes():
        room = build_room(scene)
    known = [
        surface.name for surface in room.surfaces if surface.owner is None and abs(surface.frame.n[2]) < 0.7
    ]
    for name in names:
        if name not in known:
            listed = ", ".join(f'"{wall}"' for wall in known)
            raise Mistake(f'--wall: no wall is called "{name}"; there is {listed}')
    return tuple(names)


def _step_m(text: str | None) -> float | None:
    from raytrace import parse_length

    if text is None:
        return None
    try:
        step_m = parse_length(text)
    except ValueError as problem:
        raise Mistake(f"--step: {problem}") from None
    if not _LEAST_STEP_M <= step_m <= _MOST_STEP_M:
        raise Mistake(f"--step must lie between {_LEAST_STEP_M:g} and {_MOST_STEP_M:g} m, not {text}")
    return step_m
