"""Scene -> Room: surfaces, facets, set-out frames; hits and sight lines. Hides tolerances and kernels."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.acoustics import Medium, air_density_kg_m3, speed_of_sound_m_s
from raytrace.facts import Sentence
from raytrace.room.cabinets import Cabinet, cabinet_name, cabinet_places, cabinet_polygons
from raytrace.room.clearances import Site, check_clearances
from raytrace.room.facets import Facet, facet_arrays, facet_distance_m, turns_around, turns_beside
from raytrace.room.fitting import check_keep_outs, check_positions, place_openings
from raytrace.room.panels import FreePanelGroup, PlacedPanel, free_panel_groups, place_panels
from raytrace.room.panelsound import with_free_panels
from raytrace.room.polygons import NamedPolygon
from raytrace.room.rays import HitIndex, clear_legs, first_hits, index_facets, pack_pieces
from raytrace.room.shapes import Shape, object_shape, room_shape
from raytrace.room.skins import outside_notes, skins_of, triangles_of, volume_m3
from raytrace.room.surfaces import (
    Gathered,
    PlacedOpening,
    Surface,
    assumed_notes,
    check_joist_words,
    check_surface_names,
    gather_surfaces,
    with_openings,
)
from raytrace.scene import Scene

if TYPE_CHECKING:
    from raytrace.kernels.facets import FacetArrays

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_TOLERANCE = 1e-9  # of the room's size: how near an edge a spot is on it


@dataclass(frozen=True)
class Room:
    """The air of a room with everything that reflects or stands in the way.

    Objects reach through surfaces of the room freely: a path that a covered part would reflect is
    stopped by the object on its way, so nothing is cut out of the surface.

    Attributes
    ----------
    surfaces : tuple of Surface
        Of the room in the order of its shape, then of the objects, then both sides of each group of free
        panels.
    facets : tuple of Facet
        Likewise.
    triangles : (n_triangles, 3, 3) float
        Anticlockwise as seen from the air. [m]
    facet_of_triangle, surface_of_triangle : (n_triangles,) int
    openings : tuple of PlacedOpening
    panels : tuple of PlacedPanel
    free_groups : tuple of FreePanelGroup
        Panels that hang free. Sound passes them, so they stand in no path's way.
    n_solid_facets : int
        Facets that do; those of free panels follow them, front and back of one group after the other.
    medium : Medium
        The air.
    bounds : (2, 3) float
        Smallest and largest coordinates of the room itself. [m]
    volume_m3, floor_area_m2, surface_area_m2 : float
        Of the room itself, objects neither taken off nor added; the floor as seen in plan.
    speed_of_sound_m_s : float
    notes : tuple of Sentence
        What the reader of any result must know about the shape.
    facet_arrays : FacetArrays
        The facets for the kernels.
    cabinets : tuple of Cabinet
        Of the speakers whose body is given; their facets are among those of the objects.
    """

    surfaces: tuple[Surface, ...]
    facets: tuple[Facet, ...]
    triangles: Floats
    facet_of_triangle: Ints
    surface_of_triangle: Ints
    openings: tuple[PlacedOpening, ...]
    panels: tuple[PlacedPanel, ...]
    free_groups: tuple[FreePanelGroup, ...]
    n_solid_facets: int
    medium: Medium
    bounds: Floats
    volume_m3: float
    floor_area_m2: float
    surface_area_m2: float
    speed_of_sound_m_s: float
    notes: tuple[Sentence, ...]
    facet_arrays: "FacetArrays"
    cabinets: tuple[Cabinet, ...] = ()

    @property
    def size_m(self) -> float:
        """Diagonal of the box around the room."""
        return float(np.linalg.norm(self.bounds[1] - self.bounds[0]))

    @property
    def tolerance_m(self) -> float:
        """How near an edge a spot counts as on it: the one tolerance of all geometry."""
        return _TOLERANCE * self.size_m

    @property
    def surface_names(self) -> tuple[str, ...]:
        """Names in the order of `surfaces`."""
        return tuple(surface.name for surface in self.surfaces)

    @cached_property
    def is_room_surface(self) -> Bools:
        """Whether a surface belongs to the room itself and not to an object. (n_surfaces,)"""
        return np.array([surface.owner is None for surface in self.surfaces])

    @cached_property
    def skins(self) -> dict[str | None, Floats]:
        """Triangles (n, 3, 3) of the room and of each object, by owner; None for the room. [m]"""
        solid = self.facet_of_triangle < self.n_solid_facets
        triangles = self.triangles[solid]
        owners = np.array([surface.owner for surface in self.surfaces])[self.surface_of_triangle[solid]]
        return {owner: triangles[owners == owner] for owner in dict.fromkeys(owners.tolist())}

    @property
    def is_cabinet(self) -> Bools:
        """Whether a surface belongs to the cabinet of a speaker. (n_surfaces,)"""
        owners = {cabinet.owner for cabinet in self.cabinets}
        return np.array([surface.owner in owners for surface in self.surfaces])

    def own_facets(self, source: ArrayLike) -> Ints:
        """Facets that sound from a speaker at a place (3,) passes: those of its own cabinet, (n,)."""
        place = np.asarray(source, np.float64)
        own = [cabinet.facets for cabinet in self.cabinets if np.array_equal(cabinet.position, place)]
        return np.concatenate([np.zeros(0, np.int64), *own])

    @cached_property
    def _obstacles(self) -> HitIndex:
        """The facets that stand in the way, made ready for rays."""
        return self._index(np.arange(self.n_solid_facets))

    def _index(self, kept: Ints) -> HitIndex:
        """Some facets made ready for rays; hits count them by their place in `kept`."""
        own = np.isin(self.facet_of_triangle, kept)
        return index_facets(
            facet_arrays([self.facets[k] for k in kept]),
            self.triangles[own],
            np.searchsorted(kept, self.facet_of_triangle[own]),
            tolerance_m=self.tolerance_m,
        )

    @cached_property
    def ray_pieces(self) -> Any:
        """All facets, those of free panels too, made ready for the kernel that follows many rays."""
        return pack_pieces(self.facet_arrays, self.triangles, self.facet_of_triangle)

    def surface_index(self, name: str) -> int:
        """Index of a surface by its name; ValueError where there is none."""
        return self.surface_names.index(name)

    def first_hit(self, origins: ArrayLike, directions: ArrayLike) -> tuple[Floats, Ints]:
        """Where rays first meet a facet, from either side.

        Parameters
        ----------
        origins, directions : (n, 3) array_like
            Starts [m]; unit vectors.

        Returns
        -------
        distance_m : (n,) float
            inf where a ray leaves the room through a hole.
        facet : (n,) int
            -1 likewise. Facets are closed: a ray aimed at an edge or corner hits.
        """
        origins, directions = _pairs(origins, directions, "origins", "directions")
        return first_hits(self._obstacles, origins, directions)

    def is_clear(self, starts: ArrayLike, ends: ArrayLike) -> Bools:
        """Whether nothing stands between pairs of points.

        Parameters
        ----------
        starts, ends : (n, 3) array_like
            [m]

        Returns
        -------
        (n,) bool
            An end on a facet, a leg along a facet and a leg that just touches an edge are clear.
        """
        starts, ends = _pairs(starts, ends, "starts", "ends")
        return clear_legs(self._obstacles, starts, ends)

    def is_heard(self, source: ArrayLike, points: ArrayLike) -> Bools:
        """Whether nothing but its own cabinet stands between a speaker (3,) and points (n, 3), (n,)."""
        ends = np.ascontiguousarray(points, np.float64)
        starts = np.ascontiguousarray(np.broadcast_to(np.asarray(source, np.float64), ends.shape))
        own = self.own_facets(source)
        if not len(own):
            return self.is_clear(starts, ends)
        return clear_legs(self._index(np.setdiff1d(np.arange(self.n_solid_facets), own)), starts, ends)

    def first_between(self, source: ArrayLike, point: ArrayLike) -> int:
        """The facet that first stands between a speaker (3,) and a point (3,), past its cabinet; -1: none."""
        start, end = (np.asarray(place, np.float64) for place in (source, point))
        kept = np.setdiff1d(np.arange(self.n_solid_facets), self.own_facets(start))
        length_m = float(np.linalg.norm(end - start))
        distance_m, facet = first_hits(self._index(kept), start[None], (end - start)[None] / length_m)
        return int(kept[facet[0]]) if distance_m[0] < length_m - self.tolerance_m else -1

    def no_wall_between(self, source: ArrayLike, points: ArrayLike) -> Bools:
        """Whether no face of the room itself stands between a speaker (3,) and points (n, 3), (n,)."""
        ends = np.ascontiguousarray(points, np.float64)
        clear = self.is_heard(source, ends)
        if clear.all():
            return clear
        starts = np.ascontiguousarray(np.broadcast_to(np.asarray(source, np.float64), ends.shape))
        facets = self.facets[: self.n_solid_facets]
        walls = [k for k, facet in enumerate(facets) if self.surfaces[facet.surface].owner is None]
        return clear | clear_legs(self._index(np.array(walls, np.int64)), starts, ends)

    def faces_at(self, position: ArrayLike) -> Floats:
        """Normals into the air of the room's own faces that a point (3,) lies in, (n, 3); usually none."""
        point = np.asarray(position, np.float64)
        normals, offsets = (a[: self.n_solid_facets] for a in self.facet_arrays[:2])
        near = np.flatnonzero(np.abs(normals @ point - offsets) <= self.tolerance_m)
        met = [
            k
            for k in near
            if self.surfaces[self.facets[k].surface].owner is None
            and facet_distance_m(point, self.facets[k]) <= self.tolerance_m
        ]
        return np.asarray(normals[met], np.float64).reshape(-1, 3)

    def contains(self, points: ArrayLike) -> Bools:
        """Whether points are in the air: inside the room, in no object, on no face.

        Parameters
        ----------
        points : (n, 3) array_like
            [m]

        Returns
        -------
        (n,) bool
        """
        points = np.asarray(points, np.float64).reshape(-1, 3)
        in_air = self._in_air(points, points, lambda rows, skin: turns_around(points[rows], skin))
        return self._off_faces(points, in_air)

    def contains_beside(self, middles: Floats, beside: Floats) -> Bools:
        """The same of points (n, k, 3) [m] from others (n, 3), none of them farther off than 1 mm: (n, k)."""
        points = middles[:, None] + beside
        in_air = self._in_air(
            points.min(axis=1),
            points.max(axis=1),
            lambda rows, skin: turns_beside(middles[rows], beside[rows], skin),
        )
        normals, offsets = (a[: self.n_solid_facets] for a in self.facet_arrays[:2])
        reach_m = np.linalg.norm(beside, axis=2).max(initial=0.0) + self.tolerance_m
        rows, near = np.nonzero(np.abs(middles @ normals.T - offsets) <= reach_m)
        heights = np.einsum("nki,ni->nk", points[rows], normals[near]) - offsets[near, None]
        for pair, k in np.argwhere((np.abs(heights) <= self.tolerance_m) & in_air[rows]):
            point, facet = points[rows[pair], k], self.facets[near[pair]]
            in_air[rows[pair], k] &= facet_distance_m(point, facet) > self.tolerance_m
        return in_air

    def _in_air(self, low: Floats, high: Floats, turns: Callable[[Ints, Floats], Floats]) -> Bools:
        """Where `turns` of rows is within the room's skin and around no object's; low and high (n, 3) [m]."""
        result: Bools = np.abs(turns(np.arange(len(low)), self.skins[None])) > 0.5
        owners, lows, highs = self._object_boxes
        # No skin surrounds what lies beyond its box.
        met: Bools = np.all((high[:, None] >= lows) & (low[:, None] <= highs), axis=2)
        for k in np.flatnonzero(met.any(axis=0)).tolist():
            rows = np.flatnonzero(met[:, k])
            result[rows] &= np.abs(turns(rows, self.skins[owners[k]])) <= 0.5
        return result

    @cached_property
    def _object_boxes(self) -> tuple[list[str], Floats, Floats]:
        """Objects, and the smallest and largest x, y, z of each, both (n, 3). [m]"""
        skins = {owner: skin for owner, skin in self.skins.items() if owner is not None}
        lows = [skin.min(axis=(0, 1)) for skin in skins.values()]
        highs = [skin.max(axis=(0, 1)) for skin in skins.values()]
        return list(skins), np.array(lows).reshape(-1, 3), np.array(highs).reshape(-1, 3)

    def _off_faces(self, points: Floats, in_air: Bools) -> Bools:
        """Which of the points (n, 3) in the air lie on no face."""
        normals, offsets = (a[: self.n_solid_facets] for a in self.facet_arrays[:2])
        heights = points @ normals.T - offsets
        for point, facet in np.argwhere((np.abs(heights) <= self.tolerance_m) & in_air[:, None]):
            in_air[point] &= facet_distance_m(points[point], self.facets[facet]) > self.tolerance_m
        return in_air


def _pairs(first: ArrayLike, second: ArrayLike, first_name: str, second_name: str) -> tuple[Floats, Floats]:
    a, b = np.ascontiguousarray(first, np.float64), np.ascontiguousarray(second, np.float64)
    if a.ndim != 2 or a.shape[1:] != (3,) or a.shape != b.shape:
        raise ValueError(f"{first_name} {a.shape} and {second_name} {b.shape} must both be (n, 3)")
    return a, b


@dataclass(frozen=True)
class Shell:
    """What of a room stays when only panels, speakers and seats of its scene change.

    Attributes
    ----------
    scene : Scene
        That it was made of.
    shapes : tuple of Shape
        Of the room, then of the objects.
    cabinets : tuple
        Faces of the speakers' cabinets, and the direction of each one's depth.
    gathered : Gathered
        The faces of all of them, with the surfaces and facets that they became.
    openings : tuple of PlacedOpening
    skins : dict
        Triangles (n, 3, 3) of the room and of each object, by owner; None for the room. [m]
    notes : tuple of Sentence
    """

    scene: Scene
    shapes: tuple[Shape, ...]
    cabinets: tuple[tuple[NamedPolygon, ...], dict[str, Floats]]
    gathered: Gathered
    openings: tuple[PlacedOpening, ...]
    skins: dict[str | None, Floats]
    notes: tuple[Sentence, ...]

    @property
    def surfaces(self) -> tuple[Surface, ...]:
        """Of the room and its objects."""
        return self.gathered.surfaces

    @property
    def facets(self) -> tuple[Facet, ...]:
        """Of the room and its objects."""
        return self.gathered.facets


def build_shell(scene: Scene, known: Shell | None = None) -> Shell:
    """Walls, objects and openings of a scene.

    Parameters
    ----------
    scene : Scene
    known : Shell, optional
        Of a scene that differs in its objects, speakers, seats and panels at most: what has not moved is
        taken from there as it is, all of it where nothing has.

    Raises
    ------
    SceneError
        For a shape that closes no room, a surface without material or with an unknown name, an opening
        that leaves its surface.
    """
    same_cabinets = known is not None and cabinet_places(known.scene) == cabinet_places(scene)
    if known is not None and same_cabinets and known.scene.objects == scene.objects:
        return known
    shape, things = _shapes(scene, known)
    lengths = {entry.name: thing.length for entry, thing in zip(scene.objects, things, strict=True)}
    cabinets = known.cabinets if known is not None and same_cabinets else cabinet_polygons(scene)
    lengths |= cabinets[1]
    polygons = [*shape.polygons, *(polygon for thing in things for polygon in thing.polygons), *cabinets[0]]
    gathered = gather_surfaces(scene, polygons, lengths, None if known is None else known.gathered)
    surfaces, facets = gathered.surfaces, gathered.facets
    if known is not None and _carries_alone(scene, gathered, known.gathered):
        openings = known.openings
    else:
        check_surface_names(scene, surfaces)
        check_joist_words(scene, surfaces)
        openings = place_openings(scene, surfaces, facets)
        check_keep_outs(scene, surfaces, facets)
    skins = skins_of(surfaces, facets)
    own_notes = [note for part in (shape, *things) for note in part.notes]
    notes = (*assumed_notes(scene), *own_notes, *outside_notes(skins))
    return Shell(scene, (shape, *things), cabinets, gathered, openings, skins, notes)


def _carries_alone(scene: Scene, gathered: Gathered, known: Gathered) -> bool:
    """Whether surfaces are called as before and openings and keep-outs lie on those of the room itself."""
    names = [surface.name for surface in gathered.surfaces]
    used = {own.surface for own in scene.openings} | {own.surface for own in scene.keep_outs}
    own = {surface.name for surface in gathered.surfaces if surface.owner is None}
    return names == [surface.name for surface in known.surfaces] and used <= own


def _shapes(scene: Scene, known: Shell | None) -> tuple[Shape, list[Shape]]:
    """Shapes of the room and of every object, those that are known as they are."""
    if known is None:
        return room_shape(scene), [object_shape(scene, index) for index in range(len(scene.objects))]
    before = known.scene.objects
    return known.shapes[0], [
        known.shapes[1 + index]
        if index < len(before) and before[index] == entry
        else object_shape(scene, index)
        for index, entry in enumerate(scene.objects)
    ]


def build_room(scene: Scene, shell: Shell | None = None, clear: Sequence[PlacedPanel] = ()) -> Room:
    """The room of a scene, checked against everything the scene puts into it.

    Parameters
    ----------
    scene : Scene
    shell : Shell, optional
        What `build_shell` makes of the scene, where that is known.
    clear : sequence of PlacedPanel
        Panels of a room of the same shell, with its speakers and seats at the same places: see
        `check_clearances`.

    Returns
    -------
    Room

    Raises
    ------
    SceneError
        What `build_shell` raises, and for a panel that does not fit where it is, a speaker or seat outside
        the room or inside an object.
    """
    shell = shell or build_shell(scene)
    skins, openings = shell.skins, shell.openings
    check_positions(scene, skins, shell.surfaces, shell.facets)
    panels = place_panels(scene, shell.surfaces, shell.facets)
    check_clearances(Site(scene, shell.surfaces, shell.facets, openings, skins), panels, clear)
    own = [surface for surface in shell.surfaces if surface.owner is None]
    skin = skins[None]
    medium = Medium(
        speed_of_sound_m_s(scene.air.temperature),
        air_density_kg_m3(scene.air.temperature, scene.air.pressure),
    )
    free_groups = free_panel_groups(panels)
    opened = with_openings(shell.surfaces, openings)
    surfaces, facets = with_free_panels(scene, opened, shell.facets, panels, free_groups, medium)
    triangles, facet_of_triangle = triangles_of(facets)
    return Room(
        surfaces=surfaces,
        facets=facets,
        triangles=triangles,
        facet_of_triangle=facet_of_triangle,
        surface_of_triangle=np.array([facet.surface for facet in facets], np.int64)[facet_of_triangle],
        openings=openings,
        panels=panels,
        free_groups=free_groups,
        n_solid_facets=len(shell.facets),
        medium=medium,
        bounds=np.array([skin.min(axis=(0, 1)), skin.max(axis=(0, 1))]),
        volume_m3=volume_m3(skin),
        floor_area_m2=sum(s.area_m2 * max(float(s.frame.n[2]), 0.0) for s in own),
        surface_area_m2=sum(s.area_m2 for s in own),
        speed_of_sound_m_s=medium.speed_of_sound_m_s,
        notes=shell.notes,
        facet_arrays=facet_arrays(facets),
        cabinets=_cabinets(scene, shell.surfaces),
    )


def _cabinets(scene: Scene, surfaces: Sequence[Surface]) -> tuple[Cabinet, ...]:
    """The cabinets of a scene with their facets."""
    placed = []
    for speaker in scene.speakers:
        if isinstance(speaker.body, tuple):
            owner = cabinet_name(speaker)
            own = [k for surface in surfaces if surface.owner == owner for k in surface.facets]
            placed.append(Cabinet(owner, speaker.position, np.array(own, np.int64)))
    return tuple(placed)


def check_places(scene: Scene, room: Room) -> None:
    """Refuse speakers and seats that a room already built does not hold.

    Raises
    ------
    SceneError
        If one is outside the room or inside an object.
    """
    places = [*(speaker.position for speaker in scene.speakers), *(seat.ears for seat in scene.seats)]
    if room.contains(places).all():
        return
    facets = room.facets[: room.n_solid_facets]
    check_positions(scene, room.skins, room.surfaces, facets)
