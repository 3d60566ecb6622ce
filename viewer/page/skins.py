"""Faces that the page draws: room, furniture, panels and areas as triangles with their words."""

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from raytrace import Hook, Orientation, Study, orientation
from viewer import look
from viewer.page.controls import rounded
from viewer.page.words import capital, panel_words
from viewer.pictures import Stage, column, loops_of, meshes, picked, raised
from viewer.words import CHANGE_FURNITURE, is_table_top, speaker_words

Contents = dict[str, Any]
Floats = NDArray[np.float64]


def skins(stages: Sequence[Stage], hooks: Sequence[Hook], units: str) -> list[Contents]:
    """All faces of one study: what is drawn of them, in which layer, and what is read out of them.

    Parameters
    ----------
    stages : sequence of Stage
        One for each seat.
    hooks : sequence of Hook
        What holds the panels.
    units : {"metric", "imperial"}
        Of the sizes of panels.
    """
    stage = stages[0]
    return [
        *_room_skins(stage),
        *_furniture_skins(stage),
        *_panel_skins(stage.study, hooks, units),
        *_patch_skins(stages),
    ]


def _triangles(loops: Iterable[Floats], normal: Floats | None = None) -> list[float]:
    """Convex outlines as a flat list of triangle corners, turned to the side of a normal."""
    corners: list[Floats] = []
    for loop in loops:
        turned = loop
        if normal is not None and np.cross(loop[1] - loop[0], loop[2] - loop[1]) @ normal < 0:
            turned = loop[::-1]
        for i in range(1, len(turned) - 1):
            corners += [turned[0], turned[i], turned[i + 1]]
    flat: list[float] = rounded(np.array(corners).ravel())
    return flat


def _skin(
    layer: str, kind: str, colour: str, triangles: list[float], text: str = "", **more: Any
) -> Contents:
    return {
        "layer": layer,
        "kind": kind,
        "colour": colour,
        "triangles": triangles,
        "text": text,
        "light": "solid",
        **more,
    }


def _room_skins(stage: Stage) -> list[Contents]:
    """Surfaces of the room and of what stands in it, windows and doors."""
    room, scene = stage.study.room, stage.study.scene
    loops = loops_of(stage.faces)
    facets = column(stage.faces, "facet").astype(np.int64)
    skins = []
    for index in sorted(set(facets.tolist())):
        facet = room.facets[index]
        surface = room.surfaces[facet.surface]
        is_room = bool(room.is_room_surface[facet.surface])
        colour = look.FLOOR if orientation(facet.normal) is Orientation.LEVEL_UP else look.WALL
        own = [loop for loop, owner in zip(loops, facets, strict=True) if owner == index]
        name = surface.name if is_room else surface.owner
        skins.append(
            _skin(
                "room" if is_room else "objects",
                "face",
                colour if is_room else look.OBJECT,
                _triangles(own, facet.normal),
                f"{capital(name)}: {surface.material.name}",
            )
        )
    panes = meshes.panes(stage.study)
    normals = column(panes, "normal", 3)
    lifted = raised(panes, normals, by_m=look.RAISE_M * stage.scale)
    for loop, normal, opening in zip(loops_of(lifted), normals, column(panes, "opening"), strict=True):
        given = scene.openings[int(opening)]
        text = f"{capital(given.name)}: {given.material}"
        skins.append(_skin("room", "pane", look.PANE, _triangles([loop], normal), text))
    return skins


def _furniture_skins(stage: Stage) -> list[Contents]:
    """Speakers, heads and the range of the head."""
    study = stage.study
    boxes = meshes.speakers(study)
    is_front = column(boxes, "is_front").astype(bool)
    parts = (
        ("thing", picked(boxes, ~is_front), look.SPEAKER, "solid"),
        ("thing", picked(boxes, is_front), look.SPEAKER_FRONT, "solid"),
        ("thing", meshes.drivers(study), look.DRIVER, "flat"),
        ("head", meshes.heads(study), look.HEAD, "solid"),
    )
    skins = [
        _skin("room", kind, colour, _triangles(loops_of(mesh)), light=light)
        for kind, mesh, colour, light in parts
        if mesh.n_cells
    ]
    zones = _triangles(loops_of(meshes.zones(study)))
    return [*skins, _skin("room", "zone", look.HEAD, zones, opacity=look.ZONE_OPACITY)]


def _panel_skins(study: Study, hooks: Sequence[Hook], units: str) -> list[Contents]:
    """Panels with what they are made of."""
    mesh = meshes.panels(study)
    loops, owners = loops_of(mesh), column(mesh, "panel").astype(np.int64)
    skins = []
    for index, panel in enumerate(study.room.panels):
        own = [loop for loop, owner in zip(loops, owners, strict=True) if owner == index]
        held = [hook for hook in hooks if hook.panel == index]
        text = panel_words(panel, held, units)
        plane = rounded(np.array([*panel.normal, panel.normal @ panel.centre]), 5)
        skins.append(_skin("panels", "panel", look.PANEL, _triangles(own), text, plane=plane))
    return skins


def _patch_skins(stages: Iterable[Stage]) -> list[Contents]:
    """Areas that send too much to a seat, by seat and speaker."""
    skins = []
    for stage in stages:
        study, patches = stage.study, stage.patches
        normals = column(patches, "normal", 3)
        lifted = loops_of(raised(patches, normals, by_m=2 * look.RAISE_M * stage.scale))
        owners = column(patches, "patch").astype(np.int64)
        for index in sorted(set(owners.tolist())):
            patch = study.treatment_areas[index]
            own = [loop for loop, owner in zip(lifted, owners, strict=True) if owner == index]
            surface = study.room.surfaces[patch.surface]
            speaker = speaker_words(study, patch.speaker)
            text = f"Area on the {surface.name}: from here too much of the {speaker} reaches the seat"
            if is_table_top(surface):
                text += f". Before it is covered: {CHANGE_FURNITURE}"
            skins.append(
                _skin(
                    "patches",
                    "patch",
                    look.ACCENT,
                    _triangles(own),
                    text,
                    opacity=look.PATCH_OPACITY,
                    seat=study.scene.seats[patch.seat].name,
                    speaker=study.scene.speakers[patch.speaker].name,
                )
            )
    return skins
