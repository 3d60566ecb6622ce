"""What a study says in a client's words."""

from collections.abc import Sequence
from math import isfinite
from typing import TYPE_CHECKING

from raytrace import Study, Surface, format_length, looks_up, size_note
from viewer.words.figures import decibels, listed
from viewer.words.peaks import TOO_CLOSE, named_rows
from viewer.words.things import speakers_words
from viewer.words.units import told
from viewer.words.verdicts import (
    falls_short,
    hidden,
    is_all_clear,
    judged,
    own_peaks,
    pair_is_heard,
    verdict_sentences,
)

if TYPE_CHECKING:
    from raytrace import Bass, Decay

CHANGE_FURNITURE = (
    "move it, lower it, tilt its top or make it smaller; put speakers that stand on it on stands "
    "behind it, and angle them at the ears (common practice, no source)."
)


def job_lines(study: Study, units: str) -> list[tuple[str, str]]:
    """What the scene file says of the job; nothing else is printed."""
    job = study.scene.job
    error = job.survey_error
    accuracy = None if error is None else f"within {format_length(error, units=units)}, two lengths in three"
    given = (
        ("For", job.client),
        ("Place", job.place),
        ("Purpose", job.purpose),
        ("By", job.author),
        ("Date", job.date),
        ("Measured by", job.surveyed_by),
        ("Accuracy", accuracy),
    )
    return [(label, value) for label, value in given if value]


def judged_how(study: Study) -> str:
    """What counts as too strong, in one sentence."""
    limits = study.scene.limits
    return (
        f"A reflection counts as too strong if it reaches the seat within {limits.within_ms:g} ms "
        f"(thousandths of a second) of the direct sound and is less than {limits.below_db:g} dB weaker "
        f"({limits.name})."
    )


def today(study: Study, *, see: str = "") -> list[str]:
    """Today's problems, one sentence or two each; `see`: the chapter on the bass, where there is one."""
    short = falls_short(study)
    within_ms = study.scene.limits.within_ms
    missing = (
        [f"Not every reflection of the {within_ms:g} ms that count was found: {short}."] if short else []
    )
    found = [*missing, *verdict_sentences(study), *_left_right_sentences(study), *_flutter_sentences(study)]
    subs = [speaker.name for speaker in study.scene.speakers if speaker.use == "sub"]
    if subs and judged(study):
        there = f"; see “{see}”" if see else ""
        found.append(f"Not judged here: {listed(subs)}, since low notes follow other rules{there}.")
    return found


def _left_right_sentences(study: Study) -> list[str]:
    pair = study.left_right
    if pair is None or not pair_is_heard(study) or not isfinite(pair.difference_db):
        return []
    difference = abs(pair.difference_db)
    if float(f"{difference:.1f}") == 0.0:
        return ["Left and right: both sides send the seat the same amount of early reflected sound."]
    more, less = (pair.left, pair.right) if pair.difference_db > 0 else (pair.right, pair.left)
    names = study.arrivals.speaker_names
    sentence = (
        f"Left and right: the seat gets {decibels(difference)} dB more early reflected sound from "
        f"{names[more]} than from {names[less]}."
    )
    lone = [
        peak
        for verdict in judged(study)
        if verdict.seat == pair.seat and verdict.speaker in (pair.left, pair.right)
        for peak in own_peaks(study, verdict)
        if peak.over_limit and set(named_rows(study, peak)[:1]) & set(pair.unpaired)
    ]
    if lone:
        sentence += f" {_of_those(len(lone))} from one side only."
    return [sentence]


def _of_those(count: int) -> str:
    return (
        "One of those that are too strong comes"
        if count == 1
        else f"{count} of those that are too strong come"
    )


def _flutter_sentences(study: Study) -> list[str]:
    surfaces = study.room.surfaces
    pairs = [
        f"{surfaces[f.surface_a].name} and {surfaces[f.surface_b].name}"
        for f in study.flutter
        if surfaces[f.surface_a].owner is None and surfaces[f.surface_b].owner is None
    ]
    if not pairs:
        return []
    return [f"Flutter echo between {'; '.join(pairs)}."]


def ringing(decays: Sequence["Decay"]) -> list[str]:
    """How long the room rings, in one sentence; nothing where that is not known."""
    middle_s = [decay.middle_s for decay in decays if decay.middle_s == decay.middle_s]
    if not middle_s:
        return []
    mean_s = sum(middle_s) / len(middle_s)
    return [
        f"At mid frequencies sound dies away in {mean_s:.1f} s; {aimed_at(decays[0])} in a listening room of "
        "this size. details.pdf has the figures."
    ]


def aimed_at(decay: "Decay") -> str:
    """How long a room of this size is meant to ring."""
    return f"about {decay.target.time_s:.1f} s is aimed at"


def will_change(
    study: Study, n_areas: int, surfaces: Sequence[str], *, is_proposed: bool = False
) -> list[str]:
    """What treating the areas of the sheets changes; that nothing needs treating only where all is clear.

    `is_proposed`: panels were asked for with this study, and none is worth putting up.
    """
    if is_all_clear(study):
        seats = "these seats" if len(study.scene.seats) > 1 else "this seat"
        return [f"Nothing needs treating for early reflections at {seats}."]
    sentences = _areas_sentences(study, n_areas, surfaces) if n_areas else _no_area_sentences(study)
    if is_proposed:
        sentences.append("No panel is proposed: details.pdf says why.")
    elif n_areas:
        sentences.append("Panels are in a separate proposal report.")
    unheard = [v.speaker for v in hidden(study)]
    if unheard and judged(study):
        sentences.append(
            f"Nothing is planned for the {speakers_words(study, unheard)} where it was not judged: clear "
            "its way, then have this worked out again."
        )
    return sentences


def _areas_sentences(study: Study, n_areas: int, surfaces: Sequence[str]) -> list[str]:
    count = "One area is" if n_areas == 1 else f"{n_areas} areas are"
    near = any(verdict.n_undecided for verdict in judged(study))
    return [
        f"{count} marked for treatment, on {listed(surfaces)}"
        f"{f', also for what is {TOO_CLOSE}' if near else ''}. Soft, deep material there weakens what the "
        "seat hears of these surfaces; the next pages say how strong each reflection is, the sheets where "
        "to put the material.",
        *furniture_advice(study, surfaces),
    ]


def _no_area_sentences(study: Study) -> list[str]:
    """Why no area is marked where that does not mean that all is well."""
    passed, unheard = judged(study), hidden(study)
    if not passed:
        clear = ": clear the way of the sound first, then have this worked out again" if unheard else ""
        return [f"Nothing was judged, so nothing can be said of treatment yet{clear}."]
    if any(verdict.n_over or verdict.n_undecided for verdict in passed):
        return [
            f"No area is marked: what is too strong, or {TOO_CLOSE}, comes by several ways at once or only "
            "where the head is off the middle, and no single area answers it."
        ]
    if unheard:
        return ["No area is marked for what was judged."]
    until_ms = 1e3 * study.arrivals.reach.complete_to_s
    return [
        f"Nothing too strong was found, but no further than {until_ms:.0f} ms after the direct sound: "
        "later reflections may be missing."
    ]


def furniture_advice(study: Study, surfaces: Sequence[str]) -> list[str]:
    """What a practitioner does about furniture that reflects too strongly, before covering it."""
    found = [s for s in study.room.surfaces if s.owner is not None and s.name in surfaces]
    tops = [s.name for s in found if is_table_top(s)]
    others = [s.name for s in found if not is_table_top(s)]
    sentences = []
    if tops:
        sentences.append(f"A top ({listed(tops)}) is better changed than covered: {CHANGE_FURNITURE}")
    if others:
        sentences.append(
            f"What stands in the room ({listed(others)}) is often better moved than covered, where that can "
            "be done."
        )
    return sentences


def is_table_top(surface: Surface) -> bool:
    """Whether a surface is the top of something that stands in the room: a desk, a sloping one too."""
    return surface.owner is not None and looks_up(surface.frame.n)


def will_not_change(study: Study, units: str, *, see: str = "") -> list[str]:
    """What stays as it is, and what nobody looked at; `see`: the chapter on the bass, where there is one."""
    told_there = f"; the chapter “{see}” says how even it is and where a sub does best" if see else ""
    size = size_note(study.room, study.scene)
    return [
        "It will not stop noise to or from the neighbours: soft material does not hold sound back.",
        "It will not fix the bass, which depends on where seat, speakers and sub stand. Settle that "
        f"first{told_there}.",
        "Not covered here: sound insulation, structure, electrics, ventilation.",
        *([] if size is None else [told(size, units)]),
    ]


def uneven_now(bass: "Bass") -> str:
    """How uneven the bass is now, and whether that is of one seat or of all."""
    where = "over the seats " if len(bass.evenness) > 1 else ""
    return f"{where}uneven by {bass.now_db:.1f} dB from 30 to 120 Hz"
