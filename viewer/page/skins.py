"""Faces that the page draws: room, furniture, panels and areas as triangles with their words."""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from raytrace import Hook
from viewer import look
from viewer.page.controls import hex_colour, rounded
from viewer.page.words import capital, panel_words
from viewer.pictures import Layer, Stage, column, loops_of, parts
from viewer.words import CHANGE_FURNITURE, is_table_top, speaker_words

if TYPE_CHECKING:
    from pyvista import PolyData

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
        *_panel_skins(stage, hooks, units),
        *_patch_skins(stages),
    ]


def _triangles(mesh: "PolyData") -> list[float]:
    """Convex faces as a flat list of triangle corners, turned to the side of the normals that they have."""
    loops = loops_of(mesh)
    if "normal" in mesh.cell_data:
        loops = [_turned(loop, normal) for loop, normal in zip(loops, column(mesh, "normal"), strict=True)]
    corners = [[loop[0], loop[i], loop[i + 1]] for loop in loops for i in range(1, len(loop) - 1)]
    flat: list[float] = rounded(np.array(corners).ravel())
    return flat


def _turned(loop: Floats, normal: Floats) -> Floats:
    return loop[::-1] if np.cross(loop[1] - loop[0], loop[2] - loop[1]) @ normal < 0 else loop


def _by(layer: Layer, name: str) -> dict[int, Layer]:
    """A layer parted by one of its cell arrays."""
    values = column(layer.mesh, name).astype(np.int64)
    return {value: layer.only(values == value) for value in sorted(set(values.tolist()))}


def _skin(layer: Layer, switch: str, kind: str, text: str = "", **more: Any) -> Contents:
    """What is drawn of faces of one colour, and the switch on the page that it goes with."""
    return {
        "layer": switch,
        "kind": kind,
        "colour": hex_colour(layer.colours[0]),
        "triangles": _triangles(layer.mesh),
        "text": text,
        "light": layer.light,
        "opacity": layer.opacity,
        **more,
    }


def _room_skins(stage: Stage) -> list[Contents]:
    """Surfaces of the room and of what stands in it, windows and doors."""
    room, scene = stage.study.room, stage.study.scene
    faces = parts.walls(stage, look.PRINT)
    skins = []
    for layer, switch in ((faces["walls"], "room"), (faces["furniture"], "objects")):
        for facet, face in _by(layer, "facet").items():
            surface = room.surfaces[room.facets[facet].surface]
            name = surface.name if switch == "room" else surface.owner
            skins.append(_skin(face, switch, "face", f"{capital(name)}: {surface.material.name}"))
    panes = parts.panes(stage, look.PRINT)["panes"]
    for opening, pane in _by(panes, "opening").items():
        given = scene.openings[opening]
        skins.append(_skin(pane, "room", "pane", f"{capital(given.name)}: {scene.covering(given)}"))
    return skins


def _furniture_skins(stage: Stage) -> list[Contents]:
    """Speakers, heads and the range of the head."""
    layers = parts.speakers(stage, look.PRINT) | parts.seats(stage, look.PRINT)
    kinds = {"speakers": "thing", "drivers": "thing", "heads": "head", "zones": "zone"}
    return [
        _skin(layer, "room", kind)
        for name, kind in kinds.items()
        for layer in _by(layers[name], "part").values()
    ]


def _panel_skins(stage: Stage, hooks: Sequence[Hook], units: str) -> list[Contents]:
    """Panels with what they are made of."""
    skins = []
    for index, block in _by(parts.panels(stage, look.PRINT)["panels"], "panel").items():
        panel = stage.study.room.panels[index]
        text = panel_words(panel, [hook for hook in hooks if index in hook.holds], units)
        plane = rounded(np.array([*panel.normal, panel.normal @ panel.centre]), 5)
        skins.append(_skin(block, "panels", "panel", text, plane=plane))
    return skins


def _patch_skins(stages: Iterable[Stage]) -> list[Contents]:
    """Areas that send too much to a seat, by seat and speaker."""
    skins = []
    for stage in stages:
        study = stage.study
        for index, area in _by(parts.areas(stage, look.PRINT, stage.patches), "patch").items():
            patch = study.treatment_areas[index]
            surface = study.room.surfaces[patch.surface]
            speaker = speaker_words(study, patch.speaker)
            text = f"Area on the {surface.name}: from here too much of the {speaker} reaches the seat"
            if is_table_top(surface):
                text += f". Before it is covered: {CHANGE_FURNITURE}"
            heard = {
                "seat": study.scene.seats[patch.seat].name,
                "speaker": study.scene.speakers[patch.speaker].name,
            }
            skins.append(_skin(area, "patches", "patch", text, **heard))
    return skins
