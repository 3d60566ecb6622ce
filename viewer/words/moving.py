"""Another arrangement of desk, speakers and seat in words: changes, bounds, costs."""

from collections.abc import Sequence

from raytrace import (
    AIM_DEG,
    LEAST_DEPTH_M,
    LEAST_TO_SPEAKER_M,
    REACH_M,
    SEAT_M,
    TILT_DEG,
    TOP_M,
    Change,
    Freedom,
    Variant,
    Variants,
    format_length,
)
from viewer.words.figures import limit_side, listed
from viewer.words.peaks import TOO_CLOSE
from viewer.words.things import joined_way

ARRANGEMENTS_EXPLAINED = (
    "Each line is a full run with that change and the panels where they are. Then: the same peak against the "
    "limit, in dB; a dash: gone. At the seat: peaks over the limit or too close to it to say, then and now. "
    "Elsewhere: what would be over, or too close to it to say, that is not now. L/R: early energy of left "
    "less right, then and now, in dB."
)


def change_words(change: Change, units: str) -> str:
    """One change, as whoever makes it needs it.

    Parameters
    ----------
    change : Change
    units : {"metric", "imperial"}
    """
    own, by = change.range, change.value - change.range.now
    now, then = (format_length(max(value, 0.0), units=units) for value in (own.now, change.value))
    apart, names = format_length(abs(by), units=units), listed(own.things)
    match own.freedom:
        case Freedom.HEIGHT:
            return f"{names} with its top at {then} instead of {now}"
        case Freedom.DISTANCE:
            way = "farther from" if by > 0.0 else "nearer to"
            return f"{names} {apart} {way} the seat (near edge {then} before the ears)"
        case Freedom.TILT:
            edge = "up" if change.value > 0.0 else "down"
            return f"{names} tilted by {abs(change.value):.0f} degrees, its far edge {edge}"
        case Freedom.FAR_CUT | Freedom.NEAR_CUT:
            edge = "far" if own.freedom is Freedom.FAR_CUT else "near"
            return f"{names} {then} deep instead of {now}, less at its {edge} edge"
        case Freedom.SPEAKERS:
            way = "higher" if by > 0.0 else "lower"
            who = names if "speaker" in names else f"{names} speaker"
            return f"{who} {apart} {way} ({own.things[0]} at {then})"
        case Freedom.SEAT:
            return f"seat {names} {apart} {'back' if by > 0.0 else 'forward'}"


def variant_words(variant: Variant, units: str) -> str:
    """All changes of a variant in one line."""
    return " and ".join(change_words(change, units) for change in variant.changes)


def variant_gain(variant: Variant) -> str:
    """What a variant brings at the seat, as a client reads it."""
    was, now = (sum(counts) for counts in zip(variant.n_over, variant.n_undecided, strict=True))
    return (
        f"then {now or 'no'} early reflection{'s' * (now != 1)} at the seat {'is' if now == 1 else 'are'} "
        f"too strong or {TOO_CLOSE}, instead of {was} without that."
    )


def variant_cells(variant: Variant, units: str) -> list[str]:
    """A row of a table: what, this peak then, peaks at the seat, elsewhere, left against right."""
    now, then = (sum(counts) for counts in zip(variant.n_over, variant.n_undecided, strict=True))
    new = "; ".join(f"{p.speaker} by {joined_way(p.way)}, {limit_side(p.margin_db)}" for p in variant.new)
    before, after = variant.left_right_db
    sides = "–" if before != before else f"{abs(after):.1f}, was {abs(before):.1f}"
    return [
        variant_words(variant, units),
        limit_side(variant.margin_db),
        f"{then}, was {now}",
        new or "none",
        sides,
    ]


VARIANT_HEAD = ("change", "then", "at the seat", "elsewhere", "L/R")


def arrangement_title(found: Variants, speakers: Sequence[str], seat: str) -> str:
    """Which peak some variants are for."""
    who = listed([speakers[k] for k in found.target.speakers])
    return f"{who} at {seat}, {joined_way(found.target.way)}: what another arrangement would do"


def bounds_words(found: Variants, units: str) -> str:
    """Within which bounds changes were looked for, in one sentence."""

    def length(metres: float) -> str:
        return format_length(metres, units=units)

    words = {
        Freedom.DISTANCE: f"a top's near edge {length(REACH_M[0])} to {length(REACH_M[1])} before the ears",
        Freedom.HEIGHT: f"the top {length(TOP_M[0])} to {length(TOP_M[1])} high",
        Freedom.TILT: f"tilt up to {TILT_DEG:.0f} degrees",
        Freedom.FAR_CUT: f"at least {length(LEAST_DEPTH_M)} deep",
        Freedom.SPEAKERS: f"speakers no more than {AIM_DEG:.0f} degrees off the ears' level, moved together",
        Freedom.SEAT: f"the seat moved by at most {length(SEAT_M)}, "
        f"{length(LEAST_TO_SPEAKER_M)} or more from a speaker",
    }
    own = {given.freedom for given in found.ranges}
    parts = [text for freedom, text in words.items() if freedom in own]
    return (
        f"Looked for within: {'; '.join(parts)} (common practice, no source). "
        "What is beyond a bound today may stay there."
    )


def none_mends(found: Variants, units: str) -> str | None:
    """What to say where no variant brings a peak below the limit; None where one does."""
    if found.mending:
        return None
    if found.nearest is None:
        return "There is nothing in the scene whose place, height, tilt or size would change it."
    near = found.nearest
    return (
        f"No change within the bounds, nor two together, brings it below. Nearest: "
        f"{variant_words(near, units)}: then {limit_side(near.margin_db)}."
    )
