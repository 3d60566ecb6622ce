"""What each bounce of a path returns: material and finite size of what it meets."""

from dataclasses import dataclass
from operator import is_
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import (
    band_frequencies_hz,
    hung_reflection,
    open_edges_weight,
    plain_reflection,
)
from raytrace.reflections.freecrossings import incidence_cosines, outline_weight, pass_free_group
from raytrace.reflections.hungpatches import hung_effect, hung_share
from raytrace.reflections.paths import Paths
from raytrace.room import (
    FreePanelGroup,
    PlacedPanel,
    Room,
    face_reflection,
    patch_reflection,
    shared_rect,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Complexes = NDArray[np.complex128]

# Air angle round an edge, from points on a circle about its middle: a corner of the room has 90 degrees or
# so, an edge in the middle of a wall 180, the edge of a desk 270.
_CIRCLE = np.radians(np.arange(5.0, 360.0, 10.0))
_CIRCLE_M = 1e-3
FREE_EDGE_TURNS = 200.0 / 360.0
PATCH_EDGE_TURNS = 160.0 / 360.0
# Octave levels of a wall with a panel against a wave solution (test_kirchhoff_waves.py): wool 30-100 mm, gaps
# 0-300 mm, 0.6 and 1.2 m wide, 250-1000 Hz; worst 100 mm before a gap of 300 mm, oblique, at 250 Hz.
PATCH_MEAN_ERROR_DB, PATCH_WORST_ERROR_DB = 0.7, 4.6


class SurfaceRect(NamedTuple):
    """A rectangle of a surface that reflects unlike the rest of it."""

    surface: int
    rect: Floats
    """(4,) u0, v0, u1, v1 [m]"""
    corners: Floats
    """(4, 3) on the surface's plane, anticlockwise as seen from the air [m]"""
    open_edges: Bools
    """(4,) which of its edges are not in a corner of the room"""


@dataclass(frozen=True)
class Reflectors:
    """Which edges end what reflects, worked out once per room.

    Attributes
    ----------
    open_edges : tuple of (n_corners,) bool
        Per facet, outline and holes in a row: whether the air goes round the edge.
    openings : tuple of SurfaceRect
        Per opening of the scene.
    panels : dict of int to SurfaceRect
        Per panel that acts as a patch of its surface.
    """

    open_edges: tuple[Bools, ...]
    openings: tuple[SurfaceRect, ...]
    panels: dict[int, SurfaceRect]


def find_reflectors(room: Room, known: tuple[Room, Reflectors] | None = None) -> Reflectors:
    """Free edges of every facet, opening and panel of a room.

    What is known of a room with the same walls and objects is not looked for again.
    """
    solid = room.facets[: room.n_solid_facets]
    edges: list[Bools] = []
    patches: dict[tuple[int, bytes], SurfaceRect] = {}
    if known is not None and len(solid) == known[0].n_solid_facets and all(map(is_, solid, known[0].facets)):
        edges = list(known[1].open_edges[: len(solid)])
        patches = {
            (patch.surface, patch.rect.tobytes()): patch
            for patch in (*known[1].openings, *known[1].panels.values())
        }
    for facet in room.facets[len(edges) :]:
        turns = [_air_turns(room, loop) for loop in (facet.outline, *facet.holes)]
        edges.append(np.concatenate(turns) > FREE_EDGE_TURNS)

    def patch_at(surface: int, rect: Floats) -> SurfaceRect:
        return patches.get((surface, rect.tobytes())) or place_patch(room, surface, rect)

    return Reflectors(
        open_edges=tuple(edges),
        openings=tuple(patch_at(opening.surface, opening.rect) for opening in room.openings),
        panels={
            index: patch_at(panel.surface, panel.rect)
            for index, panel in enumerate(room.panels)
            if panel.acts_as == "patch" and panel.surface is not None
        },
    )


def place_patch(room: Room, surface: int, rect: Floats) -> SurfaceRect:
    """A rectangle (u0, v0, u1, v1) [m] of a surface with its free edges."""
    u0, v0, u1, v1 = rect
    frame = room.surfaces[surface].frame
    corners = frame.to_room(np.array([[u0, v0], [u1, v0], [u1, v1], [u0, v1]]))
    if np.cross(corners[1] - corners[0], corners[3] - corners[0]) @ frame.n < 0.0:
        corners = corners[::-1]  # a ceiling's u and v run clockwise as seen from below
    return SurfaceRect(surface, rect, corners, _air_turns(room, corners) > PATCH_EDGE_TURNS)


def _air_turns(room: Room, loop: Floats) -> Floats:
    """Share of a full turn round the middle of each edge that is air, (n_corners,)."""
    following = np.roll(loop, -1, axis=0)
    along = (following - loop) / np.linalg.norm(following - loop, axis=1, keepdims=True)
    helper = np.eye(3)[np.argmin(np.abs(along), axis=1)]
    across = np.cross(along, helper)
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    beside = np.cross(along, across)
    circle = (
        across[:, None] * np.cos(_CIRCLE)[None, :, None] + beside[:, None] * np.sin(_CIRCLE)[None, :, None]
    )
    turns: Floats = room.contains_beside((loop + following) / 2.0, _CIRCLE_M * circle).mean(axis=1)
    return turns


def bounce_surfaces(room: Room, paths: Paths) -> tuple[Ints, Ints, Ints]:
    """Surface, opening (index in the scene) and panel of each bounce, -1 for none; (n_paths, up_to_order)."""
    facet_surface = np.array([facet.surface for facet in room.facets], np.int64)
    surfaces = np.where(paths.facets >= 0, facet_surface[paths.facets], -1)
    openings, panels = np.full_like(surfaces, -1), np.full_like(surfaces, -1)
    for opening in room.openings:
        rows, bounces = _spots_inside(room, paths, surfaces, opening.surface, opening.rect)
        openings[rows, bounces] = opening.index
    for index, panel in enumerate(room.panels):
        if panel.acts_as == "patch" and panel.surface is not None:
            rows, bounces = _spots_inside(room, paths, surfaces, panel.surface, panel.rect)
            panels[rows, bounces] = index
    for facet, (group, _) in _free_facets(room).items():
        for index in group.panels:
            surface = room.facets[facet].surface
            uv = room.surfaces[surface].frame.to_plane(room.panels[index].corners)
            rect = np.concatenate([uv.min(axis=0), uv.max(axis=0)])
            rows, bounces = _spots_inside(room, paths, surfaces, surface, rect)
            panels[rows, bounces] = index
    return surfaces, openings, panels


def _spots_inside(room: Room, paths: Paths, surfaces: Ints, surface: int, rect: Floats) -> tuple[Ints, Ints]:
    """Rows and bounces whose spot lies in a rectangle of a surface."""
    rows, bounces = np.nonzero(surfaces == surface)
    uv = room.surfaces[surface].frame.to_plane(paths.points[rows, bounces + 1])
    inside = ((uv >= rect[:2]) & (uv <= rect[2:])).all(axis=1)
    return rows[inside], bounces[inside]


def _free_facets(room: Room) -> dict[int, tuple[FreePanelGroup, bool]]:
    """Facets of groups of free panels: which group, and whether it is the front."""
    return {
        room.n_solid_facets + 2 * k + side: (group, side == 0)
        for k, group in enumerate(room.free_groups)
        for side in (0, 1)
    }


def returned_pressure(room: Room, reflectors: Reflectors, paths: Paths) -> Complexes:
    """Pressure that all bounces of a path leave, (n_paths, n_bands, 24), without spreading and air.

    At each bounce sqrt(1 - s) (R_wall K + sum over patches (R_patch - R_wall) K_patch), R of openings and
    bare surfaces from `plain_reflection`, s of what the spot itself meets. K is 1 on a facet that ends in
    corners of the room only. Panels that hang free reflect with the sum of R K, and let pass
    1 + sum (T - 1) K; of a path that goes behind them and comes back the product of both and
    sum (T - 1)^2 (K2 - K K').

    Notes
    -----
    K: see `kirchhoff_weight`, K2: `shared_weight`. Patches after the principle of Babinet.
    """
    _, openings, panels = bounce_surfaces(room, paths)
    factor = np.ones((len(paths.order), *band_frequencies_hz().shape), np.complex128)
    images, receivers = path_ends(room, paths)
    free_groups = _free_facets(room)
    for facet in np.unique(paths.facets[paths.facets >= 0]).tolist():
        rows, bounces = np.nonzero(paths.facets == facet)
        ends = images[rows, bounces + 1], receivers[rows, bounces + 1]
        surface = room.surfaces[room.facets[facet].surface]
        scattering = np.repeat(surface.material.scattering[None], len(rows), axis=0)
        if facet in free_groups:
            returned = _free_reflection(room, *free_groups[facet], *ends)
        else:
            returned = wall_reflection(room, reflectors, facet, *ends)
            for opening in surface.openings:
                met = openings[rows, bounces] == opening.index
                scattering[met & (panels[rows, bounces] < 0)] = opening.material.scattering
        returned = np.sqrt(1.0 - scattering)[:, :, None] * returned
        if (np.diff(rows) > 0).all():
            factor[rows] *= returned
        else:  # a path that meets the facet several times
            np.multiply.at(factor, rows, returned)
    for group in room.free_groups:
        pass_free_group(room, group, paths, (images, receivers), factor)
    return factor


def wall_reflection(
    room: Room, reflectors: Reflectors, facet: int, images: Floats, receivers: Floats
) -> Complexes:
    """Reflection factor of a facet with its openings and panels for some bounces, (n, n_bands, 24).

    Parameters
    ----------
    room, reflectors : Room, Reflectors
    facet : int
        Index of a solid facet.
    images, receivers : (n, 3) float
        Source mirrored in the bounces up to this one, receiver in the later ones. [m]
    """
    index = room.facets[facet].surface
    surface, ends = room.surfaces[index], (images, receivers)
    bare = incidence_cosines(surface.frame.n, *ends)
    wall = plain_reflection(surface.material, bare)
    returned = wall * _facet_weight(room, reflectors, facet, *ends)
    for opening in surface.openings:
        differs = plain_reflection(opening.material, bare) - wall
        returned = returned + differs * _patch_weight(room, reflectors.openings[opening.index], *ends)
    alike: dict[tuple[object, ...], Complexes] = {}
    for number, patch in reflectors.panels.items():
        panel = room.panels[number]
        if patch.surface != index:
            continue
        key = (panel.build, round(panel.gap_m, 9), *panel.normal)
        if key not in alike:
            cosine = incidence_cosines(panel.normal, *ends)
            behind = plain_reflection(surface.material, cosine)
            alike[key] = patch_reflection(panel, cosine, room.medium, behind)
        returned = returned + panel_effect(room, reflectors, (panel, patch), alike[key], ends)
    return returned


def panel_effect(
    room: Room,
    reflectors: Reflectors,
    put: tuple[PlacedPanel, SurfaceRect],
    reflection: Complexes,
    ends: tuple[Floats, Floats],
    bands: Ints | slice = slice(None),
) -> Complexes:
    """What a panel changes of its surface's reflection factor: (R_panel - R_behind) K, (n, n_bands, 24).

    Parameters
    ----------
    room, reflectors : Room, Reflectors
        The panel need not be in the room yet.
    put : tuple of PlacedPanel, SurfaceRect
        The panel and its outline on the surface.
    reflection : (n, n_bands, 24) complex
        Its reflection factor with the surface behind it, referred to the surface's plane.
    ends : tuple of (n, 3) float
        Source mirrored in the bounces up to this one, receiver in the later ones. [m]
    bands : (n_bands,) int or slice
        Octaves that are asked for.

    Notes
    -----
    From a gap of 150 mm on the parts of the reflection move to where each passes the panel, until at 300 mm
    they are those of one that hangs free (`hung_effect`).
    Kirchhoff's approximation: the wool's own sides and the sound behind it are left out, hence
    `PATCH_MEAN_ERROR_DB` and `PATCH_WORST_ERROR_DB`.
    """
    panel, patch = put
    surface = room.surfaces[patch.surface]
    cosine = incidence_cosines(surface.frame.n, *ends)
    wall = plain_reflection(surface.material, cosine)[:, bands]
    effect = (reflection - wall) * _patch_weight(room, patch, *ends, bands)
    share = hung_share(panel.gap_m)
    if share > 0.0:
        effect += share * (hung_effect(room, panel, wall, reflection, ends, bands) - effect)
    for opening in surface.openings:
        shared = shared_patch(room, reflectors.openings[opening.index], patch)
        if shared is not None:  # the panel covers this part of it
            differs = plain_reflection(opening.material, cosine)[:, bands] - wall
            effect -= differs * _patch_weight(room, shared, *ends, bands)
    return effect


def shared_patch(room: Room, a: SurfaceRect, b: SurfaceRect) -> SurfaceRect | None:
    """The part that two patches of one surface share; None where there is none."""
    rect = shared_rect(a.rect, b.rect)
    if a.surface != b.surface or not (rect[2:] > rect[:2]).all():
        return None
    return place_patch(room, a.surface, rect)


def _free_reflection(
    room: Room, group: FreePanelGroup, is_front: bool, images: Floats, receivers: Floats
) -> Complexes:
    """What a group of free panels sends back from one side, (n, n_bands, 24)."""
    members = [room.panels[k] for k in group.panels]
    cosine = incidence_cosines(members[0].normal, images, receivers)
    faces = [panel.corners if is_front else panel.back[::-1] for panel in members]
    reflected = face_reflection(members[0].build, is_front, cosine, room.medium)
    return hung_reflection(
        [reflected] * len(faces), [outline_weight(room, face, images, receivers) for face in faces]
    )


def _patch_weight(
    room: Room, patch: SurfaceRect, images: Floats, receivers: Floats, bands: Ints | slice = slice(None)
) -> Complexes:
    return _weight(room, patch.corners, patch.open_edges, (images, receivers), bands)


def _facet_weight(
    room: Room, reflectors: Reflectors, facet: int, images: Floats, receivers: Floats
) -> Complexes:
    is_open = reflectors.open_edges[facet]
    if not is_open.any():
        return np.ones((len(images), 1, 1), np.complex128)
    loops = [room.facets[facet].outline, *room.facets[facet].holes]
    return _weight(room, loops, is_open, (images, receivers))


def _weight(
    room: Room,
    loops: Floats | list[Floats],
    is_open: Bools,
    ends: tuple[Floats, Floats],
    bands: Ints | slice = slice(None),
) -> Complexes:
    return open_edges_weight(
        loops,
        is_open,
        ends,
        band_frequencies_hz()[bands],
        speed_of_sound_m_s=room.speed_of_sound_m_s,
        tolerance_m=room.tolerance_m,
    )


def path_ends(room: Room, paths: Paths) -> tuple[Floats, Floats]:
    """Source mirrored in i bounces, listener in the later ones; both (n_paths, up_to_order + 1, 3)."""
    normals, offsets = room.facet_arrays.normals, room.facet_arrays.offsets
    n_paths, up_to_order = paths.facets.shape
    images = np.empty((n_paths, up_to_order + 1, 3))
    receivers = np.empty((n_paths, up_to_order + 1, 3))
    images[:, 0], receivers[:, -1] = paths.source, paths.listener
    for bounce in range(up_to_order):
        facet = paths.facets[:, bounce]
        images[:, bounce + 1] = _mirrored(images[:, bounce], normals[facet], offsets[facet])
    for bounce in range(up_to_order - 1, -1, -1):
        facet, later = paths.facets[:, bounce], receivers[:, bounce + 1]
        behind = _mirrored(later, normals[facet], offsets[facet])
        receivers[:, bounce] = np.where((paths.order > bounce)[:, None], behind, later)
    return images, receivers


def _mirrored(points: Floats, normals: Floats, offsets: Floats) -> Floats:
    heights = np.sum(points * normals, axis=1) - offsets
    mirrored: Floats = points - 2.0 * heights[:, None] * normals
    return mirrored
