"""Where to sit: walls to face and depths, judged on all cores or on a cluster."""

from raytrace.siting.places import Blocked, SeatPlace, count_blocked
from raytrace.siting.scoring import WEIGHTS, Terms, points_of
from raytrace.siting.seats import JudgedSeat, Seats, SeatWish, find_seats
from raytrace.siting.spreading import Crew, Hands, SpreadError, TaskRecord, all_cores

__all__ = [
    "WEIGHTS",
    "Blocked",
    "Crew",
    "Hands",
    "JudgedSeat",
    "SeatPlace",
    "SeatWish",
    "Seats",
    "SpreadError",
    "TaskRecord",
    "Terms",
    "all_cores",
    "count_blocked",
    "find_seats",
    "points_of",
]
