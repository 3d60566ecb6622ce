"""Whether furniture that is moved finds room: walls, and other furniture."""

import numpy as np
from numpy.typing import NDArray

from raytrace.room import Room, Shell, Solid, build_room, build_shell, cabinet_size_m, overlap_m, speaker_axis
from raytrace.scene import BoxObject, Scene, Speaker
from raytrace.study.freedoms import box_corners, turned_box
from raytrace.study.study import Study

Floats = NDArray[np.float64]

_MEETS_M = 0.002


def fits(before: Study, scene: Scene, walls: Shell) -> bool:
    """Whether nothing that was moved runs into walls, boxes or speakers that it did not meet before.

    `walls`: those and the objects of the scene before.

    Raises
    ------
    SceneError
        If the scene does not hold together.
    """
    room = build_room(scene, build_shell(scene, walls))
    old, new = (_boxes(study_scene) for study_scene in (before.scene, scene))
    for k, (was, now) in enumerate(zip(old, new, strict=True)):
        if was is None or now is None or np.array_equal(was, now):
            continue
        inside = _in_bounds(before.room, was)
        if not (_in_bounds(room, now) | ~inside).all():
            return False
        for other, (theirs_was, theirs) in enumerate(zip(old, new, strict=True)):
            if other == k or theirs is None or theirs_was is None:
                continue
            met_m = max(overlap_m(_solid(was), _solid(theirs_was)), 0.0)
            if overlap_m(_solid(now), _solid(theirs)) > met_m + _MEETS_M:
                return False
    return True


def _boxes(scene: Scene) -> list[Floats | None]:
    """Corners of the boxes of a scene, and of its speakers as they are drawn; None for other objects. [m]"""
    things = [box_corners(thing) if isinstance(thing, BoxObject) else None for thing in scene.objects]
    return [*things, *(_cabinet(scene, speaker) for speaker in scene.speakers if speaker.use == "main")]


def _cabinet(scene: Scene, speaker: Speaker) -> Floats:
    size, axis = cabinet_size_m(speaker), speaker_axis(scene, speaker)
    yaw, pitch = np.degrees(np.arctan2(axis[1], axis[0])), np.degrees(np.arcsin(np.clip(axis[2], -1.0, 1.0)))
    centre = np.asarray(speaker.position) - 0.5 * size[0] * axis
    return turned_box(centre, size, float(yaw), float(pitch))


def _in_bounds(room: Room, corners: Floats) -> NDArray[np.bool_]:
    """Which corners lie within the room's outermost walls."""
    low, high = room.bounds
    inside: NDArray[np.bool_] = ((corners >= low - _MEETS_M) & (corners <= high + _MEETS_M)).all(axis=1)
    return inside


def _solid(corners: Floats) -> Solid:
    edges = np.array([corners[1] - corners[0], corners[2] - corners[0], corners[4] - corners[0]])
    return Solid(corners, edges)
