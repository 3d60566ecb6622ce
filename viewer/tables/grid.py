"""The one form of tables for the terminal: figures are never parted, and names are never cut short."""

import re
from collections.abc import Sequence
from typing import Literal

from rich.cells import cell_len
from rich.console import RenderableType
from rich.table import Column, Table
from rich.text import Text

KEPT = "\ue000"
"""Stands for a blank at which no line may end, until it is printed: one column wide, and of no script."""
_READABLE = 24  # a name of two words or three
# Within feet and inches, before a unit, behind a sign.
_WITHIN = re.compile(
    r"(?<=[\d']) (?=\d[\d/]*(?: \d+/\d+)?\")"
    r"|(?<=\d) (?=(?:mm|m|m²|m³|ft²|ft³|ms|s|Hz|kHz|dB|kg|lb|lbf|N|%|°C)(?!\w))"
    r"|(?<=±) (?=\d)"
)


def grid(
    columns: Sequence[str], *, numbers: Sequence[str] = (), title: str | None = None, tight: bool = False
) -> Table:
    """An empty table; names go on to a second line where it is narrow.

    Parameters
    ----------
    columns : sequence of str
        Their heads.
    numbers : sequence of str
        Heads of those that hold figures: at the right, each on one line.
    title : str, optional
        Stands above, as it is.
    tight : bool
        For many columns: a blank between them.
    """
    heading = None if title is None else Text(title)
    table = Table(title=heading, title_justify="left", box=None, pad_edge=False, collapse_padding=tight)
    for column in columns:
        is_number = column in numbers
        justify: Literal["left", "right"] = "right" if is_number else "left"
        table.add_column(Text(column), justify=justify, no_wrap=is_number, overflow="fold")
    return table


def unparted(text: str) -> str:
    r"""The same text with `KEPT` for blanks within a figure and its unit, so that no line parts them.

    Examples
    --------
    >>> unparted('a board 4\' 7 7/8" x 2 1/2", 15 ms later').replace(KEPT, "_")
    'a board 4\'_7_7/8" x 2_1/2", 15_ms later'
    """
    return _WITHIN.sub(KEPT, text)


def fit(table: Table, wide: int) -> int:
    """Share out a width among a grid's columns and return what it needs, which may be more.

    No figure is parted and no word either: where even words one below the other are too wide, so is the
    table. Blanks that must stay are `KEPT` then.
    """
    for column in table.columns:
        column._cells = [_unparted(cell) for cell in column.cells]
    widest = [max(_longest(column.header), _longest(*column.cells)) for column in table.columns]
    least = [max(_longest_word(c.header), _least_of_cells(c)) for c in table.columns]
    between = (1 if table.collapse_padding else 2) * (len(table.columns) - 1)
    if between + sum(least) > wide:  # lines go on in the next one anyway: names need not be piled up
        roomy = [min(_READABLE, large) for large in widest]
        names = [not column.no_wrap for column in table.columns]
        least = [max(s, r) if is_name else s for s, r, is_name in zip(least, roomy, names, strict=True)]
    spare, left = max(0, wide - between - sum(least)), len(table.columns)
    # Whoever asks for least is served first, so that what it leaves goes to the others.
    for column, small, large in sorted(
        zip(table.columns, least, widest, strict=True), key=lambda one: one[2] - one[1]
    ):
        column.width = min(large, small + spare // left)
        spare, left = spare - (column.width - small), left - 1
        if column.no_wrap and column.width < _longest(column.header):
            column.header = Text("\n".join(str(column.header).split()), justify="right")
    return max(wide, between + sum(least))


def _unparted(cell: RenderableType) -> RenderableType:
    if isinstance(cell, Text):
        cell.plain = unparted(cell.plain)  # of the same length: styles stay where they are
        return cell
    return unparted(cell) if isinstance(cell, str) else cell


def _least_of_cells(column: Column) -> int:
    return _longest(*column.cells) if column.no_wrap else _longest_word(*column.cells)


def _longest(*cells: object) -> int:
    """Columns of a terminal that the longest line takes."""
    return max((cell_len(line) for cell in cells for line in str(cell).split("\n")), default=0)


def _longest_word(*cells: object) -> int:
    return max((cell_len(word) for cell in cells for word in str(cell).split()), default=0)
