"""The light of a room, worked out once for all its pictures: soft, by rays, as brightness on its faces."""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any
from weakref import ref

import numpy as np
from numpy.typing import NDArray

from raytrace import (
    Facet,
    Glow,
    Grid,
    Orientation,
    Pattern,
    PlacedOpening,
    PlacedPanel,
    Study,
    orientation,
    soft_light,
)
from viewer.pictures import parts
from viewer.pictures.faces import is_part
from viewer.pictures.finishes import FINISHES
from viewer.pictures.props import lamp_places
from viewer.pictures.stage import Stage

if TYPE_CHECKING:
    from viewer.pictures.mesh import Mesh

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

GRAIN_M = 0.05  # between the points of a grid
MOST_POINTS = 40_000  # of all grids together: the points of large rooms lie farther apart
FEWEST = 4  # along a face
INSET_M = 0.004  # of the outermost points, off the faces that meet there
WINDOW, LAMP_M2 = 0.9, 1.5  # brightness of a window for its size; of the lamp
BEHIND = 0.78  # brightness of the back of a panel
LAMP_RADIUS_M, LAMP_DROP_M = 0.22, 0.45


@dataclass(frozen=True)
class Lighting:
    """Light on everything in a room.

    Attributes
    ----------
    triangles : (n, 3, 3) float
        What hides light. [m]
    glows : tuple of Glow
        Windows and a lamp.
    facets : tuple of Facet
        Flat faces that have a grid each: those of the room, then its openings, then fronts of panels.
    patterns : tuple of Pattern
        What they look like.
    known : dict
        What `corner_light` has found.
    """

    triangles: Floats
    glows: tuple[Glow, ...]
    facets: tuple[Facet, ...]
    patterns: tuple[Pattern, ...]
    known: dict[Any, list[Floats]] = field(default_factory=dict)

    @cached_property
    def grids(self) -> tuple[Grid, ...]:
        """Brightness of every face, in the order of `facets`."""
        area_m2 = sum(float(np.prod(_extent(f, _axes(f))[1])) for f in self.facets)
        step_m = max(GRAIN_M, float(np.sqrt(area_m2 / MOST_POINTS)))
        empty = [_empty_grid(f, p, step_m) for f, p in zip(self.facets, self.patterns, strict=True)]
        places = [_grid_points(grid) for grid in empty]
        inside = [_is_inside(f, at) for f, at in zip(self.facets, places, strict=True)]
        kept = [at[is_in] for at, is_in in zip(places, inside, strict=True)]
        normals = np.repeat([f.normal for f in self.facets], [len(at) for at in kept], axis=0)
        light = soft_light(self.triangles, np.concatenate(kept), normals, self.glows)
        ends = np.cumsum([len(at) for at in kept])[:-1]
        found = zip(empty, inside, np.split(light, ends), strict=True)
        return tuple(_filled(grid, is_in, own) for grid, is_in, own in found)

    def at(self, points: Floats, normals: Floats) -> Floats:
        """Brightness of places (n, 3) on faces, on the side that lies in the air, (n,)."""
        both = soft_light(
            self.triangles,
            np.concatenate([points, points]),
            np.concatenate([normals, -normals]),
            self.glows,
        )
        return np.maximum(both[: len(points)], both[len(points) :])


def light_room(stage: Stage) -> Lighting:
    """The light of a room as it stands, with all that is in it; asked for again, the same."""
    for study, known in _lit:
        if study() is stage.study:
            return known
    lighting = _light_room(stage)
    _lit.append((ref(stage.study), lighting))
    return lighting


# Of the last few studies: pictures, page and film of one run share the work.
_lit: deque[tuple[ref[Study], Lighting]] = deque(maxlen=4)


def _light_room(stage: Stage) -> Lighting:
    study, room = stage.study, stage.study.room
    names = [room.surfaces[facet.surface].material.name for facet in room.facets[: room.n_solid_facets]]
    names += [opening.material.name for opening in room.openings]
    patterns = [FINISHES.get(name, ("", Pattern.PLAIN))[1] for name in names]
    return Lighting(
        parts.hiders(stage),
        (*_windows(study), _lamp(study)),
        lit_facets(study),
        (*patterns, *(Pattern.CLOTH for _ in room.panels)),
    )


def lit_facets(study: Study) -> tuple[Facet, ...]:
    """Flat faces that have a grid each, in the order of `Lighting.facets`."""
    room = study.room
    own = room.facets[: room.n_solid_facets]
    openings = (_facet_of(study, opening) for opening in room.openings)
    return (*own, *openings, *(_panel_face(panel) for panel in room.panels))


def span_of(facet: Facet) -> tuple[Floats, Floats]:
    """Matrix (2, 3) and start (2,) of where places (n, 3) lie on a face, `places @ matrix.T + start`.

    Along u and v, from 0 at the first point of its grid to 1 at the last.
    """
    axes = _axes(facet)
    low, size = _inner(*_extent(facet, axes))
    scale = 1.0 / np.maximum(size, 1e-9)
    return scale[:, None] * axes, -scale * (axes @ facet.outline[0] + low)


def _facet_of(study: Study, opening: PlacedOpening) -> Facet:
    """A window, door or cover as a face of its own."""
    frame = study.room.surfaces[opening.surface].frame
    u0, v0, u1, v1 = opening.rect
    outline = frame.to_room(np.array([[u0, v0], [u1, v0], [u1, v1], [u0, v1]]))
    return Facet(opening.surface, outline, (), frame.n, float(frame.n @ outline[0]))


def _panel_face(panel: PlacedPanel) -> Facet:
    """The front of a panel as a face of its own."""
    corners = np.asarray(panel.corners)
    return Facet(-1, corners, (), panel.normal, float(panel.normal @ corners[0]))


def _windows(study: Study) -> list[Glow]:
    glows = []
    for opening in study.room.openings:
        if opening.kind == "window":
            frame = study.room.surfaces[opening.surface].frame
            u0, v0, u1, v1 = opening.rect
            shares = (np.arange(4) + 0.5) / 4
            u, v = np.meshgrid(u0 + shares * (u1 - u0), v0 + shares * (v1 - v0))
            points = frame.to_room(np.stack([u.ravel(), v.ravel()], axis=1)) + 0.03 * frame.n
            glows.append(Glow(points, WINDOW * float((u1 - u0) * (v1 - v0)), frame.n))
    return glows


def _lamp(study: Study) -> Glow:
    """A soft lamp: where the scene has one, else under the ceiling between the first seat and the middle."""
    for at in lamp_places(study):
        return Glow(_disc(at[:3] - [0.0, 0.0, at[3] + 0.03]), LAMP_M2)
    room, ears = study.room, np.array(study.scene.seats[0].ears)
    middle = room.bounds.mean(axis=0)
    place = np.array([*(ears[:2] + middle[:2]) / 2, ears[2]])
    if not room.contains(place[None])[0]:
        place = ears
    up_m = float(room.first_hit(place[None], np.array([[0.0, 0.0, 1.0]]))[0][0])
    place = place + max(up_m - LAMP_DROP_M, 0.5 * up_m) * np.array([0.0, 0.0, 1.0])
    return Glow(_disc(place), LAMP_M2)


def _disc(centre: Floats) -> Floats:
    """Points of a level disc as large as a lamp, (24, 3)."""
    turns = 2.399963 * np.arange(24)  # the golden angle: spread evenly over a disc
    radius_m = LAMP_RADIUS_M * np.sqrt((np.arange(24) + 0.5) / 24)
    places = [radius_m * np.cos(turns), radius_m * np.sin(turns), 0.0 * turns]
    return np.asarray(centre + np.stack(places, axis=1))


def _axes(facet: Facet) -> Floats:
    """Unit vectors along a face, (2, 3): the first one level; on level faces along the longer side."""
    normal = facet.normal
    if orientation(normal) in (Orientation.LEVEL_UP, Orientation.LEVEL_DOWN):
        size = np.ptp(facet.outline, axis=0)
        along = np.array([1.0, 0.0, 0.0]) if size[0] >= size[1] else np.array([0.0, 1.0, 0.0])
    else:
        along = np.cross([0.0, 0.0, 1.0], normal)
    along = along - (along @ normal) * normal
    along /= np.linalg.norm(along)
    return np.array([along, np.cross(normal, along)])


def _extent(facet: Facet, axes: Floats) -> tuple[Floats, Floats]:
    """Smallest u and v of a face, and its size along them, (2,) each. [m]"""
    flat = (facet.outline - facet.outline[0]) @ axes.T
    return flat.min(axis=0), np.ptp(flat, axis=0)


def _inner(low: Floats, size: Floats) -> tuple[Floats, Floats]:
    """The same without the strip along the edges that has no points."""
    inset = np.minimum(INSET_M, size / 8)
    return low + inset, size - 2 * inset


def _empty_grid(facet: Facet, pattern: Pattern, step_m: float) -> Grid:
    axes = _axes(facet)
    low, size = _inner(*_extent(facet, axes))
    counts = np.maximum(np.ceil(size / step_m).astype(int) + 1, FEWEST)
    return Grid(facet.outline[0], axes, low, size / (counts - 1), np.zeros(counts[::-1]), pattern)


def _grid_points(grid: Grid) -> Floats:
    """Places of the points of a grid, row by row, (n, 3). [m]"""
    nv, nu = grid.values.shape
    u, v = np.meshgrid(grid.low[0] + grid.step[0] * np.arange(nu), grid.low[1] + grid.step[1] * np.arange(nv))
    return np.asarray(grid.origin + u.ravel()[:, None] * grid.axes[0] + v.ravel()[:, None] * grid.axes[1])


def _is_inside(facet: Facet, points: Floats) -> Bools:
    """Whether places in its plane lie within a face, (n,)."""
    axes = _axes(facet)
    flat = (points - facet.outline[0]) @ axes.T
    inside = np.zeros(len(points), np.bool_)
    for loop in (facet.outline, *facet.holes):
        corners = (loop - facet.outline[0]) @ axes.T
        for (x0, y0), (x1, y1) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            crossed = (y0 > flat[:, 1]) != (y1 > flat[:, 1])
            with np.errstate(divide="ignore", invalid="ignore"):
                inside ^= crossed & (flat[:, 0] < x0 + (flat[:, 1] - y0) / (y1 - y0) * (x1 - x0))
    return inside


def _filled(grid: Grid, inside: Bools, light: Floats) -> Grid:
    """The grid with its light, which spreads from the points in the face to those beyond its edges."""
    values: Floats = np.full(grid.values.size, np.nan)
    values[inside] = light
    values = values.reshape(grid.values.shape)
    while np.isnan(values).any():
        around = np.pad(values, 1, constant_values=np.nan)
        sides = np.stack([around[:-2, 1:-1], around[2:, 1:-1], around[1:-1, :-2], around[1:-1, 2:]])
        known = ~np.isnan(sides)
        count = known.sum(axis=0)
        if not count.any():
            values = np.ones_like(values)  # no point of the grid lies in so thin a face
            break
        mean = np.where(known, sides, 0.0).sum(axis=0) / np.maximum(count, 1)
        values = np.where(np.isnan(values) & (count > 0), mean, values)
    return Grid(grid.origin, grid.axes, grid.low, grid.step, values, grid.pattern)


def corner_light(lighting: Lighting, mesh: "Mesh", loops: Sequence[Floats]) -> list[Floats]:
    """Brightness at the corners of faces of a mesh; asked for again, remembered.

    Parameters
    ----------
    lighting : Lighting
    mesh : Mesh
        What the faces are of: heads are round, panels are shown from behind too, where no light comes.
    loops : sequence of (k, 3) float
        The faces. [m]

    Returns
    -------
    list of (k,) float
    """
    is_round = bool(is_part(mesh, "head").all())
    key = (is_round, *(loop.tobytes() for loop in loops))
    if key not in lighting.known:
        lighting.known[key] = _corner_light(lighting, loops, is_round)
    least = BEHIND if is_part(mesh, "panel").any() else 0.0
    return [np.maximum(light, least) for light in lighting.known[key]]


def _corner_light(lighting: Lighting, loops: Sequence[Floats], is_smooth: bool) -> list[Floats]:
    if not loops:
        return []
    counts = [len(loop) for loop in loops]
    normals = np.array([_normal(loop) for loop in loops])
    points = np.concatenate(loops)
    facing = np.repeat(normals, counts, axis=0)
    if is_smooth:
        _, first, where = np.unique(np.round(points, 5), axis=0, return_index=True, return_inverse=True)
        mean = np.zeros((len(first), 3))
        np.add.at(mean, where.ravel(), facing)
        mean /= np.maximum(np.linalg.norm(mean, axis=1, keepdims=True), 1e-12)
        light = lighting.at(points[first], mean)[where.ravel()]
    else:
        # A tenth of the way in from the corner, where the faces that meet there do not hide it.
        middles = np.repeat([loop.mean(axis=0) for loop in loops], counts, axis=0)
        light = lighting.at(points + 0.1 * (middles - points), facing)
    return np.split(light, np.cumsum(counts)[:-1])


def _normal(loop: Floats) -> Floats:
    """Unit normal of a flat outline (k, 3)."""
    normal = np.cross(loop - loop[0], np.roll(loop, -1, axis=0) - loop[0]).sum(axis=0)
    return np.asarray(normal / max(float(np.linalg.norm(normal)), 1e-12))
