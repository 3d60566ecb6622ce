"""Which panels to put up: candidates, their effect, the choice, its proof."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.proposing.candidates import place_entries
    from raytrace.proposing.covering import TriedCover
    from raytrace.proposing.goals import Goal
    from raytrace.proposing.ladder import Step
    from raytrace.proposing.margins import PeakMargin
    from raytrace.proposing.panelgrid import listening_axis
    from raytrace.proposing.proposal import (
        OtherSeat,
        Proposal,
        ProposedPanel,
        Unreached,
    )
    from raytrace.proposing.rearranging import MOVES, propose
    from raytrace.proposing.single import PeakMending, TriedPanel, mend_peak
    from raytrace.proposing.spending import Spending, SpentStep
    from raytrace.proposing.wishes import PanelWish
    from raytrace.proposing.words import Answer, Purpose

__all__ = [
    "MOVES",
    "Answer",
    "Goal",
    "OtherSeat",
    "PanelWish",
    "PeakMargin",
    "PeakMending",
    "Proposal",
    "ProposedPanel",
    "Purpose",
    "Spending",
    "SpentStep",
    "Step",
    "TriedCover",
    "TriedPanel",
    "Unreached",
    "listening_axis",
    "mend_peak",
    "place_entries",
    "propose",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
