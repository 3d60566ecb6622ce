"""What a comparison says in one line that a client understands."""

from collections.abc import Collection

import numpy as np

from raytrace.study.comparison import Comparison, VerdictPair, limit_numbers

ALIKE_DB = 0.5  # half the smallest difference that is heard, about 1 dB (common practice, no source)
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven")


def headline(comparison: Comparison, *, only: Collection[str] = ()) -> str:
    """What changed at each seat, in one sentence that a client understands.

    Parameters
    ----------
    comparison : Comparison
        Of any two studies.
    only : collection of str
        Seats to speak of; empty for all.

    Returns
    -------
    str
        Counts of reflections over the limit, then left against right; what cannot be compared is said.

    Examples
    --------
    "Seven of nine early reflections that were over the limit are now below it; left and right differ by
    0.8 dB instead of 3.9."
    """
    if not comparison.verdicts:
        return _sentence(_nothing_judged(comparison), _sides(comparison))
    judged = dict.fromkeys([*(pair.seat for pair in comparison.verdicts), *_hidden(comparison)])
    seats = [seat for seat in judged if not only or seat in only]
    several = len(comparison.before.arrivals.seat_names) > 1 or len(comparison.after.arrivals.seat_names) > 1
    first = comparison.before.arrivals.seat_names[0]
    sentences = []
    for seat in seats:
        own = [pair for pair in comparison.verdicts if pair.seat == seat]
        lead = f"at the seat {seat}: " if several else ""
        parts = [_count_words(own)] if own else []
        parts += [_hidden_words(comparison, seat), _sides(comparison) if seat == first else ""]
        sentences.append(_sentence(lead + "; ".join(part for part in parts if part)))
    return " ".join(sentences)


def _sentence(*parts: str) -> str:
    text = "; ".join(part for part in parts if part)
    return f"{text[0].upper()}{text[1:]}."


def _hidden(comparison: Comparison) -> dict[str, list[str]]:
    """By seats the speakers whose direct sound is hidden before or after, by name."""
    found: dict[str, list[str]] = {}
    for study in (comparison.before, comparison.after):
        table = study.arrivals
        for verdict in study.verdicts:
            speakers = found.setdefault(table.seat_names[verdict.seat], [])
            name = table.speaker_names[verdict.speaker]
            if verdict.status == "hidden" and name not in speakers:
                speakers.append(name)
    return {seat: speakers for seat, speakers in found.items() if speakers}


def _hidden_words(comparison: Comparison, seat: str) -> str:
    """Who is not judged at a seat, so that nobody takes silence for good news."""
    speakers = _hidden(comparison).get(seat, [])
    return f"{' and '.join(speakers)} not judged, as the direct sound is hidden" if speakers else ""


def _nothing_judged(comparison: Comparison) -> str:
    if limit_numbers(comparison.before) != limit_numbers(comparison.after):
        return "the limits differ, so the reflections over them cannot be compared"
    why = " and ".join(_hidden_words(comparison, seat) for seat in _hidden(comparison))
    nothing = "no speaker is judged at the same seat in both, so nothing over the limit can be compared"
    return f"{nothing}: {why}" if why else nothing


def _excess(margin_db: float) -> str:
    """How much is too much; never nothing for what is over the limit."""
    return "<0.1" if -0.05 < margin_db < 0.0 else f"{-margin_db:.1f}"


def _count_words(own: list[VerdictPair]) -> str:
    """How many reflections at one seat were, are, still are and newly are over the limit."""
    was, now = sum(pair.before.n_over for pair in own), sum(pair.after.n_over for pair in own)
    cleared, new = sum(pair.n_cleared for pair in own), sum(pair.n_new for pair in own)
    near = sum(pair.after.n_undecided for pair in own)
    unsure = f", {_number(near)} too close to it to say" if near else ""
    if was == 0:
        if now:
            return f"{_reflections(now)} now over the limit, where there was none{unsure}"
        return f"no early reflection over the limit, before or after{unsure}"
    others = f", but {_number(new)} other{'' if new == 1 else 's'} {_are(new)} now over it" if new else ""
    if cleared == was == 1:
        return f"the one early reflection over the limit is now below it{unsure}{others}"
    if cleared == was:
        return f"{_all(was)} early reflections that were over the limit are now below it{unsure}{others}"
    if cleared:
        if new:
            others = f", but {_number(now)} {_are(now)} over it, {_number(new)} of them new"
        of_them = f"{_number(cleared)} of {_reflections(was)} that were over the limit"
        return f"{of_them} {_are(cleared)} now below it{unsure}{others}"
    return f"{_worst_words(own, was)}{unsure}{others}"


def _worst_words(own: list[VerdictPair], was: int) -> str:
    """What became of the worst where none is below the limit now."""
    if not any(pair.after.n_over for pair in own):
        one = "the one early reflection" if was == 1 else f"{_all(was)} early reflections"
        return f"{one} over the limit {'is' if was == 1 else 'are'} now near it"
    margins_db = [
        min(verdict.worst_margin_db for verdict in verdicts)
        for verdicts in ([pair.before for pair in own], [pair.after for pair in own])
    ]
    was_by, now_by = (_excess(margin) for margin in margins_db)
    change = f"the worst by {now_by} dB instead of {was_by}"
    if was_by == now_by:
        change = f"the worst by {now_by} dB as before"
    still = "the one early reflection that was over the limit still is" if was == 1 else (
        f"{_all(was)} early reflections that were over the limit still are"
    )  # fmt: skip
    return f"{still}, {change}"


def _sides(comparison: Comparison) -> str:
    before, after = comparison.left_right
    first = comparison.before.arrivals.seat_names[0]
    if before is not None and _hidden(comparison).get(first):
        return "left and right cannot be compared"
    if before is None or after is None:
        is_no_pair = comparison.before.left_right is None and comparison.after.left_right is None
        return "" if is_no_pair else "left and right cannot be compared"
    if not np.isfinite([before.difference_db, after.difference_db]).all():
        return "left and right cannot be compared, as one sends no early reflection"
    was, now = (f"{abs(pair.difference_db):.1f}" for pair in (before, after))
    if max(float(was), float(now)) <= ALIKE_DB:
        return "left and right match" + (f" within {now} dB" if float(now) else "")
    if was == now:
        return f"left and right still differ by {now} dB"
    return f"left and right differ by {now} dB instead of {was}"


def _are(count: int) -> str:
    return "is" if count == 1 else "are"


def _all(count: int) -> str:
    return "both" if count == 2 else f"all {_number(count)}"


def _number(count: int) -> str:
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def _reflections(count: int) -> str:
    return f"{_number(count)} early reflection{'' if count == 1 else 's'}"
