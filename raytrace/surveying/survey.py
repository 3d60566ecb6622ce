"""What errors of the survey do to spots, areas and margins of a scene, and what to measure again."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Sentence, counted, millimetres, sentence
from raytrace.reflections import Progress
from raytrace.scene import PlanRoom
from raytrace.spreading import Hands
from raytrace.study import Study
from raytrace.surveying.adjusting import Adjustment, adjust_plan
from raytrace.surveying.margins import PeakErrors, find_peak_errors
from raytrace.surveying.numbers import SurveyNumber, survey_error_m, survey_numbers
from raytrace.surveying.plans import corner_name
from raytrace.surveying.spots import AreaErrors, find_area_errors

Floats = NDArray[np.float64]

DOMINATES = 0.6
"""Share in a variance from which one number is told to be measured again, alone."""
_OFF_OTHERS = (
    "{what}: {measured} does not fit the others, which say {others} (± {error}): left out; measure it again."
)
_OFF_DRAWING = (
    "{what}: {measured} does not fit the room as drawn, where it is {others} (± {error}), and nothing else "
    "that was measured checks it: left out; measure it again. If it is right the drawing is off: measure the "
    "walls and further diagonals of those corners too."
)
_COUNTS = 0.1  # and from which a third one is named


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
    corners : tuple of str
        Of a plan, where each of its corners is: by the walls that meet in it.
    notes : tuple of Sentence
        What to measure again, and what the figures rest on.
    """

    study: Study
    numbers: tuple[SurveyNumber, ...]
    areas: tuple[AreaErrors, ...]
    peaks: tuple[PeakErrors, ...]
    adjustment: Adjustment | None
    corners: tuple[str, ...]
    notes: tuple[Sentence, ...]


def find_survey(study: Study, *, progress: Progress | None = None, hands: Hands | None = None) -> Survey:
    """Errors of everything that is set out and judged in a study, number by number.

    Parameters
    ----------
    study : Study
    progress : callable, optional
        Called with a text and the share done (0 to 1).
    hands : Hands, optional
        Who runs the scene again; this process alone where nobody is named.
    """
    numbers = survey_numbers(study.scene)
    areas = find_area_errors(study, study.treatment_areas, numbers)
    peaks = find_peak_errors(study, numbers, progress=progress, hands=hands)
    adjustment = adjust_plan(study.scene)
    notes = (
        *adjustment_notes(adjustment),
        *undecided_notes(study, numbers, peaks),
        *area_notes(study, numbers, areas),
        _basis_note(study),
    )
    room, corners = study.scene.room, tuple[str, ...]()
    if isinstance(room, PlanRoom):
        corners = tuple(corner_name(room, k + 1) for k in range(len(room.corners)))
    return Survey(study, numbers, areas, peaks, adjustment, corners, notes)


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
            _OFF_DRAWING if own.by_drawing else _OFF_OTHERS,
            what=own.what,
            measured=millimetres(own.measured_m),
            others=millimetres(own.by_others_m),
            error=millimetres(own.by_others_error_m),
        )
        for own in adjustment.misfits
    ]
    if adjustment.suspects:
        named = ", ".join(dict.fromkeys(own.what for own in adjustment.suspects))
        level = "" if all(own.corners for own in adjustment.suspects) else ", or the ceiling is not level"
        text = (
            "One of these does not fit{level}, and nothing tells which: {named}. Measure them again, or "
            "more; the plan stays as drawn there."
        )
        notes.append(sentence(text, named=named, level=level))
    if adjustment.lengths and adjustment.n_free:
        text = "The lengths leave the corners {n} to move: there they stay as drawn."
        notes.append(sentence(text, n=counted(adjustment.n_free, "way")))
    return tuple(notes)


def undecided_notes(
    study: Study, numbers: Sequence[SurveyNumber], peaks: Sequence[PeakErrors]
) -> list[Sentence]:
    """Which number decides a verdict that is open, where one alone does; else what most of it comes from."""
    open_ones: dict[str, int] = {}
    left: list[PeakErrors] = []
    for own in peaks:
        if own.verdict != "undecided":
            continue
        decisive = _decisive(abs(study.peaks[own.peak].margin_db), own)
        if decisive is None:
            left.append(own)
        else:
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
    if left:
        stays, near = (
            ("One peak stays", "it is") if len(left) == 1 else (f"{len(left)} peaks stay", "they are")
        )
        text = "{stays} undecided whichever single length is measured again: {near} that near the limit."
        variance = np.sum([own.errors_db**2 for own in left], axis=0)
        if variance.any():
            text += " Most of the survey's part in that: {named}."
        notes.append(sentence(text, stays=stays, near=near, named=_named(numbers, variance)))
    return notes


def _foremost(variance: Floats) -> list[int]:
    """The two or three numbers that most of a variance comes from."""
    most = [int(k) for k in np.argsort(-variance, kind="stable")[:3] if variance[k] > 0.0]
    return most if len(most) < 3 or variance[most[2]] >= _COUNTS * variance.sum() else most[:2]


def _named(numbers: Sequence[SurveyNumber], variance: Floats) -> str:
    """Those numbers with their shares."""
    total = max(float(variance.sum()), 1e-300)
    return ", ".join(f"{numbers[k].what} ({100.0 * variance[k] / total:.0f} %)" for k in _foremost(variance))


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
    """Which single number most of what spots may be off comes from, surface by surface.

    Where none dominates, the two or three that matter most, and what knowing them would leave.
    """
    dominant: dict[str, list[str]] = {}
    mixed: list[AreaErrors] = []
    for own in areas:
        shares = own.shares(numbers)
        if len(shares) and shares.max() >= DOMINATES:
            surfaces = dominant.setdefault(numbers[int(np.argmax(shares))].what, [])
            surfaces.append(study.room.surfaces[own.area.surface].name)
        elif shares.any():
            mixed.append(own)
    notes = [
        sentence(
            "Spots on {surfaces}: most of what they may be off comes from one length, {what}: measure it "
            "again, nothing else.",
            surfaces=", ".join(dict.fromkeys(surfaces)),
            what=what,
        )
        for what, surfaces in dominant.items()
    ]
    return (*notes, *([_mixed_note(study, numbers, mixed)] if mixed else []))


def _mixed_note(study: Study, numbers: Sequence[SurveyNumber], areas: Sequence[AreaErrors]) -> Sentence:
    """What to measure next for spots that no single number dominates."""
    variance = np.mean([own.variance_m2(numbers) for own in areas], axis=0)
    left_over = float(variance.sum() - variance[_foremost(variance)].sum())
    return sentence(
        "Spots on {surfaces}: no single length dominates what they may be off, {now} in the mean. Measure "
        "these next: {named}. Known surely, they leave {then}.",
        surfaces=", ".join(dict.fromkeys(study.room.surfaces[own.area.surface].name for own in areas)),
        now=millimetres(float(np.sqrt(variance.sum()))),
        named=_named(numbers, variance),
        then=millimetres(float(np.sqrt(max(left_over, 0.0)))),
    )
