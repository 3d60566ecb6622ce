"""Stands as things to build: panels between legs on cross feet, or leaning on blocks; what tips them."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Sentence, millimetres, sentence
from raytrace.making.frameroom import with_frame
from raytrace.making.framing import Part, Piece, take_apart
from raytrace.making.timber import Timber, is_nominal, stand_timber
from raytrace.room import PlacedPanel, Room, may_drill
from raytrace.scene import Scene

Floats = NDArray[np.float64]

GRAVITY_M_S2 = 9.81
TILT_TEST_DEG = 10.0
"""Tilt that floor-standing equipment is tested with (IEC 62368-1, from memory). [deg]"""
PUSH_SHARE, PUSH_HEIGHT_M = 0.2, 2.0
"""Level push it must bear: share of its weight, at its top but no higher (IEC 60950-1, 4.1, from memory)."""
CENTRE_MOST_M = 1.25
"""Highest centre of mass of a stand above the floor. Common practice, no source. [m]"""
FRICTION = 0.3
"""Counted on below what leans: rubber on a dry floor holds twice that. Common practice, no source."""
STRAP_N = 250.0
"""What a strap and all that holds it must bear: the largest push of IEC 60950-1, 4.1, from memory. [N]"""
STRAP_REACH_M = 0.5  # farther from the wall a strap is something to walk into; common practice, no source
TOUCHES_M = 0.010  # nearer than that the top of a leaning panel counts as resting on the wall
_CLEAR_M = 0.010  # between the end of a foot and the wall
_STEP_M, _INCH_STEP_M = 0.010, 0.0127  # to which feet are cut
_LONGEST_M = 1.5  # of a foot before or behind the middle: far beyond what any push asks for
_HAIR_M = 1e-6


@dataclass(frozen=True)
class StandPart:
    """One piece of a stand, on the floor with its lower front edge at the origin.

    Attributes
    ----------
    name : str
        "panel", "leg", "foot" or "block".
    across_m : tuple of float
        From where to where it reaches, to the right of a person who faces it.
    side : (n, 2) float
        Its outline from the side: ahead of the front edge, above the floor. [m]
    middle : (2,) float
        Its centre of mass, in the same measure. [m]
    mass_kg : float
    """

    name: str
    across_m: tuple[float, float]
    side: Floats
    middle: Floats
    mass_kg: float


@dataclass(frozen=True)
class StandBody:
    """A stand as it is built.

    Attributes
    ----------
    leans : bool
        On what is behind it; else it stands by itself.
    parts : tuple of StandPart
        Panels from the lowest up, then what carries them.
    timber : tuple of Part
        What is to be cut beside the panels' own frames.
    at_wall : bool
        Whether a wall right behind stops it from falling backwards.
    """

    leans: bool
    parts: tuple[StandPart, ...]
    timber: tuple[Part, ...]
    at_wall: bool

    @cached_property
    def mass_kg(self) -> float:
        """Of all of it."""
        return sum(part.mass_kg for part in self.parts)

    @cached_property
    def centre(self) -> Floats:
        """Its centre of mass: ahead of the lower front edge, above the floor, (2,). [m]"""
        moments: Floats = sum((p.mass_kg * p.middle for p in self.parts), np.zeros(2))
        return moments / self.mass_kg

    @cached_property
    def top_m(self) -> float:
        """Its highest point above the floor."""
        return max(float(part.side[:, 1].max()) for part in self.parts)

    @cached_property
    def foot(self) -> tuple[float, float]:
        """From where to where feet or blocks reach, ahead of the lower front edge. [m]"""
        ends = np.concatenate([p.side[:, 0] for p in self.parts if p.name in ("foot", "block")])
        return float(ends.min()), float(ends.max())

    @property
    def foot_m(self) -> float:
        """Length of each foot or block."""
        return self.foot[1] - self.foot[0]

    @property
    def wide_m(self) -> float:
        """From outside to outside of what it rests on."""
        return 2.0 * max(part.across_m[1] for part in self.parts)

    @property
    def arms_m(self) -> tuple[float, ...]:
        """Level distances of its centre of mass to the edges over which it could tip: ahead, aside, back."""
        ahead = float(self.foot[1] - self.centre[0])
        back = () if self.at_wall else (float(self.centre[0] - self.foot[0]),)
        return (ahead, 0.5 * self.wide_m, *back)

    @property
    def push_height_m(self) -> float:
        """Where the push is counted."""
        return min(self.top_m, PUSH_HEIGHT_M)

    @property
    def push_n(self) -> float:
        """Level push or pull there at which it begins to tip, the way it tips most easily. [N]"""
        return GRAVITY_M_S2 * self.mass_kg * min(self.arms_m) / self.push_height_m

    @property
    def least_push_n(self) -> float:
        """Push that it must bear. [N]"""
        return PUSH_SHARE * GRAVITY_M_S2 * self.mass_kg

    @property
    def tips_at_deg(self) -> float:
        """How far it must be turned to fall by itself, the way it tips most easily."""
        return float(np.degrees(np.arctan2(min(self.arms_m), self.centre[1])))


@dataclass(frozen=True)
class Stability:
    """A stand of a room, and at what it tips.

    Attributes
    ----------
    panel : int
        Index into `Room.panels`.
    body : StandBody
    to_wall_m : float
        From the upper back edge of its frame to the surface behind it; NaN where there is none.
    n_straps : int
        Straps to that surface, where it may be drilled and is near.
    """

    panel: int
    body: StandBody
    to_wall_m: float
    n_straps: int

    @property
    def mass_kg(self) -> float:
        """Of all of it, feet included."""
        return self.body.mass_kg

    @property
    def leans(self) -> bool:
        """Whether it rests on what is behind it."""
        return self.body.leans


def stand_body(panel: PlacedPanel) -> StandBody:
    """What a standing or leaning panel is built of.

    Feet and blocks are the shortest, as they are cut, with which it bears `PUSH_SHARE` of its weight at its
    top and a tilt of `TILT_TEST_DEG`. Before a wall that it stands parallel to, the rear end of a foot
    goes no farther than that wall, which then stops it.

    Parameters
    ----------
    panel : PlacedPanel
        Of kind "stand".

    Returns
    -------
    StandBody

    Notes
    -----
    Statics of a stiff body on a level, rough floor: it tips over an edge when the moment of the push
    about it exceeds that of the weight (textbook).
    """
    piece = take_apart(panel.build, hung=False)
    timber = stand_timber(piece.parts[0].timber)
    panels = _panels(panel, piece)
    return _on_blocks(panels, timber) if panel.leans_back else _on_feet(panel, panels, timber)


def _panels(panel: PlacedPanel, piece: Piece) -> tuple[StandPart, ...]:
    """The finished panels, each in its own frame, from the lowest up."""
    outer = with_frame(panel)
    sine = float(panel.normal[2])
    cosine = float(np.sqrt(1.0 - sine**2))
    rising, back = np.array([-sine, cosine]), -np.array([cosine, sine])
    high, deep = outer.height_m / panel.stacked, panel.depths.outer_m
    low = np.array([0.0, float(panel.corners[0, 2])])
    across = (-0.5 * outer.width_m, 0.5 * outer.width_m)
    found = []
    for k in range(panel.stacked):
        start = low + k * high * rising
        low_edge = np.array([start, start + deep * back])
        side = np.concatenate([low_edge, low_edge[::-1] + high * rising])
        middle = start + 0.5 * high * rising + piece.middle_m * back
        found.append(StandPart("panel", across, side, middle, piece.mass_kg))
    return tuple(found)


def _on_feet(panel: PlacedPanel, panels: tuple[StandPart, ...], timber: Timber) -> StandBody:
    """Two legs outside the frames, as high as they are, and a foot outside each leg."""
    half, deep, thick = panels[0].across_m[1], panel.depths.outer_m, timber.thickness_m
    top = float(panels[-1].side[:, 1].max())
    axis = -0.5 * deep  # legs and feet are set out from the middle of the frame
    legs = _pair("leg", half, thick, (axis - 0.5 * timber.depth_m, axis + 0.5 * timber.depth_m), top, timber)
    near = panel.acts_as == "patch"
    at_wall_m = max(_whole(0.5 * deep + panel.clear_m - _CLEAR_M, timber), 0.5 * timber.depth_m)
    at_wall_m = at_wall_m if near else _LONGEST_M

    def built(reach_m: float) -> StandBody:
        ends = (axis - min(reach_m, at_wall_m), axis + reach_m)
        feet = _pair("foot", half + thick, thick, ends, timber.depth_m, timber)
        cut = (Part("leg", timber, top, 2), Part("cross foot", timber, ends[1] - ends[0], 2))
        return StandBody(False, (*panels, *legs, *feet), cut, at_wall=reach_m > at_wall_m)

    # What the push asks for by itself, less what the middles of slab and frame may lie apart.
    near_m = 0.9 * PUSH_SHARE * min(top, PUSH_HEIGHT_M)
    return _shortest(built, max(near_m, 0.5 * timber.depth_m), _step_m(timber))


def _on_blocks(panels: tuple[StandPart, ...], timber: Timber) -> StandBody:
    """Two blocks outside the frame that reach ahead from its rear lower edge."""
    half, thick = panels[0].across_m[1], timber.thickness_m
    rear = float(panels[0].side[1, 0])

    def built(reach_m: float) -> StandBody:
        blocks = _pair("block", half, thick, (rear, rear + reach_m), timber.depth_m, timber)
        cut = (Part("block", timber, reach_m, 2),)
        return StandBody(True, (*panels, *blocks), cut, at_wall=True)

    return _shortest(built, 2.0 * timber.depth_m, _step_m(timber))


def _shortest(built: Callable[[float], StandBody], least_m: float, step_m: float) -> StandBody:
    """The first of ever longer feet that meets both tests ahead and back; the longest where none does."""
    steps = range(int(np.ceil(least_m / step_m - _HAIR_M)), int(_LONGEST_M / step_m))
    for step in steps:
        body = built(step * step_m)
        ahead, _, *back = body.arms_m
        if min((ahead, *back)) >= _arm_needed_m(body):
            return body
    return body


def _arm_needed_m(body: StandBody) -> float:
    """How far the centre of mass must lie inside an edge to bear the push and the tilt over it. [m]"""
    tilted_m = float(body.centre[1]) * float(np.tan(np.radians(TILT_TEST_DEG)))
    return max(PUSH_SHARE * body.push_height_m, tilted_m)


def _step_m(timber: Timber) -> float:
    return _INCH_STEP_M if is_nominal(timber) else _STEP_M


def _whole(length_m: float, timber: Timber) -> float:
    """A length rounded down to what is cut."""
    return float(np.floor(length_m / _step_m(timber) + _HAIR_M)) * _step_m(timber)


def _pair(
    name: str, inner_m: float, thick_m: float, ends: tuple[float, float], high_m: float, timber: Timber
) -> tuple[StandPart, StandPart]:
    """Equal upright pieces left and right, from the floor up, with their outline from the side."""
    (rear, front), long_m = ends, max(ends[1] - ends[0], high_m)
    side = np.array([(front, 0.0), (rear, 0.0), (rear, high_m), (front, high_m)])
    middle = np.array([0.5 * (rear + front), 0.5 * high_m])
    mass_kg = timber.kg_m * long_m
    return (
        StandPart(name, (-inner_m - thick_m, -inner_m), side, middle, mass_kg),
        StandPart(name, (inner_m, inner_m + thick_m), side, middle, mass_kg),
    )


def find_stability(scene: Scene, room: Room) -> tuple[Stability, ...]:
    """The stands of a room as they are built, and at what they tip.

    Parameters
    ----------
    scene, room : Scene, Room

    Returns
    -------
    tuple of Stability
        In the order of the panels.
    """
    return tuple(
        _stability(scene, room, index, panel)
        for index, panel in enumerate(room.panels)
        if panel.kind == "stand"
    )


def _stability(scene: Scene, room: Room, index: int, panel: PlacedPanel) -> Stability:
    to_wall_m, n_straps = float("nan"), 0
    if panel.surface is not None:
        surface = room.surfaces[panel.surface]
        to_wall_m = float(((with_frame(panel).rear[2:] - surface.frame.origin) @ surface.frame.n).min())
        n_straps = 2 if may_drill(scene, surface) and to_wall_m <= STRAP_REACH_M else 0
    return Stability(index, stand_body(panel), to_wall_m, n_straps)


def why_unstable(panel: PlacedPanel, body: StandBody | None = None) -> Sentence | None:
    """Why a stand is not built as it is given, as the rest of a sentence; None where it may be.

    Parameters
    ----------
    panel : PlacedPanel
        Of kind "stand".
    body : StandBody, optional
        What it is built of, where that is known already.
    """
    body = body or stand_body(panel)
    up_m = float(body.centre[1])
    if up_m > CENTRE_MOST_M + _HAIR_M:
        high = "has its centre of mass {up} above the floor; {most} are kept (common practice, no source)"
        return sentence(high, up=millimetres(up_m), most=millimetres(CENTRE_MOST_M))
    if 0.5 * body.wide_m < _arm_needed_m(body) - _HAIR_M:
        narrow = (
            "is {wide} wide over its feet and tips sideways below a push of {share} of its weight {up} up "
            "(IEC 60950-1, from memory)"
        )
        share, up = f"{100 * PUSH_SHARE:.0f} %", millimetres(body.push_height_m)
        return sentence(narrow, wide=millimetres(body.wide_m), share=share, up=up)
    return _why_not_leaning(panel, body) if body.leans else None


def _why_not_leaning(panel: PlacedPanel, body: StandBody) -> Sentence | None:
    if float(panel.rear[:, 2].min()) > TOUCHES_M:
        return sentence("leans and is raised: what leans stands on the floor")
    # How far its centre of mass lies behind the edge that it rests on, and how high it touches the wall.
    behind_m = float(body.foot[0] - body.centre[0])
    touches_m = float(next(p for p in reversed(body.parts) if p.name == "panel").side[2, 1])
    if behind_m < 0.0:
        return sentence("leans too little to rest on what is behind it")
    if behind_m > FRICTION * touches_m:
        slides = (
            "leans so far that its foot slides away: it needs a friction of {needed}, and {counted} is "
            "counted on (common practice, no source)"
        )
        return sentence(slides, needed=f"{behind_m / touches_m:.2f}", counted=f"{FRICTION:g}")
    return None
