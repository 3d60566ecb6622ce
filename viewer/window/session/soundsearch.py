"""Measurements of the open scene, held against it off the window's thread."""

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal

from raytrace import Scene, SceneError
from viewer.window.session.search import Search
from viewer.window.session.worker import Progress
from viewer.window.state import Sounds

if TYPE_CHECKING:
    from raytrace import MeasuredRoom


class SoundSearch(Search):
    """What measurements tell of one scene after another."""

    found = Signal(object)  # MeasuredRoom

    def ask(self, scene: Scene, sounds: Sounds) -> bool:
        """Hold measurements against a scene; false where that is done or on its way already."""
        asked = self._asked
        if isinstance(asked, tuple) and asked[0] is scene and asked[1] == sounds:
            return False
        self._ask((scene, sounds), lambda progress: measured_of(scene, sounds, progress))
        return True

    def _answered(self, _asked: object, found: object) -> None:
        self.found.emit(found)

    def _refusal(self, problem: Exception) -> str | None:
        from raytrace import RecordingError

        return str(problem) if isinstance(problem, RecordingError | SceneError) else None


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
