"""Which reflection is pointed at and selected, which are listed, and the sound that runs through the room."""

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QPoint

from viewer.pictures import Camera
from viewer.window.controls import ArrivalList
from viewer.window.screen import Screen
from viewer.window.session import Player
from viewer.window.state import Measuring, path_key, row_words, sorted_by, with_end, with_filter
from viewer.words import peak_of, worst_first


class Selecting:
    """Selection, list and time of the record on the screen.

    `point_out` shows words beside the pointer; "" takes them away.
    """

    def __init__(
        self,
        screen: Screen,
        listed: ArrivalList,
        player: Player,
        point_out: Callable[[str, QPoint | None], None],
    ) -> None:
        self.words_pointed = ""
        self._screen = screen
        self._list = listed
        self._player = player
        self._point_out = point_out

    def point(self, row: int | None, at: QPoint | None) -> None:
        """Tell what is under the pointer, which stands at a place on the screen."""
        shown = self._screen.shown
        if shown is None:
            return
        pointed = None if row is None else path_key(shown.study, row)
        if pointed != shown.pointed:
            self._screen.change(pointed=pointed)
        self.words_pointed = "" if row is None else row_words(shown.study, row, shown.units)
        self._point_out(self.words_pointed, at)

    def choose(self, row: int | None) -> None:
        """Select a reflection, or none."""
        shown = self._screen.shown
        if shown is not None:
            chosen = None if row is None else path_key(shown.study, row)
            self._screen.change(chosen=chosen, measured_chosen=None)

    def measure(self, on: bool) -> None:
        """Clicks in the room measure a distance and put nothing down, or select again."""
        if on:
            self._point_out("", None)
            self._screen.change(placing=None, trouble="")
        self._screen.change(measuring=Measuring() if on else None)

    def measure_to(self, camera: Camera, pixel: tuple[float, float]) -> None:
        """Take what is seen at a pixel for an end of the distance."""
        shown = self._screen.shown
        if shown is not None and shown.measuring is not None:
            self._screen.change(measuring=with_end(shown.measuring, shown.study, camera, pixel))

    def _step(self, by: int) -> None:
        shown, rows = self._screen.shown, self._list.rows
        if shown is not None and rows:
            row = shown.chosen_row
            at = rows.index(row) + by if row in rows else (0 if by > 0 else -1)
            self.choose(rows[at % len(rows)])

    def next_row(self) -> None:
        """Select the next reflection of the list."""
        self._step(1)

    def previous_row(self) -> None:
        """Select the one before."""
        self._step(-1)

    def strongest_row(self) -> None:
        """Select the reflection that is strongest against the limit."""
        shown, listed = self._screen.shown, self._list.rows
        if shown is not None and listed:
            study = shown.study
            peaks = worst_first([peak for row in listed if (peak := peak_of(study, row)) is not None])
            rows = [row for row in listed if peaks and row in peaks[0].arrivals] or listed
            self.choose(max(rows, key=lambda row: float(study.arrivals.zone_worst_db[row])))

    def clear_choice(self) -> None:
        """Select nothing and stop the sound."""
        self._player.stop()
        self._screen.change(measuring=None, chosen=None, measured_chosen=None, thing=None)
        self._screen.change(time_s=None, trouble="", wanted=None)

    def filter(self, name: str, value: Any) -> None:
        """List only what has one value of a part of the filter; None for all."""
        shown = self._screen.shown
        self._screen.put(shown and with_filter(shown, **{name: value}))

    def sort(self, column: Any) -> None:
        """List by a column, and the other way round where it is sorted by it already."""
        shown = self._screen.shown
        self._screen.put(shown and sorted_by(shown, column))

    def toggle_over_only(self, on: bool) -> None:
        """List only what is over the limit or too close to it to say."""
        self.filter("over_only", on)

    def toggle_peaks(self, on: bool) -> None:
        """List peaks or single arrivals."""
        self._screen.change(as_peaks=on)

    def set_time(self, time_s: float | None) -> None:
        """Put the time cursor somewhere, or take it away."""
        self._screen.change(time_s=time_s)

    def play(self) -> None:
        """Let the sound run through the room, or stop it."""
        shown = self._screen.shown
        if shown is not None:
            self._player.toggle(shown)
