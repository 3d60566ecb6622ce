"""A single file of output: there whole, or as it was."""

from pathlib import Path

from viewer.files.unfinished import refusing_trouble, written_beside


def write_whole(path: Path, text: str) -> None:
    """Write a text file in one step.

    Raises
    ------
    OutputRefused
        If it cannot be written; what was there is left as it was.
    """
    with refusing_trouble(path), written_beside(path) as beside:
        beside.write_text(text, encoding="utf-8", newline="")
