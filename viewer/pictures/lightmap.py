"""The light of a room as one picture of brightness, and where on it each face lies: for graphics cards."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from raytrace import Facet, Grid, Study
from viewer import look
from viewer.pictures import parts
from viewer.pictures.faces import column, loops_of, polygons
from viewer.pictures.lighting import Lighting, corner_light, light_room, lit_facets, span_of
from viewer.pictures.stage import Stage

if TYPE_CHECKING:
    from viewer.pictures.mesh import Mesh

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Key = tuple[str, str, int]  # kind and name of what a face is of, and which of its faces

WHITE_PX = 3  # a square in the corner where the picture is white: for faces that have no grid
THINGS = {"panel": "panels", "speaker": "speakers", "seat": "seats"}  # cell arrays, and lists of a scene


@dataclass(frozen=True, eq=False)
class LightMap:
    """Light on everything in a room, by the names of things: what is moved takes its light with it.

    Attributes
    ----------
    pixels : (height, width) uint8
        Brightness, 255 for 1: the grids of all flat faces, each with a rim of its own outermost values.
    places : dict
        Of each face its left and lower pixel, and how many points its grid has along both.
    corners : dict
        Of each thing whose faces have no grid: brightness at the corners of its faces, (n,).
    usual : float
        Brightness of what is not lit yet.
    props : Mesh
        What things stand on, frames and handles, as `parts.props`; cell array `prop` counts the faces.
    prop_shades : (n_faces, 4) float
        Brightness at their corners.
    of : tuple
        What they belong to.
    """

    pixels: NDArray[np.uint8]
    places: dict[Key, tuple[int, int, int, int]]
    corners: dict[tuple[str, str], Floats]
    usual: float
    props: "Mesh"
    prop_shades: Floats
    of: tuple[Any, ...]
    known: dict[bytes, tuple[Floats, Floats]] = field(default_factory=dict)

    def fits(self, study: Study) -> bool:
        """Whether all that stands on something stands where it did, so that what it stands on fits."""
        return self.of == _standing(study)

    def on(self, study: Study, mesh: "Mesh") -> tuple[Floats, Floats]:
        """Light on the faces of a mesh of a study, this one's or a later one's.

        Returns
        -------
        (n,) float, (n, 2) float
            Of every corner of every face, in order: brightness besides that of the picture; where in the
            picture it lies, from 0 to 1 to the right and upwards.
        """
        loops = loops_of(mesh)
        counts = np.array([len(loop) for loop in loops])
        shades = np.full(int(counts.sum()), self.usual)
        if mesh.has("prop"):
            shades = self.prop_shades[column(mesh, "prop").astype(np.int64)].ravel()
        for name, things in THINGS.items():
            if mesh.has(name):
                shades = self._thing_shades(study, things, np.repeat(column(mesh, name), counts))
        texels = np.full((len(shades), 2), WHITE_PX / 2)
        grid = next((name for name in ("facet", "grid") if mesh.has(name)), None)
        if grid is not None:
            rows = np.repeat(column(mesh, grid).astype(np.int64), counts)
            self._lay(study, np.concatenate(loops), rows, shades, texels)
        return shades, texels / self.pixels.shape[::-1]

    def _thing_shades(self, study: Study, things: str, rows: Ints) -> Floats:
        shades = np.full(len(rows), self.usual)
        for index in np.unique(rows).tolist():
            known = self.corners.get((things, _name_of(study, things, int(index))))
            own = rows == index
            if known is not None and len(known) == own.sum():
                shades[own] = known
        return shades

    def _lay(self, study: Study, points: Floats, rows: Ints, shades: Floats, texels: Floats) -> None:
        """Put corners that lie on faces with a grid where the picture has it."""
        keys, facets = face_keys(study), lit_facets(study)
        for row in np.unique(rows[rows >= 0]).tolist():
            place = self.places.get(keys[row])
            if place is None:
                continue
            left, low, nu, nv = place
            matrix, start = self._span(facets[row])
            own = rows == row
            share = np.clip(points[own] @ matrix.T + start, 0.0, 1.0)
            texels[own] = np.array([left + 0.5, low + 0.5]) + share * np.array([nu - 1, nv - 1])
            shades[own] = 1.0

    def _span(self, facet: Facet) -> tuple[Floats, Floats]:
        key = facet.outline.tobytes() + facet.normal.tobytes()
        if key not in self.known:
            self.known[key] = span_of(facet)
        return self.known[key]


def map_light(stage: Stage) -> LightMap:
    """The light of a room as it stands, with all that is in it; takes about a second."""
    study, lighting = stage.study, light_room(stage)
    pixels, places = _packed(lighting.grids)
    props = parts.props(stage, look.PRINT)["props"].mesh
    loops = loops_of(props)
    return LightMap(
        pixels,
        places=dict(zip(face_keys(study), places, strict=True)),
        corners=_thing_light(stage, lighting),
        usual=float(np.mean(np.concatenate([grid.values.ravel() for grid in lighting.grids]))),
        props=polygons(
            loops, prop=np.arange(len(loops)), part=column(props, "part"), surface=column(props, "surface")
        ),
        prop_shades=np.reshape(corner_light(lighting, props, loops), (-1, 4)),
        of=_standing(study),
    )


def _thing_light(stage: Stage, lighting: Lighting) -> dict[tuple[str, str], Floats]:
    """Brightness at the corners of panels, speakers and heads."""
    found = {}
    layers = parts.panels(stage, look.PRINT) | parts.speakers(stage, look.PRINT)
    layers |= parts.seats(stage, look.PRINT)
    for layer, (name, things) in zip(("panels", "speakers", "heads"), THINGS.items(), strict=True):
        mesh = layers[layer].mesh
        light = corner_light(lighting, mesh, loops_of(mesh))
        owners = column(mesh, name).astype(np.int64)
        for index in np.unique(owners).tolist():
            own = [light[i] for i in np.flatnonzero(owners == index)]
            found[things, _name_of(stage.study, things, index)] = np.concatenate(own)
    return found


def _standing(study: Study) -> tuple[Any, ...]:
    """What things stand on is made of these, and of frames in walls."""
    scene = study.scene
    return scene.room, scene.speakers, scene.seats, scene.objects, scene.openings, scene.keep_outs


def face_keys(study: Study) -> list[Key]:
    """What each face with a grid is a face of, in the order of `lit_facets`."""
    room = study.room
    names = [("surface", room.surfaces[f.surface].name) for f in room.facets[: room.n_solid_facets]]
    names += [("opening", opening.name) for opening in room.openings]
    names += [("panel", panel.name) for panel in room.panels]
    met: dict[tuple[str, str], int] = {}
    keys = []
    for kind, name in names:
        met[kind, name] = met.get((kind, name), -1) + 1
        keys.append((kind, name, met[kind, name]))
    return keys


def _name_of(study: Study, things: str, index: int) -> str:
    return str(
        study.room.panels[index].name if things == "panels" else getattr(study.scene, things)[index].name
    )


def _packed(grids: Sequence[Grid]) -> tuple[NDArray[np.uint8], list[tuple[int, int, int, int]]]:
    """Grids beside each other in one picture, the tallest first, in rows from the lower edge upwards."""
    sizes = [(grid.values.shape[1] + 2, grid.values.shape[0] + 2) for grid in grids]
    area = sum(w * h for w, h in sizes)
    width = max(max(w for w, _ in sizes) + WHITE_PX, int(np.sqrt(1.2 * area)))
    places: dict[int, tuple[int, int]] = {}
    left, low, top = WHITE_PX, 0, WHITE_PX
    for index in sorted(range(len(grids)), key=lambda i: -sizes[i][1]):
        w, h = sizes[index]
        if left + w > width:
            left, low = 0, top
        places[index] = left, low
        left, top = left + w, max(top, low + h)
    pixels = np.full((top, width), 255, np.uint8)
    found = []
    for index, grid in enumerate(grids):
        left, low = places[index]
        w, h = sizes[index]
        values = np.pad(np.clip(np.round(255 * grid.values), 0, 255).astype(np.uint8), 1, mode="edge")
        pixels[low : low + h, left : left + w] = values
        found.append((left + 1, low + 1, w - 2, h - 2))
    return pixels, found
