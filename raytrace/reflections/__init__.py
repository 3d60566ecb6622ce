"""Exact paths -> Arrivals, the one table of reflections at the seats."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.reflections.arrivals import (
        HIDDEN_DB,
        Arrivals,
        PointArrivals,
        decibels,
        is_judged,
        limit_level_db,
        tabulate,
        with_pressures,
    )
    from raytrace.reflections.arrivalsearch import (
        N_CORNERS,
        Progress,
        SeatPoints,
        find_arrivals,
        find_point_arrivals,
        search_arrivals,
        sent_pressure,
        speaker_directivity,
        zone_points,
    )
    from raytrace.reflections.beamtree import BeamTree, FreeEdges
    from raytrace.reflections.freecrossings import (
        Crossings,
        find_crossings,
        incidence_cosines,
        outline_weight,
        shared_by_crossings,
    )
    from raytrace.reflections.hungpatches import PanelParts, panel_parts
    from raytrace.reflections.memory import Memory
    from raytrace.reflections.paths import Paths, find_paths, together
    from raytrace.reflections.reflection_factors import (
        PATCH_MEAN_ERROR_DB,
        PATCH_WORST_ERROR_DB,
        panel_effect,
        path_ends,
        returned_pressure,
        wall_reflection,
    )
    from raytrace.reflections.reflectors import Reflectors, SurfaceRect, find_reflectors, place_patch
    from raytrace.reflections.response import (
        SAMPLE_RATE_HZ,
        Curve,
        EarlyResponse,
        band_window,
        direct_peaks,
        early_responses,
        energy_time_curve,
        energy_time_curves,
        pressure_at,
        transfer,
    )
    from raytrace.reflections.search_extent import (
        MOST_PATHS,
        USUAL_ORDER,
        ZONE_SLACK_S,
        Reach,
        expected_paths,
    )
    from raytrace.reflections.wavechecks import WAVE_CHECKS, WaveCheck
    from raytrace.reflections.wavefronts import WaveFronts, speaker_fronts, trace_fronts
    from raytrace.reflections.zone import N_PLACES, ZoneArrivals, ZoneCurves, zone_curves

__all__ = [
    "HIDDEN_DB",
    "MOST_PATHS",
    "N_CORNERS",
    "N_PLACES",
    "PATCH_MEAN_ERROR_DB",
    "PATCH_WORST_ERROR_DB",
    "SAMPLE_RATE_HZ",
    "USUAL_ORDER",
    "WAVE_CHECKS",
    "ZONE_SLACK_S",
    "Arrivals",
    "BeamTree",
    "Crossings",
    "Curve",
    "EarlyResponse",
    "FreeEdges",
    "Memory",
    "PanelParts",
    "Paths",
    "PointArrivals",
    "Progress",
    "Reach",
    "Reflectors",
    "SeatPoints",
    "SurfaceRect",
    "WaveCheck",
    "WaveFronts",
    "ZoneArrivals",
    "ZoneCurves",
    "band_window",
    "decibels",
    "direct_peaks",
    "early_responses",
    "energy_time_curve",
    "energy_time_curves",
    "expected_paths",
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
    "panel_parts",
    "path_ends",
    "place_patch",
    "pressure_at",
    "returned_pressure",
    "search_arrivals",
    "sent_pressure",
    "shared_by_crossings",
    "speaker_directivity",
    "speaker_fronts",
    "tabulate",
    "together",
    "trace_fronts",
    "transfer",
    "wall_reflection",
    "with_pressures",
    "zone_curves",
    "zone_points",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
