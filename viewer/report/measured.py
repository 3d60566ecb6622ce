"""The report's chapter on what was measured as plain data: did it work, and tables for details."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from raytrace import BAND_NAMES
from viewer import tables, words
from viewer.report.blocks import Block, items, page, picture, small, sub, table
from viewer.report.findings import Chart, Contents
from viewer.words import told

if TYPE_CHECKING:
    from raytrace import MeasuredRoom

MEASURED_TITLE = "Did it work?"
"""What the chapter is called."""
_MOST_ROWS = 12  # more would leave no room for the picture
_HOW = (
    "Measured with a microphone at the seat, one speaker at a time, and shown through the same filter as the "
    "prediction. 0 dB is the direct sound. A microphone stands at one place, a head moves: the limit is "
    "judged at that place alone."
)


def measured_page(found: "MeasuredRoom | None", charts: Sequence[Chart]) -> list[Contents]:
    """The client's page: three sentences and the one picture they speak of; none without a measurement."""
    if found is None:
        return []
    answer, *more = words.did_it_work(found)
    blocks: list[Block] = [sub(answer), items(more)]
    shown = words.most_telling(found)
    _, _, path, caption = next(c for heard, c in zip(found.last.heard, charts, strict=True) if heard is shown)
    blocks += [picture(path, caption), small(f"{caption} {_HOW}")]
    title = MEASURED_TITLE if len(found.states) > 1 else "What was measured"
    return [page("Measured at the seat", title, blocks)]


def measured_tables_pages(
    found: "MeasuredRoom | None", charts: Sequence[Chart], units: str
) -> list[Contents]:
    """Pages of details: each measurement with its picture and peaks, changes, decay, what is odd."""
    if found is None:
        return []
    pages = []
    for heard, (_, _, path, caption) in zip(found.last.heard, charts, strict=True):
        rows = tables.peak_rows(heard)
        strongest = sorted(sorted(rows, key=lambda row: -row.level_db)[:_MOST_ROWS], key=lambda row: row.ms)
        blocks = [
            picture(path, caption),
            small(caption),
            table(
                ["ms", "dB", "made by", "predicted dB", "sure %"],
                ["right", "right", "fill", "right", "right"],
                [row.cells for row in strongest],
                inset_mm=0.8,
            ),
        ]
        if len(strongest) < len(rows):
            blocks.append(small(f"Left out: {len(rows) - len(strongest)} weaker; measured.json has all."))
        scene = found.last.scene
        title = f"{scene.speakers[heard.take.speaker].name} at {scene.seats[heard.take.seat].name}"
        pages.append(page("Measured beside predicted", title[0].upper() + title[1:], blocks))
    return [*pages, _rest(found, units)]


def _rest(found: "MeasuredRoom", units: str) -> Contents:
    """Changes and decay in tables, then every note."""
    blocks: list[Block] = []
    if found.changes:
        rows = tables.change_rows(sorted(found.changes, key=lambda change: -change.before_db)[:_MOST_ROWS])
        head = ["speaker", "seat", "arrival", "ms", "before dB", "after dB", "change dB", "predicted dB"]
        kinds = ["left", "left", "fill", *["right"] * 5]
        blocks += [
            sub("Before and after, the strongest before first"),
            table(head, kinds, rows, inset_mm=0.8),
        ]
    for heard in found.last.heard[:2]:
        if (heard.decay.range_db > 0.0).any():
            name = found.last.scene.speakers[heard.take.speaker].name
            kinds = ["fill", *["right"] * len(BAND_NAMES)]
            blocks += [
                sub(f"Decay as measured, {name}"),
                table(["Hz", *map(str, BAND_NAMES)], kinds, tables.decay_rows(heard), inset_mm=0.8),
            ]
    blocks += [sub("What the measurement says of the drawing, and its limits")]
    blocks += [items([told(note, units) for note in found.notes])]
    return page("Measured beside predicted", "Changes, decay, notes", blocks, flows=True)
