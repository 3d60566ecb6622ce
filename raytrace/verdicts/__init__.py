"""What arrivals amount to: peaks against limits, left against right, flutter, areas to treat."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.verdicts.causes import ArrivalCause, find_causes
    from raytrace.verdicts.criteria import (
        FLOOR_DB,
        IN_STEP_DB,
        SURVEY_M,
        HeardPlace,
        Peak,
        Verdict,
        find_peaks,
        heard_places,
        judge,
        main_arrivals,
        peak_leaders,
        peaks_at,
        proportion_note,
        size_note,
        verdict_on,
    )
    from raytrace.verdicts.flutter import FLUTTER_BELOW, Flutter, find_flutter, flutter_absorption
    from raytrace.verdicts.leftright import LEFT_RIGHT_WINDOW_S, LeftRight, compare_left_right, speaker_pair
    from raytrace.verdicts.maxima import BETWEEN_S, LOBE_S, PEAK_WIDTH_S, curve_maxima
    from raytrace.verdicts.treatment_areas import (
        TreatmentArea,
        area_outline,
        find_treatment_areas,
        fresnel_zone,
    )

__all__ = [
    "BETWEEN_S",
    "FLOOR_DB",
    "FLUTTER_BELOW",
    "IN_STEP_DB",
    "LEFT_RIGHT_WINDOW_S",
    "LOBE_S",
    "PEAK_WIDTH_S",
    "SURVEY_M",
    "ArrivalCause",
    "Flutter",
    "HeardPlace",
    "LeftRight",
    "Peak",
    "TreatmentArea",
    "Verdict",
    "area_outline",
    "compare_left_right",
    "curve_maxima",
    "find_causes",
    "find_flutter",
    "find_peaks",
    "find_treatment_areas",
    "flutter_absorption",
    "fresnel_zone",
    "heard_places",
    "judge",
    "main_arrivals",
    "peak_leaders",
    "peaks_at",
    "proportion_note",
    "size_note",
    "speaker_pair",
    "verdict_on",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
