"""Hooks and cords: where every panel is held, on which joist, and how long each cord is."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from raytrace.making.framing import THREE_RAILS_M
from raytrace.room import Frame, PlacedPanel, Room, facet_distance_m, is_overhead
from raytrace.scene import Joists, Scene

Floats = NDArray[np.float64]

INSET_M = 0.050
"""Of an eyelet from both edges of its panel."""
SHIFT_M = 0.150
"""How far an eyelet may move along an edge so that its cord hangs from a joist."""
_ON_M = 1e-6

_UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, eq=False)
class Hook:
    """One point at which a panel is held.

    Attributes
    ----------
    panel : int
        Index into `Room.panels`.
    name, letter : str
        The panel's name with a letter, and the letter: anticlockwise as seen from the front, from the lower
        left.
    kind : str
        "cord": hangs on a cord from straight above. "fixed": screwed to what lies behind.
    eyelet : (3,) float
        On the back of its frame. [m]
    surface : int
        Surface that holds it.
    anchor, anchor_uv : (3,), (2,) float
        Where it holds, in the room and in the surface's set-out frame. [m]
    cord_m : float
        From eyelet to anchor, nothing added for knots; NaN for fixed ones.
    joist : int or None
        Which joist of its surface, 0 the first; None where it holds on none, or none are known.
    to_joist_m : float
        Distance of the anchor to the nearest joist line; NaN where none are known.
    reach : (2,) float
        From where to where across the joists its anchor could be put, in the set-out frame; NaN where none
        are known. [m]
    batten : bool
        Joists are known and none is in reach: a batten across joists is needed.
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

    @property
    def key(self) -> tuple[int, str]:
        """What tells it from every other hook of its room, whatever panels are called."""
        return self.panel, self.letter


def find_hooks(scene: Scene, room: Room) -> tuple[Hook, ...]:
    """Every point at which the panels of a scene are held, set out on joists where they allow it.

    Clouds hang on four cords, long ones on six; panels on walls hold at two points near their top,
    panels right under a ceiling or slope at four. Stands need none.

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
    for index, panel in enumerate(room.panels):
        for letter, (spot, ways) in zip("abcdef", _nominal_spots(panel), strict=False):
            hooks.append(_hook(scene, room, index, letter, spot, ways))
    return tuple(hooks)


def joist_lines(joists: Joists, frame: Frame) -> Floats:
    """Middle lines of some joists: u where they run along v, v where they run along u. (n,) [m]"""
    far = frame.height if joists.along == "u" else frame.width
    lines: Floats = np.arange(joists.first, far + _ON_M, joists.spacing)
    return lines


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
    inset, reach = np.minimum(INSET_M, 0.25 * size), np.minimum(SHIFT_M, 0.25 * size)
    spots = []
    for share in _RINGS.get(_ring(panel), ()):
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


def _hook(scene: Scene, room: Room, index: int, letter: str, spot: Floats, ways: Floats) -> Hook:
    """One hook, moved to a joist if one is in reach."""
    panel = room.panels[index]
    hangs = panel.kind == "cloud"
    towards = _UP if hangs else -panel.normal
    sides = np.stack([panel.right, panel.up])
    eyelet = panel.rear[0] + spot @ sides
    surface, anchor = _behind(room, eyelet, towards, panel.surface)
    joists = [entry for entry in scene.joists if entry.surface == room.surfaces[surface].name]
    moved, reach = _to_a_joist(room, surface, joists, anchor, _Slide(sides, ways, towards))
    if moved is not None:
        eyelet = eyelet + moved @ sides
        surface, anchor = _behind(room, eyelet, towards, panel.surface)
        joists = [entry for entry in scene.joists if entry.surface == room.surfaces[surface].name]
    uv = room.surfaces[surface].frame.to_plane(anchor)
    joist, away_m = _nearest_joist(room, surface, joists, uv)
    holds = joist is not None and away_m <= _ON_M
    return Hook(
        panel=index,
        name=f"{panel.name} {letter}",
        letter=letter,
        kind="cord" if hangs else "fixed",
        eyelet=eyelet,
        surface=surface,
        anchor=anchor,
        anchor_uv=uv,
        cord_m=float(anchor[2] - eyelet[2]) if hangs else float("nan"),
        joist=joist if holds else None,
        to_joist_m=away_m,
        reach=reach,
        batten=joist is not None and not holds,
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


def across_joists(joists: Joists, uv: Floats) -> float:
    """The coordinate of a spot, (2,), that counts joists: u where they run along v, v along u. [m]"""
    return float(uv[1] if joists.along == "u" else uv[0])


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
            for move in (joist_lines(entry, frame) - here) / per_metre:
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
        away = np.abs(joist_lines(entry, room.surfaces[surface].frame) - across_joists(entry, uv))
        if len(away):
            nearest = int(np.argmin(away))
            found.append((float(away[nearest]), nearest))
    if not found:
        return None, float("nan")
    away_m, nearest = min(found)
    return nearest, away_m
