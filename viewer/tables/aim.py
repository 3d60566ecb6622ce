"""How to set up speakers, as others read it: one JSON object, tables for the terminal."""

import math
from typing import Any

from rich.console import Group
from rich.table import Table
from rich.text import Text

from raytrace import (
    DESK_MOVES_TO_M,
    Aiming,
    BoundaryResponse,
    DeskMove,
    Pointing,
    SpeakerPair,
    SpeakerSetting,
    WallPlace,
    WallSweep,
    format_length,
)
from viewer.tables.grid import grid
from viewer.words import decibels, length_figure, told

Part = Table | Text


def aim_json(aim: Aiming) -> dict[str, Any]:
    """Everything that was found, metric and in full precision; null where there is no number."""
    return {
        "scene": aim.scene.title,
        "behind_m": aim.wish.behind_m,
        "speakers": [_speaker_entry(aim, p, r) for p, r in zip(aim.pointings, aim.responses, strict=True)],
        "pairs": [_pair_entry(aim, pair) for pair in aim.pairs],
        "wall_sweep": None if aim.sweep is None else _sweep_entry(aim, aim.sweep),
        "desk_moves": [_desk_entry(aim, move) for move in aim.desk_moves],
        "notes": [str(note) for note in aim.notes],
    }


def _speaker_entry(aim: Aiming, pointing: Pointing, response: BoundaryResponse) -> dict[str, Any]:
    standing = pointing.standing
    return {
        "speaker": aim.scene.speakers[pointing.speaker].name,
        "seat": aim.scene.seats[pointing.seat].name,
        "distance_m": pointing.distance_m,
        **_setting_entry(pointing.at_ears),
        "off_axis_deg": pointing.off_axis_deg,
        "off_axis_up_deg": pointing.off_axis_up_deg,
        "axis_passes_m": pointing.passes_m,
        "now": _setting_entry(pointing.now),
        "behind_head": _setting_entry(pointing.behind_head),
        "stands_on": standing.surface,
        "on_object": standing.on_object,
        "stand_height_m": _number(standing.gap_m),
        "level_stand_height_m": _number(pointing.level_stand_m),
        "cabinet_m": [float(x) for x in standing.cabinet_m],
        "boundary_dips": [
            {
                "surface": dip.surface,
                "hz": dip.hz,
                "quarter_wave_hz": dip.quarter_wave_hz,
                "distance_m": dip.distance_m,
                "detour_m": dip.detour_m,
                "alone_db": dip.alone_db,
                "shadowed": dip.is_shadowed,
            }
            for dip in response.dips
        ],
        "combined_dips": [
            {"hz": dip.hz, "level_db": dip.level_db, "surfaces": list(dip.surfaces)}
            for dip in response.combined
        ],
        "evenness_db": response.evenness_db,
        "frequencies_hz": response.frequency_hz.tolist(),
        "level_db": response.level_db.tolist(),
    }


def _setting_entry(setting: SpeakerSetting) -> dict[str, float]:
    return {
        "toe_in_deg": setting.toe_in_deg,
        "tilt_deg": setting.tilt_deg,
        "wedge_deg": setting.wedge_deg,
    }


def _pair_entry(aim: Aiming, pair: SpeakerPair) -> dict[str, Any]:
    return {
        "left": aim.scene.speakers[pair.left].name,
        "right": aim.scene.speakers[pair.right].name,
        "seat": aim.scene.seats[pair.seat].name,
        "distance_difference_mm": 1e3 * pair.distance_difference_m,
        "delay_difference_ms": 1e3 * pair.delay_difference_s,
        "angle_difference_deg": pair.angle_difference_deg,
        "tilt_difference_deg": pair.tilt_difference_deg,
        "level_difference_db": pair.level_difference_db,
        "between_m": pair.between_m,
        "opening_deg": pair.opening_deg,
    }


def _sweep_entry(aim: Aiming, sweep: WallSweep) -> dict[str, Any]:
    return {
        "wall": sweep.wall,
        "seat": aim.scene.seats[sweep.seat].name,
        "speakers": [aim.scene.speakers[k].name for k in sweep.speakers],
        "from_m": sweep.bounds_m[0],
        "to_m": sweep.bounds_m[1],
        "now": _place_entry(sweep.now),
        "best": [_place_entry(place) for place in sweep.best],
    }


def _place_entry(place: WallPlace) -> dict[str, float]:
    return {
        "distance_m": place.distance_m,
        "evenness_db": place.evenness_db,
        "worst_db": place.worst_db,
        "worst_hz": place.worst_hz,
    }


def _desk_entry(aim: Aiming, move: DeskMove) -> dict[str, Any]:
    return {
        "desk": move.desk,
        "seat": aim.scene.seats[move.seat].name,
        "way": move.way,
        "by_m": move.by_m,
        "tilt_deg": _number(move.tilt_deg),
        "before_db": _number(move.before_db),
        "after_db": _number(move.after_db),
        "clear": move.is_clear,
        "over_before": move.n_over_before,
        "over_after": move.n_over_after,
    }


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def aim_tables(aim: Aiming, *, units: str = "metric") -> Group:
    """What to set up, then what near walls and the desk do, then the notes."""
    parts: list[Part] = [_pointing_table(aim, units), Text(""), _standing_table(aim, units), Text("")]
    for pair in aim.pairs:
        parts.append(Text(_pair_words(aim, pair, units)))
    parts.append(Text(""))
    for response in aim.responses:
        parts.append(_dip_table(aim, response, units))
        if any(dip.is_shadowed for dip in response.dips):
            parts.append(Text("* something stands in the way of its mirror path; bass goes round it"))
        parts += [Text(_combined_words(response)), Text("")]
    if aim.sweep is not None:
        parts += [_sweep_table(aim, aim.sweep, units), Text("")]
    if aim.desk_moves:
        parts += [_desk_table(aim, units), Text("")]
    parts += [Text(f"Note: {told(note, units)}", style="dim") for note in aim.notes]
    return Group(*parts)


def _unit(units: str) -> str:
    return " mm" if units == "metric" else ""


def _pointing_table(aim: Aiming, units: str) -> Table:
    """Distances and angles per speaker and seat."""
    distance, behind = f"distance{_unit(units)}", format_length(aim.wish.behind_m, units=units)
    heads = [distance, "toe-in °", "tilt °", "toe-in ° behind", "tilt ° behind", "toe-in ° now", "tilt ° now"]
    heads.append("off axis ° now")
    title = f"To point at the ears, or {behind} behind them (common practice); tilt is upwards"
    table = grid(["speaker", "at", *heads], numbers=heads, title=title)
    for p in aim.pointings:
        angles = [
            angle
            for setting in (p.at_ears, p.behind_head, p.now)
            for angle in (setting.toe_in_deg, setting.tilt_deg)
        ]
        table.add_row(
            *_who(aim, p), length_figure(p.distance_m, units), *map(_deg, (*angles, p.off_axis_deg))
        )
    return table


def _who(aim: Aiming, pointing: Pointing) -> tuple[str, str]:
    return aim.scene.speakers[pointing.speaker].name, aim.scene.seats[pointing.seat].name


def _standing_table(aim: Aiming, units: str) -> Table:
    """What each speaker stands on and what belongs under it."""
    stand, level = f"stand{_unit(units)}", f"level stand{_unit(units)}"
    heads = [stand, level, "wedge °", "wedge ° behind"]
    title = (
        "What goes under them (wedge: front raised, minus: back raised; level stand: at ear height, no wedge)"
    )
    table = grid(["speaker", "at", "over", *heads], numbers=heads, title=title)
    for p in aim.pointings:
        table.add_row(
            *_who(aim, p),
            p.standing.surface or "",
            "none" if p.standing.on_object else _stand_figure(p.standing.gap_m, units),
            _stand_figure(p.level_stand_m, units),
            _deg(p.at_ears.wedge_deg),
            _deg(p.behind_head.wedge_deg),
        )
    return table


def _stand_figure(height_m: float, units: str) -> str:
    return length_figure(height_m, units) if height_m >= 0.0 else "-"


def _pair_words(aim: Aiming, pair: SpeakerPair, units: str) -> str:
    left, right = (aim.scene.speakers[k].name for k in (pair.left, pair.right))
    by = format_length(abs(pair.distance_difference_m), units=units)
    sign = "-" if pair.distance_difference_m < -0.0005 else ""
    between = format_length(pair.between_m, units=units)
    return (
        f"{left} less {right} at {aim.scene.seats[pair.seat].name}: distance {sign}{by} "
        f"({decibels(1e3 * pair.delay_difference_s, 3)} ms), angle {decibels(pair.angle_difference_deg)}°, "
        f"height {decibels(pair.tilt_difference_deg)}°, level {decibels(pair.level_difference_db)} dB; "
        f"{between} apart, {pair.opening_deg:.1f}° as seen from the seat (60° in an equal-sided triangle)"
    )


def _dip_table(aim: Aiming, response: BoundaryResponse, units: str) -> Table:
    """What each boundary alone does: all together have their dips elsewhere, which the words below tell."""
    distance, detour = f"away{_unit(units)}", f"detour{_unit(units)}"
    heads = [distance, detour, "dip Hz", "c/4d Hz", "dB alone"]
    speaker, seat = aim.scene.speakers[response.speaker].name, aim.scene.seats[response.seat].name
    table = grid(
        ["boundary", *heads], numbers=heads, title=f"Boundaries of {speaker} at {seat}, each by itself"
    )
    for dip in response.dips:
        table.add_row(
            f"{dip.surface} *" if dip.is_shadowed else dip.surface,
            length_figure(dip.distance_m, units),
            length_figure(dip.detour_m, units),
            f"{dip.hz:.1f}",
            f"{dip.quarter_wave_hz:.1f}",
            decibels(dip.alone_db),
        )
    return table


def _combined_words(response: BoundaryResponse) -> str:
    """All boundaries together in one line."""
    dips = "; ".join(
        f"{decibels(dip.level_db)} dB at {dip.hz:.0f} Hz ({', '.join(dip.surfaces)})"
        for dip in response.combined[:3]
    )
    even = f"All together, 30 to 400 Hz: {response.evenness_db:.1f} dB standard deviation"
    return f"{even}; dips as they come out {dips}" if dips else f"{even}; no dip stands out"


def _sweep_table(aim: Aiming, sweep: WallSweep, units: str) -> Table:
    """The distances from the wall behind that are better than the present one, with it."""
    distance = f"away{_unit(units)}"
    heads = [distance, "evenness dB", "worst re mean dB", "at Hz"]
    speakers = " and ".join(aim.scene.speakers[k].name for k in sweep.speakers)
    low, high = (format_length(bound, units=units) for bound in sweep.bounds_m)
    found = (
        "where the low end is more even than now"
        if sweep.best
        else "the low end is nowhere more even than now"
    )
    title = f"{speakers} from {sweep.wall}, {low} to {high}: {found}"
    table = grid(["", *heads], numbers=heads, title=title)
    for label, place in [("now", sweep.now), *((f"{k + 1}", place) for k, place in enumerate(sweep.best))]:
        table.add_row(
            label,
            length_figure(place.distance_m, units),
            f"{place.evenness_db:.1f}",
            decibels(place.worst_db),
            f"{place.worst_hz:.0f}",
        )
    return table


def _desk_table(aim: Aiming, units: str) -> Table:
    """What has to move by how much."""
    by = f"by{_unit(units)}"
    heads = [by, "then tilt °", "before dB", "after dB", "peaks over"]
    seat = aim.scene.seats[aim.desk_moves[0].seat].name
    title = f"What keeps the desk's reflection at {seat} within the limit, each proven by a full run"
    table = grid(["over", "what moves", *heads, ""], numbers=heads, title=title)
    for move in aim.desk_moves:
        found = move.by_m is not None
        table.add_row(
            move.desk,
            move.way,
            length_figure(move.by_m, units) if move.by_m is not None else "-",
            _deg(move.tilt_deg) if found else "",
            decibels(move.before_db),
            decibels(move.after_db) if found else "",
            f"{move.n_over_before} to {move.n_over_after}" if found else "",
            _outcome(move, units),
        )
    return table


def _outcome(move: DeskMove, units: str) -> str:
    if move.by_m is None:
        return f"none up to {format_length(DESK_MOVES_TO_M, units=units)}"
    return "clears the desk" if move.is_clear else "still there, below the limit"


def _deg(angle: float) -> str:
    return decibels(angle)
