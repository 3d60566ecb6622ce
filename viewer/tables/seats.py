"""Places for a seat, as others read them: one JSON object, tables for the terminal."""

import math
from typing import Any

from rich.console import Group
from rich.table import Table
from rich.text import Text

from raytrace import JudgedSeat, Seats, count_blocked, format_length, points_of
from viewer.tables.grid import grid
from viewer.words import decibels, length_figure, listed, told

_TOLD_POINTS = 0.3  # terms that differ by less are no reason
_FEW = 8  # lines of what is in the way
_TERMS = {
    "over": ("less early energy over the limit", "more early energy over the limit"),
    "left_right": ("left and right more alike", "left and right less alike"),
    "evenness": ("bass more even", "bass less even"),
    "dip": ("shallower dips from near boundaries", "deeper dips from near boundaries"),
    "near": ("head farther from the wall", "head nearer to a wall"),
}


def seats_json(seats: Seats) -> dict[str, Any]:
    """All places in full precision, best first, those run in full before the others; null for no number."""
    return {
        "seat": seats.scene.seats[0].name,
        "now": None if seats.now is None else _entry(seats.now),
        "candidates": [_entry(one) for one in (*seats.best, *seats.others)],
        "moves_along": [*seats.speakers, *seats.objects],
        "in_the_way": [{"of": body, "is": by, "places": n} for body, by, n in count_blocked(seats.blocked)],
        "refused": [
            {"wall": place.wall, "depth_m": place.depth_m, "why": why} for place, why in seats.refused
        ],
        "notes": [str(note) for note in seats.notes],
    }


def _entry(one: JudgedSeat) -> dict[str, Any]:
    return {
        "wall": one.place.wall,
        "depth_m": one.place.depth_m,
        "aside_m": _number(one.place.aside_m),
        "ears_m": one.ears.tolist(),
        "speakers_m": one.speakers.tolist(),
        "score": one.score,
        "in_full": one.is_proven,
        "over_db": one.over_db,
        "left_right_db": one.left_right_db,
        "evenness_db": _number(one.evenness_db),
        "dip_db": one.dip_db,
        "dip_hz": one.dip_hz,
        "nearest_wall": one.near,
        "nearest_wall_m": one.near_m,
        "n_over": one.n_over,
        "n_undecided": one.n_undecided,
        "worst_margin_db": one.worst_margin_db,
    }


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def seats_tables(seats: Seats, *, units: str = "metric") -> Group:
    """The best places with the present one, why they are, what was in the way, notes."""
    parts: list[Table | Text] = [places_table(seats, units), Text("")]
    for number, one in enumerate(seats.best, start=1):
        near = f"the head {format_length(one.near_m, units=units)} from {one.near}"
        parts.append(Text(f"{number}: {reason_words(seats, one)}; {near}"))
    if not seats.best:
        parts.append(
            Text("No place is free for the seat with its speakers; what is in the way stands below.")
        )
    parts += [Text(""), Text(_tried(seats))]
    blocked = count_blocked(seats.blocked)
    for body, by, n in blocked[:_FEW]:
        parts.append(Text(f"  {n} where {body} meets {by}"))
    if len(blocked) > _FEW:
        parts.append(Text(f"  {sum(n for _, _, n in blocked[_FEW:])} for other things in the way"))
    for place, why in seats.refused[:_FEW]:
        where = format_length(place.depth_m, units=units)
        parts.append(Text(f"  facing {place.wall} at {where}: {why}"))
    parts.append(Text(""))
    parts += [Text(f"Note: {told(note, units)}", style="dim") for note in seats.notes]
    return Group(*parts)


def places_table(seats: Seats, units: str) -> Table:
    """The best places and some of the others, each on a line with what is told of it."""
    unit = " mm" if units == "metric" else ""
    figures = [
        "points",
        f"ahead{unit}",
        f"aside{unit}",
        "over dB",
        "peaks over",
        "L-R dB",
        "uneven dB",
        "dip dB",
        "at Hz",
    ]
    name = seats.scene.seats[0].name
    title = f"Places for {name}, run in full: ahead to the wall faced, aside of the middle, right is plus"
    table = grid(["", "facing", *figures], numbers=figures, title=title, tight=True)
    rows = [("now", seats.now), *((f"{k}", one) for k, one in enumerate(seats.best, start=1))]
    for label, one in rows:
        if one is None:
            table.add_row(label, "hidden: no verdict", *[""] * len(figures))
            continue
        table.add_row(label, one.place.wall, *_figures(one, units))
    return table


def _figures(one: JudgedSeat, units: str) -> list[str]:
    aside = one.place.aside_m
    return [
        f"{one.score:.1f}",
        length_figure(one.place.depth_m, units),
        _sided(aside, units) if math.isfinite(aside) else "",
        f"{one.over_db:.1f}",
        _peaks(one),
        "-" if one.left_right_db is None else decibels(one.left_right_db),
        f"{one.evenness_db:.1f}",
        decibels(one.dip_db),
        f"{one.dip_hz:.0f}",
    ]


def _sided(metres: float, units: str) -> str:
    """A distance with its side as a sign; nothing has none."""
    figure = length_figure(abs(metres), units)
    return figure if abs(metres) < 0.0005 else f"{'-' if metres < 0.0 else '+'}{figure}"


def _peaks(one: JudgedSeat) -> str:
    return f"{one.n_over}" + (f" (+{one.n_undecided}?)" if one.n_undecided else "")


def reason_words(seats: Seats, one: JudgedSeat) -> str:
    """What a place has and lacks against the present one, what counts most first."""
    if seats.now is None:
        return "at the present place a speaker is hidden, so there is nothing to compare with"
    own, now = points_of(one.terms), points_of(seats.now.terms)
    gains = sorted(((getattr(now, name) - getattr(own, name), name) for name in _TERMS), reverse=True)
    better = [_TERMS[name][0] for gain, name in gains if gain >= _TOLD_POINTS]
    worse = [_TERMS[name][1] for gain, name in reversed(gains) if gain <= -_TOLD_POINTS]
    if not better and not worse:
        return "as good as now"
    total = seats.now.score - one.score
    head = f"{abs(total):.1f} points {'better' if total >= 0.0 else 'worse'} than now"
    return f"{head}: {'; but '.join(listed(words) for words in (better, worse) if words)}"


def _tried(seats: Seats) -> str:
    n = len(seats.best) + len(seats.others)
    words = f"{n} places are free, of which {sum(one.is_proven for one in (*seats.best, *seats.others))} "
    words += "were run in full"
    left_out = len(seats.blocked) + len(seats.refused)
    return words + (f"; {left_out} are none:" if left_out else ".")
