"""The plan of the room changed by hand: a corner pulled over the floor, one step of the history."""

from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QPoint

from raytrace import format_length
from viewer.window.screen import Screen
from viewer.window.session import Session, misfits, plain_words, snap
from viewer.window.state import corner_catches, plan_of, walls_beside, with_corner


class Reshaping:
    """`point_out` shows words beside the pointer, "" takes them away."""

    def __init__(
        self, session: Session, screen: Screen, point_out: Callable[[str, QPoint | None], None]
    ) -> None:
        self._session = session
        self._screen = screen
        self._point_out = point_out

    def pull(self, index: int, point: np.ndarray, at: QPoint) -> None:
        """Show the plan with a corner under the pointer, and how long the walls beside it become."""
        shown = self._screen.editable
        if shown is None:
            return
        plan = plan_of(shown.study)
        (x, y), why = snap(point[:2].tolist(), others=corner_catches(plan, index))
        asked = with_corner(plan, index, (x, y))
        told = [format_length(m, units=shown.units) for m in walls_beside(asked, index)]
        self._point_out(", ".join([f"walls {told[0]} and {told[1]}", *filter(None, (why,))]), at)
        self._screen.change(plan=asked, trouble="")

    def drop(self, index: int) -> None:
        """Take the plan that is shown; where something does not fit into it any more, say what."""
        shown = self._screen.editable
        self._point_out("", None)
        if shown is None or shown.plan is None:
            return
        draft = self._session.draft
        for axis, value in enumerate(shown.plan[index]):
            draft = draft.with_value(("room", "corners", index, axis), round(value, 3))
        problem = self._session.change(draft.text)
        self._screen.change(plan=None)
        if problem is not None:
            why, left_out = plain_words(problem), misfits(self._session.draft, draft.text)
            self._screen.change(trouble=f"The corner stays: {why}", misfits=left_out)
