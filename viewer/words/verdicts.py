"""What the verdicts on a study say in a client's words: counts, the worst, and what could not be judged."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite, isinf

from raytrace import Peak, Study, Verdict
from viewer.words.figures import decibels, from_limit
from viewer.words.peaks import (
    TOO_CLOSE,
    WHY_TOO_CLOSE,
    in_column,
    named_rows,
    peak_words,
    share_words,
    ways_words,
    worst_first,
)
from viewer.words.things import seat_words, speaker_words, speakers_words

_ROWS_PER_SEAT = 14


@dataclass(frozen=True)
class TooStrong:
    """One reflection that is over the limit, or too close to it to say, as a line of the client's table."""

    speaker: str
    way: str
    delay_ms: str
    below_direct_db: str
    against_limit: str
    share_over: str
    sheets: str


def judged(study: Study) -> tuple[Verdict, ...]:
    """Verdicts that were passed, by seat and then speaker."""
    return _with_status(study, "judged")


def hidden(study: Study) -> tuple[Verdict, ...]:
    """Verdicts that could not be passed, since something hides the direct sound; by seat and then speaker."""
    return _with_status(study, "hidden")


def _with_status(study: Study, status: str) -> tuple[Verdict, ...]:
    own = [v for v in study.verdicts if v.status == status]
    return tuple(sorted(own, key=lambda v: (v.seat, v.speaker)))


def is_all_clear(study: Study) -> bool:
    """Whether all main speakers were judged at all seats, to the end of the window, and all is below."""
    passed = judged(study)
    return (
        bool(passed)
        and not hidden(study)
        and not any(v.n_over or v.n_undecided for v in passed)
        and not falls_short(study)
    )


def falls_short(study: Study) -> str:
    """What may be missing within the limit's window; nothing where the search was complete."""
    reach = study.arrivals.reach
    if reach.complete_to_s >= study.scene.limits.within_s:
        return ""
    since = f"after {1e3 * reach.complete_to_s:.1f} ms " if reach.complete_to_s > 0.0 else ""
    bounces = "1 bounce" if reach.early_order == 1 else f"{reach.early_order} bounces"
    return f"{since}those of more than {bounces} may be missing"


def headline(study: Study) -> list[dict[str, str]]:
    """Three figures: how many are too strong from left and from right, and how far the two differ."""
    pair = study.left_right
    figures = [verdict_figure(study, verdict) for verdict in first_verdicts(study)]
    if pair is not None:
        compared = pair_is_heard(study) and isfinite(pair.difference_db)
        text = "difference in early reflected sound"
        figures.append(
            {
                "label": "left against right",
                "figure": decibels(abs(pair.difference_db)) if compared else "–",
                "unit": "dB" if compared else "",
                "text": text if compared else "not compared",
            }
        )
    return figures


def first_verdicts(study: Study) -> list[Verdict]:
    """Those on the left and right pair at the first seat, judged or hidden; two others without a pair."""
    pair = study.left_right
    own = sorted(
        (v for v in (*judged(study), *hidden(study)) if v.seat == 0), key=lambda verdict: verdict.speaker
    )
    return [v for v in own if pair is None or v.speaker in (pair.left, pair.right)][:2]


def pair_is_heard(study: Study) -> bool:
    """Whether the direct sound of both speakers of the left and right pair reaches the seat."""
    pair = study.left_right
    unheard = {(v.speaker, v.seat) for v in hidden(study)}
    return pair is not None and not {(pair.left, pair.seat), (pair.right, pair.seat)} & unheard


def verdict_figure(study: Study, verdict: Verdict) -> dict[str, str]:
    """A figure of page one: how many are too strong of one speaker, or what hides it."""
    figure, text = count_figure(verdict), count_text(verdict)
    if verdict.status == "hidden":
        text = f"not judged: {hider_words(verdict)} hides it from the seat"
    elif verdict.n_over:
        near = f"; {verdict.n_undecided} more {TOO_CLOSE}" if verdict.n_undecided else ""
        text = f"of {verdict.n_in_window} early reflections too strong, "
        text += f"the worst {from_limit(verdict.worst_margin_db)}{near}"
    return {"label": speaker_words(study, verdict.speaker), "figure": figure, "unit": "", "text": text}


def count_figure(verdict: Verdict) -> str:
    """How many are over the limit as one figure: a range where none is for sure, a dash for not judged."""
    if verdict.status != "judged":
        return "–"
    return str(verdict.n_over) if verdict.n_over or not verdict.n_undecided else f"0–{verdict.n_undecided}"


def count_text(verdict: Verdict) -> str:
    """What stands under that figure."""
    if verdict.status != "judged":
        return "not judged"
    near = verdict.n_undecided
    text = f"of {verdict.n_in_window} early reflections too strong"
    if not near:
        return text
    if verdict.n_over:
        return f"{text}, {near} more {TOO_CLOSE}"
    return f"{text}: {near} {'is' if near == 1 else 'are'} {TOO_CLOSE}"


def verdict_sentences(study: Study) -> list[str]:
    """What was not judged, then what was: the first seat by speaker, those alike as one; then by seat."""
    if not judged(study) and not hidden(study):
        return ["No main speaker plays here, so no reflection was judged."]
    alike: dict[str, list[int]] = {}
    for verdict in judged(study):
        if verdict.seat == 0:
            alike.setdefault(_too_strong(study, verdict), []).append(verdict.speaker)
    at = f" at the seat {study.arrivals.seat_names[0]}" if len(study.scene.seats) > 1 else ""
    sentences = hidden_sentences(study)
    for words, speakers in alike.items():
        who = speakers_words(study, speakers)
        sentences.append(f"{who[0].upper()}{who[1:]}{at}{', each' * (len(speakers) > 1)}: {words}")
    return sentences + [_seat_sentence(study, seat) for seat in sorted({v.seat for v in judged(study)} - {0})]


def hidden_sentences(study: Study, seats: Sequence[int] | None = None) -> list[str]:
    """What hides which speakers from which seats, and that nothing was judged there."""
    groups: dict[tuple[int, str], list[Verdict]] = {}
    for verdict in hidden(study):
        if seats is None or verdict.seat in seats:
            groups.setdefault((verdict.seat, hider_words(verdict)), []).append(verdict)
    sentences = []
    for (seat, hider), verdicts in groups.items():
        who = speakers_words(study, (v.speaker for v in verdicts))
        sentences.append(
            f"Not judged: {who}. {hider[0].upper()}{hider[1:]} stands in the way to the "
            f"{seat_words(study, seat)}: {_left_of_direct(study, verdicts)}. Put that right first; how "
            "strong the reflections are then is not known yet."
        )
    return sentences


def hider_words(verdict: Verdict) -> str:
    """What hides the direct sound: "the screen"; "something" where it has no name."""
    return "something" if verdict.hidden_by is None else f"the {verdict.hidden_by}"


def _left_of_direct(study: Study, verdicts: Sequence[Verdict]) -> str:
    """How much weaker the direct sound arrives than it would without what hides it."""
    direct, own = study.arrivals.direct, {(v.speaker, v.seat) for v in verdicts}
    of_row = zip(direct.speaker.tolist(), direct.seat.tolist(), direct.level_db.tolist(), strict=True)
    levels = [level_db for speaker, seat, level_db in of_row if (speaker, seat) in own]
    if all(isinf(level) for level in levels):
        return "none of the direct sound gets past"
    losses = sorted({round(-level) for level in levels if not isinf(level)})
    more = " or more" if len(losses) > 1 or any(map(isinf, levels)) else ""
    return f"the direct sound arrives {losses[0]} dB weaker than it should{more}"


def _too_strong(study: Study, verdict: Verdict) -> str:
    """How many are too strong of one speaker at one seat, how many may be, and the worst of them."""
    over, near = verdict.n_over, verdict.n_undecided
    if not over:
        return _none_for_sure(near)
    worst = worst_first(own_peaks(study, verdict))[0]
    of_way = (
        f"{ways_words(study, worst)}, {worst.delay_s * 1e3:.1f} ms after the direct sound, "
        f"{from_limit(worst.margin_db)}{_at_share(worst)}."
    )
    if over == 1:
        words = f"one early reflection is too strong: {of_way}"
    else:
        words = f"{over} early reflections are too strong, the worst: {of_way}"
    if near:
        words += f" {near} more {'is' if near == 1 else 'are'} {TOO_CLOSE}."
    return words


def _none_for_sure(n_undecided: int) -> str:
    if not n_undecided:
        return "no early reflection is too strong."
    are = "one is" if n_undecided == 1 else f"{n_undecided} are"
    return f"no early reflection is too strong for sure, but {are} {TOO_CLOSE} ({WHY_TOO_CLOSE})."


def _at_share(peak: Peak) -> str:
    """Where the head is, if not everywhere, for a peak to be over the limit."""
    everywhere = share_words(peak) == "100 %"
    return "" if everywhere else f" (at {share_words(peak)} of the head positions)"


def _seat_sentence(study: Study, seat: int) -> str:
    """A further seat in one sentence."""
    verdicts = [v for v in judged(study) if v.seat == seat]
    at = f"At the seat {study.arrivals.seat_names[seat]}"
    near = sum(v.n_undecided for v in verdicts)
    if not any(v.n_over for v in verdicts):
        who = speakers_words(study, (v.speaker for v in verdicts))
        return f"{at}, {who}: {_none_for_sure(near)}"
    counts = " and ".join(f"{v.n_over} from the {speaker_words(study, v.speaker)}" for v in verdicts)
    worst = min(v.worst_margin_db for v in verdicts if v.n_over)
    unsure = f"; {near} more {'is' if near == 1 else 'are'} {TOO_CLOSE}" if near else ""
    return f"{at}: {counts} are too strong, the worst {from_limit(worst)}{unsure}."


def own_peaks(study: Study, verdict: Verdict) -> list[Peak]:
    """Peaks of one speaker at one seat that are over the limit or may be, the worst first."""
    pair = (verdict.speaker, verdict.seat)
    return worst_first([p for p in study.peaks if p.may_be_over and (p.speaker, p.seat) == pair])


def too_strong(study: Study, seat: int, sheets_of_row: Mapping[int, str]) -> tuple[list[TooStrong], int]:
    """Lines of the client's table for one seat, and how many are left out.

    What is over the limit comes first, then what is too close to it to say, each the strongest first.
    """
    peaks = worst_first([p for v in judged(study) if v.seat == seat for p in own_peaks(study, v)])
    lines = []
    for peak in peaks[:_ROWS_PER_SEAT]:
        sheets = sorted({sheets_of_row[row] for row in named_rows(study, peak) if row in sheets_of_row})
        lines.append(
            TooStrong(
                study.arrivals.speaker_names[peak.speaker],
                peak_words(study, peak),
                f"{peak.delay_s * 1e3:.1f}",
                decibels(peak.level_db),
                in_column(peak),
                share_words(peak),
                ", ".join(sheets) or "–",
            )
        )
    return lines, max(0, len(peaks) - _ROWS_PER_SEAT)
