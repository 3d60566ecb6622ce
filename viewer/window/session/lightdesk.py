"""The room's own light, found off the window's thread whenever the room has come to rest."""

from PySide6.QtCore import QObject, Signal

from raytrace import Scene
from viewer.pictures import Stage, map_light
from viewer.window.session.worker import Worker


class LightDesk(QObject):
    """The light of one study after another, in a thread of its own: no figure waits for it."""

    found = Signal(object)  # LightMap
    crashed = Signal(object)  # exception

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._asked: Scene | None = None
        self._worker = Worker(self)
        self._worker.done.connect(self._done)
        self._worker.failed.connect(lambda _scene, problem: self.crashed.emit(problem))

    def ask(self, stage: Stage) -> None:
        """Find the light of a room; nothing happens where it is the one that was asked for last."""
        if stage.study.scene is not self._asked:
            self._asked = stage.study.scene
            self._worker.ask(self._asked, lambda _progress: map_light(stage))

    def forget(self) -> None:
        """What is on its way is of a room that is shown no more."""
        self._asked = None

    def end(self) -> None:
        """Let go of the thread."""
        self._worker.end()

    def _done(self, scene: Scene, found: object) -> None:
        if scene is self._asked:
            self.found.emit(found)
