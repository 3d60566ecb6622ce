"""Scene -> Room: flat faces, set-out frames, panels in it; first hits and sight lines. Hides tolerances."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.room.buildstack import BOARD_M, CLOTH_KG_M2, Depths, depths_of, facing_note, stack_of
    from raytrace.room.cabinets import cabinet_places, cabinet_size_m, speaker_axis
    from raytrace.room.clearances import (
        HEAD_ROOM_M,
        TOUCH_M,
        Site,
        Solid,
        in_swings,
        may_drill,
        overlap_m,
        panel_solid,
        prism,
        why_no_body,
        why_not,
    )
    from raytrace.room.facets import Facet, facet_distance_m
    from raytrace.room.filekinds import refuse_other_kind
    from raytrace.room.meshfile import UNITS, UPS, in_room, read_raw, regular_bytes
    from raytrace.room.panels import PATCH_GAP_M, FreePanelGroup, PlacedPanel, place_panels, round_all
    from raytrace.room.panelsound import (
        face_reflection,
        free_material,
        passed_pressure,
        patch_material,
        patch_reflection,
    )
    from raytrace.room.polygons import clip_convex, triangulate
    from raytrace.room.rawmesh import MeshError
    from raytrace.room.rays import SLACK, pack_tree
    from raytrace.room.roof import Roof, RoofPlane, roof_pieces
    from raytrace.room.room import Room, Shell, build_room, build_shell, check_places
    from raytrace.room.setout import (
        Frame,
        Orientation,
        is_overhead,
        is_steep,
        is_underfoot,
        looks_up,
        orientation,
        shared_rect,
        shared_size_m,
    )
    from raytrace.room.shapes import object_axes
    from raytrace.room.skins import volume_m3
    from raytrace.room.surface_materials import cover_areas_m2, surface_covers
    from raytrace.room.surfaces import PlacedOpening, Surface

__all__ = [
    "BOARD_M",
    "CLOTH_KG_M2",
    "HEAD_ROOM_M",
    "PATCH_GAP_M",
    "SLACK",
    "TOUCH_M",
    "UNITS",
    "UPS",
    "Depths",
    "Facet",
    "Frame",
    "FreePanelGroup",
    "MeshError",
    "Orientation",
    "PlacedOpening",
    "PlacedPanel",
    "Roof",
    "RoofPlane",
    "Room",
    "Shell",
    "Site",
    "Solid",
    "Surface",
    "build_room",
    "build_shell",
    "cabinet_places",
    "cabinet_size_m",
    "check_places",
    "clip_convex",
    "cover_areas_m2",
    "depths_of",
    "face_reflection",
    "facet_distance_m",
    "facing_note",
    "free_material",
    "in_room",
    "in_swings",
    "is_overhead",
    "is_steep",
    "is_underfoot",
    "looks_up",
    "may_drill",
    "object_axes",
    "orientation",
    "overlap_m",
    "pack_tree",
    "panel_solid",
    "passed_pressure",
    "patch_material",
    "patch_reflection",
    "place_panels",
    "prism",
    "read_raw",
    "refuse_other_kind",
    "regular_bytes",
    "roof_pieces",
    "round_all",
    "shared_rect",
    "shared_size_m",
    "speaker_axis",
    "stack_of",
    "surface_covers",
    "triangulate",
    "volume_m3",
    "why_no_body",
    "why_not",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
