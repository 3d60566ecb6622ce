"""Blocks of which pages of documents are made, as plain data that report.typ lays out."""

from collections.abc import Sequence
from typing import Any

Block = dict[str, Any]
Page = dict[str, Any]


def page(above: str, title: str, blocks: Sequence[Block], *, flows: bool = False) -> Page:
    """A heading and blocks; what flows begins on the page before, where that has room."""
    return {"kind": "blocks", "above": above, "title": title, "blocks": list(blocks), "flows": flows}


def sub(text: str) -> Block:
    """A heading inside a page."""
    return {"kind": "sub", "text": text}


def small(text: str) -> Block:
    """What explains the block above it."""
    return {"kind": "small", "text": text}


def items(texts: Sequence[str]) -> Block:
    """Sentences as a list."""
    return {"kind": "list", "items": list(texts)}


def columns(texts: Sequence[str]) -> Block:
    """Sentences as a list in two columns."""
    return {"kind": "columns", "items": list(texts)}


def keep(blocks: Sequence[Block]) -> Block:
    """Blocks that stay together on one page."""
    return {"kind": "keep", "blocks": list(blocks)}


def steps(texts: Sequence[str]) -> Block:
    """What to do, each with a box to tick."""
    return {"kind": "steps", "items": list(texts)}


def jottings() -> Block:
    """Ruled lines for what is found on site, on what else leaves of the page."""
    return {"kind": "jottings"}


def picture(path: str, alt: str, *, shares: bool = False) -> Block:
    """A picture as wide as the page, with what it shows; one that shares takes what others leave of it."""
    return {"kind": "share" if shares else "picture", "path": path, "alt": alt}


def pair(pictures: Sequence[tuple[str, str]]) -> Block:
    """Two pictures side by side, each with its caption."""
    return {"kind": "pair", "pictures": [{"path": path, "alt": caption} for path, caption in pictures]}


def table(
    head: Sequence[str], columns: Sequence[str], rows: Sequence[Sequence[str]], *, inset_mm: float = 1.1
) -> Block:
    """Columns: "wide", "fill", "left", "right", "narrow", of empty cells "tick" (a box), "write" (a line)."""
    cells = [list(row) for row in rows]
    return {
        "kind": "table",
        "head": list(head),
        "columns": list(columns),
        "rows": cells,
        "inset": inset_mm,
    }
