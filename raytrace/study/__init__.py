"""The whole run as one call; two of them side by side; what follows a hand."""

from raytrace.study.comparison import (
    ArrivalPair,
    Comparison,
    PeakPair,
    VerdictPair,
    compare,
    peak_surface_names,
    surface_names,
)
from raytrace.study.follow import Follower, moved
from raytrace.study.headlines import headline
from raytrace.study.placements import place_notes
from raytrace.study.study import CAUTIONS, LOCAL_CODES_FIRST, Caution, Study, run_study
from raytrace.study.targets import find_targets

__all__ = [
    "CAUTIONS",
    "LOCAL_CODES_FIRST",
    "ArrivalPair",
    "Caution",
    "Comparison",
    "Follower",
    "PeakPair",
    "Study",
    "VerdictPair",
    "compare",
    "find_targets",
    "headline",
    "moved",
    "peak_surface_names",
    "place_notes",
    "run_study",
    "surface_names",
]
