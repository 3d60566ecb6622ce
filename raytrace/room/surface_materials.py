"""What lies on a surface: its openings and the panels before it, with what each is made of."""

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import Material
from raytrace.room.panelsound import patch_material
from raytrace.room.room import Room
from raytrace.room.setout import shared_size_m

Floats = NDArray[np.float64]


def surface_covers(room: Room, surface: int) -> list[tuple[Floats, Material]]:
    """Rectangles u0, v0, u1, v1 of a surface [m] with their material; where they overlap the last one counts.

    Parameters
    ----------
    room : Room
    surface : int
        Index.
    """
    covers = [(opening.rect, opening.material) for opening in room.surfaces[surface].openings]
    return covers + [
        (panel.rect, patch_material(panel, room.medium, room.surfaces[surface].material))
        for panel in room.panels
        if panel.surface == surface and panel.acts_as == "patch"
    ]


def cover_areas_m2(room: Room, surface: int) -> tuple[list[tuple[float, Material]], float]:
    """Area of each cover that a surface shows with its material, and the area that it leaves bare. [m2]"""
    shown: list[tuple[float, Material]] = []
    covers = surface_covers(room, surface)
    for k, (rect, material) in enumerate(covers):
        hidden_m2 = sum(_shared_m2(rect, later) for later, _ in covers[k + 1 :])
        shown.append((max(_shared_m2(rect, rect) - hidden_m2, 0.0), material))
    return shown, max(room.surfaces[surface].area_m2 - sum(area_m2 for area_m2, _ in shown), 0.0)


def _shared_m2(a: Floats, b: Floats) -> float:
    width, height = np.maximum(shared_size_m(a, b), 0.0)
    return float(width * height)
