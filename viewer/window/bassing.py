"""The bass in the window: its map over the floor, the curve under the hand, the shapes of modes."""

from typing import TYPE_CHECKING

from viewer.window.looking import Looking
from viewer.window.screen import Screen
from viewer.window.session import BassSearch, Found, Session

if TYPE_CHECKING:
    from raytrace import BassMap

SOUND = ("paths", "weaker", "spots", "areas")
"""Layers of the reflections, which stand before the floor."""
WAITS = "finding the modes of the room …"


class Bassing:
    """The layer of the bass of the record on the screen."""

    def __init__(self, screen: Screen, looking: Looking, session: Session) -> None:
        self._screen = screen
        self._looking = looking
        self._put_away: list[str] = []
        self.search = BassSearch(session)
        self.search.found.connect(lambda _scene, found: self._found(found))
        self.search.refused.connect(lambda why: self._screen.change(bass=None, bass_now=None, bass_says=why))
        self.search.crashed.connect(session.crashed)

    def toggle(self, on: bool) -> None:
        """Show the bass over the floor, or the reflections over time again."""
        shown = self._screen.shown
        if shown is None:
            return
        if on:
            self._put_away = [name for name in SOUND if name in shown.layers]
        for name in self._put_away:
            self._looking.layer(name, not on)
        self._looking.layer("bass", on)
        if on:
            self.begin()
        else:
            self._put_away = []

    def begin(self) -> None:
        """The layer has been switched on: find what it shows."""
        shown = self._screen.editable
        if shown is not None:
            if not self.search.is_of(shown.study):
                self._screen.change(bass=None, bass_now=None)
            self._rest(Found(shown.study, shown.stage, shown.settled))

    def follow(self, found: Found) -> None:
        """A study has arrived: the map when the room rests, the curve alone while something is moved."""
        shown = self._screen.editable
        if shown is None or "bass" not in shown.layers:
            return
        now = self.search.moved(found.study.scene)
        if now is not None:
            self._screen.change(bass_now=now)
        if found.settled:
            self._rest(found)

    def _rest(self, found: Found) -> None:
        shown = self._screen.shown
        if shown is not None and shown.bass is None:
            self._screen.change(bass_says=WAITS)
        self.search.ask(found.study)

    def _found(self, found: "BassMap") -> None:
        if self._screen.editable is None:
            self.search.forget()  # the room is shown as it was: asked for again when it is not
            return
        mode = self._screen.editable.mode
        kept = mode if mode is not None and mode < len(found.modes_hz) else None
        self._screen.change(bass=found, bass_now=found.now, bass_says="", mode=kept)

    def choose(self, mode: int | None) -> None:
        """Show the shape of a mode, or the floor again."""
        shown = self._screen.shown
        if shown is not None:
            self._screen.change(mode=None if mode == shown.mode else mode)

    def next_mode(self) -> None:
        """Show the shape of the next mode; the floor after the last."""
        shown = self._screen.shown
        if shown is None or shown.bass is None or "bass" not in shown.layers:
            return
        after = 0 if shown.mode is None else shown.mode + 1
        self._screen.change(mode=after if after < len(shown.bass.modes_hz) else None)

    def end(self) -> None:
        """Let go of what works beside the window."""
        self.search.end()
