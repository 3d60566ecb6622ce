"""What one installer's drawing shows: a face or plan with panels, hooks, joists and what is kept free."""

from collections.abc import Callable, Collection, Iterable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace import (
    Orientation,
    Room,
    Surface,
    Treatment,
    cuts_m,
    feet_outlines,
    is_overhead,
    joist_lines,
    looks_up,
    orientation,
)
from viewer.paper import crossings
from viewer.sheets.elevation import Obstacle, find_obstacles
from viewer.sheets.faceview import FaceView
from viewer.sheets.treatment import JoistLine, View, footprint, plan

Floats = NDArray[np.float64]

_STEP_M = 0.05  # a wall that begins lower stands on the floor
_WALK_UNDER_M = 1.8  # undersides of objects above this belong to the ceiling plan
LEVEL_M, _LEVEL_STEP_M = 1.0, 0.25


def find_views(treatment: Treatment) -> tuple[View, ...]:
    """The drawings that an installer needs: ceiling plan, treated faces, floor plan; none without panels."""
    room = treatment.room
    views: list[View] = []
    on_plan = [k for k, panel in enumerate(room.panels) if _belongs_on_ceiling(room, k)]
    if on_plan:
        views.append(_ceiling_view(treatment, tuple(on_plan)))
    standing = [k for k, panel in enumerate(room.panels) if panel.kind == "stand"]
    faces = {
        panel.surface
        for k, panel in enumerate(room.panels)
        if panel.surface is not None and k not in on_plan and k not in standing
    }
    faces |= {
        hook.surface
        for hook in treatment.hooks
        if not orientation(room.surfaces[hook.surface].frame.n).is_level
    }
    views += [_face_view(treatment, index) for index in sorted(faces)]
    if standing:
        views.append(_floor_view(treatment, tuple(standing)))
    return tuple(views)


def _belongs_on_ceiling(room: Room, index: int) -> bool:
    panel = room.panels[index]
    if panel.kind == "cloud":
        return True
    if panel.kind == "stand" or panel.surface is None:
        return False
    return orientation(room.surfaces[panel.surface].frame.n) is Orientation.LEVEL_DOWN


def _ceiling_view(treatment: Treatment, listed: tuple[int, ...]) -> View:
    room = treatment.room
    own, below = _overhead(room)
    facets = [room.facets[i] for k in own for i in room.surfaces[k].facets]
    overhead = own + below
    return View(
        kind="ceiling",
        name="Reflected ceiling plan",
        title="Reflected ceiling plan",
        facing="The ceiling as if mirrored in the floor; front wall at the top, left wall at the left.",
        surface=None,
        width_m=float(room.bounds[1][1]),
        height_m=float(room.bounds[1][0]),
        datum_on_top=True,
        outlines=tuple(plan(facet.outline) for facet in facets),
        holes=tuple(plan(hole) for facet in facets for hole in facet.holes),
        furniture=_outlines_from_above(room, below),
        names=_wall_names(room),
        obstacles=tuple(
            Obstacle(o.text, plan(room.surfaces[k].frame.to_room(o.outline)), o.is_keep_out)
            for k in overhead
            for o in find_obstacles(treatment.scene, room.surfaces[k])
        ),
        joists=_joists(treatment, overhead, plan),
        panels={
            k: plan(panel.corners)
            for k, panel in enumerate(room.panels)
            if panel.kind != "stand" and is_overhead(panel.normal)
        },
        listed=listed,
        hooks=tuple((hook, plan(hook.anchor)) for hook in treatment.hooks if hook.panel in listed),
        battens=_battens(treatment, overhead, plan, listed),
        rafts=_rafts(treatment, listed, plan),
        labels=tuple(
            (room.surfaces[k].name, plan(room.facets[room.surfaces[k].facets[0]].outline))
            for k in own
            if len(own) > 1
        ),
        gaps=_gaps(room),
    )


def _overhead(room: Room) -> tuple[list[int], list[int]]:
    """Surfaces that are seen looking up: the room's own, and what of objects one can walk under."""
    overhead = [
        k
        for k, surface in enumerate(room.surfaces)
        if _is_solid(room, surface) and is_overhead(surface.frame.n) and _lowest_m(room, surface) > 0.0
    ]
    own = [k for k in overhead if room.surfaces[k].owner is None]
    below = [k for k in overhead if k not in own and _lowest_m(room, room.surfaces[k]) > _WALK_UNDER_M]
    return own, below


def _outlines_from_above(room: Room, surfaces: Iterable[int]) -> tuple[tuple[str, Floats], ...]:
    """Outline of every piece of some surfaces, with the name of the surface."""
    return tuple(
        (room.surfaces[k].name, plan(room.facets[i].outline))
        for k in surfaces
        for i in room.surfaces[k].facets
    )


def _face_view(treatment: Treatment, index: int) -> View:
    room = treatment.room
    surface = room.surfaces[index]
    view = FaceView(room, index)
    # A panel across a corner belongs to one surface and may be held by the other.
    held = {hook.panel for hook in treatment.hooks if hook.surface == index}
    placed = {
        k: view.from_room(_plumbed_up(panel.corners, surface) if panel.kind == "cloud" else panel.corners)
        for k, panel in enumerate(room.panels)
        if (panel.surface == index or k in held) and panel.kind != "stand"
    }
    name = surface.name[:1].upper() + surface.name[1:]
    return View(
        kind="face",
        name=name,
        title=f"{name}, true shape" if view.is_slope else name,
        facing=_facing(view),
        surface=index,
        width_m=view.width_m,
        height_m=view.height_m,
        datum_on_top=view.is_plan,
        outlines=tuple(view.outlines),
        holes=tuple(view.holes),
        furniture=(),
        names=_neighbour_names(view),
        obstacles=tuple(
            Obstacle(o.text, view.from_frame(o.outline), o.is_keep_out)
            for o in find_obstacles(treatment.scene, surface)
        ),
        joists=_joists(treatment, [index], view.from_room),
        panels=placed,
        listed=tuple(k for k in placed if room.panels[k].kind != "cloud" and room.panels[k].surface == index),
        hooks=tuple(
            (hook, view.from_frame(hook.anchor_uv)[0]) for hook in treatment.hooks if hook.surface == index
        ),
        battens=_battens(treatment, [index], view.from_room),
        rafts=_rafts(treatment, placed, lambda points: view.from_room(_plumbed_up(points, surface))),
        level=None if view.is_plan else _level_line(room, view),
        face=view,
    )


def _facing(view: FaceView) -> str:
    if view.is_plan:
        return "Plan, front wall at the top."
    if view.is_slope:
        return "Seen from inside, facing it; heights run along the slope."
    return "As you see it from inside, facing it."


def _floor_view(treatment: Treatment, standing: tuple[int, ...]) -> View:
    room = treatment.room
    floors = [s for s in room.surfaces if s.owner is None and looks_up(s.frame.n)]
    facets = [room.facets[i] for surface in floors for i in surface.facets]
    tops = [
        (surface.owner, plan(room.facets[i].outline))
        for surface in room.surfaces
        if _is_solid(room, surface) and surface.owner is not None and looks_up(surface.frame.n)
        for i in surface.facets
    ]
    return View(
        kind="floor",
        name="Floor plan of what stands",
        title="Floor plan of what stands",
        facing="From above; front wall at the top, left wall at the left.",
        surface=None,
        width_m=float(room.bounds[1][1]),
        height_m=float(room.bounds[1][0]),
        datum_on_top=True,
        outlines=tuple(plan(facet.outline) for facet in facets),
        holes=tuple(plan(hole) for facet in facets for hole in facet.holes),
        furniture=tuple(tops),
        names=_wall_names(room),
        obstacles=tuple(
            Obstacle(o.text, plan(surface.frame.to_room(o.outline)), o.is_keep_out)
            for surface in floors
            for o in find_obstacles(treatment.scene, surface)
        ),
        joists=(),
        panels={k: footprint(treatment, k) for k in standing},
        listed=standing,
        hooks=(),
        battens=(),
        gaps=_gaps(room),
        feet=tuple(plan(outline) for k in standing for outline in feet_outlines(room.panels[k])),
        spots=(
            *((entry.name, np.array(entry.position[1::-1])) for entry in treatment.scene.speakers),
            *((entry.name, np.array(entry.ears[1::-1])) for entry in treatment.scene.seats),
        ),
    )


def _is_solid(room: Room, surface: Surface) -> bool:
    return surface.facets[0] < room.n_solid_facets


def _lowest_m(room: Room, surface: Surface) -> float:
    """Of a surface, above the floor. [m]"""
    return min(float(room.facets[i].outline[:, 2].min()) for i in surface.facets) - float(room.bounds[0][2])


def _stands_on_floor(room: Room, surface: Surface) -> bool:
    return _lowest_m(room, surface) <= _STEP_M


def _plumbed_up(corners: Floats, surface: Surface) -> Floats:
    """Points straight above others on a surface's plane, (n, 3). [m]"""
    frame = surface.frame
    rise = ((frame.origin - corners) @ frame.n) / float(frame.n[2])
    up: Floats = corners + rise[:, None] * np.array([0.0, 0.0, 1.0])
    return up


def _wall_names(room: Room) -> tuple[tuple[str, Floats, Floats], ...]:
    """Names of the walls that stand on the floor, each outside the middle of its widest piece."""
    found = []
    for surface in room.surfaces:
        level = orientation(surface.frame.n).is_level
        if surface.owner is not None or level or not _stands_on_floor(room, surface):
            continue
        corners = plan(room.facets[surface.facets[0]].outline)
        along = corners @ plan(surface.frame.u)
        ends = corners[[int(np.argmin(along)), int(np.argmax(along))]]
        found.append((surface.name, ends.mean(axis=0), -plan(surface.frame.n)))
    return tuple(found)


def _neighbour_names(view: FaceView) -> tuple[tuple[str, Floats, Floats], ...]:
    """What a face meets to the left, right, above and below."""
    h, w = view.width_m, view.height_m
    places = ((0.0, w / 2), (h, w / 2), (h / 2, 0.0), (h / 2, w))
    outwards = ((-1.0, 0.0), (1.0, 0.0), (0.0, -1.0), (0.0, 1.0))
    return tuple(
        (name, np.array(place), np.array(out))
        for name, place, out in zip(view.neighbours, places, outwards, strict=True)
        if name
    )


def _joists(
    treatment: Treatment, surfaces: Iterable[int], to_sheet: Callable[[ArrayLike], Floats]
) -> tuple[JoistLine, ...]:
    """Joists of some surfaces, each where it lies behind them."""
    room = treatment.room
    lines = []
    for index in surfaces:
        surface = room.surfaces[index]
        for entry in treatment.scene.joists:
            if entry.surface != surface.name:
                continue
            across = np.array([0.0, 1.0]) if entry.along_u else np.array([1.0, 0.0])
            for number, level in enumerate(joist_lines(entry, surface.frame), start=1):
                cuts = cuts_m(surface, entry, float(level))
                for piece in _behind(room, surface, across, float(level)):
                    for standing in _without(piece, across[::-1], cuts):
                        ends = to_sheet(surface.frame.to_room(standing))
                        lines.append(JoistLine(number, entry, ends))
    return tuple(lines)


def _without(piece: Floats, along: Floats, cuts: Iterable[tuple[float, float]]) -> list[Floats]:
    """What cuts leave of a piece (2, 2) that runs in the direction `along` (2,), each from where to where."""
    start, end = np.sort(piece @ along).tolist()
    kept, here = [], start
    for low, high in sorted(cuts):
        if low > here:
            kept.append((here, min(low, end)))
        here = max(here, high)
    kept.append((here, end))
    return [
        piece[0] + np.outer(np.array(pair) - piece[0] @ along, along) for pair in kept if pair[0] < pair[1]
    ]


def _behind(room: Room, surface: Surface, across: Floats, level: float) -> list[Floats]:
    """Pieces (2, 2) of the line across . uv = level that lie on a surface. [m]"""
    pieces = []
    for i in surface.facets:
        loops = [surface.frame.to_plane(loop) for loop in (room.facets[i].outline, *room.facets[i].holes)]
        met = [p for loop in loops for p in crossings(loop, across, level + 1e-9)]
        met.sort(key=lambda p: float(p @ across[::-1]))
        pieces += [np.array(pair) for pair in zip(met[::2], met[1::2], strict=False)]
    return pieces


def _battens(
    treatment: Treatment,
    surfaces: Iterable[int],
    to_sheet: Callable[[ArrayLike], Floats],
    panels: Iterable[int] | None = None,
) -> tuple[Floats, ...]:
    """Ends of the battens on some surfaces, of some panels alone where they are given."""
    room, wanted = treatment.room, set(surfaces)
    own = {hook.key for hook in treatment.hooks if panels is None or hook.panel in set(panels)}
    return tuple(
        to_sheet(room.surfaces[batten.surface].frame.to_room(batten.ends_uv))
        for batten in treatment.battens
        if batten.surface in wanted and own & {hook.key for hook in batten.hooks}
    )


def _rafts(
    treatment: Treatment, panels: Collection[int], to_sheet: Callable[[Floats], Floats]
) -> dict[int, tuple[Floats, ...]]:
    """Timbers of the rafts of some panels, as outlines."""
    return {
        raft.panels[0]: tuple(to_sheet(outline) for _, outline, _ in raft.blocks())
        for raft in treatment.rafts
        if raft.panels[0] in panels
    }


def _gaps(room: Room) -> tuple[tuple[str, Floats], ...]:
    """Doors, windows and openings of walls, from above."""
    found = []
    for opening in room.openings:
        surface = room.surfaces[opening.surface]
        lies = orientation(surface.frame.n)
        is_wall = lies is Orientation.UPRIGHT or (not lies.is_level and _stands_on_floor(room, surface))
        if opening.kind == "cover" or surface.owner is not None or not is_wall:
            continue
        u0, v0, u1, _ = opening.rect
        found.append((opening.name, plan(surface.frame.to_room(np.array([(u0, v0), (u1, v0)])))))
    return tuple(found)


def _level_line(room: Room, view: FaceView) -> tuple[float, float] | None:
    """Where a level line lies on a face: 1 m above the floor, or the next quarter metre the face reaches."""
    floor_m = float(room.bounds[0][2])
    rise = float(view.frame.v[2])
    low = float(view.frame.origin[2]) - floor_m
    height = LEVEL_M
    while height < low + 0.1:
        height += _LEVEL_STEP_M
    up = (height - low) / rise
    return (view.height_m - up, height) if up < view.height_m - 0.1 else None
