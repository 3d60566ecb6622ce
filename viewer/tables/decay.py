"""How sound dies away, as others read it: one JSON object, one table for the terminal."""

import math
from collections.abc import Sequence
from typing import Any

from rich.console import Group
from rich.table import Table
from rich.text import Text

from raytrace import BAND_NAMES, Decay, Scene
from viewer.tables.grid import grid


def decay_json(scene: Scene, decays: Sequence[Decay]) -> dict[str, Any]:
    """Everything under "decays", one entry per speaker and seat; null where there is no number."""
    return {"scene": scene.title, "decays": [_entry(scene, decay) for decay in decays]}


def _entry(scene: Scene, decay: Decay) -> dict[str, Any]:
    p = decay.parameters
    columns = {
        "edt_s": p.edt_s,
        "t20_s": p.t20_s,
        "t30_s": p.t30_s,
        "c50_db": p.c50_db,
        "c80_db": p.c80_db,
        "d50": p.d50,
        "ts_ms": 1e3 * p.ts_s,
        "error_s": decay.errors.t20_s,
        "sabine_s": decay.sabine_s,
        "eyring_s": decay.eyring_s,
        "arau_s": decay.arau_s,
    }
    return {
        "speaker": scene.speakers[decay.speaker].name,
        "seat": scene.seats[decay.seat].name,
        "bands_hz": list(BAND_NAMES),
        **{name: [_number(x) for x in values] for name, values in columns.items()},
        "mean_free_path_m": decay.mean_free_path_m,
        "target_s": decay.target.time_s,
        "schroeder_hz": decay.schroeder_hz,
        "notes": [str(note) for note in decay.notes],
    }


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def decay_tables(scene: Scene, decays: tuple[Decay, ...]) -> Group:
    """One table per speaker and seat, notes once below."""
    parts: list[Table | Text] = []
    for decay in decays:
        name = f"{scene.speakers[decay.speaker].name} at {scene.seats[decay.seat].name}"
        bands = [f"{band}" for band in BAND_NAMES]
        table = grid(["Hz", *bands], numbers=bands, title=name)
        p = decay.parameters
        rows = (
            ("EDT s", p.edt_s, 2),
            ("T20 s", p.t20_s, 2),
            ("  ± s", decay.errors.t20_s, 3),
            ("T30 s", p.t30_s, 2),
            ("C50 dB", p.c50_db, 1),
            ("C80 dB", p.c80_db, 1),
            ("D50", p.d50, 2),
            ("Ts ms", 1e3 * p.ts_s, 0),
            ("Sabine s", decay.sabine_s, 2),
            ("Eyring s", decay.eyring_s, 2),
            ("Arau-Puchades s", decay.arau_s, 2),
        )
        for label, values, digits in rows:
            table.add_row(label, *("" if not math.isfinite(x) else f"{x:.{digits}f}" for x in values))
        parts += [table, Text("")]
    target = decays[0].target
    parts.append(Text(f"Target ({target.standard}, by volume, 200 Hz to 4 kHz): {target.time_s:.2f} s"))
    notes = dict.fromkeys(note for decay in decays for note in decay.notes)
    parts += [Text(f"Note: {note}", style="dim") for note in notes]
    return Group(*parts)
