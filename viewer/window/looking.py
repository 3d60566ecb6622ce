"""How the room is looked at: from where, cut open or whole, what is drawn, in which colours and units."""

from PySide6.QtCore import QPoint

from viewer.window.main_window import MainWindow
from viewer.window.scenery import cut_words, nearer_half
from viewer.window.screen import Screen
from viewer.window.state import Cut, Eye, named_view, nearer, view_names, with_layer, with_projection

ROOM_FOR_DIMENSIONS = 0.84
ROOM_FOR_WALLS = 0.95  # cut walls are drawn outside the air


class Looking:
    """The eye, the section and the layers of the record on the screen."""

    def __init__(self, screen: Screen, main: MainWindow) -> None:
        self._screen = screen
        self._main = main
        self._room = main.room

    def view(self, name: str) -> None:
        """Look at the room from a named place."""
        shown = self._screen.shown
        if shown is not None:
            eye = named_view(shown.stage, name, self._room.size_px, shown.seat)
            if "dimensions" in shown.layers and name != "seat":
                eye = nearer(eye, ROOM_FOR_DIMENSIONS)
            elif shown.cut is not None and name != "seat":
                eye = nearer(eye, ROOM_FOR_WALLS)
            self._screen.change(eye=eye, view=name)

    def turn(self, eye: Eye) -> None:
        """Look from where the hand has turned the room."""
        self._screen.change(eye=eye, view="")

    def fit(self) -> None:
        """A named view fills the new size; one that was turned by hand stays."""
        shown = self._screen.shown
        if shown is not None:
            self.view(shown.view) if shown.view else self._screen.put(shown)

    def view_room(self) -> None:
        """The whole room."""
        self.view("room")

    def view_plan(self) -> None:
        """From above."""
        self.view("plan")

    def view_section(self) -> None:
        """From the side."""
        self.view("section")

    def view_seat(self) -> None:
        """From the seat."""
        self.view("seat")

    def next_face(self) -> None:
        """Face the next surface of the room."""
        shown = self._screen.shown
        if shown is not None:
            names = [name for name, _ in view_names(shown.study)][4:]
            at = names.index(shown.view) + 1 if shown.view in names else 0
            self.view(names[at % len(names)])

    def toggle_parallel(self, on: bool) -> None:
        """Parallel projection or perspective."""
        shown = self._screen.shown
        if shown is not None:
            self.turn(with_projection(shown.eye, on))

    def toggle_cut(self, on: bool) -> None:
        """Take away the half of the room that is nearer to the eye, or put it back."""
        if self._screen.shown is not None:
            self.cut(nearer_half(self._room.camera) if on else None)

    def cut(self, cut: Cut | None) -> None:
        """Cut the room open; a named view leaves room for the walls that are cut."""
        shown = self._screen.shown
        if shown is not None:
            is_fitted = (cut is None) == (shown.cut is None)
            self._screen.change(cut=cut)
            if shown.view and not is_fitted:
                self.view(shown.view)

    def pull_cut(self, cut: Cut, at: QPoint) -> None:
        """Move the section with the pointer, and tell where it is."""
        shown = self._screen.shown
        if shown is not None:
            self.cut(cut)
            self._main.point_out(cut_words(shown, cut), at)

    def layer(self, name: str, on: bool) -> None:
        """Draw a layer or not; dimensions need room beside the walls."""
        shown = self._screen.shown
        if shown is not None:
            self._screen.put(with_layer(shown, name, on))
            if name == "fronts" and on and shown.time_s is None:
                self._screen.change(time_s=0.0)
            if name == "dimensions" and shown.view:
                self.view(shown.view)

    def toggle_dimensions(self, on: bool) -> None:
        """Dimension lines."""
        self.layer("dimensions", on)

    def toggle_fronts(self, on: bool) -> None:
        """Wave fronts at the time cursor."""
        self.layer("fronts", on)

    def toggle_names(self, on: bool) -> None:
        """Names beside things."""
        self.layer("names", on)

    def toggle_dark(self, on: bool) -> None:
        """Dark or light."""
        theme = "dark" if on else "light"
        self._main.dress(theme=theme)
        self._screen.change(theme=theme)

    def toggle_imperial(self, on: bool) -> None:
        """Feet and inches, or metric."""
        units = "imperial" if on else "metric"
        self._main.dress(units=units)
        self._screen.change(units=units)
