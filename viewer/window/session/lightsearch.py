"""The room's own light, found off the window's thread whenever the room has come to rest."""

from PySide6.QtCore import Signal

from viewer.pictures import Stage, map_light
from viewer.window.session.search import Search


class LightSearch(Search):
    """The light of one study after another: no figure waits for it."""

    found = Signal(object)  # LightMap

    def ask(self, stage: Stage) -> None:
        """Find the light of a room; nothing happens where it is the one that was asked for last."""
        if stage.study.scene is not self._asked:
            self._ask(stage.study.scene, lambda _progress: map_light(stage))

    def _answered(self, _asked: object, found: object) -> None:
        self.found.emit(found)
