"""Corners of a room's plan in the hand: which is under the pointer, and where it is drawn to."""

import numpy as np
from numpy.typing import NDArray

from raytrace import Study
from viewer.pictures import Camera
from viewer.window.state.pointing import Pixel, nearest_point
from viewer.window.state.view_state import OnScreen

Floats = NDArray[np.float64]
Plan = tuple[tuple[float, float], ...]

GRIP_PX = 10.0
HANDLE_M = 0.06
STRAIGHT = 0.99  # cosine


def plan_of(study: Study) -> Plan:
    """Corners of the floor as the scene gives them; none where it gives no plan. [m]"""
    room = study.scene.room
    return tuple((float(x), float(y)) for x, y in room.corners) if room.shape == "plan" else ()


def on_floor(study: Study, plan: Plan) -> Floats:
    """Corners of a plan at the height of the floor, (n, 3). [m]"""
    return np.array([(x, y, float(study.room.bounds[0, 2])) for x, y in plan]).reshape(-1, 3)


def is_from_above(shown: OnScreen) -> bool:
    """Whether the room is seen straight from above."""
    return float(shown.eye.camera((100, 100)).forward[2]) < -STRAIGHT


def corner_at(shown: OnScreen, camera: Camera, pixel: Pixel) -> int | None:
    """The corner under a pixel, in a plan that is seen from above."""
    corners = on_floor(shown.study, plan_of(shown.study))
    return nearest_point(camera, corners, pixel, GRIP_PX) if len(corners) and is_from_above(shown) else None


def corner_catches(plan: Plan, index: int) -> tuple[tuple[int, float, str], ...]:
    """Lines that a corner is drawn to: square to the room's axes from its neighbours."""
    beside = (plan[index - 1], plan[(index + 1) % len(plan)])
    return tuple((axis, own[axis], "square to the next corner") for own in beside for axis in (0, 1))


def with_corner(plan: Plan, index: int, corner: tuple[float, float]) -> Plan:
    """A plan with one corner somewhere else. [m]"""
    return (*plan[:index], corner, *plan[index + 1 :])


def walls_beside(plan: Plan, index: int) -> tuple[float, float]:
    """Lengths of the two walls that meet in a corner. [m]"""
    here, beside = np.array(plan[index]), (plan[index - 1], plan[(index + 1) % len(plan)])
    before, after = (float(np.linalg.norm(here - own)) for own in beside)
    return before, after


def plan_lines(shown: OnScreen) -> list[Floats]:
    """A handle at each corner of a plan seen from above, and the plan that is asked for. [m]"""
    plan = shown.plan or plan_of(shown.study)
    if not plan or not is_from_above(shown):
        return []
    corners = on_floor(shown.study, plan)
    half = HANDLE_M * shown.stage.scale
    square = half * np.array([(-1, -1, 0), (1, -1, 0), (1, 1, 0), (-1, 1, 0), (-1, -1, 0)], np.float64)
    whole = [] if shown.plan is None else [np.vstack([corners, corners[:1]])]
    return [*whole, *(corner + square for corner in corners)]
