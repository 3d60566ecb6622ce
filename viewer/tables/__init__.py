"""Numbers as others read them: JSON, CSV, tables for the terminal."""

from viewer.tables.arrivals import arrivals_csv, arrivals_json
from viewer.tables.builds import builds_json, builds_table
from viewer.tables.check import scene_summary
from viewer.tables.comparison import area_words, comparison_csv, comparison_json, comparison_tables
from viewer.tables.decay import decay_json, decay_tables
from viewer.tables.making import making_csv, making_json
from viewer.tables.making_terminal import making_tables
from viewer.tables.materials import materials_json, materials_table
from viewer.tables.proposal import held_by, other_seat_lines, proposal_json, proposal_tables, remains
from viewer.tables.terminal import arrivals_tables, verdict_sentence
from viewer.tables.worklist import (
    bought,
    money_and_access,
    name_words,
    shopping_rows,
    stick_rows,
)

__all__ = [
    "area_words",
    "arrivals_csv",
    "arrivals_json",
    "arrivals_tables",
    "bought",
    "builds_json",
    "builds_table",
    "comparison_csv",
    "comparison_json",
    "comparison_tables",
    "decay_json",
    "decay_tables",
    "held_by",
    "making_csv",
    "making_json",
    "making_tables",
    "materials_json",
    "materials_table",
    "money_and_access",
    "name_words",
    "other_seat_lines",
    "proposal_json",
    "proposal_tables",
    "remains",
    "scene_summary",
    "shopping_rows",
    "stick_rows",
    "verdict_sentence",
]
