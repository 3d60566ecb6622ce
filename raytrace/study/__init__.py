"""The whole run as one call; two of them side by side; what follows a hand."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.study.arrangements import Change, NewPeak, Target, Variant, Variants, best_for
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
    from raytrace.study.freedoms import (
        AIM_DEG,
        LEAST_DEPTH_M,
        LEAST_TO_SPEAKER_M,
        REACH_M,
        SEAT_M,
        TILT_DEG,
        TOP_M,
        Freedom,
        Range,
        Setting,
        with_settings,
    )
    from raytrace.study.headlines import headline
    from raytrace.study.placements import place_notes
    from raytrace.study.study import CAUTIONS, LOCAL_CODES_FIRST, Caution, Study, run_study
    from raytrace.study.targets import find_targets
    from raytrace.study.variants import QuickLook, find_variants, peaks_of

__all__ = [
    "AIM_DEG",
    "CAUTIONS",
    "LEAST_DEPTH_M",
    "LEAST_TO_SPEAKER_M",
    "LOCAL_CODES_FIRST",
    "REACH_M",
    "SEAT_M",
    "TILT_DEG",
    "TOP_M",
    "ArrivalPair",
    "Caution",
    "Change",
    "Comparison",
    "Follower",
    "Freedom",
    "NewPeak",
    "PeakPair",
    "QuickLook",
    "Range",
    "Setting",
    "Study",
    "Target",
    "Variant",
    "Variants",
    "VerdictPair",
    "best_for",
    "compare",
    "find_targets",
    "find_variants",
    "headline",
    "moved",
    "peak_surface_names",
    "peaks_of",
    "place_notes",
    "run_study",
    "surface_names",
    "with_settings",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
