"""Measured responses against the prediction: sound files in, arrivals named and changes told out."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.measured.attribution import Attribution, Fit, attribute, fit_of
    from raytrace.measured.compared import (
        Held,
        MeasuredChange,
        Measurement,
        Take,
        find_changes,
        hold_against,
        unexplained_points,
    )
    from raytrace.measured.corrections import Correction, corrected_text, correction_notes, find_corrections
    from raytrace.measured.decays import MeasuredDecay, measured_decay
    from raytrace.measured.extrapaths import PointSet, SurfaceCurve, points_with_extra
    from raytrace.measured.findings import measured_notes, record_notes
    from raytrace.measured.found import MeasuredRoom, find_measured
    from raytrace.measured.judged import (
        MeasuredLeftRight,
        MeasuredVerdict,
        judge_measured,
        measured_left_right,
    )
    from raytrace.measured.lowend import MeasuredBass, bass_notes, find_measured_bass
    from raytrace.measured.predicted import PeakPart, Predicted, PredictedPeak, predicted_peaks
    from raytrace.measured.recordings import Recording, RecordingError, read_recording
    from raytrace.measured.responses import (
        CurvePeak,
        Curves,
        Response,
        find_curve_peaks,
        find_response,
        measured_curves,
    )
    from raytrace.measured.returned import Returned, find_returned, returned_notes
    from raytrace.measured.sweep import SWEEP_LEVEL_DB, Sweep, deconvolve, read_response, sweep_file

__all__ = [
    "SWEEP_LEVEL_DB",
    "Attribution",
    "Correction",
    "CurvePeak",
    "Curves",
    "Fit",
    "Held",
    "MeasuredBass",
    "MeasuredChange",
    "MeasuredDecay",
    "MeasuredLeftRight",
    "MeasuredRoom",
    "MeasuredVerdict",
    "Measurement",
    "PeakPart",
    "PointSet",
    "Predicted",
    "PredictedPeak",
    "Recording",
    "RecordingError",
    "Response",
    "Returned",
    "SurfaceCurve",
    "Sweep",
    "Take",
    "attribute",
    "bass_notes",
    "corrected_text",
    "correction_notes",
    "deconvolve",
    "find_changes",
    "find_corrections",
    "find_curve_peaks",
    "find_measured",
    "find_measured_bass",
    "find_response",
    "find_returned",
    "fit_of",
    "hold_against",
    "judge_measured",
    "measured_curves",
    "measured_decay",
    "measured_left_right",
    "measured_notes",
    "points_with_extra",
    "predicted_peaks",
    "read_recording",
    "read_response",
    "record_notes",
    "returned_notes",
    "sweep_file",
    "unexplained_points",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
