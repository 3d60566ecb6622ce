"""What of the direct sound gets past free-hung panels and the edges of what stands in its way."""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import band_frequencies_hz, open_edges_weight
from raytrace.reflections.freecrossings import pass_free_group
from raytrace.reflections.nearmisses import FRESNEL_HZ
from raytrace.reflections.paths import Paths, crosses
from raytrace.reflections.reflection_factors import path_ends
from raytrace.reflections.reflectors import Reflectors
from raytrace.room import Facet, Room, clip_convex

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Complexes = NDArray[np.complex128]

_CLEAR_M = 0.02  # so near its two ends nothing is looked at: what is there is the speaker or the head
_FREE, _HELD = "free", "held"


class _Shadow(NamedTuple):
    """A convex piece of a face as the speaker sees it, on a plane across the direct sound."""

    corners: Floats
    is_open: Bools


class _Line(NamedTuple):
    """The direct sound to the ears: its start and direction, and between which distances it is looked at."""

    source: Floats
    axis: Floats
    from_m: float
    to_m: float


def direct_pressure(room: Room, reflectors: Reflectors, direct: Paths, points: Floats) -> Complexes:
    """Pressure of the direct sound re that of a free field, (n_points, n_bands, 24).

    Parameters
    ----------
    room, reflectors : Room, Reflectors
    direct : Paths
        From the speaker to the first of the points: their two ends.
    points : (n_points, 3) float
        Places about one seat, the ears first. [m]

    Notes
    -----
    Each object leaves 1 - K, K the Kirchhoff weight of its outline as the speaker sees it (Babinet's
    principle, `kirchhoff_weight`); edges that stand on a face of the room bend nothing. Each group of free
    panels leaves 1 + sum (T - 1) K. Behind a wall of the room nothing is left.
    """
    axis = (points[0] - direct.source) / direct.direct_m
    line = _Line(direct.source, axis, _CLEAR_M, float(((points - direct.source) @ axis).min()) - _CLEAR_M)
    factor = np.ones((len(points), *band_frequencies_hz().shape), np.complex128)
    for shadows in _shadows(room, reflectors, line):
        share = _nearness(shadows, line, points, room.speed_of_sound_m_s)
        near = np.flatnonzero(share > 0.0)
        if len(near):
            taken = sum(_weight(room, shadow, line.source, points[near]) for shadow in shadows)
            factor[near] *= 1.0 - share[near, None, None] * taken
    for k, point in enumerate(points if room.free_groups else ()):
        straight = _straight(direct, point)
        for group in room.free_groups:
            pass_free_group(room, group, straight, path_ends(room, straight), factor[k : k + 1])
    factor[~room.no_wall_between(direct.source, points)] = 0.0
    return factor


def what_hides(room: Room, direct: Paths) -> str | None:
    """Name of the object, panel or wall that stands in the way of a direct sound; None where nothing does."""
    if direct.direct_visible:
        return None
    facet = room.first_between(direct.source, direct.listener)
    if facet >= 0:
        surface = room.surfaces[room.facets[facet].surface]
        return surface.owner or surface.name
    return next((panel.name for panel in room.panels if crosses(panel, direct.source, direct.listener)), None)


def _straight(direct: Paths, point: Floats) -> Paths:
    """The straight line from a speaker to a point as a path without a bounce."""
    return Paths(
        source=direct.source,
        listener=point,
        points=np.stack([direct.source, point])[None],
        facets=np.empty((1, 0), np.int64),
        order=np.zeros(1, np.int64),
        length_m=np.array([np.linalg.norm(point - direct.source)]),
        direct_m=float(np.linalg.norm(point - direct.source)),
        direct_visible=True,
    )


def _shadows(room: Room, reflectors: Reflectors, line: _Line) -> Iterator[list[_Shadow]]:
    """What the speaker sees of each object between itself and the ears, on a plane in the object's middle."""
    own = set(room.own_facets(line.source).tolist())
    by_owner: dict[str, list[tuple[Floats, list[str]]]] = {}
    for k, facet in enumerate(room.facets[: room.n_solid_facets]):
        owner = room.surfaces[facet.surface].owner
        if owner is not None and k not in own and line.source @ facet.normal > facet.offset:
            pieces = _pieces(facet, reflectors.open_edges[k])
            by_owner.setdefault(owner, []).extend(piece for p in pieces if (piece := _between(line, *p))[1])
    for seen in filter(None, by_owner.values()):
        away = np.concatenate([(corners - line.source) @ line.axis for corners, _ in seen])
        plane_m = 0.5 * float(away.min() + away.max())
        yield [
            _Shadow(
                line.source
                + (corners - line.source) * (plane_m / ((corners - line.source) @ line.axis))[:, None],
                np.array([label == _FREE for label in labels]),
            )
            for corners, labels in seen
        ]


def _pieces(facet: Facet, is_open: Bools) -> Iterator[tuple[Floats, list[str]]]:
    """Convex pieces of a face, and of each edge whether air goes round it; where two meet they cancel."""
    ends = [
        (a.tobytes(), b.tobytes())
        for loop in (facet.outline, *facet.holes)
        for a, b in zip(loop, np.roll(loop, -1, axis=0), strict=True)
    ]
    held = {edge for edge, is_free in zip(ends, is_open, strict=True) if not is_free}
    for piece in facet.convex_pieces:
        following = np.roll(piece, -1, axis=0)
        edges = [(a.tobytes(), b.tobytes()) for a, b in zip(piece, following, strict=True)]
        yield piece, [_HELD if edge in held else _FREE for edge in edges]


def _between(line: _Line, corners: Floats, labels: list[str]) -> tuple[Floats, list[str]]:
    """What of a piece lies between speaker and head; the cuts are no edges."""
    start = float(line.source @ line.axis)
    corners, labels = clip_convex(corners, labels, -line.axis, -(start + line.from_m), _HELD)
    if labels:
        corners, labels = clip_convex(corners, labels, line.axis, start + line.to_m, _HELD)
    return corners, labels


def _nearness(shadows: list[_Shadow], line: _Line, points: Floats, speed_of_sound_m_s: float) -> Floats:
    """1 where the straight line passes a shadow within a Fresnel zone, 0 from two zones on, (n_points,)."""
    plane_m = float((shadows[0].corners[0] - line.source) @ line.axis)
    away_m = (points - line.source) @ line.axis
    met = line.source + (points - line.source) * (plane_m / away_m)[:, None]
    zone_m = np.sqrt(speed_of_sound_m_s / FRESNEL_HZ * plane_m * (away_m - plane_m) / away_m)
    beyond_m = np.min([_beyond_m(shadow.corners, line.axis, met) for shadow in shadows], axis=0)
    share: Floats = np.clip(2.0 - beyond_m / np.maximum(zone_m, 1e-9), 0.0, 1.0)
    return share * share * (3.0 - 2.0 * share)


def _beyond_m(corners: Floats, normal: Floats, points: Floats) -> Floats:
    """How far points lie beyond the farthest edge of a convex piece in their plane, 0 inside, (n_points,)."""
    x, y, z = normal.tolist()
    along = np.concatenate([corners[1:], corners[:1]]) - corners
    outward = along @ np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])  # vector product with the normal
    length_m = np.sqrt(np.sum(outward * outward, axis=1))
    outward = outward[length_m > 0.0] / length_m[length_m > 0.0, None]
    from_edges = corners[length_m > 0.0]
    middle = corners.mean(axis=0)
    outward *= np.sign(np.sum((from_edges - middle) * outward, axis=1, keepdims=True))
    heights = np.einsum("pek,ek->pe", points[:, None] - from_edges[None], outward)
    return np.asarray(np.maximum(heights.max(axis=1, initial=0.0), 0.0))


def _weight(room: Room, shadow: _Shadow, source: Floats, points: Floats) -> Complexes:
    return open_edges_weight(
        shadow.corners,
        shadow.is_open,
        (np.tile(source, (len(points), 1)), points),
        band_frequencies_hz(),
        speed_of_sound_m_s=room.speed_of_sound_m_s,
        tolerance_m=room.tolerance_m,
    )
