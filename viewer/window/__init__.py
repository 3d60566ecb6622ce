"""The window: the room to turn, what reaches the seat, and things moved by hand."""

from viewer.window.opening import open_window

__all__ = [
    "open_window",
]
