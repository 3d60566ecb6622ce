"""What a comparison says in one line that a client understands."""

import numpy as np

from raytrace.comparison import Comparison, VerdictPair, limit_numbers

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven")


def headline(comparison: Comparison) -> str:
    """What changed at the first seat, in one sentence that a client understands.

    Parameters
    ----------
    comparison : Comparison
        Of any two studies.

    Returns
    -------
    str
        Counts of reflections over the limit, then left against right; what cannot be compared is said.

    Examples
    --------
    "Seven of nine early reflections now below the limit; left and right differ by 0.8 dB instead of 3.9."
    """
    parts = [_counts(comparison), _sides(comparison)]
    text = "; ".join(part for part in parts if part)
    return f"{text[0].upper()}{text[1:]}."


def _counts(comparison: Comparison) -> str:
    if not comparison.verdicts:
        if limit_numbers(comparison.before) != limit_numbers(comparison.after):
            return "the limits differ, so the reflections over them cannot be compared"
        return "no speaker is judged at the same seat in both, so nothing over the limit can be compared"
    seat = comparison.verdicts[0].seat
    own = [pair for pair in comparison.verdicts if pair.seat == seat]
    lead = f"at the seat {seat}: " if len(comparison.before.arrivals.seat_names) > 1 else ""
    was = sum(pair.before.n_over for pair in own)
    now = sum(pair.after.n_over for pair in own)
    cleared, new = sum(pair.n_cleared for pair in own), sum(pair.n_new for pair in own)
    return lead + _count_words(was, now, cleared, new, own)


def _count_words(was: int, now: int, cleared: int, new: int, own: list[VerdictPair]) -> str:
    if was == 0:
        return (
            "no early reflection over the limit, before or after"
            if now == 0
            else f"{_reflections(now)} now over the limit, where there was none"
        )
    if now == 0:
        return "the one early reflection over the limit is now below it" if was == 1 else (
            f"all {_number(was)} early reflections now below the limit"
        )  # fmt: skip
    others = f", but {_number(new)} {'other is' if new == 1 else 'others are'} now over it" if new else ""
    if cleared:
        return f"{_number(cleared)} of {_reflections(was)} now below the limit{others}"
    worst = [
        min(verdict.worst_margin_db for verdict in verdicts)
        for verdicts in ([pair.before for pair in own], [pair.after for pair in own])
    ]
    change = f"the worst by {-worst[1]:.1f} dB instead of {-worst[0]:.1f}"
    if f"{worst[0]:.1f}" == f"{worst[1]:.1f}":
        change = f"the worst by {-worst[1]:.1f} dB as before"
    still = "the one early reflection over the limit still is" if was == 1 else (
        f"all {_number(was)} early reflections over the limit still are"
    )  # fmt: skip
    return f"{still}, {change}{others}"


def _sides(comparison: Comparison) -> str:
    before, after = comparison.left_right
    if before is None or after is None:
        is_no_pair = comparison.before.left_right is None and comparison.after.left_right is None
        return "" if is_no_pair else "left and right cannot be compared"
    if not np.isfinite([before.difference_db, after.difference_db]).all():
        return "left and right cannot be compared, as one sends no early reflection"
    was, now = (f"{abs(pair.difference_db):.1f}" for pair in (before, after))
    if was == now:
        return f"left and right still differ by {now} dB" if float(now) else "left and right stay alike"
    return f"left and right differ by {now} dB instead of {was}"


def _number(count: int) -> str:
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def _reflections(count: int) -> str:
    return f"{_number(count)} early reflection{'' if count == 1 else 's'}"
