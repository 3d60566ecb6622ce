"""Bass: the modes of a room of any shape, and what sources and ears at any place make of them."""

from raytrace.bass.modes import USUAL_TOP_HZ, RoomModes, find_modes

__all__ = [
    "USUAL_TOP_HZ",
    "RoomModes",
    "find_modes",
]
