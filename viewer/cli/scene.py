"""Commands about a scene itself: start one from a tape sketch, read it back, open it in the window."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from viewer.cli.commandline import Flag, Mistake, SceneFile, Units, console, mistakes, print_json, read_scene

if TYPE_CHECKING:
    from raytrace import Question

Shape = Literal["box", "gable", "lean-to", "plan", "section"]


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
    from raytrace import QUESTIONS, AnswerError, sketch_scene

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
        except AnswerError as problem:
            # The answers do not fit together: at a terminal that one is asked again, the others are kept.
            if problem.key not in known or problem.key in given or not sys.stdin.isatty():
                raise Mistake(str(problem)) from None
            sys.stderr.write(f"  {problem.why}\n")
            del typed[problem.key]
    file.write_text(text, encoding="utf-8")
    console().print(f"Written: {file}. Look it over, then: hitspot check {file}", soft_wrap=True)


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


def check(scene: SceneFile, *, units: Units = "metric") -> None:
    """Read a scene and say what it is: sizes, surfaces, materials, warnings.

    Parameters
    ----------
    units
        Units of what is printed.
    """
    from raytrace import build_room
    from viewer.tables import scene_summary

    read = read_scene(scene)
    with mistakes():
        room = build_room(read)
    console().print(scene_summary(read, room, units=units))


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
        read_scene(scene)
    from viewer.window import open_window

    why_not = probe.answer()
    if why_not:
        raise Mistake(why_not)
    open_window(scene)


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
        console().print(materials_table(listed))
