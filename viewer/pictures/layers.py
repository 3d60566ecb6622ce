"""What one picture is made of: datasets with their colours, from one camera."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from raytrace import Study, orientation
from viewer import look
from viewer.look import View
from viewer.pictures import meshes, parts
from viewer.pictures.camera import Camera, fit_camera, hidden_points
from viewer.pictures.faces import column, dashes, discs, is_part, legs, loops_of, picked
from viewer.pictures.framing import cut_off
from viewer.pictures.stage import Layer, Stage, one_colour, seen_edges, seen_facets

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


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


def layers(stage: Stage, camera: Camera) -> tuple[Layer, ...]:
    """All parts of one picture."""
    sound = (*_patches(stage, camera), *_sound(stage), *_spots(stage, camera))
    return (*room_layers(stage, camera), *(cut_off(layer, stage.cut_m) for layer in sound))


def room_layers(stage: Stage, camera: Camera) -> tuple[Layer, ...]:
    """The room with all that is in it, without its sound."""
    seen = seen_facets(stage, camera)
    found = (
        *_room(stage, seen, from_above=bool(camera.parallel and camera.forward[2] < -0.9)),
        *_panes(stage, camera),
        *_panels(stage, camera, seen),
        *thing_layers(stage),
        *_props(stage, seen),
    )
    return tuple(cut_off(layer, stage.cut_m) for layer in found)


def _between(stage: Stage) -> float:
    """Opacity of what may stand between the viewer and the one surface that a picture is about."""
    if stage.surface is None or orientation(stage.study.room.surfaces[stage.surface].frame.n).is_level:
        return 1.0
    return look.BETWEEN_OPACITY


def _room(stage: Stage, seen: Bools, *, from_above: bool) -> list[Layer]:
    faces = {
        name: layer.only(seen[column(layer.mesh, "facet").astype(np.int64)])
        for name, layer in parts.walls(stage, look.PRINT).items()
    }
    around = column(stage.edges, "facets", 4).astype(np.int64)
    # A plan shows overhead edges (ridge, dormer) dashed, as drawings do; other pictures leave them out.
    is_overhead = ((around < 0) | ~seen[around]).all(axis=1) & ~is_part(stage.edges, "furniture")
    is_overhead = is_overhead if from_above else np.zeros_like(is_overhead)
    overhead = dashes(picked(stage.edges, is_overhead), dash_m=look.DIRECT_DASH_M * stage.scale)
    return [
        faces["walls"],
        replace(faces["furniture"], opacity=_between(stage)),
        Layer(overhead, one_colour(look.HAIRLINE, overhead), radius_m=look.OUTLINE_M * stage.scale),
        *parts.edges(stage, look.PRINT, seen_edges(stage, seen)).values(),
    ]


def _panes(stage: Stage, camera: Camera) -> list[Layer]:
    mesh = meshes.panes(stage.study)
    normals = column(mesh, "normal", 3)
    seen = camera.sees(parts.middles(mesh), normals)
    layers = parts.panes(stage, look.PRINT, camera)
    faces, lines = layers["panes"], layers["pane edges"]
    # Edge-on, as in a plan, a window is a bar in its wall.
    edge_on = camera.parallel & (np.abs(normals @ camera.forward) < 0.01)
    return [
        replace(faces.only(seen), opacity=1.0),
        replace(faces.only(~seen), opacity=look.PANE_HIDDEN_OPACITY),
        replace(lines.only(edge_on), radius_m=look.PANE_EDGE_ON_M * stage.scale),
        lines.only(~edge_on),
    ]


def _panels(stage: Stage, camera: Camera, seen: Bools) -> list[Layer]:
    """Panels as blocks; those before a surface that is taken away let the room behind them show through."""
    layers = parts.panels(stage, look.PRINT)
    blocks, mesh = layers["panels"], layers["panels"].mesh
    if not mesh.n_cells:
        return []
    turned = camera.sees(parts.middles(mesh), column(mesh, "normal", 3))
    surface, facets = column(mesh, "surface"), stage.study.room.facets
    gone = {facet.surface for facet, is_seen in zip(facets, seen, strict=True) if not is_seen}
    before_gone = np.isin(surface, list(gone - {stage.surface}))
    if stage.surface is not None:
        turned &= surface == stage.surface
    return [
        layers["cords"],
        blocks.only(turned & ~before_gone),
        replace(blocks.only(turned & before_gone), opacity=look.PANEL_OPEN_OPACITY),
        layers["panel edges"].only(turned),
    ]


def _patches(stage: Stage, camera: Camera) -> list[Layer]:
    return [
        parts.areas(stage, look.PRINT, stage.patches, camera),
        parts.area_edges(stage, look.PRINT, stage.patch_edges),
    ]


def thing_layers(stage: Stage) -> list[Layer]:
    """Speakers and listeners."""
    opacity = _between(stage)
    named = parts.speakers(stage, look.PRINT) | parts.seats(stage, look.PRINT)
    glassy = ("speakers", "drivers", "heads")
    return [replace(layer, opacity=opacity) if name in glassy else layer for name, layer in named.items()]


def _props(stage: Stage, seen: Bools) -> list[Layer]:
    """Legs and stands, and frames on walls that are drawn; none before the one surface a picture is about."""
    layer = parts.props(stage, look.PRINT)["props"]
    if stage.surface is not None or not layer.mesh.n_cells:
        return []
    facets = zip(stage.study.room.facets, seen, strict=True)
    drawn = [-1, *(facet.surface for facet, is_seen in facets if is_seen)]
    return [layer.only(np.isin(column(layer.mesh, "surface"), drawn))]


def _sound(stage: Stage) -> list[Layer]:
    study, shown = stage.study, stage.shown
    direct = dashes(meshes.direct_paths(study, shown.seat), dash_m=look.DIRECT_DASH_M * stage.scale)
    main, faint = legs(meshes.paths(study, shown.main)), meshes.paths(study, shown.faint)
    first = column(main, "order") == 1
    result = [
        Layer(
            faint,
            one_colour(look.FAINT, faint),
            radius_m=look.TUBE_FAINT_M * stage.scale,
        )
    ]
    for rows, radius in ((~first, look.TUBE_HIGHER_M), (first, look.TUBE_M)):
        part = picked(main, rows)
        colours = look.level_colours(column(part, "level_re_limit_db"))
        result.append(Layer(part, colours, "solid", radius_m=radius * stage.scale))
    return [*result, Layer(direct, one_colour(look.INK, direct), radius_m=look.DIRECT_M * stage.scale)]


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
        colours = (
            one_colour(look.WHITE, mesh) if step == 5 else look.level_colours(spots.level_re_limit_db[first])
        )
        result.append(Layer(mesh, colours))
    return result
