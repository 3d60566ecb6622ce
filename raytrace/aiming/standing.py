"""What a speaker stands on: the floor or an object, how it slopes, and what lies between."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.room import Room, cabinet_size_m, facet_distance_m, is_underfoot
from raytrace.scene import Speaker

Floats = NDArray[np.float64]

PAD_M = 0.1
"""Up to here a speaker stands on an object itself, on pads at most; above, on a stand. Common practice."""


@dataclass(frozen=True)
class Standing:
    """What is under a speaker's cabinet.

    Attributes
    ----------
    surface : str or None
        The face under it; None where there is none.
    on_object : str or None
        The object that it stands on without a stand.
    normal : (3,) float
        Of what it stands on; upright where that is the level top of a stand.
    underside_m : float
        Height of the middle of the cabinet's underside, upright and without tilt. [m]
    gap_m : float
        From the face up to the underside: the height of a stand. Below 0 the cabinet would reach into the
        face; NaN without one. [m]
    cabinet_m : (3,) float
        Depth, width and height that were taken. [m]
    """

    surface: str | None
    on_object: str | None
    normal: Floats
    underside_m: float
    gap_m: float
    cabinet_m: Floats

    def slope_deg(self, yaw_deg: float) -> float:
        """How much what it stands on rises in a direction in plan. [deg]"""
        yaw = math.radians(yaw_deg)
        ahead = math.cos(yaw) * self.normal[0] + math.sin(yaw) * self.normal[1]
        return math.degrees(math.atan2(-ahead, self.normal[2]))


def find_standing(room: Room, speaker: Speaker, axis: Floats) -> Standing:
    """What is under the middle of a speaker's cabinet, cabinets and panels left out.

    Parameters
    ----------
    room : Room
    speaker : Speaker
    axis : (3,) float
        Unit vector along which it points.
    """
    size = cabinet_size_m(speaker)
    heading = axis[:2] / max(float(np.hypot(*axis[:2])), 1e-9)
    middle = np.array([*(np.array(speaker.position[:2]) - 0.5 * size[0] * heading), speaker.position[2]])
    underside_m = float(middle[2] - 0.5 * size[2])
    found: list[tuple[float, int]] = []
    for index, facet in enumerate(room.facets[: room.n_solid_facets]):
        if not is_underfoot(facet.normal) or room.is_cabinet[facet.surface]:
            continue
        foot = middle.copy()
        foot[2] = (facet.offset - float(facet.normal[:2] @ middle[:2])) / facet.normal[2]
        if foot[2] < middle[2] and facet_distance_m(foot, facet) <= room.tolerance_m:
            found.append((float(foot[2]), index))
    if not found:
        return Standing(None, None, np.array([0.0, 0.0, 1.0]), underside_m, math.nan, size)
    top_m, index = max(found)
    surface = room.surfaces[room.facets[index].surface]
    gap_m = underside_m - top_m
    bears = surface.owner is not None and gap_m <= PAD_M
    normal = room.facets[index].normal if bears else np.array([0.0, 0.0, 1.0])
    return Standing(surface.name, surface.owner if bears else None, normal, underside_m, gap_m, size)
