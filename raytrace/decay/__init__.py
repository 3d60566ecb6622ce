"""How sound dies away: traced energy, its parameters, classical formulas."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.decay.decay import Decay, find_decay
    from raytrace.decay.energy import Sampling

__all__ = [
    "Decay",
    "Sampling",
    "find_decay",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
