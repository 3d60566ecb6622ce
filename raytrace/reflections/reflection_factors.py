"""What each bounce of a path returns: material and finite size of what it meets."""

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import (
    band_frequencies_hz,
    hung_reflection,
    open_edges_weight,
    plain_reflection,
)
from raytrace.reflections.freecrossings import incidence_cosines, outline_weight, pass_free_group
from raytrace.reflections.hungpatches import PanelParts, hung_effect, hung_share, near_share, panel_parts
from raytrace.reflections.memory import lines_of
from raytrace.reflections.paths import Paths, some_rows
from raytrace.reflections.reflectors import Reflectors, SurfaceRect, shared_patch
from raytrace.room import (
    FreePanelGroup,
    PlacedPanel,
    Room,
    face_reflection,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Complexes = NDArray[np.complex128]

# Octave levels of a wall with a panel against a wave solution (test_kirchhoff_waves.py): wool 30-100 mm, gaps
# 0-300 mm, 0.6 and 1.2 m wide, 250-1000 Hz; worst 100 mm before a gap of 300 mm, oblique, at 250 Hz.
PATCH_MEAN_ERROR_DB, PATCH_WORST_ERROR_DB = 0.6, 4.6


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


def returned_pressure(
    room: Room, reflectors: Reflectors, paths: Paths, *, bands: Ints | slice = slice(None)
) -> Complexes:
    """Pressure that all bounces of a path leave, (n_paths, n_bands, 24), without spreading and air.

    Of the octaves `bands`; while something is moved (`Reflectors.memory`) of all.

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
    factor = np.ones((len(paths.order), *band_frequencies_hz()[bands].shape), np.complex128)
    images, receivers = path_ends(room, paths)
    free_groups = _free_facets(room)
    for facet in np.unique(paths.facets[paths.facets >= 0]).tolist():
        rows, bounces = np.nonzero(paths.facets == facet)
        ends = images[rows, bounces + 1], receivers[rows, bounces + 1]
        surface = room.surfaces[room.facets[facet].surface]
        scattering = np.repeat(surface.material.scattering[None], len(rows), axis=0)
        if facet in free_groups:
            returned = _free_reflection(room, free_groups[facet], ends, bands)
        else:
            returned = wall_reflection(room, reflectors, facet, *ends, bands=bands)
            for opening in surface.openings:
                met = openings[rows, bounces] == opening.index
                scattering[met & (panels[rows, bounces] < 0)] = opening.material.scattering
        returned = np.sqrt(1.0 - scattering[:, bands])[:, :, None] * returned
        if (np.diff(rows) > 0).all():
            factor[rows] *= returned
        else:  # a path that meets the facet several times
            np.multiply.at(factor, rows, returned)
    if reflectors.memory is None:
        _pass_free_groups(room, paths, (images, receivers), factor, bands)
    elif room.free_groups:
        key = tuple((room.panels[k].build, room.panels[k].corners.tobytes()) for k in _hung(room))
        lines = lines_of(paths.points, paths.facets)

        def passed(rows: Ints) -> Complexes:
            own = np.ones((len(rows), *factor.shape[1:]), np.complex128)
            _pass_free_groups(room, some_rows(paths, rows), (images[rows], receivers[rows]), own)
            return own

        factor *= reflectors.memory.recall(key, lines, passed)
    return factor


def _hung(room: Room) -> list[int]:
    """Panels that hang free."""
    return [k for group in room.free_groups for k in group.panels]


def _pass_free_groups(
    room: Room,
    paths: Paths,
    ends: tuple[Floats, Floats],
    factor: Complexes,
    bands: Ints | slice = slice(None),
) -> None:
    for group in room.free_groups:
        pass_free_group(room, group, paths, ends, factor, bands)


def wall_reflection(
    room: Room,
    reflectors: Reflectors,
    facet: int,
    images: Floats,
    receivers: Floats,
    *,
    bands: Ints | slice = slice(None),
) -> Complexes:
    """Reflection factor of a facet with its openings and panels for some bounces, (n, n_bands, 24).

    Parameters
    ----------
    room, reflectors : Room, Reflectors
    facet : int
        Index of a solid facet.
    images, receivers : (n, 3) float
        Source mirrored in the bounces up to this one, receiver in the later ones. [m]
    bands : (n_bands,) int or slice
        Octaves that are asked for; all of them where `reflectors` have a memory.
    """
    index = room.facets[facet].surface
    on_it = [(room.panels[k], patch) for k, patch in reflectors.panels.items() if patch.surface == index]
    alike: dict[tuple[object, ...], PanelParts] = {}
    if reflectors.memory is None:
        returned = _bare_reflection(room, reflectors, facet, (images, receivers), bands)
        for put in on_it:
            returned = returned + _panel_part(room, reflectors, put, (images, receivers), alike, bands)
        return returned
    assert isinstance(bands, slice), "what is remembered is remembered whole"
    lines = lines_of(images, receivers)
    face = _face_key(room, reflectors, facet)
    returned = reflectors.memory.recall(
        face, lines, lambda rows: _bare_reflection(room, reflectors, facet, (images[rows], receivers[rows]))
    )
    for put in on_it:

        def work(rows: Ints, put: tuple[PlacedPanel, SurfaceRect] = put) -> Complexes:
            return _panel_part(room, reflectors, put, (images[rows], receivers[rows]), alike)

        panel, patch = put
        key = face, panel.build, panel.gap_m, patch.corners.tobytes(), patch.open_edges.tobytes()
        returned = returned + reflectors.memory.recall(key, lines, work)
    return returned


def _face_key(room: Room, reflectors: Reflectors, facet: int) -> tuple[object, ...]:
    """All that decides what a facet with its openings sends back, in a room of given materials."""
    own = room.facets[facet]
    surface = room.surfaces[own.surface]
    edges = [
        reflectors.open_edges[facet],
        *(reflectors.openings[o.index].open_edges for o in surface.openings),
    ]
    numbers = (own.outline, *own.holes, *edges)
    return surface.name, surface.material.name, *(some.tobytes() for some in numbers)


def _bare_reflection(
    room: Room,
    reflectors: Reflectors,
    facet: int,
    ends: tuple[Floats, Floats],
    bands: Ints | slice = slice(None),
) -> Complexes:
    """Reflection factor of a facet with its openings, without panels."""
    surface = room.surfaces[room.facets[facet].surface]
    cosine = incidence_cosines(surface.frame.n, *ends)
    wall = plain_reflection(surface.material, cosine)[:, bands]
    returned = wall * _facet_weight(room, reflectors, facet, ends, bands)
    for opening in surface.openings:
        differs = plain_reflection(opening.material, cosine)[:, bands] - wall
        returned = returned + differs * _patch_weight(room, reflectors.openings[opening.index], *ends, bands)
    return returned


def _panel_part(
    room: Room,
    reflectors: Reflectors,
    put: tuple[PlacedPanel, SurfaceRect],
    ends: tuple[Floats, Floats],
    alike: dict[tuple[object, ...], PanelParts],
    bands: Ints | slice = slice(None),
) -> Complexes:
    """What a panel changes of its surface's reflection factor; `alike`: what its like sent back already."""
    panel, patch = put
    key = (panel.build, round(panel.gap_m, 9), *panel.normal, ends[0].tobytes(), ends[1].tobytes())
    if key not in alike:
        cosine = incidence_cosines(panel.normal, *ends)
        behind = plain_reflection(room.surfaces[patch.surface].material, cosine)[:, bands]
        alike[key] = panel_parts(room, panel, cosine, behind, bands=bands)
    return panel_effect(room, reflectors, put, alike[key], ends, bands)


def panel_effect(
    room: Room,
    reflectors: Reflectors,
    put: tuple[PlacedPanel, SurfaceRect],
    parts: PanelParts,
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
    parts : PanelParts
        What it does to these lines.
    ends : tuple of (n, 3) float
        Source mirrored in the bounces up to this one, receiver in the later ones. [m]
    bands : (n_bands,) int or slice
        Octaves that are asked for.

    Notes
    -----
    With a gap the parts of the reflection move to where each passes the panel, the farther the wider it is,
    until at 300 mm they are those of one that hangs free (`hung_effect`).
    Kirchhoff's approximation: the wool's own sides and the sound behind it are left out, hence
    `PATCH_MEAN_ERROR_DB` and `PATCH_WORST_ERROR_DB`.
    """
    panel, patch = put
    surface = room.surfaces[patch.surface]
    cosine = incidence_cosines(surface.frame.n, *ends)
    wall = plain_reflection(surface.material, cosine)[:, bands]
    share = hung_share(panel.gap_m) * near_share(panel, surface.frame, ends)
    effect = np.zeros(parts.whole.shape, np.complex128)
    flat, apart = np.flatnonzero(share < 1.0), np.flatnonzero(share > 0.0)
    if len(flat):
        weight = _patch_weight(room, patch, ends[0][flat], ends[1][flat], bands)
        effect[flat] = (1.0 - share[flat, None, None]) * (parts.whole - wall)[flat] * weight
    if len(apart):
        own = ends[0][apart], ends[1][apart]
        sent = hung_effect(room, panel, wall[apart], parts.at(apart), own, bands)
        effect[apart] += share[apart, None, None] * sent
    for opening in surface.openings:
        shared = shared_patch(room, reflectors.openings[opening.index], patch)
        if shared is not None:  # the panel covers this part of it
            differs = plain_reflection(opening.material, cosine)[:, bands] - wall
            effect -= differs * _patch_weight(room, shared, *ends, bands)
    return effect


def _free_reflection(
    room: Room, side: tuple[FreePanelGroup, bool], ends: tuple[Floats, Floats], bands: Ints | slice
) -> Complexes:
    """What a group of free panels sends back from one side, its front or not, (n, n_bands, 24)."""
    group, is_front = side
    members = [room.panels[k] for k in group.panels]
    cosine = incidence_cosines(members[0].normal, *ends)
    faces = [panel.corners if is_front else panel.back[::-1] for panel in members]
    reflected = face_reflection(members[0].build, is_front, cosine, room.medium, bands=bands)
    return hung_reflection(
        [reflected] * len(faces), [outline_weight(room, face, *ends, bands) for face in faces]
    )


def _patch_weight(
    room: Room, patch: SurfaceRect, images: Floats, receivers: Floats, bands: Ints | slice = slice(None)
) -> Complexes:
    return _weight(room, patch.corners, patch.open_edges, (images, receivers), bands)


def _facet_weight(
    room: Room, reflectors: Reflectors, facet: int, ends: tuple[Floats, Floats], bands: Ints | slice
) -> Complexes:
    is_open = reflectors.open_edges[facet]
    if not is_open.any():
        return np.ones((len(ends[0]), 1, 1), np.complex128)
    loops = [room.facets[facet].outline, *room.facets[facet].holes]
    return _weight(room, loops, is_open, ends, bands)


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
