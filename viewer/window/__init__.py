"""The window: the room to turn, what reaches the seat, and things moved by hand."""

from viewer.window.opening import open_window
from viewer.window.session import find_recovery

__all__ = [
    "find_recovery",
    "open_window",
]
