"""Panels and stands that are mirror images of each other in the listening axis, and move as one."""

import numpy as np
from numpy.typing import NDArray

from raytrace import Study, listening_axis
from viewer.window.state.handling import place_at, point_at
from viewer.window.state.view_state import Thing

Floats = NDArray[np.float64]

PAIR_M = 0.010  # corners that are so near to each other's mirror images make a pair: a step of the grid
_PAIRED = ("panels", "stands")


def partner_of(study: Study, thing: Thing) -> Thing | None:
    """The panel or stand that is a thing's mirror image in the axis of speakers and first seat, if any."""
    axis_m = listening_axis(study.scene) if thing[0] in _PAIRED else None
    if axis_m is None:
        return None
    corners = _flipped(_corners(study, thing), axis_m)
    for index in range(len(getattr(study.scene, thing[0]))):
        other: Thing = (thing[0], index)
        if other != thing and _are_alike(corners, _corners(study, other)):
            return other
    return None


def partner_place(study: Study, thing: Thing, place: tuple[float, ...], partner: Thing) -> tuple[float, ...]:
    """Where a thing's partner goes when the thing goes to a place, as the scene file says it. [m]"""
    axis_m = listening_axis(study.scene)
    assert axis_m is not None, "there are no pairs without an axis"
    return place_at(study, partner, _flipped(point_at(study, thing, place), axis_m))


def _corners(study: Study, thing: Thing) -> Floats:
    """Corners of a thing's panels, (n, 3). [m]"""
    own = [np.concatenate([p.corners, p.back]) for p in study.room.panels if p.key[:2] == thing]
    return np.concatenate(own) if own else np.zeros((0, 3))


def _flipped(points: Floats, axis_m: float) -> Floats:
    flipped: Floats = points * [1, -1, 1] + [0, 2 * axis_m, 0]
    return flipped


def _are_alike(a: Floats, b: Floats) -> bool:
    """Whether each corner of one thing has its like in the other."""
    if not len(a) or a.shape != b.shape:
        return False
    away_m = np.linalg.norm(a[:, None] - b[None], axis=2)
    return bool(max(away_m.min(axis=0).max(), away_m.min(axis=1).max()) <= PAIR_M)
