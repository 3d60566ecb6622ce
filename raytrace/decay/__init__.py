"""How sound dies away: traced energy, its parameters, classical formulas."""

from raytrace.decay.decay import Decay, find_decay

__all__ = [
    "Decay",
    "find_decay",
]
