"""A surface as it lies on paper, and the spots an installer measures on it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace import (
    AreaErrors,
    Orientation,
    Room,
    Study,
    TreatmentArea,
    find_area_errors,
    find_targets,
    is_overhead,
    orientation,
    survey_numbers,
)
from viewer.paper import crossings

Floats = NDArray[np.float64]

LEFT, RIGHT, UPPER, LOWER = range(4)


@dataclass(frozen=True)
class Spot:
    """One place to set out: where a reflection meets the surface, and the area round it.

    Attributes
    ----------
    letter : str
        Its name on the sheet.
    patch : TreatmentArea
        What it was taken from.
    caught : tuple of int
        Rows of longer ways in `Arrivals` that cross the same area and are treated with it.
    uv : (2,) tuple
        The bounce point for the ears in the surface's set-out frame. [m]
    sides_m : (4,) tuple
        Its distances from the left, right, upper and lower side of the drawing. [m]
    area_sides_m : (4,) tuple
        The same for the area's own left, right, upper and lower side. [m]
    outline_m : (4,) tuple of float or None
        Distances to the outline to the left, right, above and below, None where that is the side. [m]
    off_m : (2,) tuple
        How far the spot may be off across and up or along, one standard error of the survey, from whichever
        side it is measured. [m]
    """

    letter: str
    patch: TreatmentArea
    caught: tuple[int, ...]
    uv: tuple[float, float]
    sides_m: tuple[float, ...]
    area_sides_m: tuple[float, ...]
    outline_m: tuple[float | None, ...]
    off_m: tuple[float, float]


class FaceView:
    """A surface in h from the left and w downwards from the top, both in metres.

    Walls and slopes are seen from inside the room; a level face is a plan with the front wall at the
    top and the left wall at the left.
    """

    def __init__(self, room: Room, index: int) -> None:
        self.surface = room.surfaces[index]
        self.frame = self.surface.frame
        lies = orientation(self.frame.n)
        self.is_plan, self.is_slope = lies.is_level, lies is Orientation.SLOPING
        self.is_overhead = is_overhead(self.frame.n)
        facets = [room.facets[i] for i in self.surface.facets]
        self.outlines = [self.from_room(facet.outline) for facet in facets]
        self.holes = [self.from_room(hole) for facet in facets for hole in facet.holes]
        wide, high = float(self.frame.width), float(self.frame.height)
        self.width_m, self.height_m = (high, wide) if self.is_plan else (wide, high)
        self.lowest_m = float(min(facet.outline[:, 2].min() for facet in facets))
        self.neighbours = tuple(self._neighbour(room, index, side) for side in range(4))

    def from_room(self, points: ArrayLike) -> Floats:
        """Points of the room (n, 3) as h, w (n, 2). [m]"""
        return self.from_frame(self.frame.to_plane(np.asarray(points, np.float64)))

    def from_frame(self, uv: ArrayLike) -> Floats:
        """Set-out coordinates (n, 2) as h, w (n, 2). [m]"""
        uv = np.asarray(uv, np.float64).reshape(-1, 2)
        return uv[:, ::-1] if self.is_plan else np.column_stack([uv[:, 0], self.frame.height - uv[:, 1]])

    def sides(self, uv: ArrayLike) -> tuple[float, ...]:
        """Distances of a place from the left, right, upper and lower side. [m]"""
        h, w = (float(x) for x in self.from_frame(uv)[0])
        return h, self.width_m - h, w, self.height_m - w

    def area_sides(self, rect: ArrayLike) -> tuple[float, ...]:
        """Distances of the near sides of an upright rectangle u0, v0, u1, v1 from the four sides. [m]"""
        u0, v0, u1, v1 = (float(x) for x in np.asarray(rect))
        ends = zip(self.sides((u0, v0)), self.sides((u1, v1)), strict=True)
        return tuple(max(0.0, min(pair)) for pair in ends)

    def outline_sides(self, uv: ArrayLike) -> tuple[float | None, ...]:
        """Distances to the outline to the left, right, above and below; None where it is the side. [m]"""
        place = self.from_frame(uv)[0]
        found: list[float | None] = []
        for side, to_side in enumerate(self.sides(uv)):
            along = 0 if side in (LEFT, RIGHT) else 1
            across = np.array([0.0, 1.0]) if along == 0 else np.array([1.0, 0.0])
            forwards = 1.0 if side in (RIGHT, LOWER) else -1.0
            ahead = [
                forwards * float(crossing[along] - place[along])
                for outline in (*self.outlines, *self.holes)
                for crossing in crossings(outline, across, float(place @ across) + 1e-9)
            ]
            # A spot on an edge looks past it: that edge lies at no distance on both sides.
            nearest = min((step for step in ahead if step > 1e-6), default=to_side)
            found.append(nearest if abs(nearest - to_side) > 0.0005 else None)
        return tuple(found)

    def off_sides(self, errors_m: ArrayLike) -> tuple[float, float]:
        """Larger error of a spot's distances (near u, far u, near v, far v) across, and up or along. [m]"""
        u, v = np.asarray(errors_m, np.float64).reshape(2, 2).max(axis=1).tolist()
        return (v, u) if self.is_plan else (u, v)

    def _neighbour(self, room: Room, index: int, side: int) -> str:
        """The surface that meets the longest edge lying on this side, "" where there is none."""
        axis = 0 if side in (LEFT, RIGHT) else 1
        limit = (0.0, self.width_m, 0.0, self.height_m)[side]
        longest, name = 0.0, ""
        for facet, outline in zip(self.surface.facets, self.outlines, strict=True):
            corners = room.facets[facet].outline
            for i in range(len(outline)):
                j = (i + 1) % len(outline)
                length = float(np.linalg.norm(outline[j] - outline[i]))
                on_side = max(abs(outline[i][axis] - limit), abs(outline[j][axis] - limit)) < 1e-6
                if on_side and length > longest:
                    longest, name = length, _surface_at(room, index, (corners[i] + corners[j]) / 2.0)
        return name


Targets = Sequence[tuple[AreaErrors, tuple[int, ...]]]


def target_errors(study: Study) -> dict[int, Targets]:
    """Areas to set out by surface with how far they may be off, and the longer ways treated with them."""
    targets = find_targets(study)
    patches = [patch for own in targets.values() for patch, _ in own]
    errors = iter(find_area_errors(study, patches, survey_numbers(study.scene)))
    return {index: [(next(errors), caught) for _, caught in own] for index, own in targets.items()}


def find_spots(view: FaceView, targets: Targets) -> tuple[Spot, ...]:
    """Spots of the areas to set out on one surface, strongest first, named A, B, C ..."""
    spots = []
    for number, (errors, caught) in enumerate(targets):
        patch = errors.area
        uv = (float(patch.spots[0][0]), float(patch.spots[0][1]))
        letter = chr(ord("A") + number % 26) + (str(number // 26) if number >= 26 else "")
        area_sides, outline = view.area_sides(patch.rect), view.outline_sides(uv)
        off = view.off_sides(errors.error_m[:4])
        spots.append(Spot(letter, patch, caught, uv, view.sides(uv), area_sides, outline, off))
    return tuple(spots)


def _surface_at(room: Room, index: int, point: Floats) -> str:
    """Name of another surface with an edge through a point, the room's own first."""
    for of_room in (True, False):
        for other, surface in enumerate(room.surfaces):
            if other == index or (surface.owner is None) is not of_room:
                continue
            outlines = [room.facets[i].outline for i in surface.facets]
            if any(_distance_to_edges(point, outline) < 1e-6 for outline in outlines):
                return str(surface.name)
    return ""


def _distance_to_edges(point: Floats, outline: Floats) -> float:
    """Distance from a point (3,) to the nearest edge of a closed outline (n, 3). [m]"""
    edges = np.roll(outline, -1, axis=0) - outline
    towards = point - outline
    lengths = np.maximum(np.sum(edges**2, axis=1), 1e-18)
    along = np.clip(np.sum(towards * edges, axis=1) / lengths, 0.0, 1.0)
    return float(np.linalg.norm(towards - along[:, None] * edges, axis=1).min())
