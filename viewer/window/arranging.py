"""Several things at once: put in one line, spaced evenly."""

import numpy as np

from viewer.window.changing import Changing
from viewer.window.screen import Screen
from viewer.window.session import Session
from viewer.window.state import MOVED_BY_HAND, Thing, place_at, place_in, point_at


class Arranging:
    """What can be done with several things that are selected; each is one step of the history."""

    def __init__(self, session: Session, screen: Screen, changing: Changing) -> None:
        self._session = session
        self._screen = screen
        self._changing = changing

    def _points(self, at_least: int) -> list[tuple[Thing, np.ndarray]]:
        """What is selected of what a hand can move, with where it is in the room (3,); [] for too few."""
        shown, state = self._screen.editable, self._changing.state
        if shown is None or state is None:
            return []
        things: list[Thing] = [own for own in state.chosen if own[0] in MOVED_BY_HAND]  # type: ignore[misc]  # so they are
        if len(things) < at_least:
            few = f"Select {at_least} or more things first: hold Ctrl and click them in the list"
            self._screen.change(trouble=few)
            return []
        scene = self._session.scene
        return [(thing, point_at(shown.study, thing, place_in(scene, thing))) for thing in things]

    def _put(self, points: list[tuple[Thing, np.ndarray]]) -> None:
        shown = self._screen.editable
        assert shown is not None, "points come from it"
        self._screen.change(trouble="", wanted=None)
        moves = []
        for thing, point in points:
            place = place_at(shown.study, thing, point)
            before = place_in(self._session.scene, thing)
            moves.append(
                (
                    thing,
                    tuple(
                        round(own, 3) if abs(own - old) > 1e-6 else old
                        for own, old in zip(place, before, strict=True)
                    ),
                )
            )
        self._session.place_all(tuple(moves))

    def _align(self, axis: int) -> None:
        points = self._points(2)
        if not points:
            return
        first = float(points[0][1][axis])
        for _, point in points[1:]:
            point[axis] = first
        self._put(points)

    def align_front(self) -> None:
        """As far from the front as what was selected first."""
        self._align(0)

    def align_left(self) -> None:
        """As far from the left."""
        self._align(1)

    def align_height(self) -> None:
        """As high up."""
        self._align(2)

    def space_evenly(self) -> None:
        """The two outermost stay; the others go to equal distances between them, along their longest way."""
        points = self._points(3)
        if not points:
            return
        places = np.array([point for _, point in points])
        axis = int(np.argmax(np.ptp(places, axis=0)))
        order = np.argsort(places[:, axis], kind="stable")
        first, last = places[order[[0, -1]], axis].tolist()
        evenly = np.linspace(first, last, len(order))
        for row, at in zip(order[1:-1].tolist(), evenly[1:-1].tolist(), strict=True):
            points[row][1][axis] = at
        self._put(points)
