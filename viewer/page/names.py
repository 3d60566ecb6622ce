"""Words laid over the room on the page: where they stand and when they are turned away."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from viewer.page.controls import rounded
from viewer.pictures import Stage, column, loops_of, meshes
from viewer.words import panel_group_words, seat_words, speaker_words

Contents = dict[str, Any]
Floats = NDArray[np.float64]


def names(stage: Stage) -> list[Contents]:
    """Words laid over the picture, the most important first."""
    study = stage.study
    scene = study.scene
    found = [
        _name(speaker_words(study, i), np.add(speaker.position, (0.0, 0.0, 0.2)), "thing")
        for i, speaker in enumerate(scene.speakers)
    ]
    found += [
        _name(seat_words(study, i), np.add(seat.ears, (0.0, 0.0, 0.18)), "thing")
        for i, seat in enumerate(scene.seats)
    ]
    found += _thing_names(stage)
    return [*found, *_surface_names(stage)]


def _name(text: str, at: Floats, kind: str, *, layer: str = "room", plane: Floats | None = None) -> Contents:
    """A word at a place; with a plane (normal and offset) only while that is turned to the viewer."""
    return {
        "text": text,
        "at": rounded(at),
        "kind": kind,
        "layer": layer,
        "plane": None if plane is None else rounded(plane, 5),
    }


def _thing_names(stage: Stage) -> list[Contents]:
    """Names of objects, windows and doors in their middle."""
    study = stage.study
    loops, surfaces = loops_of(stage.faces), column(stage.faces, "surface").astype(np.int64)
    corners: dict[str, list[Floats]] = {}
    for loop, surface in zip(loops, surfaces, strict=True):
        if not study.room.is_room_surface[surface]:
            corners.setdefault(study.room.surfaces[surface].owner, []).append(loop)
    groups: dict[str, list[Floats]] = {}
    for panel in study.room.panels:
        groups.setdefault(panel_group_words(panel), []).append(panel.centre)
    found = [
        _name(group, np.mean(middles, axis=0), "thing", layer="panels") for group, middles in groups.items()
    ]
    for owner, parts in corners.items():
        low, high = np.vstack(parts).min(axis=0), np.vstack(parts).max(axis=0)
        found.append(_name(owner, (low + high) / 2, "place", layer="objects"))
    panes = meshes.panes(study)
    normals = column(panes, "normal", 3)
    for loop, normal, opening in zip(loops_of(panes), normals, column(panes, "opening"), strict=True):
        middle, name = loop.mean(axis=0), study.scene.openings[int(opening)].name
        found.append(_name(name, middle, "place", plane=np.array([*normal, normal @ middle])))
    return found


def _surface_names(stage: Stage) -> list[Contents]:
    """Names of the room's surfaces on their largest flat piece."""
    room = stage.study.room
    found = []
    for index, surface in enumerate(room.surfaces):
        if room.is_room_surface[index]:
            pieces = [room.facets[facet] for facet in surface.facets]
            largest = max(pieces, key=lambda piece: float(np.ptp(piece.outline, axis=0).sum()))
            plane = np.array([*largest.normal, largest.offset])
            found.append(_name(surface.name, largest.outline.mean(axis=0), "surface", plane=plane))
    return found
