"""A thing that is moved by hand: asked for picture by picture, in full as soon as the hand rests."""

from collections.abc import Callable

from PySide6.QtCore import QObject, QTimer

from viewer.window.state import Thing

Move = tuple[tuple[Thing, tuple[float, ...]], ...]
"""Where each of the things goes that the hand moves, the one in the hand first."""
HOLD_MS = 40  # a hand that has not moved for so long rests


class Drag(QObject):
    """What is being moved, and what of it has been asked for.

    `ask` computes a move, "moving" or "held"; `follow` is called when what came of it has been drawn.
    """

    def __init__(self, ask: Callable[[str, Move], None], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.wanted: Move | None = None  # what is being moved, and where it was last asked to be
        self._ask = ask
        self._is_ahead = False  # what is moved has gone on since it was last asked for
        self._waits = False  # for the picture of what was asked for
        self._is_held = False  # what is moved was asked for at rest since it last moved
        self._holds = QTimer(self, interval=HOLD_MS, singleShot=True)
        self._holds.timeout.connect(self._hold)

    def move(self, move: Move) -> None:
        """The hand has gone on."""
        self._is_held = False
        self._holds.stop()
        self.wanted, self._is_ahead = move, True
        if not self._waits:
            self.follow()

    def follow(self) -> None:
        """Go on with what is being moved: the last picture of it is being drawn."""
        self._waits = False
        if self.wanted is None:
            return
        if self._is_ahead:
            self._is_ahead, self._waits = False, True
            self._ask("moving", self.wanted)
        elif not self._is_held:
            self._holds.start()

    def _hold(self) -> None:
        """The hand rests and has not let go: the head zone and near misses of what it holds."""
        if self.wanted is not None and not self._is_ahead:
            self._is_held = True
            self._ask("held", self.wanted)

    def end(self) -> Move | None:
        """Let go; returns what was moved, and where to."""
        if self.wanted is None:
            return None
        self._holds.stop()
        self._waits = False
        move, self.wanted = self.wanted, None
        return move
