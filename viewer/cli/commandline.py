"""What commands share: options, a mistake in one message, reading, running, progress, what is printed."""

import os
import re
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from pathlib import Path
from threading import Event, Thread, Timer
from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import Parameter

from viewer.processes import PROGRESS, progress_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from cyclopts import Token
    from rich.progress import Progress

    from raytrace import Scene, Study
    from viewer.files import Content, Place

    Report = Callable[[str, float], None]

Units = Annotated[
    Literal["metric", "imperial"] | None,
    Parameter(help="Units of what is printed; the default is that of the scene, else metric."),
]
Flag = Annotated[bool, Parameter(negative="")]
Hidden = Annotated[Path | None, Parameter(show=False)]
Names = Annotated[list[str] | None, Parameter(negative="")]
MaybeScene = Annotated[Path | None, Parameter(help="Scene file (TOML).")]
SceneFile = Annotated[Path, Parameter(help="Scene file (TOML).")]
_MOST_DIGITS = 18  # 64 bits hold them


def _whole_number(_kind: type, tokens: "Sequence[Token]") -> int:
    """A whole number as it is typed: none that would have to be rounded."""
    text = tokens[0].value
    if not re.fullmatch(r"[+-]?\d+", text):
        raise ValueError(f'"{text[:20]}" is not a whole number')
    if len(text) > _MOST_DIGITS:
        raise ValueError(f"a number of {len(text)} digits; accepted: up to {_MOST_DIGITS}")
    return int(text)


WHOLE = Parameter(converter=_whole_number)
Whole = Annotated[int, WHOLE]
MaybeWhole = Annotated[int | None, WHOLE]
Order = Annotated[
    int | None,
    Parameter(
        converter=_whole_number,
        help="Largest number of bounces; the default is 4, and as many as it takes within the limit's time.",
    ),
]
Until = Annotated[float, Parameter(help="Latest arrival in ms after the direct sound.")]


@Parameter(name="*")
@dataclass(frozen=True)
class Extent:
    """How far reflections are followed."""

    order: Order = None
    until: Until = 30.0

    def check(self, scene: "Scene | None" = None) -> None:
        """Refuse bounces and times that no run can have, or none in this scene."""
        if self.order is not None and self.order < 1:
            raise Mistake(f"--order must be 1 or more, not {self.order}")
        if self.order is not None and self.order > MOST_BOUNCES:
            raise Mistake(f"--order must be {MOST_BOUNCES} or less, not {self.order}")
        if not 0.0 < self.until <= 500.0:
            raise Mistake(f"--until must lie between 0 and 500 ms, not {self.until:g}")
        if scene is not None and (self.order or 0) > FEW_BOUNCES:
            self._check_number(scene)

    def _check_number(self, scene: "Scene") -> None:
        """Refuse more reflections than memory holds, and say how far one can go."""
        from raytrace import MOST_PATHS, build_room, expected_paths

        with mistakes():
            room = build_room(scene)
        n_pairs = len(scene.speakers) * len(scene.seats)

        def n_paths(order: int, until: float) -> float:
            return expected_paths(room, n_pairs, up_to_order=order, within_s=until / 1e3)

        order = self.order or 1
        if n_paths(order, self.until) <= MOST_PATHS:
            return
        lower = max((n for n in range(1, order) if n_paths(n, self.until) <= MOST_PATHS), default=0)
        sooner = max((ms for ms in range(1, int(self.until)) if n_paths(order, ms) <= MOST_PATHS), default=0)
        fits = [f"--order {lower}"] * (lower > 0) + [f"--until {sooner}"] * (sooner > 0)
        raise Mistake(
            f"--order {order} up to {self.until:g} ms: about {n_paths(order, self.until):.0f} reflections; "
            f"accepted: up to {MOST_PATHS}" + f", the most that fits: {' or '.join(fits)}" * bool(fits)
        )

    @property
    def options(self) -> dict[str, Any]:
        """The same as `run_study` and `propose` take it."""
        return {"up_to_order": self.order, "within_s": self.until / 1e3}


USUAL_EXTENT = Extent()


@Parameter(name="*")
@dataclass(frozen=True)
class Lists:
    """What is owned and what panels cost, from lists that serve many scenes.

    Parameters
    ----------
    stock
        Panels that are owned, a TOML file: a table [stock] with "wool 100" = 6 for each build. It goes
        before a [stock] in the scene, build by build.
    prices
        What panels cost, a TOML file: a table [prices] with "wool 100" = 48, the price of one finished
        panel, for each build. It goes before prices in the scene, build by build.
    """

    stock: Path | None = None
    prices: Path | None = None

    @property
    def files(self) -> tuple[Path, ...]:
        """Those that are given."""
        return tuple(path for path in (self.stock, self.prices) if path is not None)

    def added_to(self, scene: "Scene") -> "Scene":
        """The scene with what the lists say."""
        from raytrace import with_prices, with_stock

        with mistakes():
            scene = scene if self.stock is None else with_stock(scene, self.stock)
            return scene if self.prices is None else with_prices(scene, self.prices)


NO_LISTS = Lists()


@Parameter(name="*")
@dataclass(frozen=True)
class Output:
    """Where output goes.

    Parameters
    ----------
    out
        Folder (of page: HTML file) to write; the default is named after scene and command, in the current
        folder.
    replace
        Replace what was made of another scene; what this program did not write is left alone even then.
    """

    out: Path | None = None
    replace: Flag = False

    def place(self, usual: str) -> "Place":
        """The place that is asked for, or the usual one in the current folder."""
        from viewer.files import Place

        return Place(self.out or Path(usual), self.replace)


BESIDE = Output()

_DRAWN = (".png", ".svg", ".pdf")


def check_drawing(path: Path | None, option: str, *, replace: bool) -> None:
    """Refuse what a single drawing must not be written to, before anything is computed for it."""
    if path is None:
        return
    if path.suffix.lower() not in _DRAWN:
        raise Mistake(f"{option} {path}: a drawing ends in {', '.join(_DRAWN)}")
    check_file(path, option, replace=replace)


def check_file(path: Path, option: str, *, replace: bool, reads: "Iterable[Path]" = ()) -> None:
    """Refuse what a file must not be written to, before anything is computed for it.

    What the command itself reads, `reads`, stays in any case.
    """
    if path.is_dir() or not path.parent.is_dir():
        raise Mistake(f"{path} cannot be written: {path.parent} is not a folder, or {path} is one")
    if not path.exists():
        return
    if any(own.exists() and path.samefile(own) for own in reads):
        raise Mistake(f"{path} is read by this command and stays as it is; give another name with {option}")
    if not replace:
        raise Mistake(f"{path} exists already; give another name with {option}, or overwrite it: --replace")


def check_scene_file(
    path: Path | None, option: str, scene: Path, *, replace: bool, reads: "Iterable[Path]" = ()
) -> None:
    """Refuse what a scene made of another one must not be written to; `reads` as in `check_file`."""
    if path is None:
        return
    if path.suffix.lower() != ".toml":
        raise Mistake(f'{option} {path}: a scene file ends in ".toml"')
    if path.resolve() == scene.resolve():
        raise Mistake(f"{path} is the scene itself; give the new one another name with {option}")
    check_file(path, option, replace=replace, reads=reads)


def write_files(contents: "Mapping[Path, Content]") -> None:
    """Write files that belong together, drawings among them: all are whole before the first one moves."""
    from viewer.files import OutputRefused, write_together

    with mistakes(OutputRefused):
        write_together(contents)


@Parameter(name="*")
@dataclass(frozen=True)
class Form:
    """In which form numbers are printed.

    Parameters
    ----------
    json
        One JSON object in full precision.
    csv
        Comma-separated values.
    """

    json: Flag = False
    csv: Flag = False
    units: Units = None

    def check(self) -> None:
        """Refuse forms that exclude each other."""
        check_form(self.json, self.csv, self.units)


MOST_BOUNCES = 100  # 500 ms are 170 m: as many times across the smallest rooms
FEW_BOUNCES = 8  # some hundred paths for each speaker and seat at most: never too many
TABLE = Form()
PATIENCE_S, EVERY_S = 3.0, 15.0
COMPILING = "hitspot: compiling for this machine, once; this takes a minute or two.\n"


class Mistake(Exception):
    """Something the user can put right; its text is the whole message."""


@contextmanager
def mistakes(*refusals: type[Exception]) -> Iterator[None]:
    """Turn the scene's errors, and `refusals`, into one clear message."""
    from raytrace import SceneError

    refused: tuple[type[Exception], ...] = (SceneError, *refusals)
    try:
        yield
    except refused as problem:
        raise Mistake(str(problem)) from None


def read_scene(path: Path, text: Path | None = None) -> "Scene":
    """The scene in a file; where `text` is given, as it stands in that file while the first one is edited."""
    from raytrace import load_scene, read_scene_text

    with mistakes():
        return load_scene(path, None if text is None else read_scene_text(text))


@contextmanager
def showing_progress(doing: str = "") -> Iterator["Report"]:
    """Progress on the terminal's error stream.

    Where that is no terminal: what is being done, if `doing` says it because it takes minutes, with a line
    now and then of how far it is, and one line if compiling takes long.
    """
    from raytrace import is_cold

    cold = is_cold()
    if os.environ.get(PROGRESS):
        yield _told_by_line
        return
    if not sys.stderr.isatty():
        sys.stderr.write(f"hitspot: {doing}; this may take minutes.\n" if doing else "")
        said = Timer(PATIENCE_S, lambda: sys.stderr.write(COMPILING))
        if cold:
            said.start()
        try:
            yield _now_and_then() if doing else lambda _text, _share: None
        finally:
            said.cancel()
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn

    with Progress(
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        console=Console(stderr=True),
        transient=True,
    ) as bar:
        task = bar.add_task("reading", total=1.0)
        with _counting_kernels(bar) if cold else nullcontext():
            yield lambda text, share: bar.update(task, description=text, completed=share)


def _now_and_then() -> "Report":
    """Progress as a line of its own, where the last one is a while ago."""
    told_s = time.monotonic()

    def tell(text: str, share: float) -> None:
        nonlocal told_s
        if time.monotonic() - told_s >= EVERY_S:
            told_s = time.monotonic()
            sys.stderr.write(f"hitspot: {text} ({100.0 * share:.0f} %)\n")

    return tell


def _told_by_line(text: str, share: float) -> None:
    """Progress for whoever started this process."""
    sys.stderr.write(progress_line(text, share))
    sys.stderr.flush()


@contextmanager
def _counting_kernels(bar: "Progress") -> Iterator[None]:
    """A line that says how many kernels are compiled so far; how many it will be depends on the room."""
    from raytrace import count_kernels

    task, done = bar.add_task("", total=None), Event()

    def count() -> None:
        while not done.wait(0.3):
            bar.update(task, description=f"{count_kernels()} kernels compiled")

    counter = Thread(target=count, daemon=True)
    counter.start()
    try:
        yield
    finally:
        done.set()
        counter.join()


def study_of(scene: "Scene", extent: Extent = USUAL_EXTENT) -> "Study":
    """A finished run with what --order and --until ask for."""
    from raytrace import run_study

    extent.check(scene)
    with mistakes(), showing_progress() as progress:
        return run_study(scene, **extent.options, progress=progress)


def other_scene(path: Path, scene: "Scene", against: str) -> "Scene":
    """The scene that `against` names: a file, or "bare" for the scene itself without its panels."""
    if against != "bare":
        return read_scene(Path(against))
    if scene.is_bare:
        raise Mistake(f"{path} holds no panels, stands or clouds to leave out; name a scene file instead")
    return scene.without_panels()


def check_name(name: str | None, names: tuple[str, ...], what: str) -> None:
    """Refuse a name that no speaker or seat has."""
    if name is not None and name not in names:
        listed = ", ".join(f'"{known}"' for known in names)
        raise Mistake(f'no {what} is called "{name}"; there is {listed}')


def units_of(scene: "Scene", units: str | None) -> str:
    """The reader's units: as asked for, else as the scene says, else metric."""
    return units or scene.job.units or "metric"


def check_form(json: bool, csv: bool, units: str | None) -> None:
    """Data files are one kind and metric: a program that reads them must not have to ask."""
    if json and csv:
        raise Mistake("--json and --csv exclude each other")
    if units == "imperial" and (json or csv):
        form = "--json" if json else "--csv"
        raise Mistake(f"{form} is always metric; leave out --units imperial, or leave out {form}")
