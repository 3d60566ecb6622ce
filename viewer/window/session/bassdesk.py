"""The bass of the open scene: found off the window's thread when it is asked for, and followed by hand."""

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from raytrace import Scene, SceneError, Study
from viewer.window.session.worker import Worker

if TYPE_CHECKING:
    from raytrace import BassFollower, BassNow


class BassDesk(QObject):
    """The map of the bass of one study after another, in a thread of its own.

    The modes of a room take seconds where it is large; nothing else of the session waits for them.
    """

    found = Signal(object, object)  # scene, BassMap
    refused = Signal(str)  # why a room has none
    crashed = Signal(object)  # exception

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._follower: BassFollower | None = None  # loads what the first picture need not wait for
        self._worker: Worker | None = None
        self._asked: Scene | None = None

    def ask(self, study: Study) -> None:
        """Find the map of a study; nothing happens where it is the one that was asked for last."""
        if study.scene is self._asked:
            return
        self._asked = study.scene
        if self._worker is None or self._follower is None:
            from raytrace import BassFollower

            self._follower = BassFollower()
            self._worker = Worker(self)
            self._worker.done.connect(self._done)
            self._worker.failed.connect(self._failed)
        scene, room, follower = study.scene, study.room, self._follower
        self._worker.ask(scene, lambda progress: follower.rest(scene, room, progress=progress))

    def moved(self, scene: Scene) -> "BassNow | None":
        """What the seats hear while a source or a seat is in the hand; None where that takes longer."""
        return None if self._follower is None else self._follower.moved(scene)

    def is_of(self, study: Study) -> bool:
        """Whether the map that was asked for last is of a study."""
        return study.scene is self._asked

    def forget(self) -> None:
        """Find anew what is asked for next, whatever it is."""
        self._asked = None

    def end(self) -> None:
        """Let go of the thread."""
        if self._worker is not None:
            self._worker.end()

    def _done(self, scene: Scene, found: object) -> None:
        if scene is self._asked:
            self.found.emit(scene, found)

    def _failed(self, scene: Scene, problem: Exception) -> None:
        if scene is not self._asked:
            return
        if isinstance(problem, SceneError):
            self.refused.emit(problem.why.splitlines()[0])
        else:
            self.crashed.emit(problem)
