"""Text and tables as marks, poured strip by strip into the columns of a page."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from viewer.look import HAIRLINE, INK, MUTED
from viewer.paper.drafting import LINE_SHARE, MM_PER_POINT, Mark, area, line, moved, text_size_mm, words_from

BODY_PT, HEAD_PT, SMALL_PT = 7.5, 9.5, 6.5
ROW_MM = 5.0  # room for a figure written by hand
TICK_MM = 3.2
_PAD_MM = 0.7
_BULLET_MM = 4.6
# What no line ends within: a word, or feet and inches with their blanks.
_WORD = re.compile(r"""(?:\d+' (?:\d+ )?\d+(?:/\d+)?"|\d+ \d+/\d+"|[^ ])+""")


@dataclass(frozen=True)
class Strip:
    """One piece of a column that is never cut.

    Attributes
    ----------
    height_mm : float
    marks : tuple of Mark
        From its own upper left corner.
    head : tuple of Mark
        Head of its table, repeated where the strip comes first in a column.
    head_mm : float
        Height of that.
    leads : bool
        Whether it belongs to what follows and must not end a column.
    """

    height_mm: float
    marks: tuple[Mark, ...]
    head: tuple[Mark, ...] = ()
    head_mm: float = 0.0
    leads: bool = False


@dataclass(frozen=True)
class Column:
    """Where on a page strips go: upper left corner, and how far down. [mm]"""

    left: float
    top: float
    height_mm: float


@dataclass(frozen=True)
class Placed:
    """Marks and where on the page their own upper left corner goes. [mm]"""

    marks: tuple[Mark, ...]
    right: float
    down: float

    def made(self) -> list[Mark]:
        """The marks on the page."""
        return moved(self.marks, self.right, self.down)


@dataclass(frozen=True)
class Cell:
    """One kind of cell of a table: what stands above it, how wide it is [mm], what it holds.

    Attributes
    ----------
    head : str
    width_mm : float
    kind : "text" | "figure" | "empty" | "tick"
        Words from the left, figures to the right, a place to write, a box to tick.
    """

    head: str
    width_mm: float
    kind: str = "text"


def wrap(text: str, width_mm: float, size_pt: float, *, bold: bool = False) -> list[str]:
    """Lines of a text that fit a width; a word that is longer than that has a line of its own."""
    lines: list[str] = []
    for paragraph in text.split("\n"):
        row = ""
        for word in _WORD.findall(paragraph):
            longer = f"{row} {word}" if row else word
            if row and text_size_mm(longer, size_pt, bold=bold)[0] > width_mm:
                lines.append(row)
                row = word
            else:
                row = longer
        lines.append(row)
    return lines


def heading(text: str, width_mm: float) -> Strip:
    """A heading over what follows it."""
    rows = wrap(text, width_mm, HEAD_PT, bold=True)
    pitch = LINE_SHARE * HEAD_PT * MM_PER_POINT
    marks = [words_from(row, 0.0, 4.2 + i * pitch, size_pt=HEAD_PT, bold=True) for i, row in enumerate(rows)]
    return Strip(7.2 + (len(rows) - 1) * pitch, tuple(marks), leads=True)


def paragraph(text: str, width_mm: float, *, ink: str = INK) -> Strip:
    """Running text."""
    return _lines(text, width_mm, 0.0, [], ink=ink)


def tick_line(text: str, width_mm: float) -> Strip:
    """A line with a box to tick."""
    return _lines(text, width_mm, TICK_MM + 2.0, [_tick(0.0, 2.0)], ink=INK)


def bullet(text: str, width_mm: float) -> Strip:
    """One item of a list."""
    dash = line([(0.6, 2.0), (2.6, 2.0)], ink=MUTED, width_pt=0.6)
    return _lines(text, width_mm, _BULLET_MM, [dash], ink=INK)


def _lines(text: str, width_mm: float, indent: float, before: Sequence[Mark], *, ink: str) -> Strip:
    rows = wrap(text, width_mm - indent, BODY_PT)
    pitch = LINE_SHARE * BODY_PT * MM_PER_POINT
    marks = [words_from(row, indent, 2.0 + i * pitch, size_pt=BODY_PT, ink=ink) for i, row in enumerate(rows)]
    return Strip(1.0 + len(rows) * pitch, (*before, *marks))


def table(cells: Sequence[Cell], rows: Iterable[Sequence[str]]) -> list[Strip]:
    """A table, row by row: words wrap, figures do not.

    Parameters
    ----------
    cells : sequence of Cell
    rows : iterable of sequences of str
        A text for every cell, "" where it is to be written or ticked.
    """
    wide = sum(cell.width_mm for cell in cells)
    head, head_mm = _table_head(cells, wide)
    strips = []
    for texts in rows:
        pitch = LINE_SHARE * BODY_PT * MM_PER_POINT
        wrapped = [
            wrap(text, cell.width_mm - 2.0 * _PAD_MM, BODY_PT) if cell.kind == "text" else _figure(cell, text)
            for cell, text in zip(cells, texts, strict=True)
        ]
        high = ROW_MM + (max(map(len, wrapped)) - 1) * pitch
        marks: list[Mark] = [line([(0.0, high), (wide, high)], ink=HAIRLINE, width_pt=0.35)]
        left = 0.0
        for cell, own in zip(cells, wrapped, strict=True):
            marks += _cell(cell, own, left, high, pitch)
            left += cell.width_mm
        strips.append(Strip(high, tuple(marks), head, head_mm))
    return strips


def _figure(cell: Cell, text: str) -> list[str]:
    """A figure on one line; from one to another on two where that is too wide."""
    if text_size_mm(text, BODY_PT)[0] <= cell.width_mm - 2.0 * _PAD_MM:
        return [text]
    low, dash, high = text.partition(" – ")
    return [f"{low} –", high] if dash else [text]


def _table_head(cells: Sequence[Cell], wide: float) -> tuple[tuple[Mark, ...], float]:
    pitch = LINE_SHARE * SMALL_PT * MM_PER_POINT
    heads = [wrap(cell.head, cell.width_mm - 2.0 * _PAD_MM, SMALL_PT) for cell in cells]
    high = 2.6 + max(map(len, heads)) * pitch
    marks, left = [line([(0.0, high), (wide, high)], ink=INK, width_pt=0.7)], 0.0
    for cell, own in zip(cells, heads, strict=True):
        for i, row in enumerate(own if cell.head else ()):
            width, _ = text_size_mm(row, SMALL_PT)
            x = left + (cell.width_mm - _PAD_MM - width if cell.kind == "figure" else _PAD_MM)
            y = high - 1.9 - (len(own) - 1 - i) * pitch
            marks.append(words_from(row, x, y, size_pt=SMALL_PT, ink=MUTED))
        left += cell.width_mm
    return tuple(marks), high


def _cell(cell: Cell, rows: Sequence[str], left: float, high: float, pitch: float) -> list[Mark]:
    if cell.kind == "tick":
        return [_tick(left + (cell.width_mm - TICK_MM) / 2.0, high / 2.0)]
    if cell.kind == "empty":
        edge = [(left + 0.6, high - 0.6), (left + 0.6, 0.8)]
        return [line(edge, ink=HAIRLINE, width_pt=0.35)]
    marks = []
    for i, row in enumerate(rows):
        if row:
            width, _ = text_size_mm(row, BODY_PT)
            x = left + (cell.width_mm - _PAD_MM - width if cell.kind == "figure" else _PAD_MM)
            y = high / 2.0 + (i - (len(rows) - 1) / 2.0) * pitch
            marks.append(words_from(row, x, y, size_pt=BODY_PT))
    return marks


def _tick(left: float, middle: float) -> Mark:
    half = TICK_MM / 2.0
    corners = [
        (left, middle - half),
        (left + TICK_MM, middle - half),
        (left + TICK_MM, middle + half),
        (left, middle + half),
    ]
    return area(corners, ink=INK, width_pt=0.7)


def pour(strips: Sequence[Strip], columns: Sequence[Column]) -> tuple[list[Placed], list[Strip]]:
    """Strips in the columns one after the other, and what found no room.

    Parameters
    ----------
    strips : sequence of Strip
    columns : sequence of Column

    Returns
    -------
    placed : list of Placed
        In the order of the strips.
    rest : list of Strip
        Empty if all fits.
    """
    placed: list[Placed] = []
    left_over = list(strips)
    for column in columns:
        down, previous_head = 0.0, None
        while left_over:
            strip = left_over[0]
            with_head = strip.head_mm if strip.head != previous_head else 0.0
            following = 0.0
            if strip.leads and len(left_over) > 1:
                following = left_over[1].height_mm + left_over[1].head_mm
            if down + with_head + strip.height_mm + following > column.height_mm:
                break
            if with_head:
                placed.append(Placed(strip.head, column.left, column.top + down))
                down += with_head
            placed.append(Placed(strip.marks, column.left, column.top + down))
            down += strip.height_mm
            previous_head = strip.head
            left_over.pop(0)
    return placed, left_over
