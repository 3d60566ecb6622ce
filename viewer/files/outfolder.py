"""A folder of output: written beside its place, moved there when complete, never over what is not ours."""

import hashlib
import json
import os
import unicodedata
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from viewer.files.origin import Origin, OutputRefused, Place, check_origin
from viewer.files.unfinished import refusing_trouble, written_beside

RECORD = ".hitspot"
"""The file of each folder that tells what it holds, of which scene, and the digest of each other file."""

_FILES = "files"
_OF_THE_SYSTEM = (".DS_Store", "Thumbs.db", "desktop.ini")  # left by programs that show folders


@contextmanager
def moved_into_place(where: str | Path | Place, origin: Origin) -> Iterator[Path]:
    """A folder to write into, moved to its place if all went well and removed if not.

    Raises
    ------
    OutputRefused
        If something stands there that is no output of this kind and scene, just as it was written, or
        nothing can be written; nothing is touched then.
    """
    place = Place.of(where)
    check_folder(place, origin)
    with refusing_trouble(place.path), written_beside(place.path) as staging:
        staging.mkdir()
        yield staging
        files = {name: _digest(Path(entry)) for name, entry in _walk(staging)}
        record = json.dumps(origin.record | {_FILES: files}, indent=1)
        (staging / RECORD).write_text(record + "\n", encoding="utf-8", newline="\n")
        check_folder(place, origin)


def check_folder(place: Place, origin: Origin) -> None:
    """Raise unless a folder is free, empty, or an earlier one of this kind and scene, as it was written.

    Raises
    ------
    OutputRefused
        Says what stands there.
    """
    folder = place.path
    with refusing_trouble(folder):
        try:
            folder.lstat()
        except FileNotFoundError:
            return
        if folder.is_symlink() or not folder.is_dir():
            raise OutputRefused(f"{folder}: something that is not a folder stands here; give another --out")
        if Path.cwd().is_relative_to(folder.resolve()):
            raise OutputRefused(f"{folder}: is the current folder or holds it; give another --out")
        if next(folder.iterdir(), None) is None:
            return
        record = _read_record(folder)
        for name, why in _foreign(folder, record.get(_FILES, {})):
            raise OutputRefused(f'{folder}: holds "{name}", which {why}; give another --out')
        check_origin(place, record, origin)


def _read_record(folder: Path) -> Mapping[str, Any]:
    try:
        record = json.loads((folder / RECORD).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    return record if isinstance(record, dict) and isinstance(record.get(_FILES), dict) else {}


def _foreign(folder: Path, files: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """What stands in a folder that we did not write, or not so, and why, one after the other."""
    known = {_composed(name): digest for name, digest in files.items()}
    for name, entry in _walk(folder):
        if name == RECORD or (entry.name in _OF_THE_SYSTEM and not entry.is_symlink()):
            continue
        if entry.is_symlink() or _composed(name) not in known:
            yield name, "was not written by us"
        elif _digest(Path(entry)) != known[_composed(name)]:
            yield name, "was changed since we wrote it"


def _walk(folder: Path, above: str = "") -> Iterator[tuple[str, "os.DirEntry[str]"]]:
    """Everything in a folder but folders, with its name relative to it, in one order everywhere."""
    for entry in sorted(os.scandir(folder), key=lambda entry: entry.name):
        if entry.is_dir(follow_symlinks=False):
            yield from _walk(Path(entry), f"{above}{entry.name}/")
        else:
            yield f"{above}{entry.name}", entry


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _composed(name: str) -> str:
    """A name as we wrote it: some file systems take letters and their accents apart."""
    return unicodedata.normalize("NFC", name)
