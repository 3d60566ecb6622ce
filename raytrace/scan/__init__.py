"""A scan of a room -> its planes, outline, furniture and holes, and a scene that a person can correct."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.scan.clean import clean_scan, fit_scan, grow_scan
    from raytrace.scan.cleanroom import CleanRoom, CleanSurface, GrownScan, PlaneEdits, ScanSettings
    from raytrace.scan.floorplan import FloorPlan, PlanOpening, PlanSettings, read_floorplan
    from raytrace.scan.furniture import ScanBlock, SetAside
    from raytrace.scan.holes import ScanHole
    from raytrace.scan.plantext import draft_floorplan
    from raytrace.scan.reading import Reading
    from raytrace.scan.scenetext import SceneDraft, draft_scene
    from raytrace.scan.shapes import RoomShape
    from raytrace.scan.surfels import cut_long

__all__ = [
    "CleanRoom",
    "CleanSurface",
    "FloorPlan",
    "GrownScan",
    "PlanOpening",
    "PlanSettings",
    "PlaneEdits",
    "Reading",
    "RoomShape",
    "ScanBlock",
    "ScanHole",
    "ScanSettings",
    "SceneDraft",
    "SetAside",
    "clean_scan",
    "cut_long",
    "draft_floorplan",
    "draft_scene",
    "fit_scan",
    "grow_scan",
    "read_floorplan",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
