"""Where on its floor a room has a place for a subwoofer."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from raytrace.room import Room, Site, facet_distance_m, is_steep, prism, why_no_body
from raytrace.scene import Scene, Speaker

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

USUAL_SUB_M = (0.35, 0.35, 0.40)
"""Depth, width and height of a subwoofer of which nothing is said (common practice, no source)."""
USUAL_CENTRE_M = 0.20
"""Height of its acoustic centre above the floor (common practice, no source)."""
STEP_M = 0.10
"""Between places that are tried: a seventeenth of the wave at 200 Hz."""
_FROM_EARS_M = 0.60  # whoever sits there has a chair and legs (common practice, no source)
_AT_WALL_M = 0.15  # between a sub and the wall that its cable runs along (common practice, no source)
_FROM_STAND_M = 0.30  # half a sub and half a stand (common practice, no source)


def sub_size_m(speaker: Speaker | None) -> tuple[float, float, float]:
    """Depth, width and height of a subwoofer. [m]"""
    if speaker is not None and isinstance(speaker.body, tuple):
        return speaker.body
    return USUAL_SUB_M


def floor_grid(room: Room, height_m: float, margin_m: float) -> Floats:
    """Places over the whole floor at a height, on lines at round distances, in the air, (n, 3). [m]"""
    low, high = room.bounds
    x, y = (
        np.arange(np.ceil((low[k] + margin_m) / STEP_M - 1e-9), (high[k] - margin_m) / STEP_M + 1e-9) * STEP_M
        for k in (0, 1)
    )
    places = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    points = np.column_stack([places, np.full(len(places), height_m)])
    return np.asarray(points[room.contains(points)])


def is_free(scene: Scene, room: Room, places: Floats, sub: Speaker | None) -> Bools:
    """Whether a subwoofer can stand at places (n, 3): no wall, furniture, panel, door leaf or person there.

    Parameters
    ----------
    scene, room
    places : (n, 3) float
        Of its acoustic centre. [m]
    sub : Speaker or None
        Whose size it has; its present place is free.
    """
    subs = {speaker.position for speaker in scene.speakers if speaker.use == "sub"}
    cabinets = {cabinet.owner for cabinet in room.cabinets if cabinet.position in subs}
    skins = {owner: skin for owner, skin in room.skins.items() if owner not in cabinets}
    site = Site(scene, room.surfaces, room.facets[: room.n_solid_facets], room.openings, skins)
    depth, width, height = sub_size_m(sub)
    half = 0.5 * max(depth, width)
    corners = half * np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)])
    stands = [s.position[:2] for s in scene.speakers if s.use == "main"]
    kept = [(seat.ears[:2], _FROM_EARS_M) for seat in scene.seats]
    kept += [(stand, _FROM_STAND_M) for stand in stands]
    free = _is_clear_of(places, kept)
    up = np.array([0.0, 0.0, height])
    for k in np.flatnonzero(free):
        base = np.column_stack([corners + places[k, :2], np.zeros(4)])  # heights count from the floor
        free[k] = why_no_body(site, prism(base, up), room.panels) is None
    return free


def is_at_wall(room: Room, places: Floats, sub: Speaker | None) -> Bools:
    """Whether a subwoofer at places (n, 3) stands along a wall, before no door: its cable can lie there."""
    reach_m = 0.5 * max(sub_size_m(sub)[:2]) + _AT_WALL_M
    doors = [door for door in room.openings if door.kind in ("door", "opening")]
    at_wall = np.zeros(len(places), np.bool_)
    for facet in room.facets[: room.n_solid_facets]:
        if room.surfaces[facet.surface].owner is not None or not is_steep(facet.normal):
            continue
        away_m = places @ facet.normal - facet.offset
        for k in np.flatnonzero((away_m >= 0.0) & (away_m <= reach_m) & ~at_wall):
            foot = places[k] - away_m[k] * facet.normal
            u = float(room.surfaces[facet.surface].frame.to_plane(foot)[0])
            before_door = any(
                door.surface == facet.surface and door.rect[0] < u < door.rect[2] for door in doors
            )
            at_wall[k] = not before_door and facet_distance_m(foot, facet) <= room.tolerance_m
    return at_wall


def _is_clear_of(places: Floats, kept: Sequence[tuple[tuple[float, ...], float]]) -> Bools:
    free = np.ones(len(places), np.bool_)
    for centre, radius_m in kept:
        free &= np.linalg.norm(places[:, :2] - np.array(centre), axis=1) >= radius_m
    return free
