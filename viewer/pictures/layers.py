"""What one picture is made of: datasets with their colours, from one camera."""

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from raytrace import Orientation, Room, Study, orientation
from viewer import look
from viewer.look import View
from viewer.pictures import meshes
from viewer.pictures.camera import Camera, fit_camera, hidden_points
from viewer.pictures.faces import (
    column,
    dashes,
    discs,
    edges,
    legs,
    loops_of,
    outlines,
    picked,
    raised,
    room_faces,
)

if TYPE_CHECKING:
    from pyvista import PolyData

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Layer:
    """Faces or lines drawn alike.

    Attributes
    ----------
    mesh : PolyData
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

    mesh: "PolyData"
    colours: Floats
    light: str = "flat"
    opacity: float = 1.0
    radius_m: float = 0.0
    is_over: bool = False


@dataclass(frozen=True)
class Stage:
    """Everything of a study that does not depend on the camera; built once for all pictures.

    `leaning` (n_facets,) tells the facets of objects whose back is no face, because it touches a wall.
    """

    study: Study
    shown: meshes.DrawnRows
    faces: "PolyData"
    edges: "PolyData"
    patches: "PolyData"
    patch_edges: "PolyData"
    spots: meshes.Spots
    leaning: Bools
    scale: float
    surface: int | None = None

    @property
    def corners(self) -> Floats:
        """Corners of the room, (n, 3). [m]"""
        room = self.study.room
        return np.concatenate([f.outline for f in room.facets if room.is_room_surface[f.surface]])

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
    kept = column(patches, "over_limit").astype(bool) & (column(patches, "order") == 1)
    patches = picked(patches, kept)
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


def choose_camera(stage: Stage, view: View, size: tuple[int, int]) -> Camera:
    """The best liked camera of a view that hides, or sees edge-on, least of what matters."""
    study = stage.study
    seats = [seat.ears for seat in study.scene.seats]
    points = np.array([*seats, *(speaker.position for speaker in study.scene.speakers)])
    first = stage.spots.order == 1
    points = np.vstack([points, stage.spots.points[first] + 0.01 * stage.spots.normals[first]])
    best, fewest = None, len(points) + 1
    for towards in view.towards_viewer:
        camera = fit_camera(
            stage.corners,
            towards,
            up=view.up,
            view_angle_deg=None if view.parallel else look.VIEW_ANGLE_DEG,
            size=size,
            margin=look.FRAME_MARGIN,
        )
        kept = seen_facets(stage, camera)[column(stage.faces, "facet")]
        solid = [loop for loop, is_kept in zip(loops_of(stage.faces), kept, strict=True) if is_kept]
        fans = [[loop[0], loop[i], loop[i + 1]] for loop in solid for i in range(1, len(loop) - 1)]
        bad = int(hidden_points(camera, points, np.array(fans).reshape(-1, 3, 3), near_m=0.05).sum())
        if not view.parallel:
            cosine = np.sum(camera.to_eye(stage.spots.points) * stage.spots.normals, axis=-1)
            bad += int((first & (np.abs(cosine) < look.GRAZING_COSINE)).sum())
        if bad < fewest:
            best, fewest = camera, bad
    assert best is not None, "a view has at least one direction"
    return best


def seen_facets(stage: Stage, camera: Camera) -> Bools:
    """Whether each facet of the room is turned towards the camera or seen edge-on, (n_facets,)."""
    facets = stage.study.room.facets
    points, normals = np.array([f.outline[0] for f in facets]), np.array([f.normal for f in facets])
    return np.asarray(np.sum(camera.to_eye(points) * normals, axis=-1) > -1e-9)


def _leaning(room: Room, faces: "PolyData") -> Bools:
    """Facets of objects that stand against a wall: their faces do not close sideways, (n_facets,)."""
    owners = np.array([room.surfaces[facet.surface].owner for facet in room.facets])
    met = column(faces, "facet")
    areas = np.array(
        [
            np.cross(loop - loop[0], np.roll(loop, -1, axis=0) - loop[0]).sum(axis=0)
            for loop in loops_of(faces)
        ]
    )
    is_object = ~column(faces, "is_room").astype(bool)
    sideways = {
        owner: np.hypot(*areas[is_object & (owners[met] == owner), :2].sum(axis=0)) / 2
        for owner in set(owners[met[is_object]].tolist())
    }
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


def layers(stage: Stage, camera: Camera) -> tuple[Layer, ...]:
    """All parts of one picture, back to front where it matters."""
    seen = seen_facets(stage, camera)
    return (
        *_room(stage, seen, from_above=bool(camera.parallel and camera.forward[2] < -0.9)),
        *_panes(stage, camera),
        *_panels(stage, camera, seen),
        *_patches(stage, camera),
        *_furniture(stage),
        *_sound(stage),
        *_spots(stage, camera),
    )


def _between(stage: Stage) -> float:
    """Opacity of what may stand between the viewer and the one surface that a picture is about."""
    if stage.surface is None or orientation(stage.study.room.surfaces[stage.surface].frame.n).is_level:
        return 1.0
    return look.BETWEEN_OPACITY


def _one(colour: str, mesh: "PolyData") -> Floats:
    return np.tile(look.rgb(colour), (mesh.n_cells, 1))


def _room(stage: Stage, seen: Bools, *, from_above: bool) -> list[Layer]:
    kept = picked(stage.faces, seen[column(stage.faces, "facet")])
    is_room = column(kept, "is_room").astype(bool)
    walls, objects = picked(kept, is_room), picked(kept, ~is_room)
    is_floor = column(walls, "is_floor").astype(bool)
    around = column(stage.edges, "facets", 4).astype(np.int64)
    drawn = picked(stage.edges, seen_edges(stage, seen))
    of_room = _is_room_edge(stage, column(drawn, "facets", 4).astype(np.int64))
    # A plan shows overhead edges (ridge, dormer) dashed, as drawings do; other pictures leave them out.
    is_overhead = ((around < 0) | ~seen[around]).all(axis=1) & _is_room_edge(stage, around)
    is_overhead = is_overhead if from_above else np.zeros_like(is_overhead)
    overhead = dashes(picked(stage.edges, is_overhead), dash_m=look.DIRECT_DASH_M * stage.scale)
    return [
        Layer(walls, np.where(is_floor[:, None], look.rgb(look.FLOOR), look.rgb(look.WALL)), "wall"),
        Layer(objects, _one(look.OBJECT, objects), "solid", opacity=_between(stage)),
        Layer(overhead, _one(look.HAIRLINE, overhead), radius_m=look.OUTLINE_M * stage.scale),
        *(
            Layer(part, _one(look.EDGE, part), radius_m=radius * stage.scale)
            for part, radius in (
                (picked(drawn, of_room), look.EDGE_M),
                (picked(drawn, ~of_room), look.OBJECT_EDGE_M),
            )
        ),
    ]


def _is_room_edge(stage: Stage, around: NDArray[np.int64]) -> Bools:
    """Whether only facets of the room itself meet at an edge, (n_edges,)."""
    room = stage.study.room
    of_room = np.array([room.is_room_surface[facet.surface] for facet in room.facets])
    return np.asarray((of_room[around] | (around < 0)).all(axis=1))


def _lift(normals: Floats, mesh: "PolyData", camera: Camera) -> Floats:
    """Normals turned to the viewer's side, so that what is raised along them lies in front."""
    middles = np.array([loop.mean(axis=0) for loop in loops_of(mesh)]).reshape(-1, 3)
    return np.where(camera.sees(middles, normals)[:, None], normals, -normals)


def _panes(stage: Stage, camera: Camera) -> list[Layer]:
    panes = meshes.panes(stage.study)
    normals = column(panes, "normal", 3)
    middles = np.array([loop.mean(axis=0) for loop in loops_of(panes)]).reshape(-1, 3)
    seen = camera.sees(middles, normals)
    panes = raised(panes, _lift(normals, panes, camera), by_m=look.RAISE_M * stage.scale)
    result = []
    for rows, opacity in ((seen, look.PANE_OPACITY), (~seen, look.PANE_HIDDEN_OPACITY)):
        part = picked(panes, rows)
        result.append(Layer(part, _one(look.PANE, part), opacity=opacity))
    lines = outlines(panes)
    # Edge-on, as in a plan, a window is a bar in its wall.
    edge_on = camera.parallel & (np.abs(normals @ camera.forward) < 0.01)
    for rows, radius in ((edge_on, look.PANE_EDGE_ON_M), (~edge_on, look.OUTLINE_M)):
        part = picked(lines, rows)
        result.append(Layer(part, _one(look.PANE_EDGE, part), radius_m=radius * stage.scale))
    return result


def _panels(stage: Stage, camera: Camera, seen: Bools) -> list[Layer]:
    """Panels as blocks; those before a surface that is taken away let the room behind them show through."""
    blocks = meshes.panels(stage.study)
    if not blocks.n_cells:
        return []
    middles = np.array([loop.mean(axis=0) for loop in loops_of(blocks)])
    turned = camera.sees(middles, column(blocks, "normal", 3))
    surface, facets = column(blocks, "surface"), stage.study.room.facets
    gone = {facet.surface for facet, is_seen in zip(facets, seen, strict=True) if not is_seen}
    before_gone = np.isin(surface, list(gone - {stage.surface}))
    if stage.surface is not None:
        turned &= surface == stage.surface
    lines = outlines(blocks)
    parts = [(turned & ~before_gone, 1.0), (turned & before_gone, look.PANEL_OPEN_OPACITY)]
    shown = [(picked(blocks, rows), opacity) for rows, opacity in parts]
    edges_shown = picked(lines, turned)
    cords = meshes.cords(stage.study)
    return [
        Layer(cords, _one(look.PANEL_EDGE, cords), radius_m=look.CORD_M * stage.scale),
        *(Layer(part, _one(look.PANEL, part), "solid", opacity=opacity) for part, opacity in shown),
        Layer(edges_shown, _one(look.PANEL_EDGE, edges_shown), radius_m=look.OBJECT_EDGE_M * stage.scale),
    ]


def _patches(stage: Stage, camera: Camera) -> list[Layer]:
    lift = _lift(column(stage.patches, "normal", 3), stage.patches, camera)
    areas = raised(stage.patches, lift, by_m=2 * look.RAISE_M * stage.scale)
    lines = stage.patch_edges
    return [
        Layer(areas, _one(look.ACCENT, areas), opacity=look.PATCH_OPACITY),
        Layer(lines, _one(look.ACCENT, lines), radius_m=look.OUTLINE_M * stage.scale),
    ]


def _furniture(stage: Stage) -> list[Layer]:
    study = stage.study
    speakers, heads, zones = meshes.speakers(study), meshes.heads(study), meshes.zones(study)
    front = column(speakers, "is_front").astype(bool)[:, None]
    zone_lines = outlines(zones)
    axes = meshes.speaker_axes(study, length_m=look.AXIS_LENGTH_M)
    drivers = meshes.drivers(study)
    box = np.where(front, look.rgb(look.SPEAKER_FRONT), look.rgb(look.SPEAKER))
    opacity = _between(stage)
    return [
        Layer(speakers, box, "solid", opacity=opacity),
        Layer(drivers, _one(look.DRIVER, drivers), opacity=opacity),
        Layer(axes, _one(look.SPEAKER, axes), radius_m=look.AXIS_M * stage.scale),
        Layer(heads, _one(look.HEAD, heads), "solid", opacity=opacity),
        Layer(zones, _one(look.HEAD, zones), opacity=look.ZONE_OPACITY),
        Layer(zone_lines, _one(look.EDGE, zone_lines), radius_m=look.ZONE_LINE_M * stage.scale),
    ]


def _sound(stage: Stage) -> list[Layer]:
    study, shown = stage.study, stage.shown
    direct = dashes(meshes.direct_paths(study, shown.seat), dash_m=look.DIRECT_DASH_M * stage.scale)
    main, faint = legs(meshes.paths(study, shown.main)), meshes.paths(study, shown.faint)
    first = column(main, "order") == 1
    result = [
        Layer(
            faint,
            _one(look.FAINT, faint),
            radius_m=look.TUBE_FAINT_M * stage.scale,
        )
    ]
    for rows, radius in ((~first, look.TUBE_HIGHER_M), (first, look.TUBE_M)):
        part = picked(main, rows)
        colours = look.level_colours(column(part, "level_re_limit_db"))
        result.append(Layer(part, colours, "solid", radius_m=radius * stage.scale))
    return [*result, Layer(direct, _one(look.INK, direct), radius_m=look.DIRECT_M * stage.scale)]


def proud_m(study: Study, panel: int) -> float:
    """How far the face of a panel stands before the plane that a path is mirrored in. [m]"""
    if panel < 0 or study.room.panels[panel].acts_as != "patch":
        return 0.0
    return study.room.panels[panel].gap_m + study.room.panels[panel].thickness_m


def _spots(stage: Stage, camera: Camera) -> list[Layer]:
    spots = stage.spots
    first = spots.order == 1
    centres, normals = spots.points[first], spots.normals[first]
    # On a panel, the spot shows on its face and not on the wall behind.
    proud = np.array([proud_m(stage.study, int(panel)) for panel in spots.panel[first]])
    is_faced = camera.sees(centres, normals)
    centres = centres + (proud * is_faced).reshape(-1, 1) * normals
    normals = np.where(is_faced[:, None], normals, -normals)
    result = []
    for step, radius in ((5, look.SPOT_RING_M), (7, look.SPOT_M)):
        lifted = centres + step * look.RAISE_M * stage.scale * normals
        mesh = discs(lifted, normals, radii_m=np.full(len(lifted), radius * stage.scale))
        colours = _one(look.WHITE, mesh) if step == 5 else look.level_colours(spots.level_re_limit_db[first])
        result.append(Layer(mesh, colours))
    return result
