"""Which panels to put up: candidates, their effect, the choice, its proof."""

from raytrace.proposing.candidates import place_entries
from raytrace.proposing.covering import TriedCover
from raytrace.proposing.ladder import Step
from raytrace.proposing.margins import PeakMargin
from raytrace.proposing.panelgrid import listening_axis
from raytrace.proposing.proposal import (
    OtherSeat,
    PanelWish,
    Proposal,
    ProposedPanel,
    Unreached,
)
from raytrace.proposing.rearranging import MOVES, propose
from raytrace.proposing.words import Answer

__all__ = [
    "MOVES",
    "Answer",
    "OtherSeat",
    "PanelWish",
    "PeakMargin",
    "Proposal",
    "ProposedPanel",
    "Step",
    "TriedCover",
    "Unreached",
    "listening_axis",
    "place_entries",
    "propose",
]
