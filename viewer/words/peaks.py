"""What peaks are called, and what a verdict on one of them is in words."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from raytrace import Peak, Study, main_arrivals, peak_surface_names
from viewer.words.figures import from_limit, limit_side, listed
from viewer.words.things import joined_way, path_words

if TYPE_CHECKING:
    from raytrace import Unreached

TOO_CLOSE = "too close to the limit to say"
NEAR = "too close to say"
WHY_TOO_CLOSE = "within the accuracy of tape and model"
BEYOND_EDGE = "just beyond an edge"
OFF_MIDDLE = "only where the head is off the middle"
_MOST_WAYS = 2


def named_rows(study: Study, peak: Peak) -> list[int]:
    """Rows of the arrivals that make a peak, which is named after all of them, the strongest first."""
    return main_arrivals(study.arrivals, peak)


def peak_words(study: Study, peak: Peak) -> str:
    """The ways that make up one peak: "floor and ceiling" where they arrive together."""
    joined = [joined_way(names) for names in joined_names(study, peak)]
    also = f", and {listed(joined)} where the head is off the middle" if joined else ""
    return ways_words(study, peak) + also


def short_peak_words(study: Study, peak: Peak) -> str:
    """The same for a cell of a table: the two strongest ways, and how many more."""
    ways = [path_words(study, row) for row in named_rows(study, peak)]
    if len(ways) <= _MOST_WAYS:
        return peak_words(study, peak)
    return f"{', '.join(ways[:_MOST_WAYS])} and {len(ways) - _MOST_WAYS} more"


def ways_words(study: Study, peak: Peak) -> str:
    """The same without what joins only where the head is off the middle."""
    ways = [path_words(study, row) for row in named_rows(study, peak)]
    return listed(ways) if ways else f"{joined_way(peak_surface_names(study, peak))}, {where_heard(peak)}"


def where_heard(peak: Peak) -> str:
    """What is particular about a peak that no path to the ears makes."""
    return BEYOND_EDGE if peak.near_misses else OFF_MIDDLE


def joined_names(study: Study, peak: Peak) -> list[tuple[str, ...]]:
    """Surfaces of each way that joins a peak only where the head is off the middle, and makes it strong."""
    table = study.arrivals
    at_ears = [table.path_surfaces[row, : table.order[row]].tolist() for row in named_rows(study, peak)]
    joined = [[study.room.facets[facet].surface for facet in facets] for facets in peak.joined]
    others = [way for way in joined if way not in at_ears]
    return [tuple(study.room.surfaces[surface].name for surface in way) for way in others]


def in_sentence(peak: "Peak | Unreached") -> str:
    """The verdict on a peak in a sentence: "3.7 dB over the limit", "too close to the limit to say"."""
    return _in_words(peak, TOO_CLOSE, from_limit)


def in_column(peak: Peak) -> str:
    """The same in a narrow column whose head names limit and unit: "3.7 over", "too close to say"."""
    return _in_words(peak, NEAR, limit_side)


def _in_words(peak: "Peak | Unreached", too_close: str, apart: Callable[[float], str]) -> str:
    if peak.verdict == "not judged":
        return "not judged"
    return too_close if peak.verdict == "undecided" else apart(peak.margin_db)


def share_words(peak: Peak) -> str:
    """At how many of the places where the head may be a peak is over the limit: "40 %"."""
    return f"{100.0 * peak.share_over:.0f} %"


def strong_rows(study: Study) -> set[int]:
    """Rows of the arrivals that peaks are named after which are over the limit or too close to it to say."""
    return {row for peak in study.peaks if peak.may_be_over for row in named_rows(study, peak)}


def worst_first(peaks: list[Peak]) -> list[Peak]:
    """Those over the limit, then those too close to it to say, the others last; each the strongest first."""
    rank = {"over": 0, "undecided": 1, "below": 2, "not judged": 3}
    return sorted(
        peaks, key=lambda p: (rank[p.verdict], round(p.margin_db, 1), round(p.delay_s, 4), p.speaker)
    )


def peak_of(study: Study, row: int) -> Peak | None:
    """The judged peak that an arrival has a part in, the worst of several; None if there is none."""
    own = [peak for peak in study.peaks if peak.verdict != "not judged" and row in peak.arrivals]
    return worst_first(own)[0] if own else None
