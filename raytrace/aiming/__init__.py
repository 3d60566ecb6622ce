"""How to set up speakers: where they point, what they stand on, what boundaries and a desk do to them."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.aiming.aim import Aiming, AimWish, find_aim
    from raytrace.aiming.boundaries import (
        BoundaryDip,
        BoundaryResponse,
        CombinedDip,
        boundaries_of,
        boundary_response,
    )
    from raytrace.aiming.deskclear import DESK_MOVES_TO_M, DeskMove
    from raytrace.aiming.pointing import Pointing, SpeakerPair, SpeakerSetting
    from raytrace.aiming.standing import Standing
    from raytrace.aiming.wallsweep import WallPlace, WallSweep

__all__ = [
    "DESK_MOVES_TO_M",
    "AimWish",
    "Aiming",
    "BoundaryDip",
    "BoundaryResponse",
    "CombinedDip",
    "DeskMove",
    "Pointing",
    "SpeakerPair",
    "SpeakerSetting",
    "Standing",
    "WallPlace",
    "WallSweep",
    "boundaries_of",
    "boundary_response",
    "find_aim",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
