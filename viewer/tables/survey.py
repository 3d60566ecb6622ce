"""What errors of the survey do, as others read it: one JSON object, tables for the terminal."""

import math
from typing import Any

import numpy as np
from rich.console import Group
from rich.table import Table
from rich.text import Text

from raytrace import NEAR_DB, Adjustment, AreaErrors, FittedLength, PeakErrors, Survey
from viewer.tables.grid import grid
from viewer.words import length_figure, limit_side, short_peak_words, told

_FIGURES = (
    "spot_from_u0",
    "spot_from_far_u",
    "spot_from_v0",
    "spot_from_far_v",
    "area_from_u0",
    "area_from_far_u",
    "area_from_v0",
    "area_from_far_v",
)
_VERDICTS = {"undecided": "too close to say"}


def survey_json(survey: Survey) -> dict[str, Any]:
    """Everything that was found, metric and in full precision; null where there is no number."""
    return {
        "scene": survey.study.scene.title,
        "numbers": [
            {
                "what": own.what,
                "corners": None if own.corners is None else list(own.corners),
                "moves": [{"key": list(key), "share": share} for key, share in own.moves],
                "value_m": own.value_m,
                "error_m": own.error_m,
            }
            for own in survey.numbers
        ],
        "corners": list(survey.corners),
        "areas": [_area_entry(survey, own) for own in survey.areas],
        "peaks": [_peak_entry(survey, own) for own in survey.peaks],
        "adjustment": None if survey.adjustment is None else _adjustment_entry(survey.adjustment),
        "notes": [str(note) for note in survey.notes],
    }


def _area_entry(survey: Survey, own: AreaErrors) -> dict[str, Any]:
    study, area = survey.study, own.area
    return {
        "surface": study.room.surfaces[area.surface].name,
        "speaker": study.scene.speakers[area.speaker].name,
        "seat": study.scene.seats[area.seat].name,
        "over_limit": area.over_limit,
        "figures": {
            name: {
                "value_m": float(own.figures_m[k]),
                "error_m": float(own.error_m[k]),
                "mm_per_10_mm": [_number(10.0 * slope) for slope in own.slopes[:, k].tolist()],
            }
            for k, name in enumerate(_FIGURES)
        },
    }


def _peak_entry(survey: Survey, own: PeakErrors) -> dict[str, Any]:
    study = survey.study
    peak = study.peaks[own.peak]
    per_m = [(more - less) / (2.0 * n.error_m) for (less, more), n in _pairs(survey, own)]
    return {
        "peak": own.peak,
        "speaker": study.scene.speakers[peak.speaker].name,
        "seat": study.scene.seats[peak.seat].name,
        "delay_ms": 1e3 * peak.delay_s,
        "margin_db": peak.margin_db,
        "db_per_10_mm": [_number(0.01 * slope) for slope in per_m],
        "error_db": own.errors_db.tolist(),
        "survey_db": own.survey_db,
        "uncertainty_db": math.hypot(own.survey_db, own.other_db),
        "verdict": own.verdict,
    }


def _pairs(survey: Survey, own: PeakErrors) -> list[tuple[list[float], Any]]:
    told_of = zip(own.changes_db.tolist(), survey.numbers, strict=True)
    return [(changes, number) for changes, number in told_of if number.error_m > 0.0]


def _adjustment_entry(own: Adjustment) -> dict[str, Any]:
    return {
        "corners_m": own.corners.tolist(),
        "corner_errors_m": own.corner_errors_m.tolist(),
        "free": own.n_free,
        "height_m": own.height_m,
        "height_error_m": _number(own.height_error_m),
        "measured": [
            {
                "what": fit.what,
                "corners": None if fit.corners is None else list(fit.corners),
                "measured_m": fit.measured_m,
                "error_m": fit.error_m,
                "drawn_m": fit.drawn_m,
                "adjusted_m": fit.adjusted_m,
                "misfit": _number(fit.misfit),
                "by_others_m": _number(fit.by_others_m),
                "by_drawing": fit.by_drawing,
                "left_out": fit.is_left_out,
            }
            for fit in (*own.lengths, *own.heights)
        ],
    }


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def survey_tables(survey: Survey, *, units: str = "metric") -> Group:
    """What to measure again; then what does not close, what each number moves, where spots may be."""
    parts: list[Table | Text] = [Text("What to measure again, and what that rests on")]
    parts += [Text(f"- {told(note, units)}") for note in survey.notes]
    if survey.adjustment is not None:
        parts.append(_adjustment_table(survey.adjustment, units))
    if survey.corners:
        parts.append(_corner_table(survey))
    parts += [_number_table(survey, units), _area_table(survey, units), _peak_table(survey)]
    return Group(*parts)


def _corner_table(survey: Survey) -> Table:
    """Which corner of a plan is which."""
    table = grid(["corner", "where"], numbers=["corner"], title="Corners of the plan")
    for k, where in enumerate(survey.corners, 1):
        table.add_row(str(k), where)
    return table


def _adjustment_table(adjustment: Adjustment, units: str) -> Table:
    figures = ["measured", "drawn", "apart", "adjusted"]
    table = grid(
        ["measured of the plan", *figures, "fits"],
        numbers=figures,
        title=f"Closing errors and adjustment{_mm(units)}",
    )
    for own in (*adjustment.lengths, *adjustment.heights):
        lengths = (own.measured_m, own.drawn_m, own.measured_m - own.drawn_m, own.adjusted_m)
        table.add_row(own.what, *(length_figure(m, units) for m in lengths), _fits(own, adjustment))
    return table


def _fits(own: FittedLength, adjustment: Adjustment) -> str:
    if own.is_left_out:
        return "no: left out"
    if own in adjustment.suspects:
        return "one of these does not"
    return "yes, as drawn" if own.by_drawing else "yes"


def _number_table(survey: Survey, units: str) -> Table:
    """Each measured number with the most that it moves."""
    figures = ["as drawn", "moves a spot by", "a margin by dB"]
    step = "10 mm" if units == "metric" else '3/8"'
    table = grid(
        ["measured", *figures],
        numbers=figures,
        title=f"What {step} more or less of each length moves at most",
    )
    step_m = 0.01 if units == "metric" else 0.375 * 0.0254
    near = [own for own in survey.peaks if abs(survey.study.peaks[own.peak].margin_db) <= NEAR_DB]
    for k, number in enumerate(survey.numbers):
        spots_m = [float(np.nanmax(np.abs(own.slopes[k, :4]), initial=0.0)) * step_m for own in survey.areas]
        margins_db = [own.errors_db[k] * step_m / number.error_m for own in near if number.error_m > 0.0]
        table.add_row(
            number.what,
            length_figure(number.value_m, units),
            length_figure(max(spots_m, default=0.0), units),
            f"{max(margins_db, default=0.0):.1f}",
        )
    return table


def _area_table(survey: Survey, units: str) -> Table:
    """Where each spot is, and how far it may be off."""
    figures = ["across", "± across", "up", "± up"]
    table = grid(
        ["spot on", "heard", *figures, "most of it from"],
        numbers=figures,
        title=f"Spots from their nearer edges, with one standard error{_mm(units)}",
    )
    study = survey.study
    for own in survey.areas:
        area, shares = own.area, own.shares(survey.numbers)
        u, v = own.nearer
        lengths = (own.figures_m[u], own.error_m[u], own.figures_m[v], own.error_m[v])
        table.add_row(
            study.room.surfaces[area.surface].name,
            f"{study.scene.speakers[area.speaker].name} at {study.scene.seats[area.seat].name}",
            *(length_figure(float(m), units) for m in lengths),
            _most(survey, shares),
        )
    return table


def _peak_table(survey: Survey) -> Table:
    """Peaks near the limit, with what their margins may be off."""
    figures = ["limit dB", "± survey", "± all"]
    table = grid(
        ["peak", "heard", *figures, "verdict", "most of it from"],
        numbers=figures,
        title=f"Peaks within {NEAR_DB:g} dB of the limit, how far over or below it, with one standard error",
    )
    study = survey.study
    for own in survey.peaks:
        peak = study.peaks[own.peak]
        if abs(peak.margin_db) > NEAR_DB:
            continue
        variance = own.errors_db**2
        table.add_row(
            short_peak_words(study, peak),
            f"{study.scene.speakers[peak.speaker].name} at {study.scene.seats[peak.seat].name}",
            limit_side(peak.margin_db),
            f"{own.survey_db:.1f}",
            f"{math.hypot(own.survey_db, own.other_db):.1f}",
            _VERDICTS.get(own.verdict, own.verdict),
            _most(survey, variance / max(float(variance.sum()), 1e-300)),
        )
    return table


def _most(survey: Survey, shares: Any) -> str:
    """The number that most of a variance comes from, with its share."""
    if not len(shares) or shares.max() <= 0.0:
        return ""
    k = int(np.argmax(shares))
    return f"{survey.numbers[k].what} ({100.0 * shares[k]:.0f} %)"


def _mm(units: str) -> str:
    return " [mm]" if units == "metric" else ""
