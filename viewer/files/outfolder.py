"""A folder of output: written beside its place, moved there when complete, never over what is not ours."""

import re
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

_MARK = b"hitspot"


class OutputRefused(Exception):
    """The output folder is not one of ours to replace; its text is the whole message."""


@dataclass(frozen=True)
class Kind:
    """What a folder of ours holds.

    Attributes
    ----------
    what : str
        What its files are called in a message: "report".
    proof : str
        The file that is never missing, and names this program inside.
    files : tuple of str
        Every file it may hold, relative to it: a folder with any other was not left as we wrote it. "*"
        stands for a `file_stem`, "#" for a number of two digits or more.
    """

    what: str
    proof: str
    files: tuple[str, ...]

    def foreign(self, folder: Path) -> list[str]:
        """What stands in a folder that is no file of this kind, relative to it."""
        found = sorted(p for p in folder.rglob("*") if p.is_symlink() or not p.is_dir())
        names = [(p.relative_to(folder).as_posix(), p.is_symlink()) for p in found]
        return [name for name, is_link in names if is_link or not self._holds(name)]

    def _holds(self, name: str) -> bool:
        free = {"*": r"[\w-]+", "#": r"\d\d+"}
        return any(
            re.fullmatch("".join(free.get(sign, re.escape(sign)) for sign in pattern), name)
            for pattern in self.files
        )


def file_stem(words: str) -> str:
    """Words as the name of a file: "Left wall, upper part" is "left-wall-upper-part"."""
    return re.sub(r"[\W_]+", "-", words.lower()).strip("-") or "unnamed"


@contextmanager
def moved_into_place(folder: Path, kind: Kind) -> Iterator[Path]:
    """A folder to write into, moved to `folder` if all went well and removed if not.

    Raises
    ------
    OutputRefused
        If something stands there that is not of this kind, or nothing can be written; nothing is touched
        then.
    """
    _refuse_what_is_not_ours(folder, kind)
    ground = folder.absolute().parent
    while not ground.exists():
        ground = ground.parent
    try:
        beside = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=ground))
    except OSError as problem:
        raise OutputRefused(f"{folder}: cannot be written: {problem.strerror}") from None
    try:
        staging = beside / "new"
        staging.mkdir()
        yield staging
        strange = kind.foreign(staging)
        assert not strange, f"{strange[0]} is no file of a {kind.what}: the next run would refuse this folder"
        _refuse_what_is_not_ours(folder, kind)
        folder.absolute().parent.mkdir(parents=True, exist_ok=True)
        if folder.exists():
            folder.rename(beside / "old")
        try:
            staging.rename(folder)
        except OSError:
            if (beside / "old").exists():
                (beside / "old").rename(folder)
            raise
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def _refuse_what_is_not_ours(folder: Path, kind: Kind) -> None:
    """Raise unless the folder is free, empty, or an earlier one of this kind and nothing else."""
    if not folder.is_symlink() and not folder.exists():
        return
    if folder.is_symlink() or not folder.is_dir():
        raise OutputRefused(f"{folder}: something that is not a folder stands here; give another --out")
    if not any(folder.iterdir()):
        return
    foreign = kind.foreign(folder)
    if foreign:
        raise OutputRefused(
            f'{folder}: holds "{foreign[0]}", which no {kind.what} of ours does; give another --out'
        )
    proof = folder / kind.proof
    if not proof.is_file() or _MARK not in proof.read_bytes():
        raise OutputRefused(
            f"{folder}: holds no {kind.proof} of ours, so it is left alone; give another --out"
        )
