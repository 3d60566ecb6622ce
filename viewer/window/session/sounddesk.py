"""Measurements of the open scene, held against it off the window's thread."""

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from raytrace import Scene, SceneError
from viewer.window.session.worker import Progress, Worker
from viewer.window.state import Sounds

if TYPE_CHECKING:
    from raytrace import MeasuredRoom


class SoundDesk(QObject):
    """What measurements tell of one scene after another, in a thread of its own."""

    found = Signal(object)  # MeasuredRoom
    refused = Signal(str)  # why a file cannot be used
    crashed = Signal(object)  # exception
    progressed = Signal(str, float)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._worker: Worker | None = None
        self._asked: tuple[Scene, Sounds] | None = None

    def ask(self, scene: Scene, sounds: Sounds) -> bool:
        """Hold measurements against a scene; false where that is done or on its way already."""
        if self._asked is not None and self._asked[0] is scene and self._asked[1] == sounds:
            return False
        self._asked = scene, sounds
        if self._worker is None:
            self._worker = Worker(self)
            self._worker.done.connect(self._done)
            self._worker.failed.connect(self._failed)
            self._worker.progressed.connect(self.progressed)
        self._worker.ask(self._asked, lambda progress: measured_of(scene, sounds, progress))
        return True

    @property
    def is_busy(self) -> bool:
        """Whether something is on its way, or not yet let go of."""
        return self._worker is not None and self._worker.is_busy

    def stop(self) -> None:
        """Let what is on its way come to nothing."""
        self._asked = None
        if self._worker is not None:
            self._worker.drop()

    def end(self) -> None:
        """Let go of the thread."""
        if self._worker is not None:
            self._worker.end()

    def _done(self, asked: object, found: object) -> None:
        if asked is self._asked:
            self.found.emit(found)

    def _failed(self, asked: object, problem: Exception) -> None:
        from raytrace import RecordingError

        if asked is not self._asked:
            return
        if isinstance(problem, RecordingError | SceneError):
            self.refused.emit(str(problem))
        else:
            self.crashed.emit(problem)


def measured_of(scene: Scene, sounds: Sounds, progress: Progress | None = None) -> "MeasuredRoom":
    """What measurements tell of a scene; those from before the work, where there are later ones, of it bare.

    Raises
    ------
    RecordingError
        Where a file cannot be used.
    """
    from raytrace import find_measured, hold_against

    before, after = (sounds.takes(scene, before=own) for own in (True, False))
    bare = scene if scene.is_bare else scene.without_panels()
    states = [("before", bare, before), ("after", scene, after)]
    if not (before and after):
        states = [("measured", scene, before or after)]
    held = [
        (name, hold_against(own, takes, sweep=sounds.sweep, progress=progress)) for name, own, takes in states
    ]
    if progress:
        progress("what the drawing has wrong", 1.0)
    return find_measured(held)
