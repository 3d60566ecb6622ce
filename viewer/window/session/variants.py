"""Variants of a room as files beside that of the first, each a whole scene of its own."""

import re
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from string import ascii_uppercase
from typing import Any

from raytrace import Scene, SceneError
from viewer.window.session.drafts import Draft, History, autosave, discard_recovery, save, write_text

FIRST = "A"
"""What the scene is called that the others stand beside."""
MOST_SIGNS = 40
# What no system takes in the name of a file, and the dot, which parts the name from that of the room.
_NO_SIGNS = re.compile(r'[./\\:*?"<>|\x00-\x1f\x7f]')


def first_of(path: Path) -> Path:
    """The scene that a file is a variant of; the file itself where that is none."""
    stem, dot, _ = path.stem.rpartition(".")
    first = path.with_name(f"{stem}.toml")
    return first if dot and stem and first.is_file() else path


def variants_of(path: Path) -> tuple[Path, ...]:
    """The first scene of a room and its variants by name, those that are there."""
    first = first_of(path)
    start = f"{first.stem}."
    try:
        beside = [own for own in first.parent.iterdir() if own.suffix == ".toml" and own != first]
    except OSError:
        beside = []
    named = [own for own in beside if own.name.startswith(start) and "." not in own.stem[len(start) :]]
    return (first, *sorted((own for own in named if own.is_file()), key=lambda own: own.name.casefold()))


def variant_name(path: Path) -> str:
    """What a variant is called: A the first, else what stands between the room's name and `.toml`."""
    first: Path = first_of(path)
    return FIRST if path == first else path.stem[len(first.stem) + 1 :]


def variant_path(path: Path, name: str) -> Path:
    """Where a variant of a room lies under a name.

    Raises
    ------
    ValueError
        If the name is none for a file, or stands for another variant.
    """
    name = name.strip()
    if not name or len(name) > MOST_SIGNS or _NO_SIGNS.search(name):
        raise ValueError(
            f'a variant is called by 1 to {MOST_SIGNS} signs, none of them . / \\ : * ? " < > |, '
            "for example: B, or with a cloud"
        )
    taken = {variant_name(own).casefold() for own in variants_of(path)} | {FIRST.casefold()}
    if name.casefold() in taken and name.casefold() != variant_name(path).casefold():
        raise ValueError(f"{name} is there already")
    first: Path = first_of(path)
    return first.with_name(f"{first.stem}.{name}.toml")


def free_name(path: Path) -> str:
    """The first letter that no variant of a room is called by; numbers after Z."""
    taken = {variant_name(own).casefold() for own in variants_of(path)}
    letters: list[str] = [*ascii_uppercase[1:], *(str(n) for n in range(27, 1000))]
    return next(name for name in letters if name.casefold() not in taken)


def write_variant(path: Path, text: str) -> Path:
    """Write a further variant of the room of a file, under the next free letter; returns where.

    Raises
    ------
    SceneError
        If it cannot be written.
    """
    target = variant_path(path, free_name(path))
    try:
        write_text(target, text)
    except OSError as problem:
        raise SceneError(f"{target}: cannot be written: {problem.strerror}", path=target) from None
    return target


def rename_variant(path: Path, name: str) -> Path:
    """Give the file of a variant another name; returns where it lies then.

    Raises
    ------
    ValueError
        If that is no name, or the file is the one that the others are named after.
    SceneError
        If the file cannot be moved.
    """
    if path == first_of(path):
        raise ValueError(
            f"{path.name} is the room that the others are named after: save it under another name"
        )
    target = variant_path(path, name)
    if target == path:
        return path
    try:
        path.rename(target)
    except OSError as problem:
        raise SceneError(f"{target}: cannot be written: {problem.strerror}", path=target) from None
    return target


@dataclass(frozen=True)
class Left:
    """A variant with its changes, the study of its file if there is one yet, and the scene of its file."""

    history: History
    first: Any
    first_scene: Scene


class LeftVariants:
    """Variants that were left for another one, by their files; each keeps its changes to be gone on with."""

    def __init__(self) -> None:
        self._left: dict[Path, Left] = {}

    @property
    def drafts(self) -> tuple[Draft, ...]:
        """How each of them stands."""
        return tuple(left.history.current for left in self._left.values())

    def put(self, path: Path, own: Left) -> None:
        """Keep one that is left."""
        self._left[path] = own

    def take(self, path: Path) -> Left | None:
        """Go on with one; None where it was never left."""
        return self._left.pop(path, None)

    def clear(self) -> None:
        """Another room is open."""
        self._left.clear()

    def move(self, path: Path, target: Path) -> None:
        """The file of one lies elsewhere now."""
        left = self._left.pop(path, None)
        if left is not None:
            self._left[target] = left
            move_history(left.history, target)

    def save(self) -> None:
        """Write those that hold changes; SceneError at the first that cannot be written."""
        for left in self._left.values():
            if left.history.current.dirty:
                left.history.push(save(left.history.current))


def move_history(history: History, target: Path) -> None:
    """The file of a draft lies elsewhere now, and what is kept of it for a crash as well."""
    path = history.current.path
    history.move(target)
    discard_recovery(path)
    with suppress(SceneError):  # tried again, and told, with the next change
        autosave(history.current)
