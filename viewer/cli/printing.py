"""What the commands print: plain text whatever a scene holds, whole whatever the width, on any stream."""

import codecs
import json
import os
import sys
import unicodedata
from typing import TYPE_CHECKING, Any, TextIO

from raytrace import plain

if TYPE_CHECKING:
    from rich.console import RenderableType

_USUAL_WIDTH, _LEAST_WIDTH = 80, 20
_NEAREST = {"–": "-", "—": "-", "−": "-", "×": "x", "°": "deg ", "…": "...", "≥": ">=", "≤": "<=", "±": "+-"}
_ERRORS = "hitspot.nearest"


def open_streams() -> None:
    """Make the standard streams take all that is printed: closed ones swallow it, poor ones get the nearest.

    A closed one is opened on nothing: else the next file to be opened would take its place, and what is
    printed would go into it.
    """
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(number, "r" if number == 0 else "w", encoding="utf-8"))
    codecs.register_error(_ERRORS, _nearest)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=_ERRORS)


def drop_output() -> None:
    """Let standard output swallow what is still to come: it can take no more."""
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, sys.stdout.fileno())
    os.close(nothing)


def _nearest(problem: UnicodeError) -> tuple[str, int]:
    """What stands for signs that a stream cannot take: the like in ASCII, else a question mark."""
    assert isinstance(problem, UnicodeEncodeError)
    found = (_ascii(char) for char in problem.object[problem.start : problem.end])
    return "".join(found), problem.end


def _ascii(char: str) -> str:
    parted = unicodedata.normalize("NFKD", char).encode("ascii", "ignore").decode()
    return _NEAREST.get(char) or parted or "?"


def say(words: str) -> None:
    """A line on standard output, left to the terminal to wrap."""
    sys.stdout.write(plain(words) + "\n")


def complain(words: str, stream: TextIO | None = None) -> None:
    """A message, of several lines perhaps, on standard error."""
    (stream or sys.stderr).write(plain(words, keep="\n\t") + "\n")


def print_json(contents: dict[str, Any]) -> None:
    """One JSON object on standard output."""
    sys.stdout.write(json.dumps(contents, indent=1) + "\n")


def show(contents: "RenderableType") -> None:
    """Tables and paragraphs on standard output, nothing in them cut short or taken for markup.

    A table that needs more than the terminal's width gets it: its rows then go on in the next line. No line
    ends within a length or between a figure and its unit.
    """
    from rich.console import Console, Group
    from rich.table import Table
    from rich.text import Text

    from viewer.tables import KEPT, fit, unparted

    paper = Console(highlight=False, markup=False, emoji=False)
    width = paper.width if paper.width >= _LEAST_WIDTH else _USUAL_WIDTH
    for part in contents.renderables if isinstance(contents, Group) else [contents]:
        paper.width = fit(part, width) if isinstance(part, Table) else width
        if isinstance(part, Text):
            part.plain = unparted(part.plain)
        with paper.capture() as caught:
            paper.print(part)
        sys.stdout.write(caught.get().replace(KEPT, " "))
