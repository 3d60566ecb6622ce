"""What a study says in a client's words."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from math import isfinite

from raytrace import (
    Decay,
    Peak,
    Study,
    Surface,
    Verdict,
    format_length,
    looks_up,
    main_arrivals,
    peak_surface_names,
    size_note,
)
from viewer.words.things import path_words, speaker_words
from viewer.words.units import told

# Words of the trade that a client's pages do without; each is searched for as a whole word.
JARGON = (
    "order",
    "orders",
    "facet",
    "facets",
    "polygon",
    "image source",
    "mirror source",
    "specular",
    "diffuse",
    "diffusion",
    "scattering",
    "absorption coefficient",
    "alpha",
    "Fresnel",
    "Kirchhoff",
    "diffraction",
    "directivity",
    "ISO 9613",
    "ISO 9613-1",
    "impulse response",
    "energy-time curve",
    "ETC",
    "octave",
    "octaves",
    "band-limited",
    "broadband",
    "comb filter",
    "coherent",
    "phase",
    "pressure",
    "head zone",
    "zone",
    "margin",
    "re direct",
    "set-out frame",
    "RT60",
    "T20",
    "T30",
    "Schroeder",
    "modal",
    "broad-band",
    "transfer matrix",
    "kernel",
    "mesh",
)
_MOST_WAYS = 2
_ROWS_PER_SEAT = 14


CHANGE_FURNITURE = (
    "move it, lower it, tilt its top or make it smaller; take speakers that stand on it off it, on to "
    "stands, and angle them at the ears (common practice, no source)."
)


@dataclass(frozen=True)
class TooStrong:
    """One reflection over the limit as a line of the client's table."""

    speaker: str
    way: str
    delay_ms: str
    below_direct_db: str
    over_db: str
    sheets: str


def decibels(value: float, digits: int = 1) -> str:
    """A level with a true minus sign, never minus nought; a dash for nothing at all."""
    if not isfinite(value):
        return "–"
    text = f"{value:.{digits}f}"
    return text.replace("-", "") if float(text) == 0.0 else text.replace("-", "−")


def off_limit(value_db: float) -> str:
    """How far a level is off the limit, without sign: never "0.0" for what lies above or below it."""
    text = decibels(abs(value_db))
    return "<0.1" if text == "0.0" and value_db != 0.0 else text


def margin_words(margin_db: float) -> str:
    """A margin with its sign; what is over the limit keeps its minus however little it is."""
    text = decibels(margin_db)
    return f"−{max(-margin_db, 0.01):.2f}" if text == "0.0" and margin_db < 0.0 else text


def band_words(band: int) -> str:
    """An octave band as tables name it: "125 Hz", "2 kHz"."""
    return f"{band} Hz" if band < 1000 else f"{band // 1000} kHz"


def band_tick(hz: int) -> str:
    """A pitch as short as axes and narrow tables need it: "125", "2k"."""
    return f"{hz}" if hz < 1000 else f"{hz // 1000}k"


def named_rows(study: Study, peak: Peak) -> list[int]:
    """Rows of the arrivals that a peak is named after, the strongest first."""
    return main_arrivals(study.arrivals, peak)[:_MOST_WAYS]


def peak_words(study: Study, peak: Peak) -> str:
    """The ways that make up one peak: "floor + ceiling" where they arrive together."""
    ways = [path_words(study, row) for row in named_rows(study, peak)]
    if not ways:
        return f"{' – '.join(peak_surface_names(study, peak))}, only with the head off the middle"
    joined = [" – ".join(names) for names in joined_names(study, peak)]
    return " + ".join(ways + joined) + (", head off the middle" if joined else "")


def joined_names(study: Study, peak: Peak) -> list[tuple[str, ...]]:
    """Surfaces of each way that joins a peak only where the head is off the middle, and makes it strong."""
    table = study.arrivals
    at_ears = [table.path_surfaces[row, : table.order[row]].tolist() for row in named_rows(study, peak)]
    joined = [[study.room.facets[facet].surface for facet in facets] for facets in peak.joined]
    others = [way for way in joined if way not in at_ears][:_MOST_WAYS]
    return [tuple(study.room.surfaces[surface].name for surface in way) for way in others]


def judged(study: Study) -> tuple[Verdict, ...]:
    """Verdicts that were passed, by seat and then speaker."""
    passed = [v for v in study.verdicts if v.status == "judged"]
    return tuple(sorted(passed, key=lambda v: (v.seat, v.speaker)))


def job_lines(study: Study, units: str) -> list[tuple[str, str]]:
    """What the scene file says of the job; nothing else is printed."""
    job = study.scene.job
    error = job.survey_error
    accuracy = (
        None
        if error is None
        else f"± {format_length(error, units=units)} (a measured length is usually off by less)"
    )
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


def headline(study: Study) -> list[dict[str, str]]:
    """Three figures: how many are too strong from left and from right, and how far the two differ."""
    figures = []
    pair = study.left_right
    verdicts = [v for v in judged(study) if v.seat == 0]
    if pair is not None:
        verdicts = [v for v in verdicts if v.speaker in (pair.left, pair.right)]
    for verdict in verdicts[:2]:
        name = speaker_words(study, verdict.speaker)
        worst = verdict.worst_margin_db
        detail = f"of {verdict.n_in_window} early reflections too strong"
        if verdict.n_over:
            detail += f", the worst by {off_limit(worst)} dB"
        figures.append({"label": name, "figure": str(verdict.n_over), "unit": "", "text": detail})
    if pair is not None:
        figures.append(
            {
                "label": "left against right",
                "figure": decibels(abs(pair.difference_db)),
                "unit": "dB",
                "text": "difference in early reflected sound",
            }
        )
    return figures


def today(study: Study) -> list[str]:
    """Today's problems, one sentence or two each."""
    limits = study.scene.limits
    sentences = [
        f"A reflection counts as too strong if it reaches the seat within {limits.within_ms:g} ms "
        f"(thousandths of a second) of the sound itself and is less than {limits.below_db:g} dB weaker "
        f"({limits.name})."
    ]
    sentences += verdict_sentences(study)
    for verdict in study.verdicts:
        if verdict.status == "blocked":
            sentences.append(
                f"Something stands between {_the_speaker(study, verdict.speaker)} and the seat "
                f"{study.arrivals.seat_names[verdict.seat]}: put that right first; nothing was judged."
            )
    sentences += _left_right_sentences(study)
    sentences += _flutter_sentences(study)
    return sentences


def verdict_sentences(study: Study) -> list[str]:
    """What was judged: the first seat by speaker, those alike in one sentence; then seat by seat."""
    alike: dict[str, list[str]] = {}
    for verdict in judged(study):
        if verdict.seat == 0:
            name = speaker_words(study, verdict.speaker)
            alike.setdefault(_too_strong(study, verdict), []).append(name)
    at = f" at the seat {study.arrivals.seat_names[0]}" if len(study.scene.seats) > 1 else ""
    sentences = []
    for words, names in alike.items():
        who = listed([*(name.removesuffix(" speaker") for name in names[:-1]), names[-1]])
        sentences.append(f"{who[0].upper()}{who[1:]}{at}{', each' * (len(names) > 1)}: {words}")
    return sentences + [_seat_sentence(study, seat) for seat in sorted({v.seat for v in judged(study)} - {0})]


def _too_strong(study: Study, verdict: Verdict) -> str:
    """How many are too strong of one speaker at one seat, and the worst of them."""
    if not verdict.n_over:
        return "no early reflection is too strong."
    worst = min(_over(study, verdict), key=lambda peak: peak.margin_db)
    count = "one early reflection is" if verdict.n_over == 1 else f"{verdict.n_over} early reflections are"
    return (
        f"{count} too strong. The worst ({peak_words(study, worst)}) comes "
        f"{worst.delay_s * 1e3:.1f} ms after the sound itself, {off_limit(worst.margin_db)} dB too strong."
    )


def _seat_sentence(study: Study, seat: int) -> str:
    """A further seat in one sentence."""
    verdicts = [v for v in judged(study) if v.seat == seat]
    name = study.arrivals.seat_names[seat]
    if not any(v.n_over for v in verdicts):
        return f"At the seat {name}: no early reflection is too strong."
    counts = " and ".join(f"{v.n_over} from {_the_speaker(study, v.speaker)}" for v in verdicts)
    worst = min(v.worst_margin_db for v in verdicts)
    return f"At the seat {name}: {counts} are too strong, the worst by {off_limit(worst)} dB."


def _over(study: Study, verdict: Verdict) -> list[Peak]:
    pair = (verdict.speaker, verdict.seat)
    return [peak for peak in study.peaks if peak.over_limit and (peak.speaker, peak.seat) == pair]


def _left_right_sentences(study: Study) -> list[str]:
    pair = study.left_right
    if pair is None:
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
        for peak in _over(study, verdict)
        if set(named_rows(study, peak)[:1]) & set(pair.unpaired)
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
    return [f"Bare and parallel, so that a hand clap rattles between them: {'; '.join(pairs)}."]


def ringing(decays: Sequence[Decay]) -> list[str]:
    """How long the room rings, in one sentence; nothing where that is not known."""
    middle_s = [decay.middle_s for decay in decays if decay.middle_s == decay.middle_s]
    if not middle_s:
        return []
    target_s = decays[0].target.time_s
    return [
        f"In the middle of the range the room rings for {sum(middle_s) / len(middle_s):.1f} s; about "
        f"{target_s:.1f} s is aimed at in a listening room of this size. The chapter “How sound dies away” "
        "has the figures."
    ]


def will_change(study: Study, n_areas: int, surfaces: Sequence[str]) -> list[str]:
    """What treating the areas of the sheets changes."""
    if not n_areas:
        return ["Nothing needs treating for early reflections at this seat."]
    count = "One area is" if n_areas == 1 else f"{n_areas} areas are"
    sentences = [
        f"{count} marked for treatment, on {listed(surfaces)}. Soft, deep material there weakens what the "
        "seat hears of these surfaces; the next pages say how strong each reflection is, the sheets where "
        "to put the material."
    ]
    sentences += furniture_advice(study, surfaces)
    sentences.append("Which panels, and what they gain, is a report of its own: the one with a proposal.")
    return sentences


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


def will_not_change(study: Study, units: str) -> list[str]:
    """What stays as it is, and what nobody looked at."""
    size = size_note(study.room, study.scene)
    return [
        "It will not stop noise to or from the neighbours: soft material quietens the room, it does not "
        "hold sound back.",
        "It will not fix the bass: what low notes do depends on where seat, speakers and sub stand. Settle "
        "that first.",
        "Not covered here: sound insulation, structure, electrics, ventilation.",
        *([] if size is None else [told(size, units)]),
    ]


def too_strong(study: Study, seat: int, sheets_of_row: dict[int, str]) -> tuple[list[TooStrong], int]:
    """Lines of the client's table for one seat, the strongest first, and how many are left out."""
    peaks = [p for v in judged(study) if v.seat == seat for p in _over(study, v)]
    peaks.sort(key=lambda p: (round(p.margin_db, 1), round(p.delay_s, 4), p.speaker))
    lines = []
    for peak in peaks[:_ROWS_PER_SEAT]:
        sheets = sorted({sheets_of_row[row] for row in named_rows(study, peak) if row in sheets_of_row})
        lines.append(
            TooStrong(
                study.arrivals.speaker_names[peak.speaker],
                peak_words(study, peak),
                f"{peak.delay_s * 1e3:.1f}",
                decibels(peak.zone_worst_db),
                off_limit(peak.margin_db),
                ", ".join(sheets) or "–",
            )
        )
    return lines, max(0, len(peaks) - _ROWS_PER_SEAT)


def _the_speaker(study: Study, index: int) -> str:
    return f"the {speaker_words(study, index)}"


def listed(names: Sequence[str]) -> str:
    """Names as a sentence has them: "a, b and c"."""
    unique = [name for name, _ in groupby(names)]
    return unique[0] if len(unique) == 1 else f"{', '.join(unique[:-1])} and {unique[-1]}"
