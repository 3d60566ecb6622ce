"""Bass: the modes of a room of any shape, and what sources and ears at any place make of them."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.bass.bass import find_bass
    from raytrace.bass.causes import Extreme
    from raytrace.bass.evenness import CURVE_HZ
    from raytrace.bass.floorplaces import sub_size_m
    from raytrace.bass.follow import BassFollower, BassMap, BassNow
    from raytrace.bass.layouts import Layout, layout_of, layouts_db
    from raytrace.bass.listening import check_bass, seat_curves
    from raytrace.bass.modes import USUAL_TOP_HZ, RoomModes, find_modes, reachable_hz
    from raytrace.bass.records import Bass, Crossover, SubPair, SubPlace

__all__ = [
    "CURVE_HZ",
    "USUAL_TOP_HZ",
    "Bass",
    "BassFollower",
    "BassMap",
    "BassNow",
    "Crossover",
    "Extreme",
    "Layout",
    "RoomModes",
    "SubPair",
    "SubPlace",
    "check_bass",
    "find_bass",
    "find_modes",
    "layout_of",
    "layouts_db",
    "reachable_hz",
    "seat_curves",
    "sub_size_m",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
