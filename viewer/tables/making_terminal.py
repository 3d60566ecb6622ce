"""What to buy, cut and hang, as tables for the terminal."""

from collections.abc import Sequence

from rich.console import Group
from rich.table import Table
from rich.text import Text

from raytrace import Treatment, format_length
from viewer.tables.grid import grid
from viewer.tables.worklist import NOTHING_TO_MAKE, facts_of, made_words, shopping_rows, stick_rows
from viewer.words import (
    cautions_beside,
    mass_words,
    push_words,
    size_words,
    stand_limits,
    timber_words,
    told,
    works_of,
)


def making_tables(treatment: Treatment, *, units: str) -> Group:
    """What to buy and to cut, loads per panel, when stands tip, notes below."""
    making = treatment.bill_of_materials
    tables = [_panels(treatment, units)] if making.batches else []
    tables += [_timber(treatment, units)] if making.timber else []
    tables += [_rest(treatment, units)]
    tables += [_loads(treatment, units)] if treatment.loads else []
    tables += [_stands(treatment, units)] if treatment.stability else []
    standing = [stand_limits(units)] if treatment.stability else []
    notes = [told(note, units) for note in (*making.notes, *treatment.notes)]
    notes += standing
    return Group(
        *(part for table in tables for part in (table, Text(""))),
        *map(Text, facts_of(making, units)),
        Text(""),
        *(Text(f"Note: {note}", style="dim") for note in notes),
        Text(""),
        *(Text(caution) for caution in cautions_beside(works_of(treatment))),
    )


def _panels(treatment: Treatment, units: str) -> Table:
    rows = [
        (
            f"{batch.build_name}{made_words(batch)}" + (f"\n{NOTHING_TO_MAKE}" if batch.owned else ""),
            str(batch.n_made),
            size_words(batch.piece.outer_m, units),
            mass_words(batch.piece.mass_kg, units),
            mass_words(batch.mass_kg, units),
        )
        for batch in treatment.bill_of_materials.batches
    ]
    return _table("Panels", ("build", "count", "outer size", "each", "all"), rows)


def _timber(treatment: Treatment, units: str) -> Table:
    rows = [
        (
            f"{count} x {timber_words(cut.timber, units)}",
            format_length(stock, units=units),
            words,
            format_length(offcut, units=units),
        )
        for cut in treatment.bill_of_materials.timber
        for count, stock, words, offcut in stick_rows(cut, units)
    ]
    cuts = "cuts, in mm" if units == "metric" else "cuts"
    return _table("Timber", ("buy", "length", cuts, "offcut"), rows)


def _rest(treatment: Treatment, units: str) -> Table:
    return _table("Also", ("what", "how much"), shopping_rows(treatment.bill_of_materials, units))


def _loads(treatment: Treatment, units: str) -> Table:
    rows = [
        (
            load.name,
            mass_words(load.piece.mass_kg, units),
            str(len(load.hooks)),
            mass_words(load.worst_kg, units),
            mass_words(load.working_load_kg, units),
        )
        for load in treatment.loads.values()
    ]
    head = ("panel", "mass", "hooks", "worst on one", "working load limit at least")
    return _table("Loads", head, rows)


def _stands(treatment: Treatment, units: str) -> Table:
    rows = [
        (
            treatment.room.panels[found.panel].name,
            mass_words(found.mass_kg, units),
            format_length(float(found.body.centre[1]), units=units),
            format_length(found.body.foot_m, units=units),
            push_words(found, units),
            f"{found.body.tips_at_deg:.0f}°",
            str(found.n_straps or ""),
        )
        for found in treatment.stability.values()
    ]
    head = ("stand", "mass", "middle up", "feet", "tips at a push of", "turned by", "straps")
    return _table("Stands", head, rows)


def _table(title: str, head: Sequence[str], rows: Sequence[Sequence[str]]) -> Table:
    table = grid(head, title=title)
    for row in rows:
        table.add_row(*row)
    return table
