"""Distances in the room: between two points, or from a point square to an edge."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from raytrace import Study, format_length
from viewer.pictures import Camera
from viewer.window.state.adding import surface_under
from viewer.window.state.pointing import nearest_line, nearest_point, ray

Floats = NDArray[np.float64]
Point = tuple[float, float, float]

POINT_PX, EDGE_PX = 12.0, 8.0
BEGIN_WORDS = (
    "Measure: click a corner, an edge, a speaker, the ears or any place on a surface. Escape ends it."
)
SECOND_WORDS = "Measure: click the other end; an edge is measured to squarely."


@dataclass(frozen=True)
class Measuring:
    """A distance that is being measured or has been: its ends so far, and what they are. [m]"""

    ends: tuple[Point, ...] = ()
    what: tuple[str, ...] = ()

    @property
    def is_whole(self) -> bool:
        """Whether it has both ends."""
        return len(self.ends) == 2


def with_end(measuring: Measuring, study: Study, camera: Camera, pixel: tuple[float, float]) -> Measuring:
    """The measurement with a further end at a pixel; a whole one begins anew there, one at nothing stays."""
    begun = Measuring() if measuring.is_whole else measuring
    found = _place_at(study, camera, pixel, np.array(begun.ends[0]) if begun.ends else None)
    if found is None:
        return measuring
    place, what = found
    x, y, z = place.tolist()
    return Measuring((*begun.ends, (x, y, z)), (*begun.what, what))


def measure_words(measuring: Measuring, units: str) -> str:
    """What has been measured, or what to click next."""
    if not measuring.is_whole:
        return SECOND_WORDS if measuring.ends else BEGIN_WORDS
    step = np.subtract(measuring.ends[1], measuring.ends[0])
    along, across, up = (format_length(float(abs(part)), units=units) for part in step)
    whole = format_length(float(np.linalg.norm(step)), units=units)
    first, second = measuring.what
    return (
        f"{whole} from {first} to {second}: {along} along the room, {across} across, {up} in height. "
        "Click to measure again, Escape ends it."
    )


def _place_at(
    study: Study, camera: Camera, pixel: tuple[float, float], other: Floats | None
) -> tuple[Floats, str] | None:
    """What is meant by a click: a named point, a corner, an edge or a surface, whichever is near first."""
    scene = study.scene
    named = [(np.array(own.position), own.name) for own in scene.speakers]
    named += [(np.array(own.ears), f"the ears at {own.name}") for own in scene.seats]
    outlines = [facet.outline for facet in study.room.facets]
    named += [(corner, "a corner") for corner in np.unique(np.vstack(outlines).round(9), axis=0)]
    at = nearest_point(camera, np.array([point for point, _ in named]), pixel, POINT_PX)
    if at is not None:
        return named[at]
    edges = [np.array(ends) for line in outlines for ends in pairwise(np.vstack([line, line[:1]]))]
    near = nearest_line(camera, edges, pixel, EDGE_PX)
    if near is not None:
        start, end = edges[near]
        origin, direction = ray(camera, pixel)
        foot = _nearest_to_ray(start, end, origin, direction) if other is None else _foot(start, end, other)
        return foot, "an edge"
    found = surface_under(study.room, camera, pixel, "any")
    return None if found is None else (found[1], f"the {study.room.surfaces[found[0]].name}")


def _foot(start: Floats, end: Floats, point: Floats) -> Floats:
    """The place on an edge that is nearest to a point."""
    way = end - start
    share = float(np.clip((point - start) @ way / (way @ way), 0.0, 1.0))
    return np.asarray(start + share * way)


def _nearest_to_ray(start: Floats, end: Floats, origin: Floats, direction: Floats) -> Floats:
    """The place on an edge that is nearest to a line of sight."""
    way = end - start
    flat = way - (way @ direction) * direction
    offset = origin - start
    offset = offset - (offset @ direction) * direction
    size = float(flat @ flat)
    share = 0.5 if size < 1e-18 else float(np.clip(offset @ flat / size, 0.0, 1.0))
    return np.asarray(start + share * way)
