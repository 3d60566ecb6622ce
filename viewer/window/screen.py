"""The record on the screen: each control asks for another one, and the main window draws it."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from viewer.window.session import Found, Session
from viewer.window.state import OnScreen, fitting, things_of


class Screen:
    """What is shown, and what is set aside while the room is shown as its file had it.

    `draw` is called with every new record, and with whether there is anything to compare it with.
    """

    def __init__(self, session: Session, draw: Callable[..., None]) -> None:
        self.shown: OnScreen | None = None
        self._look: OnScreen | None = None  # how the variant was looked at that was left for another
        self._set_aside: OnScreen | None = None  # the scene as it stands, while the file's own is shown
        self._session = session
        self._draw = draw

    @property
    def shows_before(self) -> bool:
        """Whether the room is shown as its file had it."""
        return self._set_aside is not None

    @property
    def editable(self) -> OnScreen | None:
        """What is shown if it is the scene as it stands, which alone can be changed."""
        return None if self.shows_before else self.shown

    def change(self, **values: Any) -> None:
        """Show the record with some values changed; with what was wrong goes what it was wrong with."""
        if "trouble" in values:
            values = {"misfits": (), **values}
        if self.shown is not None:
            self.put(replace(self.shown, **values))

    def put(self, shown: OnScreen | None) -> None:
        """Show a record."""
        if shown is not None:
            self.shown = shown
            self._draw(shown, can_compare=self._session.can_compare, shows_before=self.shows_before)

    def clear(self) -> None:
        """Forget the scene that was shown; its picture stays until the next has its first record."""
        self.shown = self._set_aside = self._look = None

    def leave(self) -> None:
        """Forget the variant that was shown, not how it was looked at."""
        look = self._set_aside or self.shown
        self.clear()
        self._look = look

    def look_like(self, found: Found) -> bool:
        """Show the first study of a variant as the one before was looked at; false where there was none."""
        look, self._look = self._look, None
        if look is None:
            return False
        gone = ("chosen", "pointed", "thing", "wanted", "bass", "bass_now", "mode", "placing")
        none: dict[str, Any] = dict.fromkeys((*gone, "measured", "measured_chosen"))
        study = found.study
        self.put(
            replace(
                fitting(look, study),
                study=study,
                stage=found.stage,
                settled=found.settled,
                entries=(),
                trouble="",
                bass_says="",
                measured_says="",
                **none,
            )
        )
        return True

    def follow(self, found: Found) -> None:
        """A study has arrived: show it, keeping how the room is looked at and what is selected."""
        values: dict[str, Any] = {
            "study": found.study,
            "stage": found.stage,
            "settled": found.settled,
            "wanted": None,
        }
        if self._set_aside is not None:
            self._set_aside = replace(self._set_aside, **values)
        elif self.shown is not None:
            thing = self.shown.thing if self.shown.thing in things_of(found.study) else None
            trouble = self.shown.trouble if found.settled else ""
            self.put(replace(fitting(self.shown, found.study), thing=thing, trouble=trouble, **values))

    def show_before(self, on: bool) -> None:
        """Show the room as its file had it, or as it stands."""
        first = self._session.first
        if self.shown is None or first is None or on == self.shows_before:
            return
        if on:
            # As it was nothing is put into it, and no corner of it is pulled.
            self._set_aside = self.shown = replace(self.shown, placing=None, plan=None)
            self.change(
                study=first.study,
                stage=first.stage,
                settled=True,
                thing=None,
                measured=None,
                measured_chosen=None,
                bass=None,
                bass_says="The bass is shown of the room as it stands, not as it was when opened.",
            )
        else:
            now, self._set_aside = self._set_aside, None
            assert now is not None
            self.change(
                study=now.study,
                stage=now.stage,
                settled=now.settled,
                thing=now.thing,
                measured=now.measured,
                measurement_at=now.measurement_at,
                measured_chosen=now.measured_chosen,
                bass=now.bass,
                bass_now=now.bass_now,
                bass_says=now.bass_says,
            )
