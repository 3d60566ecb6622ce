"""What the window's room is made of: layers in the colours of its theme, each from no more than it needs."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from viewer import look
from viewer.pictures import (
    Camera,
    Layer,
    Mesh,
    column,
    dashes,
    discs,
    is_drawn_area,
    is_part,
    legs,
    loops_of,
    meshes,
    one_colour,
    parts,
    picked,
    polylines,
    proud_m,
    seen_edges,
    seen_facets,
)
from viewer.pictures import edges as edges_of
from viewer.window.state import Cut, Filter, Measuring, OnScreen, heard_rows, is_turned_to, point_of
from viewer.words import strong_rows

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SMALL = (Cut, Filter, Measuring)  # parts of a record that are compared by value
CHOSEN_M = 0.018  # radius of the selected path
POINTED_M = 0.015
BALL_M = 0.04
LINE_M = 0.003
FAINT_PANE_OPACITY = 0.12
NEAR_DASH_M = 0.035
FAINT_OPACITY = 0.22
PANEL_EDGE_M = 0.004
STROKE_M = 0.04
SWITCHES = {
    "furniture": "furniture",
    "leg": "furniture",
    "panel": "panels",
    "cord": "panels",
}  # what switches a part on
OUTSIDE_M = 0.30
END_ON = 0.99  # cosine
EDGE_ON = 0.1  # sine of the flattest angle under which a plane is still seen from one side
FROM_SEAT = 0.3  # of the usual thickness, for paths that end at the eye


def walls(shown: OnScreen) -> dict[str, Layer]:
    """Faces of the room and of what stands in it; those turned away are left to the graphics card."""
    return _glassy(shown, _switched(shown, parts.walls(shown.stage, shown.colours.palette)), "furniture")


def _switched(shown: OnScreen, layers: dict[str, Layer]) -> dict[str, Layer]:
    """Layers without the furniture or the panels that are switched off."""
    off = [part for part, switch in SWITCHES.items() if switch not in shown.layers]
    return {name: layer.only(~is_part(layer.mesh, *off)) if off else layer for name, layer in layers.items()}


def _glassy(shown: OnScreen, layers: dict[str, Layer], *names: str) -> dict[str, Layer]:
    """Layers of which those named let the one surface that the eye faces show through."""
    if not shown.faces_surface:
        return layers
    return layers | {name: replace(layers[name], opacity=look.BETWEEN_OPACITY) for name in names}


def edges(shown: OnScreen, camera: Camera) -> dict[str, Layer]:
    """Edges with at least one face turned towards the camera, and all of what stands against a wall."""
    stage = shown.stage
    kept = seen_edges(stage, seen_facets(stage, camera))
    return _switched(shown, parts.edges(stage, shown.colours.palette, kept))


def panes(shown: OnScreen, camera: Camera) -> dict[str, Layer]:
    """Windows, doors and covers, on the air's side of their wall; faint where that is taken away."""
    layers = parts.panes(shown.stage, shown.colours.palette)
    return _faint_behind(shown, camera, layers, "panes", FAINT_PANE_OPACITY)


def panels(shown: OnScreen, camera: Camera) -> dict[str, Layer]:
    """Panels as they hang or stand, faintly where their surface is taken away; their cords."""
    layers = _switched(shown, parts.panels(shown.stage, shown.colours.palette))
    layers["panel edges"] = replace(layers["panel edges"], radius_m=PANEL_EDGE_M * shown.stage.scale)
    return _faint_behind(shown, camera, layers, "panels", FAINT_OPACITY)


def _faint_behind(
    shown: OnScreen, camera: Camera, layers: dict[str, Layer], name: str, opacity: float
) -> dict[str, Layer]:
    """One of the layers parted: what lies on surfaces that are turned away goes to a faint one."""
    others = dict(layers)
    layer = others.pop(name)
    surfaces = column(layer.mesh, "surface").astype(int)
    away = [i for i in set(surfaces.tolist()) - {-1} if not is_turned_to(shown.study, i, camera)]
    is_faint = np.isin(surfaces, away)
    faint = replace(layer.only(is_faint), light="flat", opacity=opacity)
    return {name: layer.only(~is_faint), f"faint {name}": faint, **others}


def stands(shown: OnScreen, camera: Camera) -> dict[str, Layer]:
    """What things stand on, and frames in the walls that are seen: while nothing is moved."""
    light = shown.light
    if light is None or not light.fits(shown.study) or shown.faces_surface:
        return {"props": Layer(polylines([]), np.empty((0, 3)))}
    layer = parts.props(shown.stage, shown.colours.palette, light.props)["props"]
    surfaces = column(layer.mesh, "surface").astype(int)
    gone = [i for i in set(surfaces.tolist()) - {-1} if not is_turned_to(shown.study, i, camera)]
    return _switched(shown, {"props": layer.only(~np.isin(surfaces, gone))})


def speakers(shown: OnScreen) -> dict[str, Layer]:
    """Speakers with their axes."""
    layers = parts.speakers(shown.stage, shown.colours.palette)
    return _glassy(shown, layers, "speakers", "drivers")


def seats(shown: OnScreen) -> dict[str, Layer]:
    """Listeners with their head zones; who looks out of a seat does not see their own head."""
    layers = parts.seats(shown.stage, shown.colours.palette)
    if shown.view == "seat":
        layers = {
            name: layer.only(column(layer.mesh, "seat") != shown.seat) for name, layer in layers.items()
        }
    return _glassy(shown, layers, "heads")


def main_rows(shown: OnScreen) -> tuple[Ints, Ints]:
    """Listed rows drawn as coloured paths, and those drawn faintly."""
    rows, study = heard_rows(shown), shown.study
    judged = ~np.isnan(study.arrivals.margin_db[rows])
    strong = judged & ((study.arrivals.order[rows] == 1) | np.isin(rows, list(strong_rows(study))))
    faint = ~strong & ((study.arrivals.order[rows] <= 2) | (shown.filter.order is not None))
    picked_out = shown.filter.order is not None or shown.filter.surface is not None
    return rows[strong], rows[~strong] if picked_out else rows[faint & judged]


def sound(shown: OnScreen) -> dict[str, Layer]:
    """Direct sound and reflections of the listed arrivals, weaker ones faint."""
    study, theme = shown.study, shown.colours
    scale = FROM_SEAT if shown.view == "seat" else shown.stage.scale
    main, faint = main_rows(shown)
    if shown.measured_peak is not None:
        main, faint = main[:0], faint[:0]  # its candidates alone are drawn
    direct = dashes(meshes.direct_paths(study, shown.seat), dash_m=look.DIRECT_DASH_M * scale)
    weak = meshes.paths(study, faint if "weaker" in shown.layers else faint[:0])
    main = main if "paths" in shown.layers else main[:0]
    first = study.arrivals.order[main] == 1
    few, many = (legs(meshes.paths(study, rows)) for rows in (main[first], main[~first]))
    return {
        "weaker": Layer(weak, one_colour(theme.faint, weak), radius_m=look.TUBE_FAINT_M * scale),
        "later paths": Layer(many, _levels(shown, many), "solid", radius_m=look.TUBE_HIGHER_M * scale),
        "paths": Layer(few, _levels(shown, few), "solid", radius_m=look.TUBE_M * scale),
        "direct": Layer(direct, one_colour(theme.ink, direct), radius_m=look.DIRECT_M * scale),
    }


def _levels(shown: OnScreen, lines: Mesh) -> Floats:
    """Colours of paths by their level."""
    return shown.colours.level_colours(column(lines, "level_re_limit_db").astype(np.float64))


def near_misses(shown: OnScreen) -> dict[str, Layer]:
    """Paths that are none because an edge ends or cuts them by little, dashed; the curve has their sound."""
    study, scale, chosen = shown.study, shown.stage.scale, shown.filter
    near = study.arrivals.near_misses
    lines: list[Floats] = []
    levels: list[float] = []
    for row in range(len(near.order)) if near is not None and "near" in shown.layers else ():
        assert near is not None
        speaker, order = int(near.speaker[row]), int(near.order[row])
        is_asked = chosen.speaker in (None, speaker) and chosen.order in (None, order)
        is_main = study.scene.speakers[speaker].use != "sub" or chosen.speaker == speaker
        is_early = near.delay_s[row] <= study.scene.limits.within_ms / 1e3
        if near.seat[row] == shown.seat and is_asked and is_main and is_early:
            points = near.path_points[row][~np.isnan(near.path_points[row, :, 0])]
            lines.append(points)
            levels.append(-float(near.margin_db[row]))
    mesh = dashes(legs(polylines(lines, level=levels)), dash_m=NEAR_DASH_M * scale)
    colours = shown.colours.level_colours(column(mesh, "level").astype(np.float64))
    return {"near misses": Layer(mesh, colours, radius_m=look.TUBE_HIGHER_M * scale)}


def picked_out(shown: OnScreen) -> dict[str, Layer]:
    """The selected reflection and the one under the pointer, over everything else."""
    layers, scale = {}, shown.stage.scale
    for name, row, radius in (
        ("chosen", shown.chosen_row, CHOSEN_M),
        ("pointed", shown.pointed_row, POINTED_M),
    ):
        rows = np.array([] if row is None else [row], np.int64)
        lines = legs(meshes.paths(shown.study, rows))
        mesh_colours = one_colour(shown.colours.accent, lines)
        layers[name] = Layer(lines, mesh_colours, radius_m=radius * scale, is_over=True)
        layers[f"{name} spots"] = _discs(shown, meshes.spots(shown.study, rows), look.SPOT_M, 9, accent=True)
    return layers


def spots(shown: OnScreen) -> dict[str, Layer]:
    """Where first reflections touch the surfaces."""
    main, _ = main_rows(shown)
    rows = main[shown.study.arrivals.order[main] == 1] if "spots" in shown.layers else main[:0]
    found = meshes.spots(shown.study, rows)
    return {
        "spot rings": _discs(shown, found, look.SPOT_RING_M, 5, accent=False, ring=True),
        "spots": _discs(shown, found, look.SPOT_M, 7, accent=False),
    }


def _discs(
    shown: OnScreen, found: meshes.Spots, radius_m: float, steps: int, *, accent: bool, ring: bool = False
) -> Layer:
    """Discs on both sides of their wall: seen from inside, and through a wall that is taken away."""
    scale, theme = shown.stage.scale, shown.colours
    lift = steps * look.RAISE_M * scale
    # On a panel, the spot shows on its face and not on the wall behind.
    proud = np.array([proud_m(shown.study, int(panel)) for panel in found.panel]).reshape(-1, 1)
    face = found.points + proud * found.normals
    centres = np.concatenate([face + lift * found.normals, face - lift * found.normals])
    normals = np.concatenate([found.normals, -found.normals])
    mesh = discs(centres, normals, radii_m=np.full(len(centres), radius_m * scale))
    if accent or ring:
        return Layer(mesh, one_colour(theme.accent if accent else theme.ground, mesh), is_over=accent)
    colours = theme.level_colours(found.level_re_limit_db)
    return Layer(mesh, np.concatenate([colours, colours]))


def areas(shown: OnScreen) -> dict[str, Layer]:
    """Areas to treat of what is listed, and those of the selected reflection."""
    study, stage, palette = shown.study, shown.stage, shown.colours.palette
    mesh = meshes.patches(study, shown.seat)
    rows = heard_rows(shown)
    listed = [i for i, patch in enumerate(study.treatment_areas) if np.isin(patch.rows, rows).any()]
    kept = is_drawn_area(mesh) & np.isin(column(mesh, "patch"), listed)
    if shown.chosen_row is not None:
        own = [i for i, patch in enumerate(study.treatment_areas) if shown.chosen_row in patch.rows]
        kept |= np.isin(column(mesh, "patch"), own)
    kept &= "areas" in shown.layers and shown.measured_peak is None
    faces = parts.areas(stage, palette, picked(mesh, kept))
    lines = edges_of(faces.mesh, size_m=float(study.room.size_m), by="patch")
    return {"areas": faces, "area edges": parts.area_edges(stage, palette, lines)}


def measures(shown: OnScreen) -> dict[str, Layer]:
    """Dimension lines with short strokes at their ends."""
    lines: list[Floats] = []
    for start, end, across, _ in dimension_lines(shown):
        stroke = STROKE_M * shown.stage.scale * across
        lines += [np.array([start, end])]
        lines += [np.array([at - stroke, at + stroke]) for at in (start, end)]
    if shown.measuring is not None and shown.measuring.is_whole:
        lines.append(np.array(shown.measuring.ends))
    mesh = polylines(lines)
    return {
        "dimensions": Layer(mesh, one_colour(shown.colours.ink, mesh), radius_m=LINE_M * shown.stage.scale)
    }


def dimension_lines(shown: OnScreen) -> list[tuple[Floats, Floats, Floats, float]]:
    """Lines to measure by: start, end, direction of the end strokes, length [m].

    The room's overall sizes outside its walls, and how far what is selected (else the first seat and the
    speakers) stands from the front wall, the left wall and the floor.
    """
    if "dimensions" not in shown.layers:
        return []
    low, high = shown.study.room.bounds
    off = OUTSIDE_M * shown.stage.scale
    x, y = np.eye(3)[:2]
    # On the sides that face the viewer, where no wall hides them; below the floor where that is edge-on.
    camera = shown.eye.camera((16, 16))
    towards = -camera.forward
    base = low[2] - (off if abs(towards[2]) < EDGE_ON else 0.0)
    side = np.where(towards[:2] > EDGE_ON, high[:2] + off, low[:2] - off)
    far = np.where(towards[:2] > EDGE_ON, low[:2] - off, high[:2] + off)
    lines = [
        (np.array([low[0], side[1], base]), np.array([high[0], side[1], base]), y),
        (np.array([side[0], low[1], base]), np.array([side[0], high[1], base]), x),
        (np.array([far[0], side[1], low[2]]), np.array([far[0], side[1], high[2]]), x),
    ]
    measured = [(a, b, across, float(np.linalg.norm(b - a))) for a, b, across in lines]
    for place in _measured_places(shown):
        foot = np.array([place[0], place[1], low[2] + look.RAISE_M])
        out, along, up = (place - low).tolist()  # told from the floor itself, though drawn a little above it
        measured += [
            (np.array([low[0], foot[1], foot[2]]), foot, y, out),
            (np.array([foot[0], low[1], foot[2]]), foot, x, along),
            (foot, place, x, up),
        ]
    # One that is seen end-on has no length in the picture, only strokes without a meaning.
    end_on = [camera.parallel and abs((b - a) @ towards) > END_ON * m for a, b, _, m in measured]
    return [line for line, is_hidden in zip(measured, end_on, strict=True) if not is_hidden]


def _measured_places(shown: OnScreen) -> list[Floats]:
    scene = shown.study.scene
    if shown.thing is not None:
        return [point_of(shown.study, shown.thing)]
    return [np.array(s.position) for s in scene.speakers] + [np.array(scene.seats[shown.seat].ears)]


def balls(shown: OnScreen) -> dict[str, Layer]:
    """Where the sound is at the time cursor, on every drawn path and on the direct one."""
    centres: list[Floats] = []
    levels: list[float] = []
    if shown.time_s is not None:
        study, table = shown.study, shown.study.arrivals
        for row in np.concatenate(main_rows(shown)):
            behind_m = (table.delay_s[row] - shown.time_s) * study.room.speed_of_sound_m_s
            line = table.path_points[row][~np.isnan(table.path_points[row, :, 0])]
            place = _along(line, float(table.length_m[row] - behind_m))
            if place is not None:
                centres.append(place)
                levels.append(float(study.arrivals.level_re_limit_db[row]))
    colours = shown.colours.level_colours(np.array(levels))
    direct = [] if shown.time_s is None else loops_of(meshes.direct_paths(shown.study, shown.seat))
    gone_m = (shown.time_s or 0.0) * shown.study.room.speed_of_sound_m_s
    for line in direct:
        place = _along(line, float(np.linalg.norm(line[1] - line[0])) + gone_m)
        if place is not None:
            centres.append(place)
            colours = np.vstack([colours, look.rgb(shown.colours.ink)])
    thick = FROM_SEAT if shown.view == "seat" else shown.stage.scale
    mesh = _balls(centres, BALL_M * thick)
    return {"balls": Layer(mesh, np.repeat(colours, mesh.n_cells // max(len(centres), 1), axis=0), "solid")}


def _along(line: Floats, reach_m: float) -> Floats | None:
    """The point so far along a line; None before its start and past its end."""
    legs = np.linalg.norm(np.diff(line, axis=0), axis=1)
    ends = np.concatenate([[0.0], np.cumsum(legs)])
    if not 0.0 <= reach_m <= ends[-1]:
        return None
    return np.array([np.interp(reach_m, ends, line[:, axis]) for axis in range(3)])


def _balls(centres: list[Floats], radius_m: float) -> Mesh:
    import pyvista as pv

    if not centres:
        return Mesh()
    one = pv.Sphere(radius=radius_m, theta_resolution=12, phi_resolution=8)
    points = np.concatenate([np.asarray(one.points) + centre for centre in centres])
    faces = np.asarray(one.faces).reshape(-1, 4)
    cells = [faces + np.array([0, *[i * one.n_points] * 3]) for i in range(len(centres))]
    return Mesh.of(pv.PolyData(points, np.concatenate(cells)))
