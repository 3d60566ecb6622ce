"""Numbers as others read them: JSON, CSV, tables for the terminal."""

from typing import TYPE_CHECKING

from raytrace import late_face

if TYPE_CHECKING:
    from viewer.tables.aim import aim_json, aim_tables
    from viewer.tables.arrivals import arrivals_csv, arrivals_json
    from viewer.tables.bass import bass_headline, bass_json, bass_tables, cause_words, tried_lines
    from viewer.tables.builds import builds_json, builds_table
    from viewer.tables.check import scene_summary
    from viewer.tables.comparison import area_figure, comparison_csv, comparison_json, comparison_tables
    from viewer.tables.decay import decay_json, decay_tables
    from viewer.tables.grid import KEPT, fit, unparted
    from viewer.tables.making import making_csv, making_json
    from viewer.tables.making_terminal import making_tables
    from viewer.tables.materials import materials_json, materials_table
    from viewer.tables.measured import (
        change_rows,
        changes_csv,
        decay_rows,
        heard_lines,
        measured_csv,
        measured_json,
        measured_tables,
        peak_rows,
    )
    from viewer.tables.paths import paths_csv
    from viewer.tables.proposal import (
        before_words,
        build_words,
        held_by,
        other_seat_lines,
        proposal_json,
        proposal_tables,
        remains,
    )
    from viewer.tables.scan import clean_json, clean_tables, floorplan_json, floorplan_tables, scan_lines
    from viewer.tables.seats import reason_words, seats_json, seats_tables
    from viewer.tables.survey import survey_json, survey_tables
    from viewer.tables.terminal import arrivals_tables, verdict_sentence
    from viewer.tables.worklist import (
        NOTHING_TO_MAKE,
        bought,
        cover_words,
        facts_of,
        made_words,
        name_words,
        shopping_rows,
        stick_rows,
    )

__all__ = [
    "KEPT",
    "NOTHING_TO_MAKE",
    "aim_json",
    "aim_tables",
    "area_figure",
    "arrivals_csv",
    "arrivals_json",
    "arrivals_tables",
    "bass_headline",
    "bass_json",
    "bass_tables",
    "before_words",
    "bought",
    "build_words",
    "builds_json",
    "builds_table",
    "cause_words",
    "change_rows",
    "changes_csv",
    "clean_json",
    "clean_tables",
    "comparison_csv",
    "comparison_json",
    "comparison_tables",
    "cover_words",
    "decay_json",
    "decay_rows",
    "decay_tables",
    "facts_of",
    "fit",
    "floorplan_json",
    "floorplan_tables",
    "heard_lines",
    "held_by",
    "made_words",
    "making_csv",
    "making_json",
    "making_tables",
    "materials_json",
    "materials_table",
    "measured_csv",
    "measured_json",
    "measured_tables",
    "name_words",
    "other_seat_lines",
    "paths_csv",
    "peak_rows",
    "proposal_json",
    "proposal_tables",
    "reason_words",
    "remains",
    "scan_lines",
    "scene_summary",
    "seats_json",
    "seats_tables",
    "shopping_rows",
    "stick_rows",
    "survey_json",
    "survey_tables",
    "tried_lines",
    "unparted",
    "verdict_sentence",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
