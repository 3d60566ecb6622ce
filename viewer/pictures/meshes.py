"""Study -> meshes with named arrays. No plotter, no colours."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from raytrace import Study, cabinet_size_m, find_hooks, find_rafts, find_targets, speaker_axis
from viewer.pictures.faces import PARTS, all_of, box, cut_to_room, discs, polygons, polylines
from viewer.words import strong_rows

if TYPE_CHECKING:
    from viewer.pictures.mesh import Mesh

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Sizes of the shapes that stand for things the scene gives no size for. [m]
SUB_SIDE = 0.36
# A listener as oval rings: half-depth, half-width, x and z against the ears.
_TURN = np.linspace(-np.pi / 2, np.pi / 2, 13)
HEAD = tuple(
    (float(0.095 * np.cos(a)), float(0.075 * np.cos(a)), 0.0, float(0.115 * np.sin(a))) for a in _TURN
)
NOSE = ((0.004, 0.004, -0.112, -0.030), (0.030, 0.018, -0.090, -0.030), (0.004, 0.004, -0.088, 0.030))
BUST = (
    (0.045, 0.045, 0.01, -0.06),
    (0.048, 0.050, 0.02, -0.13),
    (0.070, 0.100, 0.02, -0.16),
    (0.090, 0.165, 0.02, -0.19),
    (0.100, 0.205, 0.02, -0.24),
    (0.100, 0.215, 0.02, -0.30),
    (0.098, 0.205, 0.02, -0.36),
    (0.090, 0.185, 0.02, -0.42),
    (0.050, 0.120, 0.02, -0.45),
    (0.001, 0.001, 0.02, -0.455),
)
FAINT_FROM_DB = -6.0  # against the limit: weaker second-order reflections are left to the tables
DRIVERS = ((-0.05, 0.070), (0.09, 0.028))  # height over the acoustic centre, radius: woofer, tweeter


@dataclass(frozen=True)
class DrawnRows:
    """Rows of the arrivals that the pictures of one seat show, weakest first.

    Attributes
    ----------
    seat : int
        Index into the scene's seats.
    main : (n,) int
        First-order arrivals in the limit's window, and every other one that makes a peak which is over the
        limit or too close to it to say.
    faint : (m,) int
        The other second-order arrivals in the window that come near the limit; the rest would only cover it.
    """

    seat: int
    main: Ints
    faint: Ints


def shown_rows(study: Study, seat: int = 0) -> DrawnRows:
    """What the pictures of one seat show."""
    table = study.arrivals
    rows = np.flatnonzero(table.seat == seat)
    level = table.level_re_limit_db[rows]
    rows = rows[~np.isnan(level)]
    rows = rows[np.argsort(level[~np.isnan(level)], kind="stable")]
    main = (table.order[rows] == 1) | np.isin(rows, list(strong_rows(study)))
    is_near = table.level_re_limit_db[rows] > FAINT_FROM_DB
    return DrawnRows(seat, rows[main], rows[~main & (table.order[rows] == 2) & is_near])


def paths(study: Study, rows: Ints) -> "Mesh":
    """Sound paths of arrivals.

    Returns
    -------
    Mesh
        One line each; cell arrays `row`, `speaker`, `order`, `level_re_limit_db`.
    """
    table = study.arrivals
    lines = [table.path_points[row][~np.isnan(table.path_points[row, :, 0])] for row in rows]
    return polylines(
        lines,
        row=rows,
        speaker=table.speaker[rows],
        order=table.order[rows],
        level_re_limit_db=table.level_re_limit_db[rows],
    )


def direct_paths(study: Study, seat: int) -> "Mesh":
    """Straight lines from the main speakers to the ears; cell arrays `speaker`, `visible`."""
    direct, scene = study.arrivals.direct, study.scene
    rows = [i for i in np.flatnonzero(direct.seat == seat) if scene.speakers[direct.speaker[i]].use == "main"]
    ears = np.array(scene.seats[seat].ears)
    lines = [np.array([scene.speakers[direct.speaker[i]].position, ears]) for i in rows]
    return polylines(lines, speaker=direct.speaker[rows], visible=direct.visible[rows])


@dataclass(frozen=True)
class Spots:
    """Where arrivals touch the surfaces, one row per bounce.

    Attributes
    ----------
    points, normals : (n, 3) float
        Place and direction into the air.
    row, bounce, surface, opening, panel, order : (n,) int
        Row of the arrivals, which bounce of it, what is met (opening and panel -1: bare surface), bounces in
        all.
    level_re_limit_db : (n,) float
        As in `Arrivals`.
    """

    points: Floats
    normals: Floats
    row: Ints
    bounce: Ints
    surface: Ints
    opening: Ints
    panel: Ints
    order: Ints
    level_re_limit_db: Floats


def spots(study: Study, rows: Ints) -> Spots:
    """Where arrivals touch the surfaces, in the order of the rows."""
    table = study.arrivals
    row = np.repeat(rows, table.order[rows])
    bounce = np.concatenate([np.arange(n) for n in table.order[rows]]) if len(rows) else row
    surface = table.path_surfaces[row, bounce]
    normals = np.array([study.room.surfaces[i].frame.n for i in surface]).reshape(-1, 3)
    return Spots(
        points=table.path_points[row, bounce + 1],
        normals=normals,
        row=row,
        bounce=bounce,
        surface=surface,
        opening=table.path_openings[row, bounce],
        panel=table.path_panels[row, bounce],
        order=table.order[row],
        level_re_limit_db=table.level_re_limit_db[row],
    )


def patches(study: Study, seat: int) -> "Mesh":
    """Areas to treat for one seat, cut to their surface.

    Returns
    -------
    Mesh
        Convex pieces; cell arrays `patch` (index into `study.treatment_areas`), `surface`, `order`
        (bounces of the strongest arrival), `to_treat`, `worst_db`, `normal`, `part`.
    """
    room = study.room
    loops: list[Floats] = []
    owners: list[int] = []
    for i, patch in enumerate(study.treatment_areas):
        if patch.seat == seat:
            frame = room.surfaces[patch.surface].frame
            pieces = cut_to_room(room, frame.to_room(patch.outline), frame.n)
            loops += pieces
            owners += [i] * len(pieces)
    targets = {id(area) for areas in find_targets(study).values() for area, _ in areas}
    picked = [study.treatment_areas[i] for i in owners]
    return polygons(
        loops,
        patch=owners,
        part=all_of("area", len(loops)),
        surface=[patch.surface for patch in picked],
        order=[int(study.arrivals.order[list(patch.rows)].min()) for patch in picked],
        to_treat=[id(patch) in targets for patch in picked],
        worst_db=[patch.worst_db for patch in picked],
        normal=np.array([room.surfaces[patch.surface].frame.n for patch in picked]).reshape(-1, 3),
    )


def panes(study: Study) -> "Mesh":
    """Windows, doors, openings and covers; cell arrays `opening`, `grid`, `surface`, `normal`, `part`.

    `grid` counts them after the facets of the room, as the light on them is counted.
    """
    openings = study.room.openings
    frames = [study.room.surfaces[opening.surface].frame for opening in openings]
    loops = []
    for opening, frame in zip(openings, frames, strict=True):
        u0, v0, u1, v1 = opening.rect
        loops.append(frame.to_room(np.array([[u0, v0], [u1, v0], [u1, v1], [u0, v1]])))
    return polygons(
        loops,
        opening=[opening.index for opening in openings],
        grid=study.room.n_solid_facets + np.arange(len(loops)),
        part=all_of("pane", len(loops)),
        surface=[opening.surface for opening in openings],
        normal=np.array([frame.n for frame in frames]).reshape(-1, 3),
    )


def panels(study: Study) -> "Mesh":
    """Panels as blocks; six faces each, cell arrays `panel`, `surface`, `grid` (-1: none), `normal`, `part`.

    The timbers of a raft are blocks of its first panel.
    """
    loops: list[Floats] = []
    owners: list[int] = []
    blocks = [(i, panel.corners, panel.back) for i, panel in enumerate(study.room.panels)]
    for raft in find_rafts(study.scene, study.room):
        for _, outline, (low, high) in raft.blocks():
            normal = raft.whole.normal
            blocks.append((raft.panels[0], outline - low * normal, outline - high * normal))
    for i, front, back in blocks:
        loops += [front, back[::-1]]
        loops += [np.array([front[k], back[k], back[(k + 1) % 4], front[(k + 1) % 4]]) for k in range(4)]
        owners += [i] * 6
    normals = np.array([_normal(loop) for loop in loops]).reshape(-1, 3)
    own_front = np.arange(len(loops)) // 6 < len(study.room.panels)
    grid = study.room.n_solid_facets + len(study.room.openings) + np.array(owners, np.int64)
    surfaces = [study.room.panels[i].surface for i in owners]
    return polygons(
        loops,
        panel=owners,
        grid=np.where(own_front & (np.arange(len(loops)) % 6 == 0), grid, -1),
        surface=[-1 if s is None else s for s in surfaces],
        normal=normals,
        part=all_of("panel", len(loops)),
    )


def cords(study: Study) -> "Mesh":
    """Cords of everything that hangs on some, from eyelet to anchor; cell arrays `panel`, `part`."""
    hooks = [hook for hook in find_hooks(study.scene, study.room) if hook.kind == "cord"]
    lines = [np.array([h.eyelet, h.anchor]) for h in hooks]
    return polylines(lines, panel=[h.panel for h in hooks], part=all_of("cord", len(hooks)))


def _normal(loop: Floats) -> Floats:
    normal: Floats = np.cross(loop[1] - loop[0], loop[2] - loop[0])
    return normal / np.linalg.norm(normal)


def speakers(study: Study) -> "Mesh":
    """Boxes with the acoustic centre in the middle of the front; cell arrays `speaker`, `part`."""
    loops: list[Floats] = []
    owners: list[int] = []
    for i, speaker in enumerate(study.scene.speakers):
        place = np.array(speaker.position)
        if speaker.use == "sub":
            loops += box(place, (SUB_SIDE,) * 3, np.array([1.0, 0.0, 0.0]))
        else:
            axis = speaker_axis(study.scene, speaker)
            size = cabinet_size_m(speaker)
            loops += box(place - size[0] / 2 * axis, tuple(size.tolist()), axis)
        owners += [i] * 6
    is_front = [k % 6 == 0 and study.scene.speakers[i].use == "main" for k, i in enumerate(owners)]
    parts = np.where(is_front, PARTS.index("speaker front"), PARTS.index("speaker"))
    return polygons(loops, speaker=owners, part=parts)


def drivers(study: Study) -> "Mesh":
    """Round faces on the fronts of the main speakers, so that one sees where they look; cell array `part`."""
    centres, normals, radii = [], [], []
    for speaker in study.scene.speakers:
        if speaker.use == "main":
            axis = speaker_axis(study.scene, speaker)
            side = np.cross([0.0, 0.0, 1.0], axis)
            rising = np.cross(axis, side / max(float(np.linalg.norm(side)), 1e-9))
            for height, radius in DRIVERS:
                centres.append(np.array(speaker.position) + height * rising + 0.003 * axis)
                normals.append(axis)
                radii.append(radius)
    return discs(
        np.array(centres).reshape(-1, 3),
        np.array(normals).reshape(-1, 3),
        radii_m=np.array(radii),
        part=all_of("driver", len(radii)),
    )


def speaker_axes(study: Study, *, length_m: float) -> "Mesh":
    """Short lines that say where the main speakers point; cell arrays `speaker`, `part`."""
    mains = [i for i, speaker in enumerate(study.scene.speakers) if speaker.use == "main"]
    lines = []
    for i in mains:
        at = np.array(study.scene.speakers[i].position)
        lines.append(np.array([at, at + length_m * speaker_axis(study.scene, study.scene.speakers[i])]))
    return polylines(lines, speaker=mains, part=all_of("speaker", len(mains)))


def heads(study: Study) -> "Mesh":
    """Head, nose and shoulders at every seat, facing the front wall; cell arrays `seat`, `part`."""
    loops: list[Floats] = []
    owners: list[int] = []
    for i, seat in enumerate(study.scene.seats):
        figure = [part + np.array(seat.ears) for part in _lathe(HEAD) + _lathe(NOSE) + _lathe(BUST)]
        loops += figure
        owners += [i] * len(figure)
    return polygons(loops, seat=owners, part=all_of("head", len(loops)))


def _lathe(profile: Sequence[tuple[float, float, float, float]]) -> list[Floats]:
    """Four-cornered faces between oval rings given by half-depth, half-width, middle x and height."""
    angles = np.linspace(0, 2 * np.pi, 25)
    rings = [
        np.stack([x + depth * np.cos(angles), width * np.sin(angles), np.full(25, z)], axis=1)
        for depth, width, x, z in profile
    ]
    return [
        np.array([low[k], low[k + 1], high[k + 1], high[k]])
        for low, high in pairwise(rings)
        for k in range(len(angles) - 1)
    ]


def zones(study: Study) -> "Mesh":
    """Range of the head at every seat that has one; six faces each, cell arrays `seat`, `part`."""
    loops: list[Floats] = []
    owners: list[int] = []
    for i, seat in enumerate(study.scene.seats):
        if min(seat.zone) > 0.0:
            size = [2.0 * half for half in seat.zone]
            loops += box(np.array(seat.ears), size, np.array([1.0, 0.0, 0.0]))
            owners += [i] * 6
    return polygons(loops, seat=owners, part=all_of("zone", len(loops)))
