"""A single file of output: there whole, or as it was."""

from pathlib import Path

from viewer.files.unfinished import refusing_trouble, written_beside


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file in one step, text as UTF-8.

    Raises
    ------
    OutputRefused
        If it cannot be written; what was there is left as it was.
    """
    with refusing_trouble(path), written_beside(path) as beside:
        beside.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
