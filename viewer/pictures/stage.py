"""What all pictures of one seat share: faces, edges and sound of a study, and what a camera sees of them."""

from dataclasses import dataclass, fields, replace
from itertools import compress
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from raytrace import Orientation, Room, Study, orientation
from viewer import look
from viewer.pictures import meshes
from viewer.pictures.camera import Camera
from viewer.pictures.faces import column, edges, is_part, loops_of, next_corners, picked, room_faces

if TYPE_CHECKING:
    from viewer.pictures.mesh import Mesh

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Layer:
    """Faces or lines drawn alike.

    Attributes
    ----------
    mesh : Mesh
        Faces, or lines drawn as tubes.
    colours : (n_cells, 3) float
        Between 0 and 1.
    light : str
        "wall", "solid" or "flat" (same colour from everywhere).
    opacity : float
        1 = solid.
    radius_m : float
        Of the tubes; 0 for faces. [m]
    is_over : bool
        Drawn over whatever stands before it.
    """

    mesh: "Mesh"
    colours: Floats
    light: str = "flat"
    opacity: float = 1.0
    radius_m: float = 0.0
    is_over: bool = False

    def only(self, rows: Bools) -> "Layer":
        """The same layer with the chosen ones of its cells, (n_cells,)."""
        return replace(self, mesh=picked(self.mesh, rows), colours=self.colours[rows])


def one_colour(colour: str, mesh: "Mesh") -> Floats:
    """The same colour "#RRGGBB" for every cell, (n_cells, 3)."""
    return np.tile(look.rgb(colour), (mesh.n_cells, 1))


@dataclass(frozen=True)
class Stage:
    """Everything of a study that does not depend on the camera; built once for all pictures.

    `leaning` (n_facets,) tells the facets of objects whose back is no face, because it touches a wall;
    `cut_m` where the picture ends, before the back wall: x [m], None where it shows the whole room.
    """

    study: Study
    shown: meshes.DrawnRows
    faces: "Mesh"
    edges: "Mesh"
    patches: "Mesh"
    patch_edges: "Mesh"
    spots: meshes.Spots
    leaning: Bools
    scale: float
    surface: int | None = None
    cut_m: float | None = None

    @property
    def corners(self) -> Floats:
        """Corners of the room as far as it is shown, (n, 3). [m]"""
        room = self.study.room
        corners = np.concatenate([f.outline for f in room.facets if room.is_room_surface[f.surface]])
        return corners if self.cut_m is None else np.minimum(corners, [self.cut_m, np.inf, np.inf])

    @property
    def sized(self) -> Floats:
        """Corners of what a picture gives the size of, (n, 3): the room, or the slope it is about. [m]"""
        room = self.study.room
        lies = None if self.surface is None else orientation(room.surfaces[self.surface].frame.n)
        if lies is not Orientation.SLOPING:
            return self.corners
        return np.concatenate([f.outline for f in room.facets if f.surface == self.surface])


def set_stage(study: Study, seat: int = 0) -> Stage:
    """Prepare what all pictures of one seat share."""
    shown = meshes.shown_rows(study, seat)
    size_m = float(study.room.size_m)
    faces = room_faces(study.room)
    patches = meshes.patches(study, seat)
    patches = picked(patches, is_drawn_area(patches))
    return Stage(
        study=study,
        shown=shown,
        faces=faces,
        edges=edges(faces, size_m=size_m),
        patches=patches,
        patch_edges=edges(patches, size_m=size_m, by="patch"),
        spots=meshes.spots(study, shown.main),
        leaning=_leaning(study.room, faces),
        scale=max(1.0, size_m / look.ROOM_ACROSS_M),
    )


def is_drawn_area(patches: "Mesh") -> Bools:
    """Which areas are drawn without being asked for: of first reflections to be treated, (n_cells,)."""
    return np.asarray(column(patches, "to_treat").astype(bool) & (column(patches, "order") == 1))


def on_surface(stage: Stage, surface: int) -> Stage:
    """The same stage with the sound of one surface only: its spots and patches, no paths."""
    none = np.empty(0, np.int64)
    spots = stage.spots
    kept = spots.surface == surface
    patches = picked(stage.patches, column(stage.patches, "surface") == surface)
    return replace(
        stage,
        shown=replace(stage.shown, main=none, faint=none),
        patches=patches,
        patch_edges=edges(patches, size_m=float(stage.study.room.size_m), by="patch"),
        spots=meshes.Spots(**{field.name: getattr(spots, field.name)[kept] for field in fields(spots)}),
        surface=surface,
    )


def seen_facets(stage: Stage, camera: Camera) -> Bools:
    """Whether each facet of the room is turned towards the camera or seen edge-on, (n_facets,)."""
    facets = stage.study.room.facets
    points, normals = np.array([f.outline[0] for f in facets]), np.array([f.normal for f in facets])
    return np.asarray(np.sum(camera.to_eye(points) * normals, axis=-1) > -1e-9)


def _leaning(room: Room, faces: "Mesh") -> Bools:
    """Facets of objects that stand against a wall: their faces do not close sideways, (n_facets,)."""
    owners = np.array([room.surfaces[facet.surface].owner for facet in room.facets])
    is_object = is_part(faces, "furniture")
    met = owners[column(faces, "facet")[is_object].astype(np.int64)]
    loops = list(compress(loops_of(faces), is_object))
    if not loops:
        return np.zeros(len(owners), np.bool_)
    points = np.concatenate(loops)
    (x, y, z), (u, v, w) = points.T, points[next_corners(loops)].T
    starts = np.cumsum([0, *(len(loop) for loop in loops[:-1])])
    areas = np.add.reduceat(np.stack([y * w - z * v, z * u - x * w], axis=1), starts)
    sideways = {owner: np.hypot(*areas[met == owner].sum(axis=0)) / 2 for owner in set(met.tolist())}
    is_open = [owner for owner, missing_m2 in sideways.items() if missing_m2 > look.OPEN_M2]
    return np.isin(owners, is_open) & (np.arange(len(owners)) < room.n_solid_facets)


def seen_edges(stage: Stage, seen: Bools) -> Bools:
    """Edges that a picture shows, (n_edges,): one of the facets that meet there is turned to the camera.

    Of what stands against a wall all are shown: from behind that wall nothing else would be left of it but
    its top, which would float.
    """
    around = column(stage.edges, "facets", 4).astype(np.int64)
    kept = (seen | stage.leaning)[around]
    return np.asarray((kept & (around >= 0)).any(axis=1))
