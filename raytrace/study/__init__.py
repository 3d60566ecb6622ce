"""The whole run as one call; two of them side by side; what follows a hand."""

from raytrace.study.comparison import (
    ArrivalPair,
    Comparison,
    PeakPair,
    VerdictPair,
    compare,
    way_of,
    way_of_peak,
)
from raytrace.study.follow import Follower, moved
from raytrace.study.headlines import headline
from raytrace.study.study import CAUTIONS, LOCAL_CODES_FIRST, Study, place_notes, run_study
from raytrace.study.targets import find_targets

__all__ = [
    "CAUTIONS",
    "LOCAL_CODES_FIRST",
    "ArrivalPair",
    "Comparison",
    "Follower",
    "PeakPair",
    "Study",
    "VerdictPair",
    "compare",
    "find_targets",
    "headline",
    "moved",
    "place_notes",
    "run_study",
    "way_of",
    "way_of_peak",
]
