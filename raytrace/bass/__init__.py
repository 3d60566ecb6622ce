"""Bass: the modes of a room of any shape, and what sources and ears at any place make of them."""

from raytrace.bass.bass import find_bass
from raytrace.bass.causes import Extreme
from raytrace.bass.floorplaces import sub_size_m
from raytrace.bass.follow import BassFollower, BassMap, BassNow
from raytrace.bass.layouts import Layout, layout_of, layouts_db
from raytrace.bass.listening import check_bass
from raytrace.bass.modes import USUAL_TOP_HZ, RoomModes, find_modes
from raytrace.bass.records import Bass, Crossover, Pair, Place

__all__ = [
    "USUAL_TOP_HZ",
    "Bass",
    "BassFollower",
    "BassMap",
    "BassNow",
    "Crossover",
    "Extreme",
    "Layout",
    "Pair",
    "Place",
    "RoomModes",
    "check_bass",
    "find_bass",
    "find_modes",
    "layout_of",
    "layouts_db",
    "sub_size_m",
]
