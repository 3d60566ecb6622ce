"""The room in the window: the picture, and the hand over it."""

from viewer.window.room.view import RoomView

__all__ = [
    "RoomView",
]
