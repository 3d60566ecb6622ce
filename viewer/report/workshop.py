"""The workshop's pages as plain data: what to buy and cut, and what each build absorbs."""

from collections.abc import Sequence

import numpy as np

from raytrace import (
    BAND_NAMES,
    Amount,
    BillOfMaterials,
    DataSheet,
    Sentence,
    ThicknessCurve,
    Treatment,
    Unit,
    format_length,
)
from viewer.report.blocks import Block, Page, items, jottings, keep, page, picture, small, steps, sub, table
from viewer.tables import (
    NOTHING_TO_MAKE,
    bought,
    facts_of,
    made_words,
    name_words,
    shopping_rows,
    stick_rows,
)
from viewer.words import (
    Work,
    amount_words,
    band_tick,
    cautions_beside,
    mass_words,
    size_words,
    timber_to_buy,
    timber_words,
    told,
    works_of,
)

_ABOVE = "To buy and to make"
_AT_THE_SAW = (
    "At the saw: goggles and ear muffs. At the wool: mask EN 149 FFP2 or N95, gloves, long sleeves. Read all "
    "cautions at the end of these lists first."
)


def shopping_page(treatment: Treatment, *, units: str) -> Page:
    """Panels, what to buy, how it is cut, tools and what to wear.

    Parameters
    ----------
    treatment : Treatment
        Of a scene with panels or covers.
    units : {"metric", "imperial"}
        Of every length and mass.
    """
    making = treatment.bill_of_materials
    cut = [
        sub("Cut"),
        _parts_table(making, units),
        sub("How the lengths are cut" + (", in mm" if units == "metric" else "")),
        _sticks_table(making, units),
        small(_AT_THE_SAW),
    ]
    blocks = [
        *([_panels_table(making, units)] if making.batches else []),
        small(" ".join(facts_of(making, units))),
        sub("Buy"),
        table(("what", "how much", ""), ("fill", "right", "tick"), _buy_rows(making, units)),
        *(cut if making.timber else []),
    ]
    if wear := [told(item, units) for item in (*making.tools, *making.protection)]:
        blocks += [sub("Tools, and what to wear"), steps(wear)]
    if making.notes:
        notes = [told(note, units) for note in making.notes]
        blocks += [sub("What was assumed"), items(notes)]
    cautions = cautions_beside(works_of(treatment) & {Work.MAKE, Work.LAY})
    return page(_ABOVE, "Shopping and cut list", [*blocks, sub("Cautions"), items(cautions), jottings()])


def _panels_table(making: BillOfMaterials, units: str) -> Block:
    rows = [
        (
            f"{batch.build_name}{made_words(batch)}: {name_words(batch.names)}"
            + (f" ({NOTHING_TO_MAKE})" if batch.owned else ""),
            f"{batch.n_made} x",
            size_words(batch.piece.outer_m, units),
            mass_words(batch.piece.mass_kg, units),
            mass_words(batch.mass_kg, units),
            "",
        )
        for batch in making.batches
    ]
    columns = ("fill", "right", "left", "right", "right", "tick")
    return table(("panels", "", "outside", "each", "all", ""), columns, rows)


def _parts_table(making: BillOfMaterials, units: str) -> Block:
    rows = [
        (
            part.label,
            timber_words(cut.timber, units),
            format_length(part.length_m, units=units),
            f"{part.count} x",
            "",
        )
        for cut in making.timber
        for part in cut.parts
    ]
    return table(("part", "timber", "length", "", ""), ("fill", "left", "right", "right", "tick"), rows)


def _sticks_table(making: BillOfMaterials, units: str) -> Block:
    rows = [
        (
            f"{count} x {format_length(stock, units=units)} of {timber_words(cut.timber, units)}",
            words,
            format_length(offcut, units=units),
            "",
        )
        for cut in making.timber
        for count, stock, words, offcut in stick_rows(cut, units)
    ]
    return table(("from", "cuts", "left over", ""), ("left", "fill", "right", "tick"), rows)


def _buy_rows(making: BillOfMaterials, units: str) -> list[tuple[str, str, str]]:
    rows = []
    for cut in making.timber:
        for stock, count in bought(cut, units).items():
            words = f"timber {timber_to_buy(cut.timber, units)}, {format_length(stock, units=units)} long"
            rows.append((words, f"{count}", ""))
    return [*rows, *((what, much, "") for what, much in shopping_rows(making, units))]


def datasheet_pages(sheets: Sequence[DataSheet], charts: Sequence[str], *, units: str) -> list[Page]:
    """The data sheets of all builds in use, each with its chart.

    Parameters
    ----------
    sheets : sequence of DataSheet
    charts : sequence of str
        Path of each sheet's chart.
    units : {"metric", "imperial"}
        Of every length and mass.
    """
    if not sheets:
        return []
    common = [note for note in sheets[0].notes if all(note in sheet.notes for sheet in sheets)]
    blocks = [
        keep(_datasheet_blocks(sheet, chart, common, units))
        for sheet, chart in zip(sheets, charts, strict=True)
    ]
    lead = {"kind": "lead", "items": [told(note, units) for note in common]}
    return [page("What the panels do", "Data sheets", [lead, *blocks], flows=True)]


def _datasheet_blocks(sheet: DataSheet, chart: str, common: Sequence[Sentence], units: str) -> list[Block]:
    build = sheet.build
    gap = f", {format_length(sheet.gap_m, units=units)} of air behind" if sheet.gap_m else ""
    title = f"{sheet.build_name}{gap}"
    wool = f"{build.flow_resistivity:g} Pa s/m²"
    if build.density is not None:
        wool += f", {amount_words(Amount((build.density,), Unit.KG_M3), units)}"
    size = size_words(build.size, units)
    used = f" Used for {name_words(sheet.used_for)}." if sheet.used_for else ""
    ladder = [("thinner", sheet.thinner), ("this build", sheet.own), ("thicker", sheet.thicker)]
    curves = [(name, curve) for name, curve in ladder if curve is not None]
    bands = [band_tick(band) for band in BAND_NAMES]
    absorbed = [
        (
            f"{format_length(curve.thickness_m, units=units)}, {what}",
            *(f"{x:.2f}" for x in np.round(values, 2)),
        )
        for _, curve in curves
        for what, values in (("from all sides", curve.random), ("head on", curve.normal))
    ]
    return [
        sub(title),
        small(f"Slab {size}, {wool}, {build.back} back.{used}"),
        picture(chart, f"Absorption of {title}."),
        table(("absorption, Hz", *bands), ("fill", *("right",) * len(bands)), absorbed, inset_mm=0.7),
        table(
            ("", "wool", "depth in all", "alpha w (ISO 11654)", "class", "NRC (ASTM C423)", "weighs"),
            ("fill", *("right",) * 6),
            [(name, *_figures(curve, units)) for name, curve in curves],
            inset_mm=0.7,
        ),
        items([told(note, units) for note in sheet.notes if note not in common]),
    ]


def _figures(curve: ThicknessCurve, units: str) -> tuple[str, ...]:
    weighted = curve.rating.weighted
    return (
        format_length(curve.thickness_m, units=units),
        format_length(curve.depth_m, units=units),
        str(weighted),
        weighted.sound_class,
        f"{curve.rating.nrc:.2f}",
        mass_words(curve.mass_kg, units),
    )
