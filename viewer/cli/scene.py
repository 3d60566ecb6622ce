"""Commands about a scene itself: start one from a tape sketch, read it back, open it in the window."""

import os
from pathlib import Path
from typing import Literal, get_args

from viewer.cli.commandline import Flag, Mistake, SceneFile, Units, mistakes, read_scene, units_of
from viewer.cli.dialogue import Dialogue, TapeUnits
from viewer.cli.printing import print_json, say, show

Shape = Literal["box", "gable", "lean-to", "plan", "section"]


def new(
    file: Path,
    *,
    shape: Shape | None = None,
    title: str | None = None,
    units: TapeUnits | None = None,
    **answers: str,
) -> None:
    """Write a first scene file from the few numbers of a tape sketch.

    Asks one question after the other; an empty answer takes the suggestion, "undo" goes back to the
    question before. An option named like a question answers it beforehand: --length "4.2 m". Answers may
    be piped in, one a line; those that are missing at the end take their suggestions.

    Parameters
    ----------
    file
        Scene file to write (TOML); an existing one is never overwritten.
    shape
        Shape of the room.
    title
        Title of the scene.
    units
        What numbers without a unit are, and what the scene is written in.
    answers
        Answers by the name of their question.
    """
    from raytrace import QUESTIONS, AnswerError, Tape, plain, sketch_scene
    from viewer.files import OutputRefused, write_whole

    if file.suffix.lower() != ".toml":
        raise Mistake(f'{file}: a scene file ends in ".toml"')
    if file.exists():
        raise Mistake(f"{file} exists already; give another name, or move it away first")
    if not file.parent.is_dir():
        raise Mistake(f"{file.parent} is not a folder")
    if not os.access(file.parent, os.W_OK):
        raise Mistake(f"{file} cannot be written: {file.parent} is read-only")
    dialogue = Dialogue()
    chosen = shape or dialogue.choose("Shape of the room", get_args(Shape), "--shape")
    given = {key.replace("-", "_"): value for key, value in answers.items()}
    known = {question.key for question in QUESTIONS[chosen]}
    for key in given:
        if key not in known:
            options = ", ".join("--" + name.replace("_", "-") for name in sorted(known))
            raise Mistake(
                f"no question of a {chosen} room is called --{key.replace('_', '-')}; there is {options}"
            )
    typed_in: str | None = units
    if typed_in is None and dialogue.asks:
        typed_in = dialogue.choose("Numbers without a unit are", get_args(TapeUnits), "--units")
    tape = Tape[(typed_in or "metres").upper()]
    typed = dialogue.ask(QUESTIONS[chosen], given, tape)
    title = title or plain(file.stem)
    try:
        text = sketch_scene(chosen, typed, title=title, tape=tape)
    except AnswerError as problem:
        raise Mistake(str(problem)) from None
    with mistakes(OutputRefused):
        write_whole(file, text)
    say(f"Written: {file}. Look it over, then: hitspot check {file}")


def check(scene: SceneFile, *, units: Units = None) -> None:
    """Read a scene and say what it is: sizes, surfaces, materials, warnings."""
    from raytrace import build_room
    from viewer.tables import scene_summary

    read = read_scene(scene)
    with mistakes():
        room = build_room(read)
    show(scene_summary(read, room, units=units_of(read, units)))


def view(scene: Path | None = None) -> None:
    """Open the room in a window: turn it, read every reflection, move things and see what changes.

    Parameters
    ----------
    scene
        Scene file (TOML); without one the window asks how to start.
    """
    from viewer.cli.display import begin_probe

    probe = begin_probe()
    if scene is not None:
        _look_at(scene)
    from viewer.window import open_window

    why_not = probe.answer()
    if why_not:
        raise Mistake(why_not)
    open_window(scene)


def _look_at(scene: Path) -> None:
    """Refuse a scene file that does not read, unless changes of it were kept: the window offers those."""
    try:
        read_scene(scene)
    except Mistake:
        from viewer.window import find_recovery

        if find_recovery(scene) is None:
            raise


def materials(word: str | None = None, *, scene: Path | None = None, json: Flag = False) -> None:
    """List the surface materials that a scene may name, with what they absorb.

    Parameters
    ----------
    word
        Only those with this in one of their names: "floor".
    scene
        Scene file (TOML) whose own materials are listed first; without one the library alone.
    json
        One JSON object in full precision, with the source of every row.
    """
    from raytrace import load_library, nearest_name
    from viewer.tables import materials_json, materials_table

    read = None if scene is None else read_scene(scene)
    own = {} if read is None else {name: read.material(name) for name in read.materials}
    listed = {**own, **load_library(), **own}
    if word is not None:
        rows = {id(material) for name, material in listed.items() if word.lower() in name.lower()}
        listed = {name: material for name, material in listed.items() if id(material) in rows}
        if not listed:
            nearest = nearest_name(word, {**own, **load_library()})
            meant = "" if nearest is None else f', did you mean "{nearest}"?'
            raise Mistake(f'no material is called "{word}"{meant or ";"} hitspot materials lists them all')
    if json:
        print_json(materials_json(listed))
    else:
        show(materials_table(listed))
