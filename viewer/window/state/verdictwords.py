"""What the window says of verdicts: on a seat in one line, on what one reflection makes with others."""

from raytrace import Peak, Study, Verdict
from viewer.words import (
    NEAR,
    hider_words,
    in_column,
    in_sentence,
    listed,
    named_rows,
    peak_of,
    seat_words,
    share_words,
)

LATE, WEAK, JOINED = "later", "too weak", "with a stronger"
LATE_WORDS = "later than the limit looks"
WEAK_WORDS = "too weak beside the others to count by itself"
HEAD_WORDS = "of the head positions"
NOBODY_WORDS = "only subs: nothing is judged"


def seat_verdicts(study: Study, seat: int) -> list[Verdict]:
    """Verdicts on the main speakers at a seat, hidden ones too, by speaker."""
    return sorted(
        (v for v in study.verdicts if v.seat == seat and v.status != "sub"), key=lambda v: v.speaker
    )


def counts_words(study: Study, seat: int) -> str:
    """All of a seat in one line: how many peaks of each speaker are what, or what hides it."""
    names = study.arrivals.speaker_names
    parts = [f"{names[v.speaker]}: {_counts(v)}" for v in seat_verdicts(study, seat)]
    return f"{seat_words(study, seat)} – {'; '.join(parts) or NOBODY_WORDS}"


def _counts(verdict: Verdict) -> str:
    if verdict.status == "hidden":
        return f"not judged, {hider_words(verdict)} hides it"
    near = f", {verdict.n_undecided} {NEAR}" if verdict.n_undecided else ""
    return f"{verdict.n_over} over{near}, {verdict.n_below} below the limit"


def hidden_words(study: Study, seat: int) -> str:
    """Which speakers are not judged at a seat, and what hides them; "" where all are heard."""
    by_hider: dict[str, list[str]] = {}
    for verdict in seat_verdicts(study, seat):
        if verdict.status == "hidden":
            name = study.arrivals.speaker_names[verdict.speaker]
            by_hider.setdefault(hider_words(verdict), []).append(name)
    return "; ".join(
        f"{listed(who)} not judged: {what} hides {'them' if len(who) > 1 else 'it'}"
        for what, who in by_hider.items()
    )


def limit_text(study: Study, row: int) -> str:
    """The verdict on what a reflection makes with all that arrives at the same moment."""
    peak = peak_of(study, row)
    if peak is None:
        return _no_peak(study, row, LATE_WORDS, WEAK_WORDS, "a sub is not judged") or _hidden(study, row)
    if not counts_by_itself(study, row, peak):
        return WEAK_WORDS
    # Of a single place, as while something moves, a share says nothing.
    is_part = peak.may_be_over and 0.0 < peak.share_over < 1.0
    return in_sentence(peak) + (f", over at {share_words(peak)} {HEAD_WORDS}" if is_part else "")


def limit_column(study: Study, row: int, peak: Peak | None) -> str:
    """The same in a narrow column; `peak` is the one that the row stands for."""
    if peak is not None:
        return in_column(peak) if counts_by_itself(study, row, peak) else JOINED
    return _no_peak(study, row, LATE, WEAK, "not judged") or "not judged"


def counts_by_itself(study: Study, row: int, peak: Peak) -> bool:
    """Whether a reflection makes its peak, alone or with others, and is not just a weak one beside them."""
    return peak.verdict == "not judged" or row in named_rows(study, peak)


def _verdict_on(study: Study, row: int) -> Verdict:
    place = int(study.arrivals.speaker[row]), int(study.arrivals.seat[row])
    return next(v for v in study.verdicts if (v.speaker, v.seat) == place)


def _no_peak(study: Study, row: int, late: str, weak: str, sub: str) -> str:
    """Why a reflection is in no peak that was judged; "" where its speaker is hidden."""
    status = _verdict_on(study, row).status
    if status == "hidden":
        return ""
    if status == "sub":
        return sub
    return late if study.arrivals.delay_s[row] > study.scene.limits.within_s else weak


def _hidden(study: Study, row: int) -> str:
    return f"not judged: {hider_words(_verdict_on(study, row))} hides the direct sound"
