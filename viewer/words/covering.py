"""Rugs, curtains, pads and shelves in words: where each goes and what it does, or why it is not proposed."""

from typing import TYPE_CHECKING

from raytrace import CoverToBuy, Study, format_length, looks_up
from viewer.words.figures import limit_side, listed
from viewer.words.things import joined_way
from viewer.words.units import size_words, told

if TYPE_CHECKING:
    from raytrace import Proposal, TriedCover

COVER_HEAD = ("cover", "where", "peak", "without", "with it", "price")
COVERS_EXPLAINED = (
    "Covers lie or hang where panels do not go, and are recalculated by full runs; estimates are without "
    "them. Place: the corner nearest to the front and the left wall. A curtain counts drawn over the whole "
    "pane. What absorbs is another thing from shop to shop: ask for measured values. Lay rugs so that nobody "
    "slips or trips, keep curtains off heaters, and ask for their reaction-to-fire class."
)


def proposed_covers(proposal: "Proposal") -> "list[TriedCover]":
    """Those that are in the new scene."""
    return [cover for cover in proposal.covers if cover.is_proposed]


def steps_leave_out(proposal: "Proposal") -> str:
    """What the steps of a ladder, panels alone, leave out beside the proof; nothing without covers."""
    covers = sorted({cover.cover for cover in proposed_covers(proposal)})
    return f" Panels alone, without {listed(covers)}: headline and proof have both." if covers else ""


def cover_cells(cover: "TriedCover", units: str) -> list[str]:
    """A proposed cover as a row of a table: what, where, for which peak, margins, price."""
    u0, v0, u1, v1 = (float(value) for value in cover.rect)
    at = " / ".join(format_length(value, units=units) for value in (u0, v0))
    size = size_words((u1 - u0, v1 - v0), units)
    where = (
        f"{cover.surface}, {size}, at {at}" if cover.opening is None else f"before {cover.opening}, {size}"
    )
    without, with_it = (limit_side(margin) for margin in cover.margin_db)
    price = "–" if cover.price is None else f"{cover.price:g}"
    return [
        cover.name if cover.opening is None else cover.cover,
        where,
        _peak(cover),
        without,
        with_it,
        price,
    ]


def cover_step(study: Study, cover: CoverToBuy, units: str) -> str:
    """What to do with a cover, and where its corner goes, as a step of the installer's."""
    size = size_words(cover.size_m, units)
    if cover.at is None:
        where = f"before the {cover.place}"
        return f"Hang or put the {cover.cover} {where}: {size}, so that it covers all of it."
    surface = next(own for own in study.room.surfaces if own.name == cover.place)
    across, along = (format_length(value, units=units) for value in cover.at)
    if not looks_up(surface.frame.n):
        return (
            f"Hang the {cover.cover} on the {cover.place}: {size}, {across} from left, {along} from bottom."
        )
    first, second = ("front wall", "left wall") if surface.owner is None else ("front", "left")
    return (
        f"Lay the {cover.cover} on the {cover.place}: {size}, its corner {across} from the {first} and "
        f"{along} from the {second}."
    )


def cover_left_out(cover: "TriedCover", units: str) -> str:
    """Why a cover that was tried is not proposed."""
    assert cover.reason is not None, "a cover that is not proposed has its reason"
    place = cover.surface if cover.opening is None else cover.opening
    where = f"before {place}" if cover.on in ("window", "wall") else f"on the {place}"
    return f"A {cover.cover} {where} is not proposed for {_peak(cover)}: {told(cover.reason, units)}."


def _peak(cover: "TriedCover") -> str:
    return f"{listed(cover.speakers)} at {cover.seat}, {joined_way(cover.way)}"
