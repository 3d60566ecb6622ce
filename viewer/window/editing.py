"""What can be done to the scene that is open: things moved, steps taken back, before against after.

Whatever changes the scene goes through the session as one step of its history; the list of what a reader can
do is `COMMANDS`.
"""

import numpy as np

from viewer.window.changing import Changing
from viewer.window.main_window import MainWindow
from viewer.window.screen import Screen
from viewer.window.session import Session
from viewer.window.state import Thing, clear_words, partner_of, place_at, place_in, point_at, things_of

NUDGE_M = 0.010


class Editing:
    """Changes of the open scene, by hand and by key."""

    def __init__(self, session: Session, screen: Screen, main: MainWindow, changing: Changing) -> None:
        self._changing = changing
        self._session = session
        self._drag = session.drag
        self._screen = screen
        self._room, self._place = main.room, main.place
        self._say = main.say

    def choose(self, thing: Thing | None) -> None:
        """Select a thing to be moved, in the list as well."""
        self._changing.choose(() if thing is None else (thing,))

    def move(self, thing: Thing, point: np.ndarray) -> None:
        """Follow a thing that is pulled to a point in the room."""
        shown = self._screen.editable
        if shown is not None:
            place = place_at(shown.study, thing, point)
            why = self._session.move(shown.study, thing, place, self._partner(thing))
            wanted = self._drag.wanted
            clear = "" if wanted is None else clear_words(shown.study, *wanted[0], self._screen_units)
            self._say(", ".join(filter(None, (why, clear))))

    @property
    def _screen_units(self) -> str:
        shown = self._screen.shown
        return "metric" if shown is None else shown.units

    def place(self, thing: Thing, place: tuple[float | None, ...]) -> None:
        """Put a thing to a place that was typed; None leaves a length as it is."""
        shown = self._screen.editable
        if shown is not None:
            # A place where it stands already changes nothing that would take old words away.
            self._screen.change(trouble="", wanted=None)
            now = place_in(self._session.scene, thing)
            whole = tuple(n if p is None else p for p, n in zip(place, now, strict=True))
            self._session.place(shown.study, thing, whole, self._partner(thing))

    def _partner(self, thing: Thing) -> Thing | None:
        """What moves with a thing."""
        shown = self._screen.editable
        return partner_of(shown.study, thing) if shown is not None and shown.in_pairs else None

    def nudge(self, right: int, back: int, up: int) -> None:
        """Move the selected thing by one step of the grid."""
        shown = self._screen.editable
        if shown is None or shown.thing is None:
            return
        place = place_in(self._session.scene, shown.thing)
        steps = (back, right, up) if len(place) == 3 else (right, -back)
        moved = tuple(p + NUDGE_M * s for p, s in zip(place, steps, strict=False))
        self.place(shown.thing, moved)

    def refuse(self, why: str) -> None:
        """Say why something cannot be, and show where it was asked to be."""
        shown = self._screen.shown
        if shown is not None:
            asked = self._drag.wanted
            point = None if asked is None else point_at(shown.study, *asked[0])
            self._screen.change(trouble=why, wanted=None if point is None else tuple(point.tolist()))

    def next_thing(self) -> None:
        """Select the next thing to move."""
        shown = self._screen.shown
        if shown is not None:
            things = things_of(shown.study)
            at = things.index(shown.thing) + 1 if shown.thing in things else 0
            self.choose(things[at % len(things)])
            self._room.take_keys()

    def type_place(self) -> None:
        """Put the cursor into the first length of the selected thing."""
        self._place.type_first()

    def toggle_pairs(self, on: bool) -> None:
        """Move panels that mirror each other as one, or each by itself."""
        self._screen.change(in_pairs=on)

    def undo(self) -> None:
        """Take back the last change."""
        self._screen.change(trouble="")
        self._session.undo()

    def redo(self) -> None:
        """Make the change again that was taken back."""
        self._screen.change(trouble="")
        self._session.redo()

    def toggle_before(self, on: bool) -> None:
        """Show the room as its file had it, or as it stands."""
        self._screen.show_before(on)
