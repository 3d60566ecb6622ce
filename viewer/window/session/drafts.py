"""A scene being edited: its text, its history, and what survives a crash."""

import hashlib
import json
import os
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from raytrace import (
    Scene,
    SceneError,
    Surface,
    format_length,
    joist_lines,
    load_scene,
    move_in_text,
    read_scene_text,
    set_in_text,
)
from viewer.statefolder import state_folder
from viewer.window.state import Kind

Point = tuple[float, ...]

_UNNAMED = Path("untitled.toml")
# A hand that is this near to a line means the line (own choice: three steps of the grid).
CATCH_M = 0.030


@dataclass(frozen=True)
class Draft:
    """One state of a scene file while it is edited.

    Attributes
    ----------
    path : Path or None
        Where the file lies; None before the first save.
    text : str
        The whole text as it would be saved, line ends and byte order mark included.
    saved_text : str
        What the file held when it was last read or written; "" for a new one.
    """

    path: Path | None
    text: str
    saved_text: str

    @property
    def dirty(self) -> bool:
        """Whether the text holds what the file does not."""
        return self.text != self.saved_text

    def scene(self) -> Scene:
        """The scene that the text describes.

        Raises
        ------
        SceneError
            For anything wrong with it.
        """
        return load_scene(self.path or _UNNAMED, self.text)

    def with_position(self, kind: Kind, index: int, value: Sequence[float]) -> "Draft":
        """The draft with one thing somewhere else, to the millimetre.

        Parameters
        ----------
        kind, index : str, int
            "speakers", "seats", "objects", "panels", "stands" or "clouds"; which of them, from 0.
        value : sequence of float
            Position, ears, centre or foot as the scene file has it, or a mesh object's move. [m]
        """
        text = move_in_text(self.text, kind, index, value, path=self.path or _UNNAMED)
        return replace(self, text=text)

    def with_value(self, key: tuple[str | int, ...], value: Any) -> "Draft":
        """The draft with one value changed or added; key paths are like `("seats", 0, "zone")`.

        A number where the file has text with a unit is a length in metres and keeps that unit.
        """
        text = set_in_text(self.text, key, value, path=self.path or _UNNAMED)
        return replace(self, text=text)


class History:
    """Every state of a draft since it was opened; what was undone is kept until something new is done."""

    def __init__(self, draft: Draft) -> None:
        self._drafts = [draft]
        self._at = 0

    @property
    def current(self) -> Draft:
        """The draft as it stands."""
        return self._drafts[self._at]

    @property
    def can_undo(self) -> bool:
        """Whether there is an earlier state."""
        return self._at > 0

    @property
    def can_redo(self) -> bool:
        """Whether something was undone."""
        return self._at < len(self._drafts) - 1

    def push(self, draft: Draft) -> Draft:
        """Make `draft` the current state; one with the same text (just saved) is no new step."""
        if draft.text != self.current.text:
            self._drafts[self._at + 1 :] = [draft]
            self._at += 1
        # Saving changes what every state is compared with, and where all of them would be saved.
        self._drafts = [replace(own, path=draft.path, saved_text=draft.saved_text) for own in self._drafts]
        return self.current

    def move(self, path: Path) -> None:
        """The file of every state lies elsewhere now."""
        self._drafts = [replace(own, path=path) for own in self._drafts]

    def undo(self) -> Draft:
        """One step back; the first state stays where it is."""
        self._at = max(self._at - 1, 0)
        return self.current

    def redo(self) -> Draft:
        """One step forward again; the last state stays where it is."""
        self._at = min(self._at + 1, len(self._drafts) - 1)
        return self.current


def open_draft(path: str | Path) -> Draft:
    """The draft of a file, changed in nothing; the scene in it is not checked yet.

    Raises
    ------
    SceneError
        If the file is missing, a folder or not UTF-8.
    """
    text = read_scene_text(path)
    return Draft(Path(path), text, text)


def save(draft: Draft, path: str | Path | None = None) -> Draft:
    """Write a draft in one step, so that the file is always the old or the new one.

    Parameters
    ----------
    draft : Draft
        What to write.
    path : str or Path, optional
        Where to; without one, where it came from.

    Returns
    -------
    Draft
        The same text, no longer dirty. Its recovery file is gone.

    Raises
    ------
    ValueError
        If neither says where.
    SceneError
        If the file cannot be written; what was there is untouched.
    """
    target = Path(path) if path is not None else draft.path
    if target is None:
        raise ValueError("a new draft is saved under a path")
    try:
        write_text(target.resolve(), draft.text)  # through a link to the file it names
    except OSError as problem:
        raise SceneError(f"{target}: cannot be written: {problem.strerror}", path=target) from None
    discard_recovery(draft.path)
    discard_recovery(target)
    return Draft(target, draft.text, draft.text)


def changed_on_disk(draft: Draft) -> bool:
    """Whether someone else has changed or removed the file since it was read or written."""
    if draft.path is None:
        return False
    try:
        return text_on_disk(draft.path) != draft.saved_text
    except OSError:
        return True


def text_on_disk(path: Path) -> str:
    """What the file at `path` holds, "" where there is none; bytes that are no text as lone surrogates.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    try:
        return path.read_bytes().decode("utf-8", errors="surrogateescape")
    except FileNotFoundError:
        return ""


def stamp(path: Path) -> tuple[int, int] | None:
    """What tells one state of a file from the next: its size and when it was written; None for no file."""
    try:
        told = path.stat()
    except OSError:
        return None
    return told.st_size, told.st_mtime_ns


def autosave(draft: Draft) -> Path | None:
    """Keep a dirty draft for the case of a crash, in the user's state folder.

    Returns
    -------
    Path or None
        The recovery file; None if there is nothing to keep.

    Raises
    ------
    SceneError
        If the folder cannot be written.
    """
    if not draft.dirty:
        discard_recovery(draft.path)
        return None
    file = _recovery_file(draft.path)
    try:
        file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        write_text(file, json.dumps({"text": draft.text, "saved_text": draft.saved_text}))
    except OSError as problem:
        raise SceneError(f"{file.parent}: cannot be written: {problem.strerror}", path=file) from None
    return file


def find_recovery(path: str | Path | None) -> Draft | None:
    """What a crash left of the file at `path` (of an unnamed scene: None), if it differs from the file.

    Its `saved_text` is what the file held then: `changed_on_disk` tells whether the file has moved on.
    """
    path = None if path is None else Path(path)
    try:
        kept = json.loads(_recovery_file(path).read_text(encoding="utf-8"))
        draft = Draft(path, kept["text"], kept["saved_text"])
    except (OSError, ValueError, KeyError, TypeError):
        return None
    try:
        on_disk = "" if path is None else text_on_disk(path)
    except OSError:
        on_disk = ""
    return None if draft.text == on_disk else draft


def discard_recovery(path: str | Path | None) -> None:
    """Forget what a crash left of the file at `path`."""
    with suppress(OSError):  # what cannot be removed is offered once more
        _recovery_file(path).unlink(missing_ok=True)


def _recovery_file(path: str | Path | None) -> Path:
    if path is None:
        return state_folder("drafts") / "unnamed.json"
    full = str(Path(path).resolve())
    return state_folder("drafts") / f"{Path(path).stem}-{hashlib.sha256(full.encode()).hexdigest()[:16]}.json"


def write_text(path: Path, text: str) -> None:
    """Write or replace a file in one step, keeping its permissions; OSError where that cannot be."""
    # A read-only file is a wish: replacing it would go through, so it has to be asked for.
    if path.exists() and not os.access(path, os.W_OK):
        raise PermissionError(13, "the file is write-protected")
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".tmp", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(text.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(path.stat().st_mode & 0o7777 if path.exists() else 0o666 & ~_umask())
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _umask() -> int:
    """The permissions that new files of this user leave out."""
    mask = os.umask(0)
    os.umask(mask)
    return mask


def snap(
    point: Sequence[float],
    *,
    step_m: float = 0.010,
    mirror_plane_y: float | None = None,
    mirror: Sequence[float] | None = None,
    joists: Sequence[tuple[int, float]] = (),
    others: Sequence[tuple[int, float, str]] = (),
) -> tuple[Point, str]:
    """A dragged point where the hand probably wants it.

    Parameters
    ----------
    point : sequence of float
        x, y, z in the room, or u, v on a surface. [m]
    step_m : float
        Grid for the coordinates that nothing else catches; 0 for none. [m]
    mirror_plane_y : float, optional
        The listening axis. Without `mirror` the point itself is drawn onto it. [m]
    mirror : sequence of float, optional
        The other speaker of the pair: each coordinate is drawn to its mirror image. [m]
    joists : sequence of (int, float)
        Lines: which coordinate they fix, and where. [m]
    others : sequence of (int, float, str)
        The same of walls and other things, and what is there.

    Returns
    -------
    tuple of float, str
        The point, and what it was drawn to in a few words; "" where it stayed as it was.
    """
    lines: list[tuple[int, float, str]] = []
    if mirror_plane_y is not None and mirror is not None:
        image = (mirror[0], 2.0 * mirror_plane_y - mirror[1], *mirror[2:])
        lines += [(axis, at, "symmetric to the other speaker") for axis, at in enumerate(image)]
    elif mirror_plane_y is not None:
        lines.append((1, mirror_plane_y, "on the listening axis"))
    lines += [(axis, at, "on a joist") for axis, at in joists] + list(others)
    placed, reasons = list(point), []
    for axis, own in enumerate(point):
        near = [(abs(at - own), at, why) for on, at, why in lines if on == axis and abs(at - own) <= CATCH_M]
        if near:
            _, placed[axis], why = min(near)
            # Of a pair only the distance from the axis makes it symmetric.
            if why != "symmetric to the other speaker" or axis == 1:
                reasons.append(why)
        elif step_m > 0.0:
            placed[axis] = round(round(own / step_m) * step_m, 6)
    if not reasons and any(abs(new - old) > 1e-9 for new, old in zip(placed, point, strict=True)):
        reasons.append(f"{format_length(step_m)} grid")
    return tuple(placed), ", ".join(dict.fromkeys(reasons))


def joist_catches(scene: Scene, surface: Surface) -> tuple[tuple[int, float], ...]:
    """The joists of a surface as lines for `snap`: 0 for constant u, 1 for constant v, and where. [m]"""
    return tuple(
        (int(joists.along_u), float(at))
        for joists in scene.joists
        if joists.surface == surface.name
        for at in joist_lines(joists, surface.frame)
    )
