"""Cabinets of speakers: boxes that hide and reflect for all but the speaker whose they are."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.room.polygons import NamedPolygon
from raytrace.room.shapes import box_object_polygons
from raytrace.room.surfaces import CABINET_MATERIAL
from raytrace.scene import Aim, BoxObject, Scene, Speaker, TwoWay

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_USUAL_M = (0.22, 0.20, 0.32)  # depth, width, height of a small two-way speaker (common practice, no source)


class Cabinet(NamedTuple):
    """A speaker's cabinet in its room."""

    owner: str
    """What its surfaces belong to."""
    position: tuple[float, float, float]
    """The acoustic centre, in the middle of its front. [m]"""
    facets: Ints
    """(n,) its facets"""


def speaker_axis(scene: Scene, speaker: Speaker) -> Floats:
    """Unit vector along which a speaker points, (3,)."""
    if isinstance(speaker.aim, Aim):
        yaw, pitch = np.radians(speaker.aim.yaw), np.radians(speaker.aim.pitch)
        return np.array([np.cos(pitch) * np.cos(yaw), np.cos(pitch) * np.sin(yaw), np.sin(pitch)], np.float64)
    target = scene.seats[0].ears if speaker.aim == "seat" else speaker.aim
    axis: Floats = np.subtract(target, speaker.position, dtype=np.float64)
    length = np.linalg.norm(axis)
    if length == 0.0:
        index = scene.speakers.index(speaker)
        raise scene.error(("speakers", index, "aim"), "the speaker aims at its own position")
    axis /= length
    return axis


def cabinet_size_m(speaker: Speaker) -> Floats:
    """Depth, width and height of a speaker as it is drawn, (3,); without a body from its directivity. [m]"""
    if isinstance(speaker.body, tuple):
        return np.array(speaker.body, np.float64)
    shape = speaker.directivity if isinstance(speaker.directivity, TwoWay) else TwoWay()
    return shape.box_radius / TwoWay().box_radius * np.array(_USUAL_M, np.float64)


def cabinet_name(speaker: Speaker) -> str:
    """What the surfaces of a speaker's cabinet belong to."""
    return f"{speaker.name} cabinet"


def cabinet_polygons(scene: Scene) -> tuple[tuple[NamedPolygon, ...], dict[str, Floats]]:
    """Faces of all cabinets whose body is given, and the direction of each one's depth (3,) by its name.

    The front, in whose middle the acoustic centre lies, looks where the speaker does.
    """
    polygons: list[NamedPolygon] = []
    depths: dict[str, Floats] = {}
    for index, speaker in enumerate(scene.speakers):
        if not isinstance(speaker.body, tuple):
            continue
        axis = speaker_axis(scene, speaker)
        box = BoxObject.model_construct(
            name=cabinet_name(speaker),
            shape="box",
            centre=tuple(np.subtract(speaker.position, 0.5 * speaker.body[0] * axis)),
            size=speaker.body,
            # The front of an object looks against its own length.
            yaw=180.0 + float(np.degrees(np.arctan2(axis[1], axis[0]))),
            pitch=-float(np.degrees(np.arcsin(np.clip(axis[2], -1.0, 1.0)))),
            material=CABINET_MATERIAL,
        )
        polygons += box_object_polygons(box, ("speakers", index, "body"))
        depths[box.name] = -axis
    return tuple(polygons), depths


def cabinet_places(scene: Scene) -> tuple[object, ...]:
    """All that decides where cabinets are: the same for two scenes with the same cabinets."""
    return tuple(
        (speaker.name, speaker.position, speaker.body, *speaker_axis(scene, speaker))
        for speaker in scene.speakers
        if isinstance(speaker.body, tuple)
    )
