"""Pages on making and hanging as the plain data that report.typ lays out: lists, loads, data sheets."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from raytrace import (
    BAND_NAMES,
    PRACTICE,
    STRAP_N,
    Amount,
    BillOfMaterials,
    Caution,
    DataSheet,
    Hook,
    PanelLoad,
    Room,
    Sentence,
    Stability,
    ThicknessCurve,
    Treatment,
    Unit,
    format_length,
    orientation,
)
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
    amount_words,
    band_tick,
    force_words,
    mass_figure,
    mass_words,
    push_words,
    size_words,
    stand_limits,
    timber_to_buy,
    timber_words,
    told,
)

Page = dict[str, Any]

_A_LITRE = {
    "metric": "10 N is about what one litre of water weighs",
    "imperial": "2 lbf is about what one quart of water weighs",
}
_STRINGS = ("wire rope", "textile cord")
_ABOVE = "To make and to hang"
# Of the cautions, the ones that stand beside loads; the page with all of them is in the set-out part.
_BESIDE_LOADS = (
    Caution.CODES,
    Caution.OVERHEAD,
    Caution.STANDS,
    Caution.COATINGS,
    Caution.CABLES,
    Caution.LADDERS,
)
_BESIDE_MAKING = (Caution.CODES, Caution.FIBRES, Caution.FIRE, Caution.LADDERS)


def making_pages(treatment: Treatment, *, units: str) -> list[Page]:
    """Shopping and cut list, then loads and hanging.

    Parameters
    ----------
    treatment : Treatment
        Of a scene with panels.
    units : {"metric", "imperial"}
        Of every length and mass.

    Returns
    -------
    list of dict
        Each page a heading and blocks.
    """
    room = treatment.room
    pages = [_shopping_page(treatment.bill_of_materials, units)]
    blocks = _load_blocks(tuple(treatment.loads.values()), units)
    blocks += _stand_blocks(room, tuple(treatment.stability.values()), units)
    blocks += _hook_blocks(room, treatment.hooks, units) + _batten_blocks(treatment, units)
    if blocks:
        blocks += _notes_list(treatment.notes, units)
        blocks += [_sub("Stated practice, with its sources"), _list([f"{t} ({s})" for t, s in PRACTICE])]
        blocks += [_sub("Cautions"), _list(_BESIDE_LOADS)]
        pages.append({"above": _ABOVE, "title": "Loads and hanging", "blocks": blocks, "flows": True})
    return pages


def _sub(text: str) -> Page:
    return {"kind": "sub", "text": text}


def _list(items: Sequence[str]) -> Page:
    return {"kind": "list", "items": list(items)}


def _notes_list(notes: Sequence[Sentence], units: str) -> list[Page]:
    return [_list([told(note, units, printed=True) for note in notes])] if notes else []


def _small(text: str) -> Page:
    return {"kind": "small", "text": text}


def _table(
    head: Sequence[str], columns: Sequence[str], rows: Sequence[Sequence[str]], *, inset_mm: float = 1.1
) -> Page:
    """Columns are "fill", "left", "right", "narrow", or of empty cells "tick" (a box), "write" (a line)."""
    cells = [list(row) for row in rows]
    return {"kind": "table", "head": head, "columns": columns, "rows": cells, "inset": inset_mm}


def _shopping_page(making: BillOfMaterials, units: str) -> Page:
    cut = [
        _sub("Cut"),
        _parts_table(making, units),
        _sub("How the lengths are cut" + (", in mm" if units == "metric" else "")),
        _sticks_table(making, units),
    ]
    blocks = [
        _panels_table(making, units),
        _small(" ".join(facts_of(making, units))),
        _sub("Buy"),
        _table(("what", "how much", ""), ("fill", "right", "tick"), _buy_rows(making, units)),
        *(cut if making.timber else []),
        _sub("Tools, and what to wear"),
        {"kind": "steps", "items": [told(item, units) for item in (*making.tools, *making.protection)]},
        _sub("What was assumed"),
        *_notes_list(making.notes, units),
        _sub("Cautions"),
        _list(_BESIDE_MAKING),
    ]
    return {"above": _ABOVE, "title": "Shopping and cut list", "blocks": blocks}


def _panels_table(making: BillOfMaterials, units: str) -> Page:
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
    return _table(("panels", "", "outside", "each", "all", ""), columns, rows)


def _parts_table(making: BillOfMaterials, units: str) -> Page:
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
    return _table(("part", "timber", "length", "", ""), ("fill", "left", "right", "right", "tick"), rows)


def _sticks_table(making: BillOfMaterials, units: str) -> Page:
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
    return _table(("from", "cuts", "left over", ""), ("left", "fill", "right", "tick"), rows)


def _buy_rows(making: BillOfMaterials, units: str) -> list[tuple[str, str, str]]:
    rows = []
    for cut in making.timber:
        for stock, count in bought(cut, units).items():
            words = f"timber {timber_to_buy(cut.timber, units)}, {format_length(stock, units=units)} long"
            rows.append((words, f"{count}", ""))
    return [*rows, *((what, much, "") for what, much in shopping_rows(making, units, printed=True))]


def _load_blocks(loads: Sequence[PanelLoad], units: str) -> list[Page]:
    """Loads per panel, equal ones together."""
    groups: dict[tuple[str, ...], list[str]] = {}
    for load in loads:
        strongest, least = max(load.even_kg), min(load.even_kg)
        even = mass_words(strongest, units)
        if strongest - least > 0.05:
            even = f"{mass_figure(least, units)}–{even}"
        cells = (
            mass_words(load.piece.mass_kg, units),
            str(len(load.hooks)),
            even,
            mass_words(load.worst_kg, units),
            mass_words(load.pull_kg, units) if load.pull_kg else "–",
            mass_words(load.working_load_kg, units),
            *(mass_words(load.breaking_kg[kind], units) for kind in _STRINGS),
        )
        groups.setdefault(cells, []).append(load.name)
    if not groups:
        return []
    return [
        _sub("What the points carry"),
        _table(
            ("panels", "each weighs", "points", "shared by all", "worst on one", "pulls off the wall",
             "working load at least", *(f"{kind} breaks above" for kind in _STRINGS)),
            ("fill", *("narrow",) * (6 + len(_STRINGS))),
            [(name_words(names), *cells) for cells, names in groups.items()],
        ),
        _small(
            "Each panel for itself. On four cords statics alone does not say what each one carries: a cord a "
            "few millimetres too long hangs slack. So the worst case is that two opposite points carry all, "
            "on a wall that one does. Working load: twice that, by the halving below; breaking force: where "
            "no working load is stated, 1 kg counted as 10 N. Figures of statics, not an approval: a "
            "competent person chooses the fixings for what lies behind."
        ),
    ]  # fmt: skip


def _stand_blocks(room: Room, stability: Sequence[Stability], units: str) -> list[Page]:
    if not stability:
        return []
    rows = []
    for found in stability:
        body = found.body
        rests = "leans on blocks" if body.leans else "on feet"
        rows.append(
            (
                room.panels[found.panel].name,
                mass_words(body.mass_kg, units),
                f"{rests}, {format_length(body.foot_m, units=units)}",
                format_length(float(body.centre[1]), units=units),
                push_words(found, units),
                f"{body.tips_at_deg:.0f}°",
                f"{found.n_straps}" if found.n_straps else "–",
            )
        )
    return [
        _sub("When standing panels tip"),
        _table(
            ("stand", "weighs", "stands", "middle up", "tips at a push of", "turned by", "straps"),
            ("fill", "right", "left", "right", "left", "right", "right"),
            rows,
        ),
        _small(
            f"Panels, legs and feet together, on a level and rough floor; {_A_LITRE[units]}. Straps: to "
            f"structure in the wall, each for {force_words(STRAP_N, units)}. {stand_limits(units)}"
        ),
    ]


def _hook_blocks(room: Room, hooks: Sequence[Hook], units: str) -> list[Page]:
    """Every point with its place, cord and joist: ceilings one by one, walls and slopes together."""
    tables: dict[str, list[Hook]] = {}
    for hook in hooks:
        surface = room.surfaces[hook.surface]
        is_level = orientation(surface.frame.n).is_level
        tables.setdefault(surface.name if is_level else "", []).append(hook)
    blocks: list[Page] = []
    for name, own in tables.items():
        corded = any(hook.kind == "cord" for hook in own)
        title = f"Points on the {name}" if name else "Points on walls and slopes, facing each"
        edges = ("from front wall", "from left wall") if name else ("from left edge", "from bottom")
        head = ("point", *(() if name else ("on",)), *edges, *(("cord",) if corded else ()), "holds in")
        columns = ("fill", *(() if name else ("left",)), "right", "right", *(("right",) if corded else ()))
        rows = [_hook_row(room, hook, units, corded=corded, placed=not name) for hook in own]
        table = _table((*head, "as built", ""), (*columns, "left", "write", "tick"), rows)
        blocks += [_sub(title), table]
    if any(hook.kind == "cord" for hook in hooks):
        blocks.append(
            _small(
                "Cord: from the eyelet on the panel's back to the surface straight above, nothing added for "
                "knots. Cut each for its own point, trim level to 3 mm (common practice)."
            )
        )
    return blocks


def _hook_row(room: Room, hook: Hook, units: str, *, corded: bool, placed: bool) -> tuple[str, ...]:
    u, v = (format_length(float(x), units=units) for x in hook.anchor_uv)
    cord = format_length(hook.cord_m, units=units) if hook.kind == "cord" else "–"
    where = (room.surfaces[hook.surface].name,) if placed else ()
    return (hook.name, *where, u, v, *((cord,) if corded else ()), _structure(hook, units), "", "")


def _batten_blocks(treatment: Treatment, units: str) -> list[Page]:
    """Where battens run across joists, and what each carries."""
    rows = []
    for batten in treatment.battens:
        surface = treatment.room.surfaces[batten.surface]
        is_level = orientation(surface.frame.n).is_level
        names = ("from front wall", "from left wall") if is_level else ("from left edge", "from bottom")
        ends = [[format_length(float(x), units=units) for x in end] for end in batten.ends_uv]
        first, second = (
            f"{low} {name}" if low == high else f"{low} to {high} {name}"
            for low, high, name in zip(*ends, names, strict=True)
        )
        length = format_length(batten.length_m, units=units)
        held = name_words([hook.name for hook in batten.hooks])
        rows.append((surface.name, f"{first}, {second}", length, held, ""))
    if not rows:
        return []
    columns = ("left", "left", "right", "fill", "tick")
    return [
        _sub("Battens across joists"),
        _table(("on", "from end to end, middle line", "length", "carries", ""), columns, rows),
        _small("Screwed to each joist they cross; section and screws for a competent person to choose."),
    ]


def _structure(hook: Hook, units: str) -> str:
    if hook.joist is not None:
        return f"joist {hook.joist + 1}"
    if hook.batten:
        return f"batten across joists, {format_length(hook.to_joist_m, units=units)} off the nearest"
    return "structure to be found"


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
        {"kind": "keep", "blocks": _datasheet_blocks(sheet, chart, common, units)}
        for sheet, chart in zip(sheets, charts, strict=True)
    ]
    lead = {"kind": "lead", "items": [told(note, units, printed=True) for note in common]}
    page = {"above": "What the panels do", "title": "Data sheets", "blocks": [lead, *blocks], "flows": True}
    return [page]


def _datasheet_blocks(sheet: DataSheet, chart: str, common: Sequence[Sentence], units: str) -> list[Page]:
    build = sheet.build
    gap = f", {format_length(sheet.gap_m, units=units)} of air behind" if sheet.gap_m else ""
    title = f"{sheet.build_name}{gap}"
    wool = f"{build.flow_resistivity:g} Pa s/m²"
    if build.density is not None:
        wool += f", {amount_words(Amount((build.density,), Unit.KG_M3), units, printed=True)}"
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
        _sub(title),
        _small(f"Slab {size}, {wool}, {build.back} back.{used}"),
        {"kind": "picture", "path": chart},
        _table(("absorption, Hz", *bands), ("fill", *("right",) * len(bands)), absorbed, inset_mm=0.7),
        _table(
            ("", "wool", "depth in all", "alpha w (ISO 11654)", "class", "NRC (ASTM C423)", "weighs"),
            ("fill", *("right",) * 6),
            [(name, *_figures(curve, units)) for name, curve in curves],
            inset_mm=0.7,
        ),
        _list([told(note, units, printed=True) for note in sheet.notes if note not in common]),
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
