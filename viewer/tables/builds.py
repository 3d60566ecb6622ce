"""Builds side by side, as others read them: one JSON object, one table for the terminal."""

from collections.abc import Sequence
from typing import Any

from rich.console import Group
from rich.text import Text

from raytrace import BAND_NAMES, Build, DataSheet, format_length
from viewer.tables.grid import grid
from viewer.words import band_tick, mass_figure, mass_unit, told

_SHOWN = slice(1, 7)  # the octaves of handbooks and data sheets
_OCTAVES = [band_tick(band) for band in BAND_NAMES[_SHOWN]]


def builds_json(sheets: Sequence[DataSheet]) -> dict[str, Any]:
    """Everything under "builds", lengths in metres, absorption per octave."""
    return {
        "bands_hz": list(BAND_NAMES),
        "builds": [
            {
                "name": sheet.build_name,
                "size_m": list(sheet.build.size),
                "thickness_m": sheet.build.thickness,
                "gap_m": sheet.gap_m,
                "flow_resistivity": sheet.build.flow_resistivity,
                "density_kg_m3": sheet.build.density,
                "back": sheet.build.back,
                "price": sheet.build.price,
                "mass_kg": sheet.own.mass_kg,
                "random": [float(x) for x in sheet.own.random],
                "normal": [float(x) for x in sheet.own.normal],
                "practical": sheet.own.rating.practical.tolist(),
                "alpha_w": sheet.own.rating.weighted.alpha_w,
                "shape": sheet.own.rating.weighted.shape,
                "class": sheet.own.rating.weighted.sound_class,
                "nrc": sheet.own.rating.nrc,
                "saa": sheet.own.rating.saa,
                "notes": [str(note) for note in sheet.notes],
            }
            for sheet in sheets
        ],
    }


def builds_table(sheets: Sequence[DataSheet], *, units: str) -> Group:
    """One line per build; absorption from all sides, then what was assumed of all."""
    numbers = (*_OCTAVES, "alpha w", "NRC", mass_unit(units))
    slab = "slab mm" if units == "metric" else "slab in"
    table = grid(["build", slab, *numbers], numbers=numbers, tight=True)
    for sheet in sheets:
        table.add_row(
            sheet.build_name,
            _slab(sheet.build, units),
            *(f"{100 * x:.0f}" for x in sheet.own.random[_SHOWN]),
            str(sheet.own.rating.weighted),
            f"{sheet.own.rating.nrc:.2f}",
            mass_figure(sheet.own.mass_kg, units),
        )
    gap = sheets[0].gap_m
    mounted = f"{format_length(gap, units=units)} before a hard wall" if gap else "right on a hard wall"
    common = [note for note in sheets[0].notes if all(note in sheet.notes for sheet in sheets)]
    return Group(
        table,
        Text(""),
        Text(f"Absorption in % per octave, from all sides, {mounted}; mass with frame and cloth."),
        *(Text(f"Note: {told(note, units)}", style="dim") for note in common),
    )


def _slab(build: Build, units: str) -> str:
    """Width, height and thickness without their unit."""
    digits, per_metre = (0, 1000.0) if units == "metric" else (1, 1.0 / 0.0254)
    return "x".join(f"{round(per_metre * side, digits):g}" for side in (*build.size, build.thickness))
