"""What errors of the survey do, and how a room that was measured too often is adjusted."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.surveying.adjusting import MISFIT, Adjustment, FittedLength, adjust_plan, adjusted_text
    from raytrace.surveying.margins import NEAR_DB, PeakErrors, find_peak_errors
    from raytrace.surveying.numbers import (
        SurveyNumber,
        survey_error_m,
        survey_numbers,
        value_at,
        with_numbers,
    )
    from raytrace.surveying.spots import AreaErrors, find_area_errors
    from raytrace.surveying.survey import DOMINATES, Survey, adjustment_notes, find_survey

__all__ = [
    "DOMINATES",
    "MISFIT",
    "NEAR_DB",
    "Adjustment",
    "AreaErrors",
    "FittedLength",
    "PeakErrors",
    "Survey",
    "SurveyNumber",
    "adjust_plan",
    "adjusted_text",
    "adjustment_notes",
    "find_area_errors",
    "find_peak_errors",
    "find_survey",
    "survey_error_m",
    "survey_numbers",
    "value_at",
    "with_numbers",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
