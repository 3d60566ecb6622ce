"""What each bounce of a path returns: material and finite size of what it meets."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.air import band_frequencies_hz
from raytrace.finite import open_edges_weight
from raytrace.paths import Paths
from raytrace.room import PlacedOpening, Room

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


@dataclass(frozen=True)
class Reflectors:
    """Which edges end what reflects, worked out once per room.

    Attributes
    ----------
    open_edges : tuple of (n_corners,) bool
        Per facet, outline and holes in a row: whether the air goes round the edge.
    patches : tuple of ((4, 3) float, (4,) bool)
        Per opening of the scene: its corners [m] and which of its edges are not in a corner of the room.
    """

    open_edges: tuple[Bools, ...]
    patches: tuple[tuple[Floats, Bools], ...]


def find_reflectors(room: Room) -> Reflectors:
    """Free edges of every facet and opening of a room."""
    loops = [[facet.outline, *facet.holes] for facet in room.facets]
    rectangles = [_corners(room, opening) for opening in room.openings]
    every = [np.concatenate([_air_turns(room, loop) for loop in part]) for part in loops]
    return Reflectors(
        open_edges=tuple(turns > FREE_EDGE_TURNS for turns in every),
        patches=tuple((r, _air_turns(room, r) > PATCH_EDGE_TURNS) for r in rectangles),
    )


def _corners(room: Room, opening: PlacedOpening) -> Floats:
    u0, v0, u1, v1 = opening.rect
    frame = room.surfaces[opening.surface].frame
    return frame.to_room(np.array([[u0, v0], [u1, v0], [u1, v1], [u0, v1]]))


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
    points = (loop + following)[:, None] / 2.0 + _CIRCLE_M * circle
    in_air = room.contains(points.reshape(-1, 3)).reshape(len(loop), len(_CIRCLE))
    turns: Floats = in_air.mean(axis=1)
    return turns


def bounce_surfaces(room: Room, paths: Paths) -> tuple[Ints, Ints]:
    """Surface, and opening (index in the scene) or -1, of each bounce; both (n_paths, up_to_order)."""
    facet_surface = np.array([facet.surface for facet in room.facets], np.int64)
    surfaces = np.where(paths.facets >= 0, facet_surface[paths.facets], -1)
    openings = np.full_like(surfaces, -1)
    for opening in room.openings:
        rows, bounces = np.nonzero(surfaces == opening.surface)
        uv = room.surfaces[opening.surface].frame.to_plane(paths.points[rows, bounces + 1])
        u0, v0, u1, v1 = opening.rect
        inside = (uv[:, 0] >= u0) & (uv[:, 0] <= u1) & (uv[:, 1] >= v0) & (uv[:, 1] <= v1)
        openings[rows[inside], bounces[inside]] = opening.index
    return surfaces, openings


def returned_pressure(room: Room, reflectors: Reflectors, paths: Paths) -> Complexes:
    """Pressure that all bounces of a path leave, (n_paths, n_bands, 24), without spreading and air.

    At each bounce sqrt(1 - s) (R_wall K + sum over openings (R_opening - R_wall) K_opening), R = sqrt(1 -
    alpha), s of what the spot itself meets. K is 1 on a facet that ends in corners of the room only.

    Notes
    -----
    K: see `finite.weight`. Patches after the principle of Babinet.
    """
    _, openings = bounce_surfaces(room, paths)
    frequencies = band_frequencies_hz()
    factor = np.ones((len(paths.order), *frequencies.shape), np.complex128)
    images, receivers = _bounce_ends(room, paths)
    for facet in np.unique(paths.facets[paths.facets >= 0]):
        rows, bounces = np.nonzero(paths.facets == facet)
        ends = images[rows, bounces], receivers[rows, bounces]
        surface = room.surfaces[room.facets[facet].surface]
        wall = np.sqrt(1.0 - surface.material.absorption)[:, None]
        returned = wall * _facet_weight(room, reflectors, int(facet), *ends)
        scattering = np.repeat(surface.material.scattering[None], len(rows), axis=0)
        for opening in surface.openings:
            loop, is_open = reflectors.patches[opening.index]
            weight = _weight(room, loop, is_open, *ends)
            returned = returned + (np.sqrt(1.0 - opening.material.absorption)[:, None] - wall) * weight
            scattering[openings[rows, bounces] == opening.index] = opening.material.scattering
        # A path meets the same facet several times, so the rows may repeat.
        np.multiply.at(factor, rows, np.sqrt(1.0 - scattering)[:, :, None] * returned)
    return factor


def _facet_weight(
    room: Room, reflectors: Reflectors, facet: int, images: Floats, receivers: Floats
) -> Complexes:
    is_open = reflectors.open_edges[facet]
    if not is_open.any():
        return np.ones((len(images), 1, 1), np.complex128)
    loops = [room.facets[facet].outline, *room.facets[facet].holes]
    return _weight(room, loops, is_open, images, receivers)


def _weight(
    room: Room, loops: Floats | list[Floats], is_open: Bools, images: Floats, receivers: Floats
) -> Complexes:
    return open_edges_weight(
        loops,
        is_open,
        images,
        receivers,
        band_frequencies_hz(),
        speed_of_sound_m_s=room.speed_of_sound_m_s,
        tolerance_m=room.tolerance_m,
    )


def _bounce_ends(room: Room, paths: Paths) -> tuple[Floats, Floats]:
    """Source mirrored in bounces 1 to i, listener in the later ones; both (n_paths, up_to_order, 3)."""
    normals, offsets = room.facet_arrays.normals, room.facet_arrays.offsets
    n_paths, up_to_order = paths.facets.shape
    images = np.empty((n_paths, up_to_order, 3))
    receivers = np.empty((n_paths, up_to_order, 3))
    image = np.repeat(paths.source[None], n_paths, axis=0)
    receiver = np.repeat(paths.listener[None], n_paths, axis=0)
    for bounce in range(up_to_order):
        image = _mirrored(image, normals[paths.facets[:, bounce]], offsets[paths.facets[:, bounce]])
        images[:, bounce] = image
    for bounce in range(up_to_order - 1, -1, -1):
        receivers[:, bounce] = receiver
        behind = _mirrored(receiver, normals[paths.facets[:, bounce]], offsets[paths.facets[:, bounce]])
        receiver = np.where((paths.order > bounce)[:, None], behind, receiver)
    return images, receivers


def _mirrored(points: Floats, normals: Floats, offsets: Floats) -> Floats:
    heights = np.sum(points * normals, axis=1) - offsets
    mirrored: Floats = points - 2.0 * heights[:, None] * normals
    return mirrored
