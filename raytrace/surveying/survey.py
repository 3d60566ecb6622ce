"""What errors of the survey do to spots, areas and margins of a scene, and what to measure again."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from raytrace.facts import Sentence, millimetres, sentence
from raytrace.reflections import Progress
from raytrace.study import Study
from raytrace.surveying.adjusting import Adjustment, FittedLength, adjust_plan
from raytrace.surveying.margins import PeakErrors, find_peak_errors
from raytrace.surveying.numbers import SurveyNumber, survey_error_m, survey_numbers
from raytrace.surveying.spots import AreaErrors, find_area_errors

DOMINATES = 0.6
"""Share in a variance from which one number is told to be measured again, alone."""


@dataclass(frozen=True)
class Survey:
    """What errors of the tape do to one study.

    Attributes
    ----------
    study : Study
    numbers : tuple of SurveyNumber
        Every measured length.
    areas : tuple of AreaErrors
        One for each of `Study.treatment_areas`.
    peaks : tuple of PeakErrors
        One for each peak that is judged.
    adjustment : Adjustment or None
        Of a plan of which more was measured than it needs.
    notes : tuple of Sentence
        What to measure again, and what the figures rest on.
    """

    study: Study
    numbers: tuple[SurveyNumber, ...]
    areas: tuple[AreaErrors, ...]
    peaks: tuple[PeakErrors, ...]
    adjustment: Adjustment | None
    notes: tuple[Sentence, ...]


def find_survey(study: Study, *, progress: Progress | None = None) -> Survey:
    """Errors of everything that is set out and judged in a study, number by number.

    Parameters
    ----------
    study : Study
    progress : callable, optional
        Called with a text and the share done (0 to 1).
    """
    numbers = survey_numbers(study.scene)
    areas = find_area_errors(study, study.treatment_areas, numbers)
    peaks = find_peak_errors(study, numbers, progress=progress)
    adjustment = adjust_plan(study.scene)
    notes = (
        *adjustment_notes(adjustment),
        *undecided_notes(study, numbers, peaks),
        *area_notes(study, numbers, areas),
        _basis_note(study),
    )
    return Survey(study, numbers, areas, peaks, adjustment, notes)


def _basis_note(study: Study) -> Sentence:
    return sentence(
        "One standard error of a length is {error}{said}. Angles, openings, sizes of furniture, panels and "
        "the corners of a mesh are taken as right.",
        error=millimetres(survey_error_m(study.scene)),
        said="" if study.scene.job.survey_error is not None else ", for the scene names none (survey_error)",
    )


def adjustment_notes(adjustment: Adjustment | None) -> tuple[Sentence, ...]:
    """What does not fit of an over-measured plan, and what is still free."""
    if adjustment is None:
        return ()
    notes = [
        sentence(
            "{what}: {measured} does not fit the others, which say {others} (± {error}): left out; measure "
            "it again.",
            what=fitted_name(own),
            measured=millimetres(own.measured_m),
            others=millimetres(own.by_others_m),
            error=millimetres(own.by_others_error_m),
        )
        for own in adjustment.misfits
    ]
    if adjustment.suspects:
        named = ", ".join(dict.fromkeys(fitted_name(own) for own in adjustment.suspects))
        text = "One of these does not fit, and nothing tells which: {named}. Measure them again, or more."
        notes.append(sentence(text, named=named))
    if adjustment.lengths and adjustment.n_free:
        text = "The lengths leave the corners {n} ways to move: there they stay as drawn."
        notes.append(sentence(text, n=str(adjustment.n_free)))
    return tuple(notes)


def fitted_name(own: FittedLength) -> str:
    """What a measurement of an over-measured plan is called."""
    if own.corners is None:
        return "height" + (f" {own.place}" if own.place else "")
    return f"corner {own.corners[0]} to corner {own.corners[1]}"


def undecided_notes(
    study: Study, numbers: Sequence[SurveyNumber], peaks: Sequence[PeakErrors]
) -> list[Sentence]:
    """Which number decides a verdict that is open, where one alone does."""
    open_ones: dict[str, int] = {}
    n_open = 0
    for own in peaks:
        if own.verdict != "undecided":
            continue
        n_open += 1
        decisive = _decisive(abs(study.peaks[own.peak].margin_db), own)
        if decisive is not None:
            open_ones[numbers[decisive].what] = open_ones.get(numbers[decisive].what, 0) + 1
    notes = [
        sentence(
            "{what}: measured surely, it decides {n} that nothing decides now: measure it again, nothing "
            "else.",
            what=what,
            n="one peak" if n == 1 else f"{n} peaks",
        )
        for what, n in open_ones.items()
    ]
    left = n_open - sum(open_ones.values())
    if left:
        stays, near = ("One peak stays", "it is") if left == 1 else (f"{left} peaks stay", "they are")
        text = "{stays} undecided whichever single length is measured again: {near} that near the limit."
        notes.append(sentence(text, stays=stays, near=near))
    return notes


def _decisive(margin_db: float, own: PeakErrors) -> int | None:
    """The number without whose error a verdict would be passed; None where none alone does it."""
    k = int(np.argmax(own.errors_db)) if len(own.errors_db) else -1
    if k < 0:
        return None
    rest = np.hypot(np.linalg.norm(np.delete(own.errors_db, k)), own.other_db)
    return k if margin_db > rest else None


def area_notes(
    study: Study, numbers: Sequence[SurveyNumber], areas: Sequence[AreaErrors]
) -> tuple[Sentence, ...]:
    """Which single number most of what spots may be off comes from, surface by surface."""
    dominant: dict[str, list[str]] = {}
    for own in areas:
        shares = own.shares(numbers)
        if len(shares) and shares.max() >= DOMINATES:
            surfaces = dominant.setdefault(numbers[int(np.argmax(shares))].what, [])
            surface = study.room.surfaces[own.area.surface].name
            surfaces += [surface] if surface not in surfaces else []
    return tuple(
        sentence(
            "Spots on {surfaces}: most of what they may be off is the {what}: measure it again, nothing "
            "else.",
            surfaces=", ".join(surfaces),
            what=what,
        )
        for what, surfaces in dominant.items()
    )
