"""What a workshop and an installer need of one scene, in words: sizes, cuts, what to buy."""

import math
from collections import Counter
from collections.abc import Sequence

from raytrace import (
    Batch,
    BillOfMaterials,
    CoverToBuy,
    TimberCut,
    format_length,
)
from viewer.words import length_figure, mass_words, size_words, stock_m, told


def name_words(names: Sequence[str]) -> str:
    """Names with what neighbours share said once: "cloud A1, A2, left"."""
    shown: list[str] = []
    before = ""
    for name in names:
        group, _, last = name.rpartition(" ")
        shown.append(last if group and group == before else name)
        before = group
    return ", ".join(shown)


def made_words(batch: Batch) -> str:
    """How panels that hang are made, to stand behind the name of their build."""
    if batch.raft is not None:
        return f", one raft of {len(batch.names)} slabs, on cords"
    return ", on cords" if batch.hung else ""


def stick_rows(timber: TimberCut, units: str) -> list[tuple[int, float, str, float]]:
    """Equal sticks together: how many, stock length [m], the cuts in words, offcut [m]."""
    lengths = timber.lengths
    kinds: Counter[tuple[float, str, float]] = Counter()
    for stick in timber.nesting.sticks:
        cuts = Counter(length_figure(lengths[k][1], units) for k in stick.parts)
        words = " + ".join(f"{count} x {cut}" if count > 1 else cut for cut, count in cuts.items())
        # What a yard cuts longer is left over.
        more_m = stock_m(stick.stock_m, units) - stick.stock_m
        kinds[stick.stock_m + more_m, words, round(stick.offcut_m + more_m, 4)] += 1
    return [(count, stock, words, offcut) for (stock, words, offcut), count in kinds.items()]


def bought(timber: TimberCut, units: str = "metric") -> dict[float, int]:
    """How many of each stock length of the shop to buy, longest first."""
    counter = Counter(stock_m(stick.stock_m, units) for stick in timber.nesting.sticks)
    return dict(sorted(counter.items(), reverse=True))


def shopping_rows(making: BillOfMaterials, units: str) -> list[tuple[str, str]]:
    """Everything to buy that is not timber."""
    rows = [
        (
            f"{told(slabs.text, units)}, {size_words(slabs.size_m, units)}",
            f"{slabs.packs} {'pack' if slabs.packs == 1 else 'packs'} of {slabs.per_pack}, "
            f"{slabs.needed} needed",
        )
        for slabs in making.slabs
    ]
    for cloth in making.cloth:
        length = format_length(math.ceil(10 * cloth.roll_m - 1e-6) / 10, units=units, style="m")
        rows.append((f"cloth, {cloth.label}: {cloth.count} of {size_words(cloth.size_m, units)}", length))
    rows += [(told(what, units), str(count)) for what, count in making.boards]
    rows += [(told(what, units), told(much, units)) for what, much in making.fixings]
    return [*rows, *((cover_words(cover, units), "1") for cover in making.covers)]


def cover_words(cover: CoverToBuy, units: str) -> str:
    """A rug, curtain or pad as a shop needs it; of a curtain what it covers."""
    return f"{cover.cover} for {cover.place}: {size_words(cover.size_m, units)}"


NOTHING_TO_MAKE = "owned, nothing to make"


def facts_of(making: BillOfMaterials, units: str) -> list[str]:
    """What all panels weigh, which are owned, what the rest costs, and whether the largest goes in."""
    lines = [f"All panels together weigh {mass_words(making.mass_kg, units)}."] if making.batches else []
    if making.owned:
        lines.append(f"Owned already: {name_words(making.owned)}. Only what holds them is bought.")
    if making.left_over:
        spare = ", ".join(f"{count} x {build}" for build, count in making.left_over.items())
        lines.append(f"Owned and left over: {spare}.")
    if making.price is not None:
        without = f", without {', '.join(making.unpriced)}" if making.unpriced else ""
        priced = "the panels to be made" if making.owned else "the panels"
        lines.append(f"Price of {priced}, as stated for each: {making.price:.10g}{without}.")
    if making.covers:
        prices = [cover.price for cover in making.covers]
        known = sum(price for price in prices if price is not None)
        unpriced = [cover.cover for cover in making.covers if cover.price is None]
        priced = f"{known:.10g}" if len(unpriced) < len(prices) else "not stated"
        some = f", without {', '.join(unpriced)}" if unpriced and priced != "not stated" else ""
        lines.append(f"Price of rugs, curtains, pads and shelves: {priced}{some}.")
    if making.largest is not None:
        size = size_words(making.largest.piece.outer_m, units)
        line = f"Largest piece: {making.largest.build_name}, {size}"
        if making.fits_access is None:
            line += "; the way in is not stated."
        elif making.fits_access:
            line += "; it goes lengthways through the stated way in. Try the turn behind it with a lath."
        else:
            line += "; it does not go through the stated way in: make it inside, or of two parts."
        lines.append(line)
    return lines
