"""How panels are made and hung: frames, cut lists, hooks, cords, loads."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.making.battens import Batten, find_battens, hook_notes, not_carried, why_not_held
    from raytrace.making.bill_of_materials import Batch, BillOfMaterials, TimberCut, list_bill_of_materials
    from raytrace.making.coverlist import CoverToBuy, covers_to_buy
    from raytrace.making.datasheets import DataSheet, ThicknessCurve, list_datasheets, make_datasheet
    from raytrace.making.feet import feet_notes, feet_outlines, feet_solids, site_of, why_no_stand
    from raytrace.making.frameroom import frame_beside_m, frame_notes, with_frame
    from raytrace.making.framing import WRAP_M, Piece
    from raytrace.making.hanging import Hook, cuts_m, find_hooks, joist_lines, rail_span_m
    from raytrace.making.loads import PRACTICE, PanelLoad, find_loads
    from raytrace.making.ownership import find_ownership, owned_notes
    from raytrace.making.rafts import TAKE_UP_M, Raft, find_rafts
    from raytrace.making.stands import (
        CENTRE_MOST_M,
        PUSH_HEIGHT_M,
        PUSH_SHARE,
        STRAP_N,
        TILT_TEST_DEG,
        Stability,
        StandBody,
        StandPart,
        find_stability,
        stand_body,
    )
    from raytrace.making.timber import ACROSS_JOISTS, Timber, yard_length_m, yard_timber
    from raytrace.making.treatment import Treatment

__all__ = [
    "ACROSS_JOISTS",
    "CENTRE_MOST_M",
    "PRACTICE",
    "PUSH_HEIGHT_M",
    "PUSH_SHARE",
    "STRAP_N",
    "TAKE_UP_M",
    "TILT_TEST_DEG",
    "WRAP_M",
    "Batch",
    "Batten",
    "BillOfMaterials",
    "CoverToBuy",
    "DataSheet",
    "Hook",
    "PanelLoad",
    "Piece",
    "Raft",
    "Stability",
    "StandBody",
    "StandPart",
    "ThicknessCurve",
    "Timber",
    "TimberCut",
    "Treatment",
    "covers_to_buy",
    "cuts_m",
    "feet_notes",
    "feet_outlines",
    "feet_solids",
    "find_battens",
    "find_hooks",
    "find_loads",
    "find_ownership",
    "find_rafts",
    "find_stability",
    "frame_beside_m",
    "frame_notes",
    "hook_notes",
    "joist_lines",
    "list_bill_of_materials",
    "list_datasheets",
    "make_datasheet",
    "not_carried",
    "owned_notes",
    "rail_span_m",
    "site_of",
    "stand_body",
    "why_no_stand",
    "why_not_held",
    "with_frame",
    "yard_length_m",
    "yard_timber",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
