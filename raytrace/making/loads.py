"""What panels weigh on their hooks, and at what push a standing one tips: plain statics, no approval."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.making.framing import Piece, take_apart
from raytrace.making.hanging import Hook
from raytrace.room import PlacedPanel, Room

Floats = NDArray[np.float64]

GRAVITY_M_S2 = 9.81
TILT_TEST_DEG = 10.0
"""Tilt of the stability test of floor-standing equipment (IEC 62368-1, from memory). [deg]"""

HALVING = 2.0
"""Over people hardware carries at most half its stated working load (DGUV Information 215-313, 1.4)."""
WORKING_COEFFICIENTS = (("wire rope", 5.0), ("chain", 4.0), ("textile cord", 7.0))
"""Breaking force over working load (Directive 2006/42/EC, annex I, 4.1.2.5, from memory)."""

PRACTICE = (
    (
        "Hardware with a stated working load limit carries at most half of it over people.",
        "DGUV Information 215-313, 1.4",
    ),
    (
        "Hardware with only a breaking force: that force over the working coefficient (wire rope 5, chain 4, "
        "textile 7) is its working load limit, then the same halving; every string is sized for the one that "
        "carries most.",
        "coefficients: Directive 2006/42/EC, annex I, 4.1.2.5 (from memory), from 20 January 2027 Regulation "
        "(EU) 2023/1230; halving: DGUV Information 215-313, 1.4",
    ),
    (
        "A second, independent support catches the panel with as little fall as can be, 200 mm at most.",
        "DGUV Information 215-313, 1.3",
    ),
    (
        "Joints lock by their form, are secured against working loose, and can be seen and checked.",
        "DGUV Information 215-313, 1.1",
    ),
    (
        "Four hangers or more, each able to carry half of the whole with a factor of 5 or more; anchors "
        "approved for their ground, in joists or concrete only.",
        "common practice, no source; to be checked by a competent person",
    ),
)
"""What must hold, as stated practice: a sentence and its source each."""


@dataclass(frozen=True, eq=False)
class PanelLoad:
    """What one panel weighs on its hooks, as mass. [kg]

    Attributes
    ----------
    panel : int
        Index into `Room.panels`.
    piece : Piece
        What it is made of.
    hooks : tuple of Hook
    even_kg : (n_hooks,) float
        If all hooks give way alike: the only split of a panel on more than three that statics alone
        does not fix.
    worst_kg : float
        On the most loaded hook, if two opposite hooks carry all; of two hooks, if one does.
    pull_kg : float
        On a wall: with what the upper hook is pulled out of it, one carrying all; 0 otherwise.
    """

    panel: int
    piece: Piece
    hooks: tuple[Hook, ...]
    even_kg: Floats
    worst_kg: float
    pull_kg: float

    @property
    def working_load_kg(self) -> float:
        """Least stated working load limit of every part of a string."""
        return HALVING * self.worst_kg

    @property
    def breaking_kg(self) -> dict[str, float]:
        """Least breaking force of a string without a stated working load, by its kind, as mass."""
        return {kind: HALVING * factor * self.worst_kg for kind, factor in WORKING_COEFFICIENTS}


@dataclass(frozen=True)
class Stability:
    """At what a standing panel tips.

    Attributes
    ----------
    panel : int
        Index into `Room.panels`.
    mass_kg : float
    leans : bool
        Its top is further back than its foot.
    to_wall_m : float
        From its upper back edge to the surface behind it; NaN where there is none.
    off_wall_n : float
        Pull at its top that takes a leaning panel off what it leans on; negative if it does not even rest
        there; NaN upright. [N]
    push_n : float
        Level push at its top at which it tips over its own lower edge, once upright. [N]
    tips_at_deg : float
        How far from its stance it must be turned to fall forwards.
    foot_m : float
        Depth of a foot that it would need to tip beyond `TILT_TEST_DEG` only, centred under it.
    """

    panel: int
    mass_kg: float
    leans: bool
    to_wall_m: float
    off_wall_n: float
    push_n: float
    tips_at_deg: float
    foot_m: float


def is_hung(panel: PlacedPanel) -> bool:
    """Whether a panel hangs on cords, and so has rails across its back."""
    return panel.kind == "cloud"


def find_loads(room: Room, hooks: Sequence[Hook]) -> tuple[PanelLoad, ...]:
    """Loads of every panel that hooks hold.

    Parameters
    ----------
    room : Room
    hooks : sequence of Hook
        From `find_hooks`.

    Returns
    -------
    tuple of PanelLoad
        In the order of the panels.

    Notes
    -----
    Cords are upright, so a tilt only moves the centre of mass, half the thickness below the eyelets, to
    one side. With more than three hooks statics alone does not say what each carries: a cord a few
    millimetres too long hangs slack, and then two opposite ones carry all.
    """
    loads = []
    for index, panel in enumerate(room.panels):
        own = tuple(hook for hook in hooks if hook.panel == index)
        if own:
            loads.append(_panel_load(index, panel, own))
    return tuple(loads)


def _panel_load(index: int, panel: PlacedPanel, hooks: tuple[Hook, ...]) -> PanelLoad:
    piece = take_apart(panel.build, hung=is_hung(panel))
    mass_kg = piece.mass_kg
    middle = panel.centre - piece.middle_m * panel.normal
    spots = np.array([hook.eyelet[:2] for hook in hooks])
    # Forces and moments about both level axes; of all splits that fit, the one with the least squares.
    balance = np.vstack([np.ones(len(hooks)), (spots - middle[:2]).T])
    even_kg = np.linalg.pinv(balance) @ np.array([mass_kg, 0.0, 0.0])
    if len(hooks) == 2:
        arm_m = panel.height_m - abs(float(hooks[0].eyelet[2] - panel.rear[2, 2]))
        off_wall_m = float(np.mean([np.linalg.norm(h.anchor - h.eyelet) for h in hooks]))
        pull_kg = mass_kg * (off_wall_m + piece.outer_m[2] - piece.middle_m) / arm_m
        return PanelLoad(index, piece, hooks, np.full(2, 0.5 * mass_kg), mass_kg, pull_kg)
    half = len(hooks) // 2
    shares = [_lever(spots[k], spots[k + half], middle[:2]) for k in range(half)]
    return PanelLoad(index, piece, hooks, even_kg, max(shares) * mass_kg, 0.0)


def _lever(first: Floats, second: Floats, load: Floats) -> float:
    """The larger share of two supports, (2,) each, that carry a load between them."""
    along = second - first
    share = float(np.clip((load - first) @ along / (along @ along), 0.0, 1.0))
    return max(share, 1.0 - share)


def find_stability(room: Room) -> tuple[Stability, ...]:
    """At what the standing panels of a room tip.

    Parameters
    ----------
    room : Room

    Returns
    -------
    tuple of Stability
        Of stands, in the order of the panels.

    Notes
    -----
    A stiff block on a level, rough floor; a lift counts as legs as deep as the panel. It may also slide,
    long before it tips.
    """
    found = []
    for index, panel in enumerate(room.panels):
        if panel.kind == "stand":
            to_wall_m = float("nan")
            if panel.surface is not None:
                frame = room.surfaces[panel.surface].frame
                to_wall_m = float(((panel.back[2:] - frame.origin) @ frame.n).min())
            found.append(_stability(index, panel, to_wall_m))
    return tuple(found)


def find_foot_m(panel: PlacedPanel) -> float:
    """Depth of a foot, centred under a stand, that makes it tip beyond `TILT_TEST_DEG` only. [m]"""
    sine = float(panel.normal[2])
    legs_m = max(float(panel.back[:, 2].min()) / float(np.sqrt(1.0 - sine**2)), 0.0)
    return float(2.0 * (legs_m + 0.5 * panel.height_m) * np.tan(np.radians(TILT_TEST_DEG)))


def _stability(index: int, panel: PlacedPanel, to_wall_m: float) -> Stability:
    weight_n = GRAVITY_M_S2 * (mass_kg := take_apart(panel.build, hung=False).mass_kg)
    sine = float(panel.normal[2])
    cosine = float(np.sqrt(1.0 - sine**2))
    depth, height = panel.thickness_m, panel.height_m
    legs = max(float(panel.back[:, 2].min()) / cosine, 0.0)
    to_middle = legs + 0.5 * height
    leans = sine > 1e-6
    # Leaning it stands on the edge at its back, and its centre of mass lies behind that edge.
    behind_m = to_middle * sine - 0.5 * depth * cosine
    off_wall_n = weight_n * behind_m / ((legs + height) * cosine + depth * sine) if leans else float("nan")
    tips = np.arctan2(0.5 * depth, to_middle) + np.arcsin(sine)
    return Stability(
        panel=index,
        mass_kg=mass_kg,
        leans=leans,
        to_wall_m=to_wall_m,
        off_wall_n=off_wall_n,
        push_n=weight_n * 0.5 * depth / (legs + height),
        tips_at_deg=float(np.degrees(tips)),
        foot_m=find_foot_m(panel),
    )
