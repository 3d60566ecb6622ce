"""Rugs, curtains and pads of a proposal as others read them: JSON, a table for the terminal."""

from rich.table import Table
from rich.text import Text

from raytrace import Proposal, TriedCover
from viewer.tables.arrivals import Row, number
from viewer.tables.grid import grid
from viewer.words import COVER_HEAD, COVERS_EXPLAINED, cover_cells, cover_left_out, proposed_covers


def cover_json(cover: TriedCover) -> Row:
    """A cover that was tried, as plain numbers; lengths in metres."""
    u0, v0, u1, v1 = (float(value) for value in cover.rect)
    return {
        "cover": cover.cover,
        "on": cover.on,
        "surface": cover.surface,
        "opening": cover.opening,
        "at_m": [u0, v0],
        "size_m": [u1 - u0, v1 - v0],
        "seat": cover.seat,
        "speakers": list(cover.speakers),
        "by_way_of": list(cover.way),
        "margin_db": [number(margin) for margin in cover.margin_db],
        "price": cover.price,
        "proposed": cover.is_proposed,
        "reason": None if cover.reason is None else str(cover.reason),
    }


def cover_tables(proposal: Proposal, units: str) -> list[Table | Text]:
    """Covers that are proposed, and those that are not with the reason.

    Parameters
    ----------
    proposal : Proposal
    units : {"metric", "imperial"}
    """
    parts: list[Table | Text] = []
    proposed = proposed_covers(proposal)
    if proposed:
        table = grid(COVER_HEAD, numbers=("without", "with it", "price"), title="Covers, proposed")
        for cover in proposed:
            table.add_row(*cover_cells(cover, units))
        parts += [Text(""), table, Text(COVERS_EXPLAINED, style="dim")]
    left_out = [Text(cover_left_out(cover, units)) for cover in proposal.covers if not cover.is_proposed]
    return [*parts, Text(""), *left_out] if left_out else parts
