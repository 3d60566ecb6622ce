"""What is being written: beside its place, gone if it is not finished, swept up later if a run was killed."""

import errno
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from viewer.files.origin import OutputRefused

_PREFIX = ".hitspot-unfinished-"
_LOCK, _PLACE, _NEW, _OLD = "lock", "place", "new", "old"
_LOCKLESS_S = 86_400.0  # a run is killed in the moment before it has its lock: seldom enough to wait a day
OUTSIDE = {
    getattr(errno, name)
    for name in (
        *("EACCES", "EPERM", "EROFS", "ENOTDIR", "EISDIR", "ENAMETOOLONG", "ELOOP"),
        *("ENOSPC", "EDQUOT", "EFBIG", "EIO", "EBUSY", "EMFILE", "ENFILE"),
    )
    if hasattr(errno, name)
}
"""What keeps files from being written and is no mistake of ours."""


@contextmanager
def refusing_trouble(path: Path) -> Iterator[None]:
    """Turn a full disk, a folder that must not be written and the like into one message about `path`."""
    try:
        yield
    except OSError as problem:
        if problem.errno not in OUTSIDE:
            raise
        raise OutputRefused(f"{path}: cannot be written: {problem.strerror}") from problem


@contextmanager
def written_beside(path: Path) -> Iterator[Path]:
    """A free path beside `path` for a new file or folder; it takes the place of `path` if all goes well.

    What stood at `path` is kept until then, and put back if the last step fails. What killed runs left in
    the same folder is removed first.
    """
    path = path.absolute()
    ground = path.parent
    while not ground.exists():
        ground = ground.parent
    sweep(ground)
    scratch = Path(tempfile.mkdtemp(prefix=_PREFIX, dir=ground))
    try:
        with _locked(scratch):
            (scratch / _PLACE).write_text(path.name, encoding="utf-8", errors="surrogateescape")
            yield scratch / _NEW
            path.parent.mkdir(parents=True, exist_ok=True)
            take_place(scratch, path)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def take_place(scratch: Path, path: Path) -> None:
    """What is new goes where the old is; a file in one step, a folder in two."""
    new, old = scratch / _NEW, scratch / _OLD
    if not (new.is_dir() and path.is_dir()):
        new.replace(path)
        return
    path.rename(old)
    try:
        new.rename(path)
    except OSError:
        old.rename(path)
        raise


@contextmanager
def _locked(scratch: Path) -> Iterator[None]:
    """Hold a lock in a folder, which ends with this process whatever ends it."""
    if sys.platform == "win32":  # it has no such locks, so nothing is swept there
        yield
        return
    with (scratch / f"{_LOCK}.new").open("wb") as file:
        _lock(file)
        (scratch / f"{_LOCK}.new").rename(scratch / _LOCK)  # so a lock that is there is held or left over
        yield


def _lock(file: IO[bytes]) -> bool:
    """Lock an open file and say whether that could be done."""
    if sys.platform == "win32":
        return False
    import fcntl

    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def sweep(ground: Path) -> None:
    """Remove what killed runs left unfinished in a folder; what they had just moved away is put back."""
    with suppress(OSError):
        for scratch in sorted(ground.glob(f"{_PREFIX}*")):
            if scratch.is_dir() and not scratch.is_symlink() and _is_own(scratch):
                _sweep_one(scratch)


def _is_own(scratch: Path) -> bool:
    return not hasattr(os, "getuid") or scratch.lstat().st_uid == os.getuid()


def _sweep_one(scratch: Path) -> None:
    """Remove one unfinished folder whose run has ended."""
    lock = scratch / _LOCK
    if not lock.is_file():
        if time.time() - scratch.stat().st_mtime > _LOCKLESS_S:
            shutil.rmtree(scratch, ignore_errors=True)
        return
    with lock.open("rb") as file:
        if not _lock(file):
            return
        with suppress(OSError, ValueError):
            name = (scratch / _PLACE).read_text(encoding="utf-8", errors="surrogateescape")
            place = scratch.parent / Path(name).name
            if (scratch / _OLD).exists() and not place.exists():
                (scratch / _OLD).rename(place)
        shutil.rmtree(scratch, ignore_errors=True)
