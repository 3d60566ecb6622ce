"""The bass of the open scene: found off the window's thread when it is asked for, and followed by hand."""

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from raytrace import Scene, SceneError, Study
from viewer.window.session.search import Search

if TYPE_CHECKING:
    from raytrace import BassFollower, BassNow


class BassSearch(Search):
    """The map of the bass of one study after another.

    The modes of a room take seconds where it is large; nothing else of the session waits for them.
    """

    found = Signal(object, object)  # scene, BassMap

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._follower: BassFollower | None = None  # loads what the first picture need not wait for

    def ask(self, study: Study) -> None:
        """Find the map of a study; nothing happens where it is the one that was asked for last."""
        if study.scene is self._asked:
            return
        if self._follower is None:
            from raytrace import BassFollower

            self._follower = BassFollower()
        scene, room, follower = study.scene, study.room, self._follower
        self._ask(scene, lambda progress: follower.rest(scene, room, progress=progress))

    def moved(self, scene: Scene) -> "BassNow | None":
        """What the seats hear while a source or a seat is in the hand; None where that takes longer."""
        return None if self._follower is None else self._follower.moved(scene)

    def is_of(self, study: Study) -> bool:
        """Whether the map that was asked for last is of a study."""
        return study.scene is self._asked

    def _answered(self, asked: object, found: object) -> None:
        self.found.emit(asked, found)

    def _refusal(self, problem: Exception) -> str | None:
        return problem.why.splitlines()[0] if isinstance(problem, SceneError) else None
