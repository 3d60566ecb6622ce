"""Where panels beyond the fewest may be wanted: what is near the limit, and all walls and ceilings."""

from collections.abc import Collection, Iterator

import numpy as np
from numpy.typing import NDArray

from raytrace.proposing.panelgrid import WantedSpot, wanted_spots
from raytrace.room import looks_up
from raytrace.study import Study

Floats = NDArray[np.float64]

_NEAR_DB = 9.0  # below the limit: what is stronger may be brought down further
_STEP_M = 0.3  # from spot to spot where any place does
_REACH_M = (0.3, 2.1)  # over the floor: what people can hang, and where ears and speakers are


def further_spots(study: Study, seats: Collection[int]) -> tuple[WantedSpot, ...]:
    """Spots of all that comes near the limit at some seats.

    Parameters
    ----------
    study : Study
    seats : collection of int
    """
    return wanted_spots(study.scene, study.room, study.arrivals, seats, near_db=_NEAR_DB)


def bare_spots(study: Study) -> tuple[WantedSpot, ...]:
    """Spots all over the walls and ceilings of a room: for the decay, flutter, the back wall.

    Parameters
    ----------
    study : Study
    """
    rattles = {surface for f in study.flutter for surface in (f.surface_a, f.surface_b)}
    return tuple(
        WantedSpot(surface, uv, 2.0 if surface in rattles else 1.0, anywhere=True)
        for surface, own in enumerate(study.room.surfaces)
        if own.owner is None and not looks_up(own.frame.n)
        for uv in _lattice(study, surface)
    )


def _lattice(study: Study, surface: int) -> Iterator[Floats]:
    """Points (2,) of a surface within reach, from its middle outwards; its outline is not looked at. [m]"""
    room, frame = study.room, study.room.surfaces[surface].frame
    corners = np.concatenate([frame.to_plane(room.facets[k].outline) for k in room.surfaces[surface].facets])
    low, high = corners.min(axis=0), corners.max(axis=0)
    sides = []
    for a, b in zip(low, high, strict=True):
        count = max(int((b - a) // _STEP_M), 1)
        sides.append(a + (b - a) * (np.arange(count) + 0.5) / count)
    uv = np.stack(np.meshgrid(*sides, indexing="ij"), axis=-1).reshape(-1, 2)
    floor_m = min(float(facet.outline[:, 2].min()) for facet in room.facets[: room.n_solid_facets])
    up_m = frame.to_room(uv)[:, 2] - floor_m
    is_upright = abs(float(frame.n[2])) < 0.3
    kept = uv[(up_m > _REACH_M[0]) & (up_m < _REACH_M[1])] if is_upright else uv
    order = np.lexsort(
        (kept[:, 1], kept[:, 0], np.round(np.linalg.norm(kept - 0.5 * (low + high), axis=1), 3))
    )
    yield from kept[order]
