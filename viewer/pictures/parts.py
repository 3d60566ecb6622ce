"""What there is to draw of a room, as layers in the colours of a palette: each output picks from these."""

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from viewer import look
from viewer.pictures import meshes
from viewer.pictures.camera import Camera
from viewer.pictures.faces import PARTS, column, is_part, loops_of, outlines, picked, raised
from viewer.pictures.finishes import FINISHES
from viewer.pictures.props import props as props_of
from viewer.pictures.stage import Bools, Floats, Layer, Stage

if TYPE_CHECKING:
    from viewer.pictures.mesh import Mesh

Layers = dict[str, Layer]


def _colours(mesh: "Mesh", of_part: dict[str, str]) -> Floats:
    """Colours of cells by what they are, (n_cells, 3)."""
    found, places = np.unique(column(mesh, "part").astype(np.int64), return_inverse=True)
    return np.array([look.rgb(of_part[PARTS[part]]) for part in found]).reshape(-1, 3)[places]


def _faces(mesh: "Mesh", palette: look.Palette, light: str = "flat", opacity: float = 1.0) -> Layer:
    return Layer(mesh, _colours(mesh, palette.faces), light, opacity)


def _finished(layer: Layer, palette: look.Palette, materials: list[str]) -> Layer:
    """The same faces in the colours of their materials, cell by cell, where the palette has such."""
    if not palette.has_finishes:
        return layer
    known = [FINISHES.get(name) for name in materials]
    colours = [
        look.rgb(finish[0]) if finish else own for finish, own in zip(known, layer.colours, strict=True)
    ]
    return replace(layer, colours=np.reshape(colours, (-1, 3)))


def _lines(mesh: "Mesh", palette: look.Palette, radius_m: float) -> Layer:
    return Layer(mesh, _colours(mesh, palette.lines), radius_m=radius_m)


def walls(stage: Stage, palette: look.Palette) -> Layers:
    """Faces of the room, and of what stands in it."""
    surfaces, is_object = stage.study.room.surfaces, is_part(stage.faces, "furniture")
    found = {
        "walls": _faces(picked(stage.faces, ~is_object), palette, "wall"),
        "furniture": _faces(picked(stage.faces, is_object), palette, "solid"),
    }
    return {
        name: _finished(
            layer, palette, [surfaces[i].material.name for i in column(layer.mesh, "surface").astype(int)]
        )
        for name, layer in found.items()
    }


def edges(stage: Stage, palette: look.Palette, kept: Bools) -> Layers:
    """The kept ones of the edges of the room, and of what stands in it."""
    is_object = is_part(stage.edges, "furniture")
    return {
        "edges": _lines(picked(stage.edges, kept & ~is_object), palette, look.EDGE_M * stage.scale),
        "furniture edges": _lines(
            picked(stage.edges, kept & is_object), palette, look.OBJECT_EDGE_M * stage.scale
        ),
    }


def panes(stage: Stage, palette: look.Palette, camera: Camera | None = None) -> Layers:
    """Windows, doors, openings and covers, before their wall: in the air, or on the side of a camera."""
    mesh = _lifted(stage, meshes.panes(stage.study), look.RAISE_M, camera)
    names = [opening.material.name for opening in stage.study.room.openings]
    return {
        "panes": _finished(_faces(mesh, palette, opacity=look.PANE_OPACITY), palette, names),
        "pane edges": _lines(outlines(mesh), palette, look.OUTLINE_M * stage.scale),
    }


def areas(stage: Stage, palette: look.Palette, patches: "Mesh", camera: Camera | None = None) -> Layer:
    """Areas that send too much to a seat, before their surface."""
    mesh = _lifted(stage, patches, 2 * look.RAISE_M, camera)
    return _faces(mesh, palette, opacity=look.PATCH_OPACITY)


def area_edges(stage: Stage, palette: look.Palette, lines: "Mesh") -> Layer:
    """Edges of such areas."""
    return _lines(lines, palette, look.OUTLINE_M * stage.scale)


def _lifted(stage: Stage, mesh: "Mesh", by_m: float, camera: Camera | None) -> "Mesh":
    """Raised off what it lies on, so that it is not lost in it: into the air, or towards a camera."""
    normals = column(mesh, "normal", 3)
    if camera is not None:
        normals = np.where(camera.sees(middles(mesh), normals)[:, None], normals, -normals)
    return raised(mesh, normals, by_m=by_m * stage.scale)


def middles(mesh: "Mesh") -> Floats:
    """Middles of cells, (n_cells, 3). [m]"""
    return np.array([loop.mean(axis=0) for loop in loops_of(mesh)]).reshape(-1, 3)


def panels(stage: Stage, palette: look.Palette) -> Layers:
    """Panels as blocks, and the cords that some hang on."""
    mesh = meshes.panels(stage.study)
    return {
        "panels": _faces(mesh, palette, "solid"),
        "panel edges": _lines(outlines(mesh), palette, look.OBJECT_EDGE_M * stage.scale),
        "cords": _lines(meshes.cords(stage.study), palette, look.CORD_M * stage.scale),
    }


def speakers(stage: Stage, palette: look.Palette) -> Layers:
    """Speakers, and where they point."""
    axes = meshes.speaker_axes(stage.study, length_m=look.AXIS_LENGTH_M)
    return {
        "speakers": _faces(meshes.speakers(stage.study), palette, "solid"),
        "drivers": _faces(meshes.drivers(stage.study), palette),
        "axes": _lines(axes, palette, look.AXIS_M * stage.scale),
    }


def props(stage: Stage, palette: look.Palette, mesh: "Mesh | None" = None) -> Layers:
    """What things stand on, frames and handles, where that is not known yet."""
    mesh = props_of(stage.study) if mesh is None else mesh
    return {"props": _faces(mesh, palette, "solid")}


def seats(stage: Stage, palette: look.Palette) -> Layers:
    """Listeners, and the range of their heads."""
    zones = meshes.zones(stage.study)
    return {
        "heads": _faces(meshes.heads(stage.study), palette, "solid"),
        "zones": _faces(zones, palette, opacity=look.ZONE_OPACITY),
        "zone edges": _lines(outlines(zones), palette, look.ZONE_LINE_M * stage.scale),
    }


def solids(stage: Stage) -> list[tuple[str, Floats]]:
    """Closed skins of everything solid, each with what it is: triangles (n, 3, 3), not cut to the air. [m]"""
    study, room = stage.study, stage.study.room
    owners = np.array([surface.owner for surface in room.surfaces])[room.surface_of_triangle]
    is_object = ~(room.is_room_surface | room.is_cabinet)[room.surface_of_triangle]  # those are speakers
    is_object &= room.facet_of_triangle < room.n_solid_facets  # the rest are panels that hang free
    found = [
        ("furniture", room.triangles[is_object & (owners == owner)])
        for owner in dict.fromkeys(owners[is_object].tolist())
    ]
    for part, mesh, thing in (
        ("speaker", meshes.speakers(study), "speaker"),
        ("panel", meshes.panels(study), "panel"),
        ("head", meshes.heads(study), "seat"),
    ):
        things = column(mesh, thing).astype(np.int64)
        loops = [loops_of(picked(mesh, things == index)) for index in sorted(set(things.tolist()))]
        found += [(part, _fans(own)) for own in loops]
    return found


def hiders(stage: Stage) -> Floats:
    """Everything that hides light: the room, what is solid in it and what that stands on, (n, 3, 3). [m]"""
    room = stage.study.room
    things = [skin for part, skin in solids(stage) if part != "furniture"]
    own = room.triangles[room.facet_of_triangle < room.n_solid_facets]
    return np.concatenate([own, *things, _fans(loops_of(props_of(stage.study))).reshape(-1, 3, 3)])


def _fans(loops: list[Floats]) -> Floats:
    """Triangles (n, 3, 3) of convex outlines."""
    return np.array([[loop[0], loop[i], loop[i + 1]] for loop in loops for i in range(1, len(loop) - 1)])
