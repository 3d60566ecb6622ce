"""Exact paths -> Arrivals, the one table of reflections at the seats."""

from raytrace.reflections.arrivals import (
    Arrivals,
    PointArrivals,
    decibels,
    is_judged,
    limit_level_db,
    tabulate,
    with_pressures,
)
from raytrace.reflections.arrivalsearch import (
    Progress,
    SeatPoints,
    find_arrivals,
    find_point_arrivals,
    sent_pressure,
    speaker_directivity,
    zone_points,
)
from raytrace.reflections.beamtree import BeamTree, FreeEdges, beam_paths
from raytrace.reflections.freecrossings import (
    Crossings,
    find_crossings,
    incidence_cosines,
    outline_weight,
    shared_by_crossings,
)
from raytrace.reflections.paths import Paths, find_paths
from raytrace.reflections.reflection_factors import (
    PATCH_MEAN_ERROR_DB,
    PATCH_WORST_ERROR_DB,
    Reflectors,
    SurfaceRect,
    find_reflectors,
    panel_effect,
    path_ends,
    place_patch,
    returned_pressure,
    wall_reflection,
)
from raytrace.reflections.response import (
    Curve,
    EarlyResponse,
    early_responses,
    energy_time_curve,
    energy_time_curves,
    transfer,
)
from raytrace.reflections.search_extent import USUAL_ORDER, Reach
from raytrace.reflections.wavechecks import WAVE_CHECKS, WaveCheck

__all__ = [
    "PATCH_MEAN_ERROR_DB",
    "PATCH_WORST_ERROR_DB",
    "USUAL_ORDER",
    "WAVE_CHECKS",
    "Arrivals",
    "BeamTree",
    "Crossings",
    "Curve",
    "EarlyResponse",
    "FreeEdges",
    "Paths",
    "PointArrivals",
    "Progress",
    "Reach",
    "Reflectors",
    "SeatPoints",
    "SurfaceRect",
    "WaveCheck",
    "beam_paths",
    "decibels",
    "early_responses",
    "energy_time_curve",
    "energy_time_curves",
    "find_arrivals",
    "find_crossings",
    "find_paths",
    "find_point_arrivals",
    "find_reflectors",
    "incidence_cosines",
    "is_judged",
    "limit_level_db",
    "outline_weight",
    "panel_effect",
    "path_ends",
    "place_patch",
    "returned_pressure",
    "sent_pressure",
    "shared_by_crossings",
    "speaker_directivity",
    "tabulate",
    "transfer",
    "wall_reflection",
    "with_pressures",
    "zone_points",
]
