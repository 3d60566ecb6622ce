"""What panels weigh on their hooks: plain statics, no approval."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import millimetres, sentence
from raytrace.making.framing import Piece, take_apart
from raytrace.making.hanging import Hook
from raytrace.making.rafts import Raft
from raytrace.room import PlacedPanel, Room

Floats = NDArray[np.float64]

HALVING = 2.0
"""Over people hardware carries at most half its stated working load (DGUV Information 215-313, 1.4)."""
WORKING_COEFFICIENTS = (("wire rope", 5.0), ("chain", 4.0), ("textile cord", 7.0))
"""Breaking force over working load (Directive 2006/42/EC, annex I, 4.1.2.5, from memory)."""

PRACTICE = (
    (
        sentence("Hardware with a stated working load limit carries at most half of it over people."),
        "DGUV Information 215-313, 1.4",
    ),
    (
        sentence(
            "Hardware with only a breaking force: that force over the working coefficient (wire rope 5, "
            "chain 4, textile 7) is its working load limit, then the same halving; every string is sized "
            "for the one that carries most."
        ),
        "coefficients: Directive 2006/42/EC, annex I, 4.1.2.5 (from memory), from 20 January 2027 Regulation "
        "(EU) 2023/1230; halving: DGUV Information 215-313, 1.4",
    ),
    (
        sentence(
            "A second, independent support catches the panel with as little fall as can be, {fall} at most.",
            fall=millimetres(0.2),
        ),
        "DGUV Information 215-313, 1.3",
    ),
    (
        sentence(
            "Joints lock by their form, are secured against working loose, and can be seen and checked."
        ),
        "DGUV Information 215-313, 1.1",
    ),
    (
        sentence(
            "Four hangers or more, each able to carry half of the whole with a factor of 5 or more; anchors "
            "approved for their ground, in joists or concrete only."
        ),
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
        Index into `Room.panels`; of a raft its first.
    name : str
        Of the panel, or of the raft with all that lies in it.
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
    name: str
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
    millimetres too long hangs slack, and then two opposite ones carry all. A raft is a stiff plate on its
    four or six hooks, its own timber alike round the middle of its slabs.
    """
    loads = []
    for index in range(len(room.panels)):
        own = tuple(hook for hook in hooks if hook.panel == index)
        if own:
            loads.append(_panel_load(room, index, own))
    return tuple(loads)


def _panel_load(room: Room, index: int, hooks: tuple[Hook, ...]) -> PanelLoad:
    panel = room.panels[index]
    raft = hooks[0].raft
    piece = take_apart(panel.build, hung=is_hung(panel)) if raft is None else raft.piece
    name = panel.name if raft is None else raft.name
    mass_kg = piece.mass_kg
    middle = panel.centre - piece.middle_m * panel.normal if raft is None else _middle_of(raft, room)
    spots = np.array([hook.eyelet[:2] for hook in hooks])
    # Forces and moments about both level axes; of all splits that fit, the one with the least squares.
    balance = np.vstack([np.ones(len(hooks)), (spots - middle[:2]).T])
    even_kg = np.linalg.pinv(balance) @ np.array([mass_kg, 0.0, 0.0])
    if len(hooks) == 2:
        arm_m = panel.height_m - abs(float(hooks[0].eyelet[2] - panel.rear[2, 2]))
        off_wall_m = float(np.mean([np.linalg.norm(h.anchor - h.eyelet) for h in hooks]))
        pull_kg = mass_kg * (off_wall_m + piece.outer_m[2] - piece.middle_m) / arm_m
        # The lever: the nearer carries more.
        aside_m = np.abs((np.array([hook.eyelet for hook in hooks]) - middle) @ panel.right)
        even_kg = mass_kg * aside_m[::-1] / aside_m.sum()
        return PanelLoad(index, name, piece, hooks, even_kg, mass_kg, pull_kg)
    half = len(hooks) // 2
    shares = [_lever(spots[k], spots[k + half], middle[:2]) for k in range(half)]
    return PanelLoad(index, name, piece, hooks, even_kg, max(shares) * mass_kg, 0.0)


def _middle_of(raft: Raft, room: Room) -> Floats:
    """Centre of mass of a raft: its slabs where they lie, the rest about their middle, (3,). [m]"""
    slabs = np.array([room.panels[k].middle for k in raft.panels])
    weights = np.array([room.panels[k].area_m2 for k in raft.panels])
    share = (raft.piece.wool_kg + raft.piece.board_kg) / raft.piece.mass_kg
    middle: Floats = share * (weights @ slabs) / weights.sum() + (1.0 - share) * raft.whole.middle
    return middle


def _lever(first: Floats, second: Floats, load: Floats) -> float:
    """The larger share of two supports, (2,) each, that carry a load between them."""
    along = second - first
    share = float(np.clip((load - first) @ along / (along @ along), 0.0, 1.0))
    return max(share, 1.0 - share)
