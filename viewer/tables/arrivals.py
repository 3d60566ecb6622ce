"""The arrivals as others read them: one JSON object, one CSV table."""

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace import BAND_NAMES, Arrivals, Peak, Study
from viewer.tables.csvtext import csv_text
from viewer.words import joined_way

Row = dict[str, Any]
Ints = NDArray[np.int64]

LEVEL_KEYS = (
    "band_level_db",
    "zone_worst_db",
    "margin_db",
    "over_limit",
    "zone_margin_db",
    "over_limit_in_zone",
)


def arrivals_json(study: Study, *, rows: ArrayLike | None = None) -> dict[str, Any]:
    """Every arrival with its spots and levels as plain numbers, None where there is no number.

    Parameters
    ----------
    study : Study
        A finished run.
    rows : (n,) array_like of int, optional
        Only these rows of `Arrivals`, with the near misses, peaks and direct sounds of their speakers and
        seats; what a peak says of its arrivals counts within this choice.

    Returns
    -------
    dict
        Ready for `json.dumps(..., allow_nan=False)`: full precision, lengths in metres, delays in
        milliseconds after the direct sound, levels in dB re direct. `margin_db` and `over_limit` are at the
        ears, `zone_margin_db` and `over_limit_in_zone` at the node of the head zone that hears a reflection
        worst, each reflection by itself; null and false where no verdict is passed. Verdicts are passed on
        "peaks", of all that arrives together over the whole head zone.
    """
    arrivals = study.arrivals
    near, direct = arrivals.near_misses, arrivals.direct
    assert near is not None
    chosen = _chosen(study, rows)
    pairs = set(zip(arrivals.speaker[chosen].tolist(), arrivals.seat[chosen].tolist(), strict=True))
    if rows is None:
        pairs |= set(zip(direct.speaker.tolist(), direct.seat.tolist(), strict=True))
    missed = _rows_of(near.speaker, near.seat, pairs)
    places = _places(chosen), _places(missed)
    return {
        "scene": study.scene.title,
        "speed_of_sound_m_s": float(study.room.speed_of_sound_m_s),
        "bands_hz": list(BAND_NAMES),
        "complete_to_ms": number(1e3 * arrivals.reach.complete_to_s),
        "arrivals": [_arrival(study, arrivals, row) for row in chosen],
        "near_misses": [_arrival(study, near, row) for row in missed],
        "peaks": [_peak(study, peak, places) for peak in study.peaks if (peak.speaker, peak.seat) in pairs],
        "direct": [_direct(study, row) for row in _rows_of(direct.speaker, direct.seat, pairs)],
        "notes": [str(note) for note in study.notes],
    }


def _rows_of(speaker: Ints, seat: Ints, pairs: set[tuple[int, int]]) -> list[int]:
    """Rows of a table with these speakers and seats that belong to some pairs of them."""
    of_row = zip(speaker.tolist(), seat.tolist(), strict=True)
    return [row for row, pair in enumerate(of_row) if pair in pairs]


def _places(rows: list[int]) -> dict[int, int]:
    return {row: place for place, row in enumerate(rows)}


def _chosen(study: Study, rows: ArrayLike | None) -> list[int]:
    """Rows of the table as plain integers, all of them where none are named."""
    if rows is None:
        return list(range(len(study.arrivals.order)))
    return [int(row) for row in np.atleast_1d(np.asarray(rows, np.int64))]


def _peak(study: Study, peak: Peak, places: tuple[dict[int, int], dict[int, int]]) -> Row:
    """A peak, with its arrivals and near misses by their places in what is listed."""
    return {
        "speaker": study.arrivals.speaker_names[peak.speaker],
        "seat": study.arrivals.seat_names[peak.seat],
        **peak_figures(peak),
        "arrivals": [places[0][row] for row in peak.arrivals if row in places[0]],
        "near_misses": [places[1][row] for row in peak.near_misses if row in places[1]],
    }


def peak_figures(peak: Peak) -> Row:
    """What is known of a peak alone."""
    return {
        "delay_ms": number(1e3 * peak.delay_s),
        "ears_db": number(peak.ears_db),
        "level_db": number(peak.level_db),
        "margin_db": number(peak.margin_db),
        "uncertainty_db": number(peak.uncertainty_db),
        "share_over": number(peak.share_over),
        "verdict": peak.verdict,
        "over_limit": bool(peak.over_limit),
    }


def _direct(study: Study, row: int) -> Row:
    direct = study.arrivals.direct
    return {
        "speaker": study.arrivals.speaker_names[direct.speaker[row]],
        "seat": study.arrivals.seat_names[direct.seat[row]],
        "length_m": number(direct.length_m[row]),
        "delay_ms": number(1e3 * direct.delay_s[row]),
        "visible": bool(direct.visible[row]),
        "level_db": number(direct.level_db[row]),
        "hidden_by": direct.hidden_by[row],
    }


def _arrival(study: Study, arrivals: Arrivals, row: int) -> Row:
    order = int(arrivals.order[row])
    surfaces = [study.room.surfaces[i].name for i in arrivals.path_surfaces[row, :order]]
    openings = [study.scene.openings[i].name if i >= 0 else None for i in arrivals.path_openings[row, :order]]
    panels = [study.room.panels[i].name if i >= 0 else None for i in arrivals.path_panels[row, :order]]
    return {
        "speaker": arrivals.speaker_names[arrivals.speaker[row]],
        "seat": arrivals.seat_names[arrivals.seat[row]],
        "order": order,
        "surfaces": surfaces,
        "points_m": [[number(x) for x in point] for point in arrivals.path_points[row, 1 : order + 1]],
        "spots": [
            {"surface": surface, "opening": opening, "panel": panel, "u_m": number(u), "v_m": number(v)}
            for surface, opening, panel, (u, v) in zip(
                surfaces, openings, panels, arrivals.spots[row, :order], strict=True
            )
        ],
        "length_m": number(arrivals.length_m[row]),
        **figures_of(arrivals, row),
    }


def figures_of(arrivals: Arrivals, row: int) -> Row:
    """When an arrival comes and how strong it is, at the ears and at the worst place of the head."""
    return {
        "delay_ms": number(1e3 * arrivals.delay_s[row]),
        "level_db": [number(level) for level in arrivals.level_db[row]],
        "band_level_db": number(arrivals.band_level_db[row]),
        "zone_worst_db": number(arrivals.zone_worst_db[row]),
        "margin_db": number(arrivals.margin_db[row]),
        "over_limit": bool(arrivals.over_limit[row]),
        "zone_margin_db": number(arrivals.zone_margin_db[row]),
        "over_limit_in_zone": bool(arrivals.over_limit_in_zone[row]),
    }


def arrivals_csv(study: Study, *, rows: ArrayLike | None = None) -> str:
    """The same arrivals as a table with one line each, cells empty where there is no number.

    Columns: speaker, seat, order, surfaces (joined by " › "), length_m, delay_ms, level_db per band,
    band_level_db, zone_worst_db, margin_db, over_limit, zone_margin_db, over_limit_in_zone, then surface,
    opening, u_m, v_m, x_m, y_m, z_m of every bounce.
    """
    listed = [_arrival(study, study.arrivals, row) for row in _chosen(study, rows)]
    n_bounces = max((row["order"] for row in listed), default=1)
    levels = [f"level_{band}_hz_db" for band in BAND_NAMES]
    bounce = ("surface", "opening", "u_m", "v_m", "x_m", "y_m", "z_m")
    header = ["speaker", "seat", "order", "surfaces", "length_m", "delay_ms", *levels]
    header += LEVEL_KEYS
    header += [f"bounce_{i}_{part}" for i in range(1, n_bounces + 1) for part in bounce]
    return csv_text([header, *(_csv_cells(row, n_bounces * len(bounce)) for row in listed)])


def _csv_cells(row: Row, n_bounce_cells: int) -> list[Any]:
    cells = [row["speaker"], row["seat"], row["order"], joined_way(row["surfaces"])]
    cells += [row["length_m"], row["delay_ms"], *row["level_db"]]
    cells += level_cells(row)
    bounces: list[Any] = []
    for spot, point in zip(row["spots"], row["points_m"], strict=True):
        bounces += [spot["surface"], spot["opening"], spot["u_m"], spot["v_m"], *point]
    return cells + bounces + [None] * (n_bounce_cells - len(bounces))


def level_cells(row: Row) -> list[Any]:
    """Levels of one arrival against the limit, in the sequence of `LEVEL_KEYS`; claims as true or false."""
    values = [row[key] for key in LEVEL_KEYS]
    return [str(value).lower() if isinstance(value, bool) else value for value in values]


def number(value: float | np.floating[Any]) -> float | None:
    """A plain float, or None for what is not a finite number."""
    return float(value) if math.isfinite(value) else None
