"""Where to sit: walls to face and depths, judged on all cores or on a cluster."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.siting.places import Blocked, SeatPlace, count_blocked
    from raytrace.siting.scoring import WEIGHTS, Terms, points_of
    from raytrace.siting.seats import JudgedSeat, Seats, SeatWish, find_seats

__all__ = [
    "WEIGHTS",
    "Blocked",
    "JudgedSeat",
    "SeatPlace",
    "SeatWish",
    "Seats",
    "Terms",
    "count_blocked",
    "find_seats",
    "points_of",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
