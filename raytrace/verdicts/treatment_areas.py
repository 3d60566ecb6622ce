"""Areas to cover: where the reflections of the whole head zone land, widened by the Fresnel zone."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.reflections import N_CORNERS, Arrivals
from raytrace.room import Frame, Room

Floats = NDArray[np.float64]

PATCH_FREQUENCY_HZ = 1000.0
_ANGLES = np.linspace(0.0, 2.0 * np.pi, 48, endpoint=False)
_CIRCLE = np.stack([np.cos(_ANGLES), np.sin(_ANGLES)], axis=1)


@dataclass(frozen=True)
class TreatmentArea:
    """The area of one surface that returns one speaker's early sound to one seat's head zone.

    Attributes
    ----------
    surface, speaker, seat : int
        Indices into the room's surfaces and the scene's lists.
    outline : (n, 2) float
        In the surface's set-out frame, cut off at the surface's outline. [m]
    spots : (m, 2) float
        The spots of the zone points, the ears' own first. [m]
    rect : (4,) float
        Smallest upright rectangle round the outline: u0, v0, u1, v1. [m]
    rows : tuple of int
        Rows of `Arrivals` that meet the surface here.
    worst_db : float
        Highest level of them over the head zone, re direct in the limit's band.
    over_limit : bool
        Whether one of them exceeds the limit somewhere in the head zone.
    frequency_hz : float
        The Fresnel zone's frequency.
    """

    surface: int
    speaker: int
    seat: int
    outline: Floats
    spots: Floats
    rect: Floats
    rows: tuple[int, ...]
    worst_db: float
    over_limit: bool
    frequency_hz: float


def find_treatment_areas(
    room: Room, arrivals: Arrivals, *, limit_db: float, within_s: float
) -> tuple[TreatmentArea, ...]:
    """Patches of every first reflection in the window, and of every later one over the limit.

    Parameters
    ----------
    room, arrivals : Room, Arrivals
        The room and what its seats receive.
    limit_db : float
        Level re direct above which a reflection counts as over the limit.
    within_s : float
        Window after the direct sound. [s]

    Returns
    -------
    tuple of TreatmentArea
        Strongest first.

    Notes
    -----
    First Fresnel zone at the spot: sqrt(lambda a1 a2 / (a1 + a2)) across, divided by the cosine of the
    angle of incidence along it, a1 and a2 the path lengths before and after the bounce (textbook optics).
    """
    zones: dict[tuple[int, int], list[tuple[Floats, Floats]]] = {}
    # The corners of a head zone span what any place in it sees of a flat surface.
    for at_point in (h for h in arrivals.at_points if h.zone_point < N_CORNERS):
        row_of = {
            tuple(arrivals.path_facets[row]): int(row) for row in arrivals.at(at_point.speaker, at_point.seat)
        }
        for path, facets in enumerate(at_point.paths.facets):
            row = row_of.get(tuple(facets))
            if row is None or not _is_wanted(arrivals, row, limit_db, within_s):
                continue
            for bounce in range(arrivals.order[row]):
                if facets[bounce] >= room.n_solid_facets:
                    continue  # on a panel that hangs free
                surface = room.surfaces[arrivals.path_surfaces[row, bounce]]
                points = at_point.paths.points[path, : at_point.paths.order[path] + 2]
                zone = fresnel_zone(surface.frame, points, bounce, room.speed_of_sound_m_s)
                zones.setdefault((row, bounce), []).append(zone)
    patches = [_patch(room, arrivals, key, zone, limit_db) for key, zone in zones.items()]
    return tuple(sorted(patches, key=lambda p: (-p.worst_db, p.rows, p.surface)))


def _is_wanted(arrivals: Arrivals, row: int, limit_db: float, within_s: float) -> bool:
    """First reflections, and later ones over the limit, inside the window of a judged speaker."""
    if np.isnan(arrivals.margin_db[row]) or arrivals.delay_s[row] > within_s:
        return False
    return bool(arrivals.order[row] == 1 or arrivals.zone_worst_db[row] > limit_db)


def fresnel_zone(
    frame: Frame, points: Floats, bounce: int, speed_of_sound_m_s: float
) -> tuple[Floats, Floats]:
    """Spot (2,) and outline (48, 2) of the first Fresnel zone at one bounce of a path, in its face's frame.

    Parameters
    ----------
    frame : Frame
        Of the surface that is met there.
    points : (order + 2, 3) float
        Speaker, bounces, listening point. [m]
    bounce : int
        Counted from 0.
    speed_of_sound_m_s : float
    """
    legs = np.linalg.norm(np.diff(points, axis=0), axis=1)
    before_m, after_m = legs[: bounce + 1].sum(), legs[bounce + 1 :].sum()
    wavelength_m = speed_of_sound_m_s / PATCH_FREQUENCY_HZ
    across_m = np.sqrt(wavelength_m * before_m * after_m / (before_m + after_m))
    arriving = points[bounce + 1] - points[bounce]
    arriving = arriving / np.linalg.norm(arriving) if legs[bounce] > 0.0 else -frame.n
    cosine = max(float(abs(arriving @ frame.n)), 0.05)
    along = np.array([arriving @ frame.u, arriving @ frame.v])
    size = np.linalg.norm(along)
    along = along / size if size > 1e-9 else np.array([1.0, 0.0])
    spot = frame.to_plane(points[bounce + 1])
    ellipse = (
        spot
        + across_m / cosine * _CIRCLE[:, :1] * along
        + across_m * _CIRCLE[:, 1:] * np.array([-along[1], along[0]])
    )
    return spot, ellipse


def _patch(
    room: Room,
    arrivals: Arrivals,
    key: tuple[int, int],
    zones: list[tuple[Floats, Floats]],
    limit_db: float,
) -> TreatmentArea:
    row, bounce = key
    surface = int(arrivals.path_surfaces[row, bounce])
    facet = room.facets[arrivals.path_facets[row, bounce]]
    outline = area_outline(room.surfaces[surface].frame, facet.outline, [ellipse for _, ellipse in zones])
    return TreatmentArea(
        surface,
        int(arrivals.speaker[row]),
        int(arrivals.seat[row]),
        outline,
        spots=np.stack([spot for spot, _ in zones]),
        rect=np.concatenate([outline.min(axis=0), outline.max(axis=0)]),
        rows=(row,),
        worst_db=float(arrivals.zone_worst_db[row]),
        over_limit=bool(arrivals.zone_worst_db[row] > limit_db),
        frequency_hz=PATCH_FREQUENCY_HZ,
    )


def area_outline(frame: Frame, face: Floats, zones: Sequence[Floats]) -> Floats:
    """What Fresnel zones (m, 2) take together of a face with an outline (n, 3), in its frame, (k, 2). [m]"""
    return overlap(frame.to_plane(face), convex_hull(np.concatenate(zones)))


def convex_hull(points: Floats) -> Floats:
    """Convex hull of points (n, 2), anticlockwise, (m, 2): Andrew's monotone chain."""
    ordered = sorted(set(map(tuple, _outer(points).tolist())))

    def half(path: list[tuple[float, ...]]) -> list[tuple[float, ...]]:
        chain: list[tuple[float, ...]] = []
        for p in path:
            while len(chain) > 1 and (
                (chain[-1][0] - chain[-2][0]) * (p[1] - chain[-2][1])
                <= (chain[-1][1] - chain[-2][1]) * (p[0] - chain[-2][0])
            ):
                chain.pop()
            chain.append(p)
        return chain[:-1]

    return np.array(half(ordered) + half(ordered[::-1]))


def _outer(points: Floats) -> Floats:
    """Points (n, 2) without those well inside the polygon of the farthest in sixteen directions."""
    farthest = points[np.unique(np.argmax(points @ _CIRCLE[::3].T, axis=0))]
    middle = farthest.mean(axis=0)
    around = farthest - middle
    around = around[np.argsort(np.arctan2(around[:, 1], around[:, 0]))]
    edge = np.roll(around, -1, axis=0) - around
    off = points[:, None] - middle - around
    height = edge[:, 0] * off[..., 1] - edge[:, 1] * off[..., 0]
    slack = 1e-9 * np.max(np.abs(around)) ** 2
    kept: Floats = points[~(height > slack).all(axis=1)]
    return kept


def overlap(polygon: Floats, convex: Floats) -> Floats:
    """What a polygon (n, 2) and an anticlockwise convex one (m, 2) share, running round as the first does."""
    edge = np.roll(polygon, -1, axis=0) - polygon
    turn = edge[:, 0] * np.roll(edge[:, 1], -1) - edge[:, 1] * np.roll(edge[:, 0], -1)
    # A wall has four edges where a patch has a hundred, so a convex one does the cutting.
    if (turn >= 0.0).all():
        return clip_to_convex(convex, polygon)
    if (turn <= 0.0).all():
        return clip_to_convex(convex, polygon[::-1])[::-1]
    return clip_to_convex(polygon, convex)


def clip_to_convex(polygon: Floats, convex: Floats) -> Floats:
    """What of a polygon (n, 2) lies inside an anticlockwise convex one (m, 2), (k, 2).

    Sutherland and Hodgman, Comm. ACM 17 (1974) 32 (from memory); where a concave polygon falls into
    several pieces they stay joined by edges of no width.
    """
    for a, b in zip(convex, np.roll(convex, -1, axis=0), strict=True):
        if not len(polygon):
            break
        edge = b - a
        height = edge[0] * (polygon[:, 1] - a[1]) - edge[1] * (polygon[:, 0] - a[0])
        if (height >= 0.0).all():
            continue
        kept: list[Floats] = []
        for i in range(len(polygon)):
            j = (i + 1) % len(polygon)
            if height[i] >= 0.0:
                kept.append(polygon[i])
            if (height[i] >= 0.0) != (height[j] >= 0.0):
                t = height[i] / (height[i] - height[j])
                kept.append(polygon[i] + t * (polygon[j] - polygon[i]))
        polygon = np.array(kept).reshape(-1, 2)
    return polygon
