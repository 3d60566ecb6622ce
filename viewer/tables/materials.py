"""Surface materials side by side, as others read them: one JSON object, one table for the terminal."""

from collections.abc import Mapping
from typing import Any

from rich.console import Group
from rich.text import Text

from raytrace import BAND_NAMES, Material
from viewer.tables.grid import grid
from viewer.words import band_tick

_SHOWN = slice(1, 7)  # the octaves of handbooks
Materials = Mapping[str, Material]


def _by_row(materials: Materials) -> dict[int, tuple[Material, list[str]]]:
    """Each material once with every name it goes by, its first name first."""
    rows: dict[int, tuple[Material, list[str]]] = {}
    for name, material in materials.items():
        rows.setdefault(id(material), (material, []))[1].append(name)
    return rows


def materials_json(materials: Materials) -> dict[str, Any]:
    """Everything under "materials": names, absorption and scattering per octave, source."""
    return {
        "bands_hz": list(BAND_NAMES),
        "materials": [
            {
                "names": names,
                "absorption": material.absorption.tolist(),
                "scattering": material.scattering.tolist(),
                "source": material.source,
            }
            for material, names in _by_row(materials).values()
        ],
    }


def materials_table(materials: Materials) -> Group:
    """One line per material; the other names that a scene may call it by stand behind."""
    octaves = [band_tick(band) for band in BAND_NAMES[_SHOWN]]
    table = grid(["material", *octaves, "also called"], numbers=octaves, tight=True)
    for material, names in _by_row(materials).values():
        figures = (f"{100 * x:.0f}" for x in material.absorption[_SHOWN])
        table.add_row(names[0], *figures, Text(", ".join(names[1:]), style="dim"))
    return Group(
        table,
        Text(""),
        Text(
            "Absorption in % per octave, from all sides. --json has the source of each row. Handbooks differ "
            'by 10 and more: a figure of your own goes into the scene under [materials."name"].'
        ),
    )
