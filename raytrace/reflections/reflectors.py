"""Which edges end what reflects: found once per room, and anew only where something has moved."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import compress
from operator import not_
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.reflections.bodies import find_bodies
from raytrace.reflections.memory import Memory
from raytrace.room import Facet, Room, shared_rect

if TYPE_CHECKING:
    from raytrace.kernels.shadows import Bodies

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

# Air angle round an edge, from points on a circle about its middle: a corner of the room has 90 degrees or
# so, an edge in the middle of a wall 180, the edge of a desk 270.
_CIRCLE = np.radians(np.arange(5.0, 360.0, 10.0))
_CIRCLE_M = 1e-3
FREE_EDGE_TURNS = 200.0 / 360.0
PATCH_EDGE_TURNS = 160.0 / 360.0


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
    bodies : Bodies
        Objects in the way of legs.
    memory : Memory, optional
        What is known of the same walls already while something is moved.
    """

    open_edges: tuple[Bools, ...]
    openings: tuple[SurfaceRect, ...]
    panels: dict[int, SurfaceRect]
    bodies: "Bodies"
    memory: Memory | None = None


def find_reflectors(room: Room, known: tuple[Room, Reflectors] | None = None) -> Reflectors:
    """Free edges of every facet, opening and panel of a room.

    What is known of a room with the same walls and objects is not looked for again.
    """
    edges: dict[int, Bools] = {}
    patches: dict[tuple[int, bytes], SurfaceRect] = {}
    if known is not None and len(room.facets) == len(known[0].facets):
        is_same = list(map(_is_same, room.facets, known[0].facets))
        moved = _boxes([facet for r in (room, known[0]) for facet in compress(r.facets, map(not_, is_same))])
        patches = {
            (patch.surface, patch.rect.tobytes()): patch
            for patch in (*known[1].openings, *known[1].panels.values())
            if not _is_beside([patch.corners], moved)
        }
        edges = {
            k: known[1].open_edges[k]
            for k, facet in enumerate(room.facets)
            if is_same[k] and not _is_beside([facet.outline, *facet.holes], moved)
        }
    asked = [k for k in range(len(room.facets)) if k not in edges]
    loops = [[room.facets[k].outline, *room.facets[k].holes] for k in asked]
    if asked:
        turns = _air_turns(room, [loop for own in loops for loop in own])
        ends = np.cumsum([sum(map(len, own)) for own in loops])
        edges |= zip(asked, np.split(turns > FREE_EDGE_TURNS, ends[:-1]), strict=True)

    numbers = [
        k for k, panel in enumerate(room.panels) if panel.acts_as == "patch" and panel.surface is not None
    ]
    given = [(opening.surface, opening.rect) for opening in room.openings]
    given += [(panel.surface, panel.rect) for k in numbers if (panel := room.panels[k]).surface is not None]
    missing = [(surface, rect) for surface, rect in given if (surface, rect.tobytes()) not in patches]
    patches |= {(own.surface, own.rect.tobytes()): own for own in place_patches(room, missing)}
    placed = [patches[surface, rect.tobytes()] for surface, rect in given]
    open_edges = tuple(edges[k] for k in range(len(room.facets)))
    return Reflectors(
        open_edges=open_edges,
        openings=tuple(placed[: len(room.openings)]),
        panels=dict(zip(numbers, placed[len(room.openings) :], strict=True)),
        bodies=find_bodies(room, open_edges),
    )


def place_patch(room: Room, surface: int, rect: Floats) -> SurfaceRect:
    """A rectangle (u0, v0, u1, v1) [m] of a surface with its free edges."""
    return place_patches(room, [(surface, rect)])[0]


def place_patches(room: Room, rects: Sequence[tuple[int, Floats]]) -> list[SurfaceRect]:
    """The same of several rectangles with their surfaces: faster than one by one."""
    if not rects:
        return []
    outlines = [_patch_corners(room, surface, rect) for surface, rect in rects]
    is_open = (_air_turns(room, outlines) > PATCH_EDGE_TURNS).reshape(-1, 4)
    placed = zip(rects, outlines, is_open, strict=True)
    return [SurfaceRect(surface, rect, corners, own) for (surface, rect), corners, own in placed]


def _patch_corners(room: Room, surface: int, rect: Floats) -> Floats:
    u0, v0, u1, v1 = rect
    frame = room.surfaces[surface].frame
    corners: Floats = frame.to_room(np.array([[u0, v0], [u1, v0], [u1, v1], [u0, v1]]))
    if np.cross(corners[1] - corners[0], corners[3] - corners[0]) @ frame.n < 0.0:
        corners = corners[::-1]  # a ceiling's u and v run clockwise as seen from below
    return corners


def _is_same(facet: Facet, before: Facet) -> bool:
    """Whether a facet is where it was."""
    if facet is before:
        return True
    ways = ((facet.outline, *facet.holes), (before.outline, *before.holes))
    return len(ways[0]) == len(ways[1]) and all(map(np.array_equal, *ways))


def _boxes(facets: Sequence[Facet]) -> Floats:
    """Smallest and largest x, y, z of each facet, (n, 2, 3). [m]"""
    boxes = [(facet.outline.min(axis=0), facet.outline.max(axis=0)) for facet in facets]
    return np.array(boxes).reshape(-1, 2, 3)


def _is_beside(loops: Sequence[Floats], boxes: Floats) -> bool:
    """Whether the air about the middle of an edge may reach one of some boxes (n, 2, 3)."""
    if not len(boxes):
        return False
    middles = np.concatenate([0.5 * (loop + np.roll(loop, -1, axis=0)) for loop in loops])[:, None]
    near = (middles >= boxes[:, 0] - 2.0 * _CIRCLE_M) & (middles <= boxes[:, 1] + 2.0 * _CIRCLE_M)
    return bool(near.all(axis=2).any())


def _air_turns(room: Room, loops: Sequence[Floats]) -> Floats:
    """Share of a full turn round the middle of each edge of some loops that is air, (n_corners,)."""
    start, end = np.concatenate(loops), np.concatenate([np.roll(own, -1, axis=0) for own in loops])
    # Two faces that meet in an edge run along it to and fro: it is looked at once, the same way for both.
    ahead = end - start
    leading = np.take_along_axis(ahead, np.argmax(ahead != 0.0, axis=1)[:, None], axis=1)
    ends = np.where(leading < 0.0, np.hstack([end, start]), np.hstack([start, end]))
    edges, of_corner = np.unique(ends, axis=0, return_inverse=True)
    loop, following = edges[:, :3], edges[:, 3:]
    along = (following - loop) / np.linalg.norm(following - loop, axis=1, keepdims=True)
    helper = np.eye(3)[np.argmin(np.abs(along), axis=1)]
    across = np.cross(along, helper)
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    beside = np.cross(along, across)
    circle = (
        across[:, None] * np.cos(_CIRCLE)[None, :, None] + beside[:, None] * np.sin(_CIRCLE)[None, :, None]
    )
    turns: Floats = room.contains_beside((loop + following) / 2.0, _CIRCLE_M * circle).mean(axis=1)
    return turns[of_corner.reshape(-1)]


def shared_patch(room: Room, a: SurfaceRect, b: SurfaceRect) -> SurfaceRect | None:
    """The part that two patches of one surface share; None where there is none."""
    rect = shared_rect(a.rect, b.rect)
    if a.surface != b.surface or not (rect[2:] > rect[:2]).all():
        return None
    return place_patch(room, a.surface, rect)
