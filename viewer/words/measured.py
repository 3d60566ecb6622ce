"""What measurements say in a client's words: did it work, in three sentences."""

from math import inf, isfinite
from typing import TYPE_CHECKING

import raytrace
from viewer.words.figures import decibels

if TYPE_CHECKING:
    from raytrace import Held, MeasuredRoom, Measurement


def most_telling(found: "MeasuredRoom") -> "Measurement":
    """The measurement that a client is shown: as it is now, the one with the strongest reflection."""

    def strongest_db(heard: "Measurement") -> float:
        worst_db = raytrace.judge_measured(found.last, heard).worst_db
        return round(worst_db) if isfinite(worst_db) else -inf  # within a dB of each other the first

    return max(found.last.heard, key=strongest_db)


def did_it_work(found: "MeasuredRoom") -> tuple[str, ...]:
    """At most three sentences: whether it worked, by how much, and whether it is what was predicted.

    The second is of the one measurement that is shown with them.
    """
    last, heard = found.last, most_telling(found)
    whose = f"{last.scene.speakers[heard.take.speaker].name} at {last.scene.seats[heard.take.seat].name}"
    if len(found.states) == 1:
        return (f"Measured for {whose}: {_count(last, heard)}.", _as_predicted(found))
    before = found.states[0][1]
    was = before.at(heard.take.speaker, heard.take.seat)
    if was is None:
        return (f"Measured for {whose} after the work: {_count(last, heard)}.", _as_predicted(found))
    return (
        _answer(before, last),
        f"For {whose}: before, {_count(before, was)}; now {_count(last, heard, again=True)}.",
        _fell(found) if found.changes else _as_predicted(found),
    )


def _answer(before: "Held", after: "Held") -> str:
    """The verdict on the work over everything that was measured both times."""
    pairs = [
        (raytrace.judge_measured(before, was), raytrace.judge_measured(after, now))
        for now in after.heard
        if (was := before.at(now.take.speaker, now.take.seat)) is not None
    ]
    were, are = (sum(pair[k].n_over for pair in pairs) for k in (0, 1))
    if any(now.verdict == "not judged" for _, now in pairs):
        return "Whether it worked cannot be judged from these files: noise or their end comes too soon."
    if are == 0:
        return (
            "It worked: as measured, no early reflection is above the limit any more."
            if were
            else ("As measured, no early reflection was above the limit before, and none is now.")
        )
    if are < were:
        return f"It worked in part: of {were} reflections above the limit {are} are left."
    return f"It did not do what it should: {were} reflections were above the limit, {are} are now."


def _count(held: "Held", heard: "Measurement", *, again: bool = False) -> str:
    limits = held.scene.limits
    own = raytrace.judge_measured(held, heard)
    if not own.n_peaks:
        return f"nothing above {decibels(heard.lowest_db, 0)} dB within {limits.within_ms:g} ms"
    what = "reflection" if own.n_over == 1 else "reflections"
    limit = "" if again else f" {what} above the limit of {decibels(limits.level_db, 0)} dB"
    return f"{own.n_over}{limit}, the strongest {decibels(own.worst_db)} dB"


def _fell(found: "MeasuredRoom") -> str:
    """The arrivals over the limit before: by how much they fell, measured beside predicted."""
    limit_db = found.last.scene.limits.level_db
    loud = [change for change in found.changes if change.before_db > limit_db] or list(found.changes)
    measured = sum(change.after_db - change.before_db for change in loud) / len(loud)
    predicted = sum(c.predicted_after_db - c.predicted_before_db for c in loud) / len(loud)
    did = _moved(measured, "fell by", "rose by", "did not change")
    told = _moved(predicted, "a fall by", "a rise by", "no change")
    return f"On average what was too strong {did}; predicted was {told}."


def _moved(change_db: float, fell: str, rose: str, stayed: str) -> str:
    """A change in words, whichever way it went."""
    by = decibels(abs(change_db))
    return stayed if by == "0.0" else f"{rose if change_db > 0.0 else fell} {by} dB"


def _as_predicted(found: "MeasuredRoom") -> str:
    """How much of what was measured the drawing explains."""
    if any(heard.fits_better for heard in found.last.heard):
        return "A file seems to be of another speaker or seat than was said: look at that first."
    if found.last.is_doubtful:
        return "The drawing explains hardly more of it than chance would: it may not be of this room."
    peaks = [own for heard in found.last.heard for own in heard.peaks if not own.is_speakers_own]
    named = sum(not own.is_unexplained for own in peaks)
    return f"The drawing explains {named} of the {len(peaks)} reflections that were measured."
