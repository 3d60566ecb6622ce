"""Faces that the page draws: room, furniture, panels and areas as triangles with their words."""

from base64 import b64encode
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from raytrace import Grid, Hook
from viewer import look
from viewer.page.controls import hex_colour, rounded
from viewer.page.words import capital, panel_words
from viewer.pictures import Layer, Lighting, Stage, column, corner_light, light_room, loops_of, parts
from viewer.words import CHANGE_FURNITURE, is_table_top, speaker_words

if TYPE_CHECKING:
    from viewer.pictures import Mesh

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
    stage, lighting = stages[0], light_room(stages[0])
    return [
        *_room_skins(stage, lighting),
        *_furniture_skins(stage, lighting),
        *_panel_skins(stage, lighting, hooks, units),
        *_patch_skins(stages),
    ]


def _loops(mesh: "Mesh") -> list[Floats]:
    """Convex faces, turned to the side of the normals that they have."""
    loops = loops_of(mesh)
    if mesh.has("normal"):
        loops = [_turned(loop, normal) for loop, normal in zip(loops, column(mesh, "normal"), strict=True)]
    return loops


def _fans(rows: Sequence[Floats]) -> Floats:
    """What belongs to the corners of faces (k, ...) as what belongs to those of their triangles, (n, ...)."""
    return np.array([row[k] for row in rows for i in range(1, len(row) - 1) for k in (0, i, i + 1)])


def _bytes(brightness: Floats) -> str:
    """Brightness as one byte each, 255 for 1."""
    return b64encode(np.clip(np.round(255 * brightness), 0, 255).astype(np.uint8).tobytes()).decode("ascii")


def _map(grid: Grid) -> Contents:
    """Light on a flat face, as a picture that lies on it: values row by row, and where its points are."""
    return {
        "values": _bytes(grid.values),
        "size": list(grid.values.shape[::-1]),
        "origin": rounded(grid.origin, 4),
        "axes": rounded(grid.axes, 6),
        "low": rounded(grid.low, 4),
        "step": rounded(grid.step, 5),
        "pattern": grid.pattern.name.lower(),
    }


def _turned(loop: Floats, normal: Floats) -> Floats:
    return loop[::-1] if np.cross(loop[1] - loop[0], loop[2] - loop[1]) @ normal < 0 else loop


def _by(layer: Layer, name: str) -> dict[int, Layer]:
    """A layer parted by one of its cell arrays."""
    values = column(layer.mesh, name).astype(np.int64)
    return {value: layer.only(values == value) for value in sorted(set(values.tolist()))}


def _skin(layer: Layer, switch: str, kind: str, text: str = "", **more: Any) -> Contents:
    """What is drawn of faces of one colour, and the switch on the page that it goes with."""
    loops = _loops(layer.mesh)
    return {
        "layer": switch,
        "kind": kind,
        "colour": hex_colour(layer.colours[0]),
        "triangles": rounded(_fans(loops).ravel()),
        "text": text,
        "light": layer.light,
        "opacity": layer.opacity,
        **more,
    }


def _shaded(skin: Contents, layer: Layer, lighting: Lighting) -> Contents:
    """A skin with the light at the corners of its triangles."""
    light = corner_light(lighting, layer.mesh, _loops(layer.mesh))
    return skin | {"shades": _bytes(_fans(light))}


def _room_skins(stage: Stage, lighting: Lighting) -> list[Contents]:
    """Surfaces of the room and of what stands in it, windows and doors."""
    room, scene = stage.study.room, stage.study.scene
    faces = parts.walls(stage, look.PRINT)
    skins = []
    for layer, switch in ((faces["walls"], "room"), (faces["furniture"], "objects")):
        for facet, face in _by(layer, "facet").items():
            surface = room.surfaces[room.facets[facet].surface]
            name = surface.owner if switch == "objects" and surface.owner else surface.name
            text = f"{capital(name)}: {surface.material.name}"
            skins.append(_skin(face, switch, "face", text, map=_map(lighting.grids[facet])))
    panes = parts.panes(stage, look.PRINT)["panes"]
    for opening, pane in _by(panes, "opening").items():
        given = scene.openings[opening]
        light = _map(lighting.grids[int(column(pane.mesh, "grid")[0])])
        text = f"{capital(given.name)}: {scene.covering(given)}"
        skins.append(_skin(replace(pane, opacity=1.0), "room", "pane", text, map=light))
    return skins


def _furniture_skins(stage: Stage, lighting: Lighting) -> list[Contents]:
    """Speakers, heads, what they and tables stand on, and the range of the head."""
    layers = parts.speakers(stage, look.PRINT) | parts.seats(stage, look.PRINT)
    props = parts.props(stage, look.PRINT)["props"]
    layers["legs"] = props.only(column(props.mesh, "surface") < 0)
    kinds = {"speakers": "thing", "drivers": "thing", "heads": "head", "legs": "thing", "zones": "zone"}
    return [
        skin if layer.light == "flat" else _shaded(skin, layer, lighting)
        for name, kind in kinds.items()
        for layer in _by(layers[name], "part").values()
        for skin in [_skin(layer, "room", kind)]
    ]


def _panel_skins(stage: Stage, lighting: Lighting, hooks: Sequence[Hook], units: str) -> list[Contents]:
    """Panels with what they are made of."""
    skins = []
    for index, block in _by(parts.panels(stage, look.PRINT)["panels"], "panel").items():
        panel = stage.study.room.panels[index]
        text = panel_words(panel, [hook for hook in hooks if index in hook.holds], units)
        plane = rounded(np.array([*panel.normal, panel.normal @ panel.centre]), 5)
        skins.append(_shaded(_skin(block, "panels", "panel", text, plane=plane), block, lighting))
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
