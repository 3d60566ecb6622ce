"""Hooks and cords: where every panel is held, on which joist, and how long each cord is."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from raytrace.making.framing import THREE_RAILS_M
from raytrace.making.rafts import OVERHANG_SPANS, Raft, find_rafts
from raytrace.making.timber import ACROSS_JOISTS
from raytrace.room import Frame, PlacedPanel, Room, Surface, facet_distance_m, is_overhead
from raytrace.scene import Joists, Scene

Floats = NDArray[np.float64]

INSET_M = 0.050
"""Of an eyelet from both edges of its panel."""
SHIFT_M = 0.150
"""How far an eyelet may move along an edge so that its cord hangs from a joist."""
_APART_M = 0.10  # two hooks of a wall panel are farther apart, on either side of its middle
_ON_M = 1e-6

_UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, eq=False)
class Hook:
    """One point at which a panel is held.

    Attributes
    ----------
    panel : int
        Index into `Room.panels`; of a raft its first.
    name, letter : str
        The panel's or the raft's name with a letter, and the letter: anticlockwise as seen from the front,
        from the lower left.
    kind : str
        "cord": hangs on a cord from straight above. "fixed": screwed to what lies behind.
    eyelet : (3,) float
        On the back of a panel's frame, or on the upper edge of a raft's rail. [m]
    surface : int
        Surface that holds it.
    anchor, anchor_uv : (3,), (2,) float
        Where it holds, in the room and in the surface's set-out frame. [m]
    cord_m : float
        From eyelet to anchor, or to the underside of the batten that stands in for a joist; nothing added
        for knots; NaN for fixed ones.
    joist : int or None
        Which joist of its surface, 0 the first; None where it holds on none, or none are known.
    to_joist_m : float
        Distance of the anchor to the nearest joist line; NaN where none are known.
    reach : (2,) float
        From where to where across the joists its anchor could be put, in the set-out frame; NaN where none
        are known. [m]
    batten : bool
        Joists are known and none is in reach: a batten across joists is needed.
    raft : Raft or None
        What it holds, where that is more than a panel of its own.
    """

    panel: int
    name: str
    letter: str
    kind: Literal["cord", "fixed"]
    eyelet: Floats
    surface: int
    anchor: Floats
    anchor_uv: Floats
    cord_m: float
    joist: int | None
    to_joist_m: float
    reach: Floats
    batten: bool
    raft: Raft | None = None

    @property
    def holds(self) -> tuple[int, ...]:
        """Every panel that hangs from it."""
        return (self.panel,) if self.raft is None else self.raft.panels

    @property
    def key(self) -> tuple[int, str]:
        """What tells it from every other hook of its room, whatever panels are called."""
        return self.panel, self.letter


def find_hooks(scene: Scene, room: Room) -> tuple[Hook, ...]:
    """Every point at which the panels of a scene are held, set out on joists where they allow it.

    Clouds hang on four cords, long ones on six; rafts on four, or on six where their rails would sag too
    much; panels on walls hold at two points near their top, panels right under a ceiling or slope at four.
    Stands need none.

    Parameters
    ----------
    scene : Scene
        For its joists.
    room : Room
        With its panels.

    Returns
    -------
    tuple of Hook
        In the order of the panels.
    """
    hooks: list[Hook] = []
    rafts = {raft.panels[0]: raft for raft in find_rafts(scene, room)}
    for index, panel in enumerate(room.panels):
        if index in rafts:
            hooks += _raft_hooks(scene, room, rafts[index])
        elif not panel.in_raft:
            held = _Held(index, panel, panel.name, panel.rear[0])
            for letter, (spot, ways) in zip("abcdef", _nominal_spots(panel), strict=False):
                hooks.append(_hook(scene, room, held, letter, spot, ways))
    return tuple(hooks)


def joist_lines(joists: Joists, frame: Frame) -> Floats:
    """Middle lines of some joists: u where they run along v, v where they run along u. (n,) [m]"""
    far = frame.height if joists.along_u else frame.width
    lines: Floats = np.arange(joists.first, far + _ON_M, joists.spacing)
    return lines


def cuts_m(surface: Surface, joists: Joists, line: float) -> list[tuple[float, float]]:
    """Where along its length the joist at a middle line is cut by windows, doors and openings: from, to. [m]

    A joist that would stand in an opening ends at it, be it a rafter at a roof window or a stud at a door.
    """
    column = 1 if joists.along_u else 0
    half = 0.5 * joists.width - _ON_M
    return [
        (float(opening.rect[1 - column]), float(opening.rect[3 - column]))
        for opening in surface.openings
        if opening.kind != "cover" and opening.rect[column] - half < line < opening.rect[column + 2] + half
    ]


def standing_lines(surface: Surface, joists: Joists, along_m: float) -> tuple[Floats, NDArray[np.int64]]:
    """Middle lines of the joists that are there at a place along them, not cut by an opening; their numbers.

    Parameters
    ----------
    surface : Surface
    joists : Joists
        Of that surface.
    along_m : float
        u where they run along u, v where they run along v. [m]

    Returns
    -------
    (n,) float, (n,) int
        As `joist_lines` [m]; 0 the first of all.
    """
    lines = joist_lines(joists, surface.frame)
    whole = [not any(a < along_m < b for a, b in cuts_m(surface, joists, float(line))) for line in lines]
    numbers = np.flatnonzero(whole)
    return lines[numbers], numbers


# Where on a panel it is held: shares of its width and height, anticlockwise, opposite ones half a ring apart.
_RINGS: dict[str, tuple[tuple[float, float], ...]] = {
    "top": ((1.0, 1.0), (0.0, 1.0)),
    "corners": ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)),
    "wide": ((0.0, 0.0), (0.5, 0.0), (1.0, 0.0), (1.0, 1.0), (0.5, 1.0), (0.0, 1.0)),
    "high": ((0.0, 0.0), (1.0, 0.0), (1.0, 0.5), (1.0, 1.0), (0.0, 1.0), (0.0, 0.5)),
}


def _nominal_spots(panel: PlacedPanel) -> list[tuple[Floats, Floats]]:
    """Where eyelets go if nothing else matters, from the lower left corner (2,), and their ranges (2, 2).

    Ranges: how far an eyelet may move along the width and along the height, from and to. [m]
    """
    size = np.array([panel.width_m, panel.height_m])
    ring = _ring(panel)
    inset, reach = np.minimum(INSET_M, 0.25 * size), np.minimum(SHIFT_M, 0.25 * size)
    if ring == "top":  # plates go anywhere along the top of a frame, on either side of its middle
        reach[0] = 0.5 * size[0] - inset[0] - 0.5 * _APART_M
    spots = []
    for share in _RINGS.get(ring, ()):
        side = np.array(share)
        place = side * size + np.sign(0.5 - side) * inset
        ways = np.stack([np.where(side == 0.0, 0.0, -reach), np.where(side == 1.0, 0.0, reach)], axis=1)
        spots.append((place, ways))
    return spots


def _ring(panel: PlacedPanel) -> str:
    """Which of the rings holds a panel; "" where none does."""
    if panel.kind == "stand" or is_overhead(-panel.normal):
        return ""
    if panel.kind != "cloud" and not is_overhead(panel.normal):
        return "top"
    if max(panel.width_m, panel.height_m) <= THREE_RAILS_M:
        return "corners"
    return "wide" if panel.width_m > panel.height_m else "high"


def _raft_hooks(scene: Scene, room: Room, raft: Raft) -> list[Hook]:
    """Two hooks on each rail of a raft, or three where the rails would sag too much between two."""
    held = _Held(raft.panels[0], raft.whole, raft.name, raft.on_top(np.zeros(2)), raft)
    hooks: list[Hook] = []
    for shares in _ALONG_RAIL:
        hooks = [
            _hook(scene, room, held, letter, spot, ways)
            for letter, (spot, ways) in zip("abcdef", _rail_spots(raft, shares), strict=False)
        ]
        if rail_span_m(raft, hooks) <= raft.most_rail_m:
            break
    return hooks


# Shares of a rail at which it is held, and how far a hook may move for a joist (common practice, no source).
_ALONG_RAIL = (((0.2, 0.8), 0.17), ((0.15, 0.5, 0.85), 0.12))


def _rail_spots(raft: Raft, along: tuple[tuple[float, ...], float]) -> list[tuple[Floats, Floats]]:
    """As `_nominal_spots`, on the middle lines of both rails."""
    shares, reach = along
    thick_m = raft.rail.thickness_m
    near, far = -0.5 * thick_m, float(raft.slabs_m[1 - raft.axis]) + 0.5 * thick_m
    ways = np.zeros((2, 2))
    ways[raft.axis] = np.array([-reach, reach]) * raft.rail_m
    places = [share * raft.rail_m - thick_m for share in shares]
    if raft.axis == 0:  # anticlockwise: along the lower rail, back along the upper one
        ring = [*((a, near) for a in places), *((a, far) for a in places[::-1])]
    else:  # from the lower end of the left rail up the right one, and down the left one
        ring = [(near, places[0]), *((far, a) for a in places), *((near, a) for a in places[:0:-1])]
    return [(np.array(spot), ways) for spot in ring]


def rail_span_m(raft: Raft, hooks: Sequence[Hook]) -> float:
    """The longest span of a raft's rails on its hooks, overhangs counted as `OVERHANG_SPANS` says. [m]"""
    places = (np.array([h.eyelet for h in hooks]) - raft.on_top(np.zeros(2))) @ raft.sides.T
    on_far = places[:, 1 - raft.axis] > 0.5 * raft.slabs_m[1 - raft.axis]
    spans = []
    for rail in (places[~on_far, raft.axis], places[on_far, raft.axis]):
        held = np.sort(rail) + raft.rail.thickness_m
        spans += [*np.diff(held), OVERHANG_SPANS * held[0], OVERHANG_SPANS * (raft.rail_m - held[-1])]
    return float(max(spans))


def hooks_of_rafts(hooks: Sequence[Hook]) -> list[tuple[Raft, tuple[Hook, ...]]]:
    """Every raft that some hooks hold, with those of them that hold it."""
    rafts = {hook.panel: hook.raft for hook in hooks if hook.raft is not None}
    return [(raft, tuple(h for h in hooks if h.panel == panel)) for panel, raft in rafts.items()]


@dataclass(frozen=True, eq=False)
class _Held:
    """What hooks hold: a panel of the room, or all of a raft; its name, and where its eyelets count from."""

    index: int
    panel: PlacedPanel
    name: str
    corner: Floats
    raft: Raft | None = None


def _hook(scene: Scene, room: Room, held: _Held, letter: str, spot: Floats, ways: Floats) -> Hook:
    """One hook, moved to a joist if one is in reach."""
    panel = held.panel
    hangs = panel.kind == "cloud"
    towards = _UP if hangs else -panel.normal
    sides = np.stack([panel.right, panel.up])
    eyelet = held.corner + spot @ sides
    surface, anchor = _behind(room, eyelet, towards, panel.surface)
    joists = [entry for entry in scene.joists if entry.surface == room.surfaces[surface].name]
    moved, reach = _to_a_joist(room, surface, joists, anchor, _Slide(sides, ways, towards))
    if moved is not None:
        eyelet = eyelet + moved @ sides
        surface, anchor = _behind(room, eyelet, towards, panel.surface)
        joists = [entry for entry in scene.joists if entry.surface == room.surfaces[surface].name]
    frame = room.surfaces[surface].frame
    uv = frame.to_plane(anchor)
    joist, away_m = _nearest_joist(room, surface, joists, uv)
    holds = joist is not None and away_m <= _ON_M
    batten = joist is not None and not holds
    # A batten lies on the surface, so that under a slope a plumb line meets it farther down than it is thick.
    below_m = ACROSS_JOISTS.thickness_m / abs(float(frame.n[2])) if batten and hangs else 0.0
    return Hook(
        panel=held.index,
        name=f"{held.name} {letter}",
        letter=letter,
        kind="cord" if hangs else "fixed",
        eyelet=eyelet,
        surface=surface,
        anchor=anchor,
        anchor_uv=uv,
        cord_m=float(anchor[2] - eyelet[2]) - below_m if hangs else float("nan"),
        joist=joist if holds else None,
        to_joist_m=away_m,
        reach=reach,
        batten=batten,
        raft=held.raft,
    )


def _behind(room: Room, start: Floats, towards: Floats, surface: int | None) -> tuple[int, Floats]:
    """The face that a straight line from a point first meets, and where; else the plane of a surface.

    Other panels do not count: nothing hangs from them.
    """
    falling = room.facet_arrays.normals @ towards
    ahead = np.flatnonzero(falling < -_ON_M)
    distances = (room.facet_arrays.offsets - room.facet_arrays.normals @ start)[ahead] / falling[ahead]
    for k in np.argsort(distances, kind="stable"):
        facet = room.facets[ahead[k]]
        if distances[k] <= -_ON_M or ahead[k] >= room.n_solid_facets:
            continue
        spot = start + distances[k] * towards
        if facet_distance_m(spot, facet) <= _ON_M:
            return facet.surface, spot
    assert surface is not None, "a panel that is held has a surface"
    frame = room.surfaces[surface].frame
    distance = float((frame.origin - start) @ frame.n / (towards @ frame.n))
    return surface, start + distance * towards


def along_joists(joists: Joists, uv: Floats) -> float:
    """The coordinate of a spot, (2,), that runs along joists. [m]"""
    return float(uv[0] if joists.along_u else uv[1])


def across_joists(joists: Joists, uv: Floats) -> float:
    """The coordinate of a spot, (2,), that counts joists: u where they run along v, v along u. [m]"""
    return float(uv[1] if joists.along_u else uv[0])


@dataclass(frozen=True, eq=False)
class _Slide:
    """How an eyelet may be moved: unit vectors along both sides of its panel, and from where to where. [m]

    `towards` is the direction in which its cord or hook reaches for what holds it.
    """

    sides: Floats
    ways: Floats
    towards: Floats


def _to_a_joist(
    room: Room, surface: int, joists: Sequence[Joists], anchor: Floats, slide: _Slide
) -> tuple[Floats | None, Floats]:
    """The shortest move of an eyelet along one side of its panel that puts its anchor on a joist, (2,).

    Beside it the range across the joists that the anchor could take. (2,) [m]
    """
    frame = room.surfaces[surface].frame
    best: tuple[float, Floats] | None = None
    reach = np.full(2, np.nan)
    for entry in joists:
        here = across_joists(entry, frame.to_plane(anchor))
        for axis, side in enumerate(slide.sides):
            # Along the line to the surface the anchor moves as the eyelet does, plus what the slope adds.
            step = side - (side @ frame.n) / (slide.towards @ frame.n) * slide.towards
            per_metre = across_joists(entry, frame.to_plane(anchor + step)) - here
            if abs(per_metre) < 0.5:  # the side runs along the joists rather than across them
                continue
            reach = np.sort(here + per_metre * slide.ways[axis])
            # What moves across the joists may also move along them, under a slope: cut joists by where it is.
            lines, _ = standing_lines(
                room.surfaces[surface], entry, along_joists(entry, frame.to_plane(anchor))
            )
            for move in (lines - here) / per_metre:
                in_reach = slide.ways[axis, 0] - _ON_M <= move <= slide.ways[axis, 1] + _ON_M
                if in_reach and (best is None or abs(move) < best[0] - _ON_M):
                    best = abs(move), move * np.eye(2)[axis]
    return (None if best is None else best[1]), reach


def _nearest_joist(
    room: Room, surface: int, joists: Sequence[Joists], uv: Floats
) -> tuple[int | None, float]:
    """Index of the joist line nearest to a spot, and how far it is; None, NaN without joists. [m]"""
    found: list[tuple[float, int]] = []
    for entry in joists:
        lines, numbers = standing_lines(room.surfaces[surface], entry, along_joists(entry, uv))
        away = np.abs(lines - across_joists(entry, uv))
        if len(away):
            nearest = int(np.argmin(away))
            found.append((float(away[nearest]), int(numbers[nearest])))
    if not found:
        return None, float("nan")
    away_m, nearest = min(found)
    return nearest, away_m
