"""How far spots and areas move when measured lengths are off: mirrored anew through the same faces."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.reflections import N_CORNERS, zone_points
from raytrace.room import Room, build_room
from raytrace.scene import Scene, SceneError
from raytrace.study import Study
from raytrace.surveying.numbers import SurveyNumber
from raytrace.verdicts import TreatmentArea, area_outline, fresnel_zone

Floats = NDArray[np.float64]

_STEP_M = 1e-4  # corners of a patch move on by less, and rounding is 1e-11 of it


@dataclass(frozen=True)
class AreaErrors:
    """How far the figures on a set-out sheet may be off for one area.

    Attributes
    ----------
    area : TreatmentArea
    figures_m : (8,) float
        Distances of its spot from the near and far side of u and of v, then those of the area's own near
        sides: what a tape is laid along. [m]
    slopes : (n_numbers, 8) float
        How far each of them moves per metre of each number; NaN where a number's change leaves no such face.
    error_m : (8,) float
        One standard error of each. [m]
    """

    area: TreatmentArea
    figures_m: Floats
    slopes: Floats
    error_m: Floats

    @property
    def nearer(self) -> tuple[int, int]:
        """Columns of the spot's distances from the nearer side of u and of v: where a tape is shorter."""
        u, v = (k + int(self.figures_m[k + 1] < self.figures_m[k]) for k in (0, 2))
        return u, v

    def shares(self, numbers: Sequence[SurveyNumber]) -> Floats:
        """Part of each number in the variance of the spot's two nearer distances together, (n_numbers,)."""
        variance = self.variance_m2(numbers)
        parts: Floats = variance / max(float(variance.sum()), 1e-300)
        return parts

    def variance_m2(self, numbers: Sequence[SurveyNumber]) -> Floats:
        """What each number adds to that variance, (n_numbers,). [m2]"""
        moved = (np.nan_to_num(self.slopes[:, list(self.nearer)]) * _errors_m(numbers)[:, None]) ** 2
        added: Floats = moved.sum(axis=1)
        return added


@dataclass(frozen=True)
class _Way:
    """One area as the paths that make it: faces met, which bounce it is of, zone points that hear it."""

    area: TreatmentArea
    facets: tuple[int, ...]
    bounce: int
    zone: tuple[int, ...]


def _errors_m(numbers: Sequence[SurveyNumber]) -> Floats:
    return np.array([number.error_m for number in numbers], np.float64)


def find_area_errors(
    study: Study, areas: Sequence[TreatmentArea], numbers: Sequence[SurveyNumber]
) -> tuple[AreaErrors, ...]:
    """Errors of set-out figures for some areas of a study, in their order.

    Parameters
    ----------
    study : Study
    areas : sequence of TreatmentArea
        Of this study.
    numbers : sequence of SurveyNumber
        From `survey_numbers`.

    Notes
    -----
    Central differences of the mirror construction through the faces that each path meets now.
    """
    ways = [_way(study, area) for area in areas]
    slopes = np.stack([_moved(study, ways, number) for number in numbers], axis=1) if numbers else None
    found = []
    for k, way in enumerate(ways):
        own = np.zeros((0, 8)) if slopes is None else slopes[k]
        error_m = np.sqrt(np.sum((np.nan_to_num(own) * _errors_m(numbers)[:, None]) ** 2, axis=0))
        figures_m = _figures(study.scene, study.room, way)
        assert figures_m is not None
        found.append(AreaErrors(way.area, figures_m, own, error_m))
    return tuple(found)


def _way(study: Study, area: TreatmentArea) -> _Way:
    arrivals, row = study.arrivals, area.rows[0]
    order = int(arrivals.order[row])
    at = [k for k in range(order) if arrivals.path_surfaces[row, k] == area.surface]
    bounce = min(at, key=lambda k: float(np.linalg.norm(arrivals.spots[row, k] - area.spots[0])))
    facets = tuple(arrivals.path_facets[row, :order].tolist())
    zone = tuple(
        point.zone_point
        for point in arrivals.at_points
        if (point.speaker, point.seat) == (area.speaker, area.seat)
        and point.zone_point < N_CORNERS
        and any(tuple(f for f in own if f >= 0) == facets for own in point.paths.facets.tolist())
    )
    return _Way(area, facets, bounce, zone)


def _moved(study: Study, ways: Sequence[_Way], number: SurveyNumber) -> Floats:
    """Slope of each way's figures with one number, (n_ways, 8)."""
    ends = []
    for step in (-_STEP_M, _STEP_M):
        scene = number.shifted(study.scene, step)
        room = _room(study, scene) if number.moves_walls else study.room
        figures = [None if room is None else _figures(scene, room, way) for way in ways]
        ends.append([np.full(8, np.nan) if own is None else own for own in figures])
    before, after = np.array(ends).reshape(2, len(ways), 8)
    slopes: Floats = (after - before) / (2.0 * _STEP_M)
    return slopes


def _room(study: Study, scene: Scene) -> Room | None:
    """The room with a number off; None where it has not the same faces any more."""
    try:
        room = build_room(scene)
    except SceneError:
        return None
    same = len(room.facets) == len(study.room.facets) and room.surface_names == study.room.surface_names
    return room if same else None


def _figures(scene: Scene, room: Room, way: _Way) -> Floats | None:
    """Distances that a tape is laid along for one area, (8,); None where a path meets no face. [m]"""
    source = np.array(scene.speakers[way.area.speaker].position)
    places = zone_points(scene.seats[way.area.seat])
    frame = room.surfaces[way.area.surface].frame
    zones = []
    for point in way.zone:
        points = mirrored_path(room, way.facets, source, places[point])
        if not np.isfinite(points).all():
            return None
        zones.append(fresnel_zone(frame, points, way.bounce, room.speed_of_sound_m_s))
    face = room.facets[way.facets[way.bounce]]
    outline = area_outline(frame, face.outline, [ellipse for _, ellipse in zones])
    if not len(outline):
        return None
    far = np.array([frame.width, frame.height])
    (u, v), low, high = zones[0][0], outline.min(axis=0), outline.max(axis=0)
    spot = (u, far[0] - u, v, far[1] - v)
    return np.array([*spot, low[0], far[0] - high[0], low[1], far[1] - high[1]])


def mirrored_path(room: Room, facets: Sequence[int], source: Floats, listener: Floats) -> Floats:
    """Points of the path over the planes of some faces, whether or not it meets the faces, (n + 2, 3). [m]

    Not finite where a leg runs along the plane that it should meet.
    """
    images = [source]
    for facet in facets:
        face = room.facets[facet]
        off_m = float(images[-1] @ face.normal) - face.offset
        images.append(images[-1] - 2.0 * off_m * face.normal)
    points = [listener]
    for facet, image in zip(reversed(facets), reversed(images[1:]), strict=True):
        face, towards = room.facets[facet], image - points[-1]
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.float64(face.offset - float(points[-1] @ face.normal)) / float(towards @ face.normal)
            points.append(points[-1] + share * towards)
    return np.array([source, *reversed(points)])
