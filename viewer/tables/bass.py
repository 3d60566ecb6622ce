"""The bass of a room, as others read it: one JSON object, tables for the terminal."""

import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from rich.console import Group
from rich.table import Table
from rich.text import Text

from raytrace import Bass, Extreme, SubPair, SubPlace, format_length
from viewer.tables.grid import grid
from viewer.words import decibels, length_figure, listed, told

_FEW_HZ = 120.0  # modes above it are many, and matter less one by one
_EVERY = 4  # rows of the curve: a sixth of an octave
_HARDLY_DB = 0.5  # less than anybody hears
_NOTHING_DB = -40.0  # a hundredth of the pressure of a mode in the mean


def bass_json(bass: Bass) -> dict[str, Any]:
    """Modes, curves, evenness and places in full precision; null where there is no number."""
    return {
        "modes": [
            {"hz": mode.hz, "damping_per_s": mode.damping_per_s, "t60_s": _number(mode.t60_s)}
            for mode in bass.modes
        ],
        "frequencies_hz": bass.frequencies_hz.tolist(),
        "responses": [
            {
                "sources": list(response.sources),
                "seat": response.seat,
                "level_db": [_number(level) for level in response.level_db.tolist()],
            }
            for response in bass.responses
        ],
        "evenness": [
            {
                "seat": entry.seat,
                "now_db": _number(entry.now.deviation_db),
                "worst_dip_db": _number(entry.now.dip_db),
                "dip_hz": entry.now.dip_hz,
            }
            for entry in bass.evenness
        ],
        "places": [_place_entry(place) for place in bass.places],
        "at_wall": _place_entry(bass.at_wall),
        "raised": _place_entry(bass.raised),
        "pair": _pair_entry(bass.pair),
        "wall_pair": _pair_entry(bass.wall_pair),
        "crossover": None if bass.crossover is None else asdict(bass.crossover),
        "moved": [{"way": way, "by_m": bass.moved_m, "evenness_db": _number(db)} for way, db in bass.moved],
        "notes": [str(note) for note in bass.notes],
    }


def _place_entry(place: SubPlace | None) -> dict[str, Any] | None:
    if place is None:
        return None
    return {
        "position_m": place.position_m.tolist(),
        "evenness_db": _number(place.evenness_db),
        "gain_db": _number(place.gain_db),
    }


def _pair_entry(pair: SubPair | None) -> dict[str, Any] | None:
    """Two subwoofers; the last three are of the second one set for itself."""
    if pair is None:
        return None
    return {
        "positions_m": [pair.first.tolist(), pair.second.tolist()],
        "evenness_db": pair.evenness_db,
        "gain_db": pair.gain_db,
        "delay_ms": pair.delay_ms,
        "level_db": pair.level_db,
        "tuned_db": pair.tuned_db,
    }


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def bass_tables(bass: Bass, *, units: str, everything: bool) -> Group:
    """What is now and why, what other places bring, and notes."""
    parts: list[Table | Text] = []
    for title, part in (
        _now(bass),
        _curve(bass, everything),
        _causes(bass),
        _modes(bass, everything),
        _places(bass, units),
    ):
        parts += [Text(title, style="italic"), part, Text("")]
    lines = [bass_headline(bass), *tried_lines(bass, units)]
    lines += [] if bass.crossover is None else [_crossover_words(bass)]
    for line in lines:
        parts += [Text(line), Text("")]
    parts += [Text(f"Note: {told(note, units)}", style="dim") for note in bass.notes]
    return Group(*parts)


def _now(bass: Bass) -> tuple[str, Table]:
    title = f"Bass now, from {listed(bass.sources)}: 30 to 120 Hz over each head zone"
    heads = ["seat", "unevenness dB", "worst dip dB", "at Hz"]
    table = grid(heads, numbers=heads[1:])
    for entry in bass.evenness:
        now = entry.now
        table.add_row(entry.seat, f"{now.deviation_db:.1f}", decibels(now.dip_db), f"{now.dip_hz:.0f}")
    return title, table


def _curve(bass: Bass, everything: bool) -> tuple[str, Table]:
    """The curves of what plays bass now, one seat beside the other."""
    shown = [response for response in bass.responses if response.sources == bass.sources]
    heads = ["Hz", *(response.seat for response in shown)]
    title = "Level at the ears re the free field of one source at 1 m, dB"
    table = grid(heads, numbers=heads)
    for row in range(0, len(bass.frequencies_hz), 1 if everything else _EVERY):
        levels = (decibels(float(response.level_db[row])) for response in shown)
        table.add_row(f"{bass.frequencies_hz[row]:.1f}", *levels)
    return title, table


def _causes(bass: Bass) -> tuple[str, Table]:
    heads = ["source", "Hz", "dB", "", "why"]
    table = grid(heads, numbers=["Hz", "dB"])
    for response in bass.responses:
        if response.sources[0] not in bass.sources or len(response.sources) > 1:
            continue
        for found in response.extremes:
            what = "dip" if found.is_dip else "peak"
            level = decibels(found.level_db)
            table.add_row(response.sources[0], f"{found.hz:.0f}", level, what, cause_words(found))
    return "Dips and peaks at the first seat", table


def cause_words(found: Extreme) -> str:
    """What makes a dip or peak, for the client."""
    names = [
        f"the mode at {hz:.0f} Hz" if hz >= 1.0 else "the room filling as a whole" for hz in found.mode_hz
    ]
    if found.kind == "boundary":
        return f"the reflection off {found.surface} comes out of step and cancels the direct sound"
    meant = listed(names)
    words = {
        "mode": f"{meant} rings",
        "quiet at the seat": f"the seat is where {meant} is quiet",
        "not driven": f"the source is where {meant} is not driven",
        "cancelling": f"{meant} cancel each other" if len(names) > 1 else f"{meant} has hardly any strength",
    }
    return words[found.kind]


def _modes(bass: Bass, everything: bool) -> tuple[str, Table]:
    top = bass.top_hz if everything else _FEW_HZ
    shown = [mode for mode in bass.modes if mode.hz <= top]
    more = len(bass.modes) - len(shown)
    beyond = f"; {more} more to {bass.top_hz:.0f} Hz with --all" if more else ""
    heads = ["Hz", "T60 s", "driven dB", "heard dB"]
    title = f"Modes to {top:.0f} Hz: how hard {bass.sources[0]} drives and the first seat hears each{beyond}"
    table = grid(heads, numbers=heads)
    for mode in shown:
        rings = f"{mode.t60_s:.2f}" if math.isfinite(mode.t60_s) else "no end"
        table.add_row(f"{mode.hz:.1f}", rings, _coupled(mode.drive_db), _coupled(mode.hear_db))
    return title, table


def _coupled(level_db: float) -> str:
    """How hard a mode is driven or heard; what is next to nothing is one word."""
    return "none" if level_db < _NOTHING_DB else decibels(level_db)


def _places(bass: Bass, units: str) -> tuple[str, Table | Text]:
    is_better = not bass.places or bass.places[0].gain_db > 0.0
    best = "Best free places" if is_better else "No free place is better than now; the best one"
    title = (
        f"{best} for a subwoofer on the floor, from the front and left wall; now "
        f"{bass.now_db:.1f} dB over the seats"
    )
    if not bass.places:
        return title, Text("None: furniture, doors and people take all of the floor.")
    unit = " mm" if units == "metric" else ""
    heads = ["place", f"from front{unit}", f"from left{unit}"]
    figures = ["unevenness dB", "gain dB", "worst dip dB", "at Hz"]
    table = grid([*heads, *figures], numbers=[*heads[1:], *figures])
    for k, place in enumerate(bass.places, 1):
        x, y, _ = place.position_m
        table.add_row(
            f"{k}",
            length_figure(x, units),
            length_figure(y, units),
            f"{place.evenness_db:.1f}",
            decibels(place.gain_db),
            decibels(place.dip_db),
            f"{place.dip_hz:.0f}",
        )
    return title, table


def bass_headline(bass: Bass) -> str:
    """What one subwoofer at its best free place brings, with its figure."""
    if not bass.places:
        return "No place on the floor is free for a subwoofer: furniture, doors and people take all of it."
    first = bass.places[0]
    best, now = f"{first.evenness_db:.1f} dB", f"{bass.now_db:.1f} dB"
    if not bass.has_sub:
        what = "Adding a subwoofer at place 1, to play the bass instead of the speakers,"
    elif len(bass.sources) == 1:
        what = "Moving the subwoofer to place 1"
    else:
        what = f"One subwoofer at place 1 instead of {listed(bass.sources)}"
    if first.gain_db < _HARDLY_DB:
        brings = "nothing" if first.gain_db <= 0.0 or best == now else "hardly a difference"
        return f"{what} brings {brings}: the bass is uneven by {best} then, by {now} now."
    return f"{what} makes the bass more even: uneven by {best} instead of {now}."


def tried_lines(bass: Bass, units: str) -> list[str]:
    """What cables along walls, panels, two subwoofers, a stand and another seat do, one line each."""
    lines = _cable_lines(bass, units)
    if bass.bare_db is not None:
        lines.append(
            f"Panels, as they hang and stand: unevenness over the seats {bass.now_db:.1f} dB with them, "
            f"{bass.bare_db:.1f} dB without{_hardly(bass.bare_db - bass.now_db)}."
        )
    if bass.pair is not None:
        lines.append(f"Two subwoofers with the same signal at {_pair_words(bass.pair, units)}")
    if bass.pair is not None and bass.wall_pair is not None and not _is_same(bass.pair, bass.wall_pair):
        lines.append(f"Two with both cables along walls at {_pair_words(bass.wall_pair, units)}")
    if bass.raised is not None:
        lines.append(
            f"{bass.sources[0]} where it is, on a stand of {_length(bass.stand_m, units)}: unevenness "
            f"{bass.raised.evenness_db:.1f} dB, gain {decibels(bass.raised.gain_db)} dB."
        )
    moved = listed([f"{spread:.1f} dB {where}" for where, spread in bass.moved])
    lines.append(f"First seat moved by {_length(bass.moved_m, units)}: unevenness at that seat {moved}.")
    return lines


def _cable_lines(bass: Bass, units: str) -> list[str]:
    """Where a cable can lie along a wall, unless it can at place 1."""
    place = bass.at_wall
    if not bass.places or place is None or (place.position_m == bass.places[0].position_m).all():
        return []
    return [
        f"Place 1 stands out on the floor, and its cable lies there. Along a wall the best is "
        f"{_spot(place.position_m.tolist(), units)}: unevenness {place.evenness_db:.1f} dB, gain "
        f"{decibels(place.gain_db)} dB."
    ]


def _is_same(one: SubPair, other: SubPair) -> bool:
    return bool((one.first == other.first).all() and (one.second == other.second).all())


def _pair_words(pair: SubPair, units: str) -> str:
    """Where two subwoofers stand, what that brings, and what setting the second brings."""
    where = ", and ".join(_spot(place.tolist(), units) for place in (pair.first, pair.second))
    settings = setting_words(pair.delay_ms, pair.level_db)
    plain, set_so = f"{pair.evenness_db:.1f} dB", f"{pair.tuned_db:.1f} dB"
    tuned = f" With {listed(settings)}: {set_so}." if settings and set_so != plain else ""
    return f"{where}: unevenness {plain}, gain {decibels(pair.gain_db)} dB.{tuned}"


def setting_words(delay_ms: float, level_db: float) -> list[str]:
    """How the second of two subwoofers is set against the first, without what stays as it is."""
    late = "second" if delay_ms >= 0.0 else "first"
    louder = "louder" if level_db >= 0.0 else "softer"
    delay, level = f"{abs(delay_ms):.1f} ms", f"{abs(level_db):.0f} dB"
    return [
        *([f"the {late} delayed by {delay}"] if delay != "0.0 ms" else []),
        *([f"the second set {level} {louder}"] if level != "0 dB" else []),
    ]


def _hardly(gain_db: float) -> str:
    """Said plainly where panels do next to nothing down here."""
    return ": hardly a difference, panels do not mend the bass" if abs(gain_db) < _HARDLY_DB else ""


def _spot(place: Sequence[float], units: str) -> str:
    x, y = (_length(float(side), units) for side in place[:2])
    return f"{x} from the front and {y} from the left wall"


def _length(metres: float, units: str) -> str:
    return format_length(metres, units=units)


def _crossover_words(bass: Bass) -> str:
    found = bass.crossover
    assert found is not None
    late = "subwoofer" if found.delay_ms >= 0.0 else "speakers"
    turned = "polarity of the subwoofer turned" if found.is_inverted else "polarity as it is"
    return (
        f"Crossover to the speakers (fourth-order Linkwitz-Riley): {found.hz:.0f} Hz, {late} delayed by "
        f"{abs(found.delay_ms):.1f} ms, {turned}, subwoofer {decibels(found.level_db)} dB re one speaker: "
        f"unevenness from 30 to 160 Hz {found.evenness_db:.1f} dB; with 80 Hz and nothing set "
        f"{found.plain_db:.1f} dB."
    )
