"""How sound dies away: traced energy, its parameters, classical formulas."""

from raytrace.decay.decay import Decay, find_decay
from raytrace.decay.energy import Sampling

__all__ = [
    "Decay",
    "Sampling",
    "find_decay",
]
