"""Files of output: there whole, or as they were; several that belong together change in one moment."""

from collections.abc import Callable, Mapping
from contextlib import ExitStack
from pathlib import Path

from viewer.files.unfinished import refusing_trouble, written_beside

Content = str | bytes | Callable[[Path], object]
"""What a file is to hold: text as UTF-8, bytes, or what draws it into a path with the same suffix."""


def write_whole(path: Path, content: Content) -> None:
    """Write a file in one step.

    Raises
    ------
    OutputRefused
        If it cannot be written; what was there is left as it was.
    """
    write_together({path: content})


def write_together(contents: Mapping[Path, Content]) -> None:
    """Write files that belong together: all are complete beside their places before the first one moves.

    Raises
    ------
    OutputRefused
        If one of them cannot be written; what was there is left as it was, unless a move itself fails.
    """
    with ExitStack() as moves:  # they end in the opposite order: the last file moves first
        for path, content in contents.items():
            moves.enter_context(refusing_trouble(path))
            _fill(moves.enter_context(written_beside(path)), content, path.suffix.lower())


def _fill(beside: Path, content: Content, suffix: str) -> None:
    if callable(content):
        drawn = beside.with_suffix(suffix)
        content(drawn)
        drawn.rename(beside)
    else:
        beside.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
