"""The command line: arguments in, exit code out. Heavy imports stand inside the commands."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import App, CycloptsError, Parameter

if TYPE_CHECKING:
    import numpy as np

    from raytrace import Question, Scene, Study

Units = Literal["metric", "imperial"]
Flag = Annotated[bool, Parameter(negative="")]
Shape = Literal["box", "gable", "lean-to", "plan", "section"]

USER_MISTAKE = 2
INTERRUPTED = 130


def _version() -> str:
    from importlib.metadata import version

    return version("hitspot")


app = App(
    name="hitspot",
    version=_version,
    suppress_keyboard_interrupt=False,
    help="Where early reflections land in a small room, and what reaches the seat.",
    help_format="plaintext",
    version_flags=["--version"],
)


class Mistake(Exception):
    """Something the user can put right; its text is the whole message."""


def main() -> None:
    """Run the command line; the exit code is 0, 2 for the user's mistakes, 1 for ours."""
    sys.exit(run(sys.argv[1:]))


def run(tokens: list[str]) -> int:
    """Run one command and return its exit code."""
    try:
        app(tokens, exit_on_error=False, print_error=False, result_action="return_value")
    except CycloptsError as problem:
        text = " ".join(str(problem).split())
        sys.stderr.write(f"hitspot: {text}\nhitspot --help lists commands and options.\n")
        return USER_MISTAKE
    except Mistake as mistake:
        sys.stderr.write(f"{mistake}\n")
        return USER_MISTAKE
    except KeyboardInterrupt:
        sys.stderr.write("Interrupted; nothing was written.\n")
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read our output has closed it (a pager, head): that is not a mistake.
        sys.stderr.close()
        return 0
    return 0


@contextmanager
def _mistakes() -> Iterator[None]:
    """Turn the scene's errors into one clear message."""
    from raytrace import SceneError

    try:
        yield
    except SceneError as problem:
        raise Mistake(str(problem)) from None


def _read(path: Path) -> "Scene":
    from raytrace import load_scene

    with _mistakes():
        return load_scene(path)


@contextmanager
def _progress() -> Iterator["Report"]:
    """Progress on the terminal's error stream; nothing where that is not a terminal."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn

    with Progress(
        TextColumn("{task.description}"), BarColumn(), console=Console(stderr=True), transient=True
    ) as bar:
        task = bar.add_task("reading", total=1.0)
        yield lambda text, share: bar.update(task, description=text, completed=share)


if TYPE_CHECKING:
    from collections.abc import Callable

    Report = Callable[[str, float], None]


def _study(scene: "Scene", order: int | None, until: float) -> "Study":
    from raytrace import run_study

    if order is not None and order < 1:
        raise Mistake(f"--order must be 1 or more, not {order}")
    if not 0.0 < until <= 500.0:
        raise Mistake(f"--until must lie between 0 and 500 ms, not {until:g}")
    with _mistakes(), _progress() as progress:
        return run_study(scene, up_to_order=order, within_s=until / 1e3, progress=progress)


def _console() -> "Console":
    from rich.console import Console

    return Console(highlight=False)


if TYPE_CHECKING:
    from rich.console import Console


@app.command
def new(file: Path, *, shape: Shape | None = None, title: str | None = None, **answers: str) -> None:
    """Write a first scene file from the few numbers of a tape sketch.

    Asks one question after the other; an empty answer takes the suggestion.
    An option named like a question answers it beforehand: --length "4.2 m".

    Parameters
    ----------
    file
        Scene file to write (TOML); an existing one is never overwritten.
    shape
        Shape of the room.
    title
        Title of the scene.
    answers
        Answers by the name of their question.
    """
    from raytrace import QUESTIONS, sketch_scene

    if file.suffix.lower() != ".toml":
        raise Mistake(f'{file}: a scene file ends in ".toml"')
    if file.exists():
        raise Mistake(f"{file} exists already; give another name, or move it away first")
    if not file.parent.is_dir():
        raise Mistake(f"{file.parent} is not a folder")
    chosen = shape or _ask_shape(tuple(QUESTIONS))
    given = {key.replace("-", "_"): value for key, value in answers.items()}
    known = {question.key for question in QUESTIONS[chosen]}
    for key in given:
        if key not in known:
            options = ", ".join("--" + name.replace("_", "-") for name in sorted(known))
            raise Mistake(
                f"no question of a {chosen} room is called --{key.replace('_', '-')}; there is {options}"
            )
    typed: dict[str, str | float] = dict(given)
    while True:
        typed = _ask(QUESTIONS[chosen], typed)
        try:
            text = sketch_scene(chosen, typed, title=title or file.stem)
            break
        except ValueError as problem:
            # The answers do not fit together: at a terminal that one is asked again, the others are kept.
            key, _, why = str(problem).partition(": ")
            if key not in known or key in given or not sys.stdin.isatty():
                raise Mistake(str(problem)) from None
            sys.stderr.write(f"  {why}\n")
            del typed[key]
    file.write_text(text, encoding="utf-8")
    _console().print(f"Written: {file}. Look it over, then: hitspot check {file}", soft_wrap=True)


def _ask_shape(shapes: tuple[str, ...]) -> str:
    if not sys.stdin.isatty():
        raise Mistake(f"--shape is missing; accepted: {', '.join(shapes)}")
    while True:
        answer = input(f"Shape of the room ({', '.join(shapes)}) [{shapes[0]}]: ").strip() or shapes[0]
        if answer in shapes:
            return answer


def _ask(questions: "tuple[Question, ...]", given: "dict[str, str | float]") -> "dict[str, str | float]":
    """Answers to all questions: given ones checked, the others asked for or, off a terminal, suggested."""
    typed: dict[str, str | float] = {}
    checked: dict[str, object] = {}
    for question in questions:
        key = question.key
        while key not in checked:
            suggestion = question.suggestion(checked)
            asking = key not in given and sys.stdin.isatty()
            if asking:
                shown = f"{question.text} (for example {question.example}) [{suggestion}]: "
                typed[key] = input(shown).strip() or suggestion
            else:
                typed[key] = given.get(key, suggestion)
            try:
                checked[key] = question.read(typed[key])
            except ValueError as problem:
                if not asking:
                    raise Mistake(f"--{key.replace('_', '-')}: {problem}") from None
                sys.stderr.write(f"  {problem}\n")
    return typed


@app.command
def check(scene: Path, *, units: Units = "metric") -> None:
    """Read a scene and say what it is: sizes, surfaces, materials, warnings.

    Parameters
    ----------
    scene
        Scene file (TOML).
    units
        Units of what is printed.
    """
    from raytrace import build_room
    from viewer.checktable import scene_summary

    read = _read(scene)
    with _mistakes():
        room = build_room(read)
    _console().print(scene_summary(read, room, units=units))


@app.command
def arrivals(
    scene: Path,
    *,
    order: int | None = None,
    until: float = 30.0,
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
    scene
        Scene file (TOML).
    order
        Largest number of bounces; the default is 4, and as many as it takes within the limit's time.
    until
        Latest arrival in ms after the direct sound.
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

    _check_form(json, csv, units)
    if against is not None:
        form = "json" if json else "csv" if csv else "table"
        _print_comparison(scene, against, order, until, (seat, speaker), (form, all, units))
        return
    study = _study(_read(scene), order, until)
    rows = _chosen(study, seat, speaker)
    if json:
        import json as json_format

        sys.stdout.write(json_format.dumps(arrivals_json(study, rows=rows), indent=1) + "\n")
    elif csv:
        sys.stdout.write(arrivals_csv(study, rows=rows))
    else:
        from viewer.terminal import arrivals_tables

        _console().print(arrivals_tables(study, rows, units=units, everything=all))


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
    from viewer.comparetable import comparison_csv, comparison_json, comparison_tables

    read = _read(scene)
    other = _other(scene, read, against)
    for name, entries, what in ((only[0], read.seats, "seat"), (only[1], read.speakers, "speaker")):
        _check_name(name, tuple(entry.name for entry in entries), what)
    comparison = compare(_study(other, order, until), _study(read, order, until))
    form, everything, units = style
    if form == "json":
        import json as json_format

        text = json_format.dumps(comparison_json(comparison, seat=only[0], speaker=only[1]), indent=1)
        sys.stdout.write(text + "\n")
    elif form == "csv":
        sys.stdout.write(comparison_csv(comparison, seat=only[0], speaker=only[1]))
    else:
        tables = comparison_tables(
            comparison, seat=only[0], speaker=only[1], everything=everything, units=units
        )
        _console().print(tables)


def _other(path: Path, scene: "Scene", against: str) -> "Scene":
    """The scene that `against` names: a file, or "bare" for the scene itself without its panels."""
    if against != "bare":
        return _read(Path(against))
    if scene.is_bare:
        raise Mistake(f"{path} holds no panels, stands or clouds to leave out; name a scene file instead")
    return scene.without_panels()


@app.command
def decay(
    scene: Path,
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
    scene
        Scene file (TOML).
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
    from raytrace import build_room, find_arrivals, find_decay
    from viewer.decaytable import decay_json, decay_tables

    if not 320 <= rays <= 10_000_000:
        raise Mistake(f"--rays must lie between 320 and 10000000, not {rays}")
    read = _read(scene)
    _check_name(seat, tuple(s.name for s in read.seats), "seat")
    _check_name(speaker, tuple(s.name for s in read.speakers), "speaker")
    with _mistakes(), _progress() as progress:
        room = build_room(read)
        found = find_arrivals(read, room, progress=progress)
        decays = find_decay(read, room, found, n_rays=rays, seed=seed, progress=progress)
    decays = tuple(
        d
        for d in decays
        if seat in (None, read.seats[d.seat].name) and speaker in (None, read.speakers[d.speaker].name)
    )
    if json:
        import json as json_format

        sys.stdout.write(json_format.dumps(decay_json(read, decays), indent=1) + "\n")
    else:
        _console().print(decay_tables(read, decays))


@app.command
def builds(
    scene: Path | None = None, *, gap: str = "0 mm", json: Flag = False, units: Units = "metric"
) -> None:
    """List the panel builds that a scene may name, with what they absorb and weigh.

    Parameters
    ----------
    scene
        Scene file (TOML) whose own builds are listed first; without one the library alone.
    gap
        Air between panel and wall, a length such as "50 mm".
    json
        One JSON object in full precision.
    units
        Units of what is printed.
    """
    from raytrace import Air, load_builds, make_datasheet, parse_length
    from viewer.buildstable import builds_json, builds_table

    try:
        gap_m = parse_length(gap)
    except ValueError as problem:
        raise Mistake(f"--gap: {problem}") from None
    if not 0.0 <= gap_m <= 10.0:
        raise Mistake(f'--gap "{gap}" must lie between 0 and 10 m')
    read = None if scene is None else _read(scene)
    own = {} if read is None else read.builds
    listed = {**own, **load_builds(), **own}
    air = Air() if read is None else read.air
    sheets = [make_datasheet(name, build, gap_m=gap_m, air=air, alone=True) for name, build in listed.items()]
    if json:
        import json as json_format

        sys.stdout.write(json_format.dumps(builds_json(sheets), indent=1) + "\n")
    else:
        _console().print(builds_table(sheets, units=units))


@app.command
def cutlist(scene: Path, *, json: Flag = False, csv: Flag = False, units: Units = "metric") -> None:
    """Print what to buy and cut for the panels of a scene, and what they weigh on their hooks.

    Parameters
    ----------
    scene
        Scene file (TOML).
    json
        One JSON object in full precision, hooks and cords included.
    csv
        Shopping and cut list as comma-separated values, in millimetres.
    units
        Units of what is printed.
    """
    from raytrace import build_room
    from viewer.makingtable import making_csv, making_json
    from viewer.makingterminal import making_tables
    from viewer.worklist import make_worklist

    _check_form(json, csv, units)
    read = _read(scene)
    with _mistakes():
        worklist = make_worklist(read, build_room(read))
    if json:
        import json as json_format

        sys.stdout.write(json_format.dumps(making_json(worklist), indent=1) + "\n")
    elif csv:
        sys.stdout.write(making_csv(worklist.making))
    else:
        _console().print(making_tables(worklist, units=units))


@app.command
def propose(
    scene: Path,
    *,
    panels: int | None = None,
    budget: float | None = None,
    build: str | None = None,
    stock: Path | None = None,
    out: Path | None = None,
    replace: Flag = False,
    json: Flag = False,
    units: Units = "metric",
) -> None:
    """Propose the fewest panels that bring early reflections below the limit, and prove them.

    Writes a new scene file with them; the old one stays as it is.

    Parameters
    ----------
    scene
        Scene file (TOML).
    panels
        At most so many panels: the best of them.
    budget
        At most so much for what is bought; the build needs a price.
    build
        Build of the panels that are bought.
    stock
        Panels that are owned, a TOML file: a table [stock] with "wool 100" = 6 for each build. They go
        first; others are bought only if --build names one.
    out
        Scene file to write; the default is the scene's name with "-proposed". An existing file is never
        overwritten without --replace.
    replace
        Overwrite the file that is to be written.
    json
        One JSON object in full precision.
    units
        Units of what is printed.
    """
    from raytrace import propose as find_proposal
    from raytrace import read_stock
    from viewer.proposetable import proposal_json, proposal_tables

    _check_form(json, False, units)
    if panels is not None and not 1 <= panels <= 200:
        raise Mistake(f"--panels must lie between 1 and 200, not {panels}")
    if budget is not None and not budget >= 0.0:
        raise Mistake(f"--budget must be 0 or more, not {budget:g}")
    read = _read(scene)
    target = out or scene.with_name(f"{scene.stem}-proposed.toml")
    _check_target(target, scene, replace)
    with _mistakes(), _progress() as progress:
        owned = None if stock is None else read_stock(stock, read)
        try:
            found = find_proposal(
                read, out=target, n_panels=panels, budget=budget, build=build, stock=owned, progress=progress
            )
        except ValueError as problem:
            raise Mistake(str(problem)) from None
    if found.panels:
        _write_whole(target, found.text)
    if json:
        import json as json_format

        sys.stdout.write(json_format.dumps(proposal_json(found), indent=1) + "\n")
        return
    _console().print(proposal_tables(found, units=units))
    written = f"Written: {target}" if found.panels else "Nothing is proposed, so no file is written."
    _console().print(written, soft_wrap=True)


def _check_target(target: Path, scene: Path, replace: bool) -> None:
    """Refuse to write a scene where it must not go."""
    if target.suffix.lower() != ".toml":
        raise Mistake(f'{target}: a scene file ends in ".toml"')
    if target.resolve() == scene.resolve():
        raise Mistake(f"{target} is the scene itself; give the new one another name with --out")
    if target.is_dir() or not target.parent.is_dir():
        raise Mistake(f"{target} cannot be written: {target.parent} is not a folder, or {target} is one")
    if target.exists() and not replace:
        raise Mistake(f"{target} exists already; give another name with --out, or overwrite it: --replace")


def _write_whole(target: Path, text: str) -> None:
    """Write a file in one step: it is there whole, or as it was."""
    import os

    unfinished = target.with_name(f".{target.name}.{os.getpid()}")
    try:
        unfinished.write_bytes(text.encode("utf-8"))
        unfinished.replace(target)
    except OSError as problem:
        raise Mistake(f"{target} cannot be written: {problem.strerror}") from None
    finally:
        unfinished.unlink(missing_ok=True)


def _chosen(study: "Study", seat: str | None, speaker: str | None) -> "np.ndarray":
    """Rows of one speaker or seat, all where no name is given."""
    import numpy as np

    table = study.arrivals
    rows = np.arange(len(table.order))
    for name, names, column, what in (
        (seat, table.seat_names, table.seat, "seat"),
        (speaker, table.speaker_names, table.speaker, "speaker"),
    ):
        _check_name(name, names, what)
        if name is not None:
            rows = rows[column[rows] == names.index(name)]
    return rows


def _check_name(name: str | None, names: tuple[str, ...], what: str) -> None:
    if name is not None and name not in names:
        listed = ", ".join(f'"{known}"' for known in names)
        raise Mistake(f'no {what} is called "{name}"; there is {listed}')


def _check_form(json: bool, csv: bool, units: str) -> None:
    """Data files are one kind and metric: a program that reads them must not have to ask."""
    if json and csv:
        raise Mistake("--json and --csv exclude each other")
    if units == "imperial" and (json or csv):
        form = "--json" if json else "--csv"
        raise Mistake(f"{form} is always metric; leave out --units imperial, or leave out {form}")


def _size(text: str) -> tuple[int, int]:
    """Width and height of a picture from "2400x1600"."""
    width, cross, height = text.lower().partition("x")
    if not (cross and width.isdecimal() and height.isdecimal()):
        raise Mistake(f'--size "{text}" is not a size; accepted for example 2400x1600')
    size = int(width), int(height)
    if not all(300 <= side <= 8000 for side in size):
        raise Mistake(f"--size {text}: each side must lie between 300 and 8000")
    return size


@app.command
def report(
    scene: Path,
    *,
    out: Path | None = None,
    propose: Flag = False,
    order: int | None = None,
    until: float = 30.0,
    size: str = "2400x1600",
    units: Units = "metric",
) -> None:
    """Do the main job: pictures, curves, set-out sheets, tables, page and the PDF into one folder.

    Parameters
    ----------
    scene
        Scene file (TOML).
    out
        Folder to write; the default is the scene's name with "-report" in the current folder.
    propose
        Propose panels first, report on the room with them, and put the new scene into the folder.
    order
        Largest number of bounces; the default is 4, and as many as it takes within the limit's time.
    until
        Latest arrival in ms after the direct sound.
    size
        Width x height of the pictures.
    units
        Units of what is printed.
    """
    from viewer.outfolder import OutputRefused
    from viewer.report import write_report

    pixels = _size(size)
    folder = out or Path(f"{scene.stem}-report")
    read = _read(scene)
    proposal = None
    if propose:
        from raytrace import propose as find_proposal

        with _mistakes(), _progress() as progress:
            proposal = find_proposal(read, out=folder / "proposed.toml", up_to_order=order, progress=progress)
    study = _study(read, order, until) if proposal is None else proposal.after
    without = study.scene.without_panels()
    bare = None if study.scene.is_bare else _study(without, order, until)
    try:
        with _progress() as progress:
            written = write_report(
                study, folder, bare=bare, proposal=proposal, units=units, size=pixels, progress=progress
            )
    except OutputRefused as problem:
        raise Mistake(str(problem)) from None
    _console().print(
        f"Written: {written}{'' if str(written).endswith('/') else '/'}report.pdf, what it is made of, and "
        "page.html, the room to turn in a browser",
        soft_wrap=True,
    )


@app.command
def page(
    scene: Path,
    *,
    against: str | None = None,
    out: Path | None = None,
    order: int | None = None,
    until: float = 30.0,
    units: Units = "metric",
) -> None:
    """Write the room as one file that opens in any browser, offline: turn it, point at a path, read it.

    Parameters
    ----------
    scene
        Scene file (TOML).
    against
        What came before, to switch to and fro: OTHER.toml, or "bare" for the scene itself without its
        panels, which is the default where it holds any.
    out
        HTML file to write; the default is the scene's name with ".html" in the current folder.
    order
        Largest number of bounces; the default is 4, and as many as it takes within the limit's time.
    until
        Latest arrival in ms after the direct sound.
    units
        Units of what is written on the page.
    """
    from viewer.page import PageRefused, write_page

    read = _read(scene)
    against = against or (None if read.is_bare else "bare")
    scenes = [read] if against is None else [_other(scene, read, against), read]
    studies = [_study(each, order, until) for each in scenes]
    try:
        written = write_page(studies[0], out or Path(f"{scene.stem}.html"), *studies[1:], units=units)
    except PageRefused as problem:
        raise Mistake(str(problem)) from None
    _console().print(f"Written: {written}", soft_wrap=True)


@app.command
def stills(
    scene: Path,
    *,
    out: Path | None = None,
    size: str = "2400x1600",
    order: int | None = None,
    units: Units = "metric",
) -> None:
    """Draw the named pictures: the whole room, the plan, the side section.

    Parameters
    ----------
    scene
        Scene file (TOML).
    out
        Folder to write; the default is the scene's name with "-stills" in the current folder.
    size
        Width x height in pixels.
    order
        Largest number of bounces; the default is 4, and as many as it takes within the limit's time.
    units
        Units of what is written in the pictures.
    """
    from viewer.stills import draw_stills

    pixels = _size(size)
    folder = out or Path(f"{scene.stem}-stills")
    study = _study(_read(scene), order, 30.0)
    folder.mkdir(parents=True, exist_ok=True)
    with _progress() as progress:
        pictures = draw_stills(study, folder, size=pixels, units=units, progress=progress)
    for picture in pictures:
        _console().print(f"{picture.path}: {picture.caption}")
    for note in dict.fromkeys(picture.note for picture in pictures if picture.note):
        _console().print(f"Note: {note}")


@app.command
def view(scene: Path | None = None) -> None:
    """Open the room in a window: turn it, read every reflection, move things and see what changes.

    Parameters
    ----------
    scene
        Scene file (TOML); without one the window asks how to start.
    """
    from viewer.display import begin_probe

    probe = begin_probe()
    if scene is not None:
        _read(scene)
    from viewer.opening import open_window

    why_not = probe.answer()
    if why_not:
        raise Mistake(why_not)
    open_window(scene)


@app.command
def drawings(
    scene: Path,
    *,
    out: Path | None = None,
    paper: Literal["A4", "A3"] | None = None,
    units: Units = "metric",
) -> None:
    """Draw what an installer needs to scale: ceiling plan, treated surfaces, floor plan; PDF, SVG and DXF.

    Parameters
    ----------
    scene
        Scene file (TOML) with panels, stands or clouds.
    out
        Folder to write; the default is the scene's name with "-drawings" in the current folder.
    paper
        A4 or A3; the default is whichever serves each drawing best.
    units
        Units of the figures; DXF files are in millimetres in any case.
    """
    from raytrace import build_room
    from viewer.drawings import write_drawings
    from viewer.outfolder import OutputRefused

    read = _read(scene)
    if not (read.panels or read.stands or read.clouds):
        raise Mistake(
            f"{scene}: there is nothing to draw: it has no [[panels]], [[stands]] or [[clouds]]. "
            f"Write them in, or let hitspot propose {scene} suggest some."
        )
    folder = out or Path(f"{scene.stem}-drawings")
    try:
        with _mistakes(), _progress() as progress:
            room = build_room(read)
            pages = write_drawings(read, room, folder, units=units, paper=paper, progress=progress)
    except OutputRefused as problem:
        raise Mistake(str(problem)) from None
    for page in pages:
        scale = "" if page.scale is None else f", 1:{page.scale}"
        _console().print(f"{page.name}: {page.title}, {page.paper}{scale}", soft_wrap=True)
    _console().print(f"Written: {folder / 'drawings.pdf'}, and each sheet as SVG and DXF", soft_wrap=True)


if __name__ == "__main__":
    main()
