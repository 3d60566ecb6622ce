"""Proposals for many scenes at once: one line for each, whoever does them."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from viewer.cli.commandline import Extent, Lists, Mistake, mistakes, read_scene, showing_progress
from viewer.cli.panels import Target, Wish
from viewer.cli.printing import print_json, say
from viewer.cli.siting import Spread

_PROPOSED = "-proposed"
_USERS = 2  # exit code of what the user can put right


@dataclass(frozen=True)
class Order:
    """What is asked for, the same for all scenes."""

    wish: Wish
    lists: Lists
    to: Target
    extent: Extent
    by: Spread


def propose_each(paths: Sequence[Path], order: Order, *, json: bool) -> None:
    """Propose panels for each of some scenes, write the new ones, print a line for each.

    Raises
    ------
    Mistake
        After all of them, if some could not be done.
    """
    from raytrace import CAUTIONS, Crew

    order.wish.check()
    order.extent.check()
    if order.to.out is not None:
        raise Mistake("--each writes one new scene beside each; leave out --out")
    ready = {path: _task_or_why(path, order) for path in _without_own(paths)}
    tasks = [task for task in ready.values() if isinstance(task, dict)]
    whole = "propose " + " ".join(str(path.resolve()) for path in paths)
    with order.by.kept(whole) as record, showing_progress() as progress, Crew(order.by.hands()) as crew:
        done = iter(crew.spread(propose_one, tasks, record=record, progress=progress, told="scenes"))
        found = {path: _failed(own) if isinstance(own, str) else next(done) for path, own in ready.items()}
    lines = [_told(path, one) for path, one in found.items()]
    if json:
        kept = ("code", "words", "cost")
        entries = [
            {
                "scene": str(p),
                "out": line.out,
                "n_panels": sum(found[p]["panels"]),
                **{key: found[p][key] for key in kept},
            }
            for p, line in zip(found, lines, strict=True)
        ]
        print_json({"scenes": entries, "cautions": [str(caution) for caution in CAUTIONS]})
    else:
        for line in lines:
            say(line.words)
        if any(line.out for line in lines):
            say("")
            for caution in CAUTIONS:
                say(str(caution))
    failed = sum(one["code"] != 0 for one in found.values())
    if failed:
        raise Mistake(f"{failed} of {len(found)} scenes could not be done.")


@dataclass(frozen=True)
class _Line:
    words: str
    out: str | None


def _without_own(paths: Sequence[Path]) -> list[Path]:
    """The scenes that are asked for, without what this command itself made of another one of them."""
    named = dict.fromkeys(paths)
    own = {path for path in named if path.parent / path.name.replace(f"{_PROPOSED}.toml", ".toml") in named}
    return [path for path in named if path not in own or not path.stem.endswith(_PROPOSED)]


def _task_or_why(path: Path, order: Order) -> dict[str, Any] | str:
    """The scene as a task for any process; in words why it is none."""
    try:
        scene = read_scene(path)
        order.lists.added_to(scene)
        out = order.to.checked(path, order.lists)
        texts = [own.read_text(encoding="utf-8") for own in order.lists.files]
    except Mistake as problem:
        return str(problem)
    except OSError as problem:
        return f"{path}: {problem.strerror}"
    lists = {name: None if own is None else str(own) for name, own in asdict(order.lists).items()}
    return {
        "path": str(path),
        "text": scene.text,
        "out": str(out),
        "wish": asdict(order.wish),
        "lists": lists,
        "list_texts": texts,  # so that a record knows when they have changed
        "order": order.extent.order,
        "until": order.extent.until,
    }


def propose_one(task: dict[str, Any]) -> dict[str, Any]:
    """What is proposed for one scene, as plain data: a line of words, and the text of the new scene."""
    from raytrace import compare, headline, load_scene, propose

    try:
        with mistakes(ValueError):
            scene = load_scene(task["path"], task["text"])
            lists = {name: None if own is None else Path(own) for name, own in task["lists"].items()}
            scene = Lists(**lists).added_to(scene)
            extent = Extent(task["order"], task["until"])
            extent.check(scene)
            wish = Wish(**task["wish"]).asked(scene)
            found = propose(scene, wish, out=Path(task["out"]), **extent.options)
    except Mistake as problem:
        return _failed(str(problem))
    return {
        "code": 0,
        "words": headline(compare(found.before, found.after), only=found.seats),
        "panels": [panel.stacked for panel in found.panels],
        "cost": found.cost,
        "text": found.text if found.is_new else None,
        "out": task["out"],
    }


def _failed(words: str) -> dict[str, Any]:
    return {"code": _USERS, "words": words, "panels": [], "cost": None, "text": None, "out": None}


def _told(path: Path, one: dict[str, Any]) -> _Line:
    """The line for one scene, after its new scene was written."""
    from viewer.files import OutputRefused, write_whole
    from viewer.words import panels_words

    if one["code"] != 0:
        first = str(one["words"]).splitlines()[0]
        return _Line(first if first.startswith(str(path)) else f"{path}: {first}", None)
    if one["text"] is None:
        return _Line(f"{path}: {one['words']} Nothing is proposed.", None)
    try:
        write_whole(Path(one["out"]), one["text"])
    except OutputRefused as problem:
        one.update(_failed(str(problem)))
        return _Line(f"{path}: {problem}", None)
    return _Line(f"{path}: {one['words']} {panels_words(one['panels'])}: {one['out']}", one["out"])
