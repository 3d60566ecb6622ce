"""CSV as spreadsheets read it: rows as text, and no cell that one would run as a formula."""

import csv
import io
from collections.abc import Iterable, Sequence

# What spreadsheets take for the beginning of a formula; an apostrophe before it makes it text (OWASP, "CSV
# injection", from memory).
_FORMULA = ("=", "+", "-", "@")


def csv_text(rows: Iterable[Sequence[object]]) -> str:
    """Rows as the text of a CSV file; cells that are None stay empty, numbers stay numbers."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([_cell(cell) for cell in row] for row in rows)
    return text.getvalue()


def _cell(cell: object) -> object:
    if isinstance(cell, str) and cell.startswith(_FORMULA) and not _is_number(cell):
        return f"'{cell}"
    return "" if cell is None else cell


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
