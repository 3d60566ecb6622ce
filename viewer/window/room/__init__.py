"""The room in the window: the picture, and the hand over it."""

from viewer.window.room.gestures import Gestures
from viewer.window.room.scanview import ScanView
from viewer.window.room.view import RoomView

__all__ = [
    "Gestures",
    "RoomView",
    "ScanView",
]
