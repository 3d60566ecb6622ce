"""The workbench: what can be done in the window. Each control makes a new record, one function draws it."""

from dataclasses import replace

import numpy as np
from PySide6.QtCore import QPoint, QSettings, Qt, QTimer
from PySide6.QtWidgets import QProgressDialog, QToolTip

from raytrace import Proposal
from viewer.window.filing import Filing
from viewer.window.main_window import WORK
from viewer.window.scenery import nearer_half
from viewer.window.session import UNTIL_S, Draft, Found, Player, Session
from viewer.window.state import (
    Cut,
    Filter,
    OnScreen,
    Thing,
    named_view,
    nearer,
    path_key,
    place_at,
    place_in,
    point_at,
    row_words,
    sorted_by,
    things_of,
    view_names,
    with_filter,
    with_layer,
    with_projection,
)

NUDGE_M = 0.010
ROOM_FOR_DIMENSIONS = 0.84
ROOM_FOR_WALLS = 0.95  # cut walls are drawn outside the air
PROPOSAL_WORDS = (
    "Chooses the fewest whole panels that bring every peak at the seats below the limit, proves them by a "
    "full run and adds them to the scene. That takes up to some minutes. Local codes and licensed practice "
    "come first; fixings must be checked by a competent person before anything is hung."
)


class Workbench(Filing):
    """A scene that is open, shown in the main window."""

    def __init__(self, settings: QSettings | None = None, session: Session | None = None) -> None:
        super().__init__(settings, session)
        self.player = Player(self)
        self.words_pointed = ""
        self.progress: QProgressDialog | None = None
        self._connect()
        self.restore()

    def _connect(self) -> None:
        session, hand, strip, found = self.session, self.room.hand, self.strip, self.list
        session.found.connect(self._found)
        session.refused.connect(self._refused)
        session.progressed.connect(self._progressed)
        session.proposed.connect(self._proposed)
        self.start.room_sketched.connect(lambda text: self.begin(Draft(None, text, "")))
        hand.eye_moved.connect(lambda eye: self.change(eye=eye, view=""))
        hand.way_pointed.connect(self._pointed)
        hand.way_chosen.connect(self._chosen)
        hand.thing_chosen.connect(lambda thing: self.change(thing=thing, trouble=""))
        hand.thing_moving.connect(self._moving)
        hand.thing_dropped.connect(lambda _thing: self.session.drop())
        hand.nudged.connect(self._nudge)
        hand.resized.connect(self._resized)
        self.room.built.connect(session.follow)
        strip.way_pointed.connect(self._pointed)
        strip.way_chosen.connect(self._chosen)
        strip.time_moved.connect(lambda time_s: self.change(time_s=time_s))
        found.row_chosen.connect(self._chosen)
        found.row_pointed.connect(self._pointed)
        found.filtered.connect(
            lambda name, value: self.put(self.shown and with_filter(self.shown, **{name: value}))
        )
        found.sorted.connect(lambda column: self.put(self.shown and sorted_by(self.shown, column)))
        found.peaks_wanted.connect(lambda on: self.change(as_peaks=on))
        self.views.view_wanted.connect(self.view)
        self.views.parallel_wanted.connect(self.toggle_parallel)
        self.views.cut_wanted.connect(self._cut)
        self.views.layer_wanted.connect(self._layer)
        self.place.place_typed.connect(self.session.place)
        self.views.before_wanted.connect(self.toggle_before)
        self.player.ticked.connect(lambda time_s: self.change(time_s=time_s))

    # The record.

    def _refused(self, why: str) -> None:
        """Say why something cannot be, and show where it was asked to be."""
        if self.shown is not None:
            asked = self.session.wanted
            point = None if asked is None else point_at(self.shown.study, *asked)
            self.change(trouble=why, wanted=None if point is None else tuple(point.tolist()))

    def _found(self, found: Found) -> None:
        """A study has arrived: show it, keeping how the room is looked at."""
        values = {"study": found.study, "stage": found.stage, "settled": found.settled, "wanted": None}
        self.state.setText("")
        if self._set_aside is not None:
            self._set_aside = replace(self._set_aside, **values)
        elif self.shown is None:
            self.pages.setCurrentIndex(WORK)
            eye = named_view(found.stage, "room", self.room.size_px)
            seat = 0 if len(found.study.scene.seats) > 1 else None
            dress = {"until_s": UNTIL_S, "theme": self.theme, "units": self.units}
            self.put(OnScreen(eye=eye, filter=Filter(seat=seat), **dress, **values))
            QTimer.singleShot(0, self._resized)
        else:
            thing = self.shown.thing if self.shown.thing in things_of(found.study) else None
            trouble = self.shown.trouble if found.settled else ""
            self.put(replace(self.shown, thing=thing, trouble=trouble, **values))

    def _resized(self) -> None:
        """A named view fills the new size; one that was turned by hand stays."""
        if self.shown is not None:
            self.view(self.shown.view) if self.shown.view else self.put(self.shown)

    def _pointed(self, row: int | None, at: QPoint | None) -> None:
        shown = self.shown
        if shown is None:
            return
        way = None if row is None else path_key(shown.study, row)
        if way != shown.pointed:
            self.change(pointed=way)
        self.words_pointed = "" if row is None else row_words(shown.study, row, shown.units)
        if self.words_pointed and at is not None:
            QToolTip.showText(at + QPoint(14, 14), self.words_pointed, self)
        else:
            QToolTip.hideText()

    def _chosen(self, row: int | None) -> None:
        if self.shown is not None:
            self.change(chosen=None if row is None else path_key(self.shown.study, row))

    # Moving things.

    def _moving(self, thing: Thing, point: np.ndarray) -> None:
        if self.shown is not None and self._set_aside is None:
            why = self.session.move(self.shown.study, thing, place_at(self.shown.study, thing, point))
            self.state.setText(why)

    def _nudge(self, right: int, back: int, up: int) -> None:
        """Move the selected thing by one step of the grid."""
        shown = self.shown
        if shown is None or shown.thing is None or self._set_aside is not None:
            return
        steps = (back, right, up) if len(place_in(self.session.scene, shown.thing)) == 3 else (right, -back)
        place = place_in(self.session.scene, shown.thing)
        moved = tuple(p + NUDGE_M * s for p, s in zip(place, steps, strict=False))
        self.session.place(shown.thing, moved)

    def next_thing(self) -> None:
        """Select the next thing to move."""
        if self.shown is not None:
            things = things_of(self.shown.study)
            at = things.index(self.shown.thing) + 1 if self.shown.thing in things else 0
            self.change(thing=things[at % len(things)])
            self.room.take_keys()

    def type_place(self) -> None:
        """Put the cursor into the first length of the selected thing."""
        self.place.type_first()

    def undo(self) -> None:
        """Take back the last change."""
        self.change(trouble="")
        self.session.undo()

    def redo(self) -> None:
        """Make the change again that was taken back."""
        self.change(trouble="")
        self.session.redo()

    def propose(self) -> None:
        """Ask whether panels are wanted, and look for them with a way to stop."""
        if self.shown is None or self._set_aside is not None:
            return
        answer = self.ask("Propose panels?", PROPOSAL_WORDS, ("Propose", "Cancel"))
        if answer == 0:
            self.progress = QProgressDialog("looking at the room", "Stop", 0, 100, self)
            self.progress.setWindowModality(Qt.WindowModality.WindowModal)
            self.progress.setMinimumDuration(0)
            self.progress.canceled.connect(self.session.drop_proposal)
            self.progress.setValue(0)
            self.session.propose()

    def _progressed(self, text: str, share: float) -> None:
        self.state.setText(text)
        if self.progress is not None and self.progress.isVisible():
            self.progress.setLabelText(text)
            self.progress.setValue(min(round(100 * share), 99))

    def _proposed(self, proposal: Proposal | None) -> None:
        if self.progress is not None:
            self.progress.canceled.disconnect()
            self.progress.close()
            self.progress = None
        if proposal is not None:
            count = len(proposal.panels)
            panels = "1 panel" if count == 1 else f"{count} panels"
            over = sum(verdict.n_over for verdict in proposal.after.verdicts)
            left = "no peak is over the limit then" if not over else f"{over} peaks stay over the limit"
            words = [f"{panels} proposed; {left}. Undo takes them away again.", *proposal.notes]
            self.tell("Proposed" if count else "Nothing to propose", "\n\n".join(words))

    def toggle_before(self, on: bool) -> None:
        """Show the room as its file had it, or as it stands."""
        first = self.session.first
        if self.shown is None or first is None or on == (self._set_aside is not None):
            return
        if on:
            self._set_aside = self.shown
            self.put(replace(self.shown, study=first.study, stage=first.stage, settled=True, thing=None))
        else:
            now, self._set_aside = self._set_aside, None
            assert now is not None
            self.put(
                replace(self.shown, study=now.study, stage=now.stage, settled=now.settled, thing=now.thing)
            )

    # Looking.

    def view(self, name: str) -> None:
        """Look at the room from a named place."""
        if self.shown is not None:
            eye = named_view(self.shown.stage, name, self.room.size_px, self.shown.seat)
            if "dimensions" in self.shown.layers and name != "seat":
                eye = nearer(eye, ROOM_FOR_DIMENSIONS)
            elif self.shown.cut is not None and name != "seat":
                eye = nearer(eye, ROOM_FOR_WALLS)
            self.change(eye=eye, view=name)

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
        if self.shown is not None:
            names = [name for name, _ in view_names(self.shown.study)][4:]
            at = names.index(self.shown.view) + 1 if self.shown.view in names else 0
            self.view(names[at % len(names)])

    def toggle_parallel(self, on: bool) -> None:
        """Parallel projection or perspective."""
        if self.shown is not None:
            self.change(eye=with_projection(self.shown.eye, on), view="")

    def toggle_cut(self, on: bool) -> None:
        """Take away the half of the room that is nearer to the eye, or put it back."""
        if self.shown is not None:
            self._cut(nearer_half(self.room.camera) if on else None)

    def _cut(self, cut: Cut | None) -> None:
        """Cut the room open; a named view leaves room for the walls that are cut."""
        if self.shown is not None:
            is_fitted = (cut is None) == (self.shown.cut is None)
            self.change(cut=cut)
            if self.shown.view and not is_fitted:
                self.view(self.shown.view)

    def toggle_dimensions(self, on: bool) -> None:
        """Dimension lines."""
        self._layer("dimensions", on)

    def _layer(self, name: str, on: bool) -> None:
        """Draw a layer or not; dimensions need room beside the walls."""
        if self.shown is not None:
            self.put(with_layer(self.shown, name, on))
            if name == "dimensions" and self.shown.view:
                self.view(self.shown.view)

    def toggle_names(self, on: bool) -> None:
        """Names beside things."""
        self._layer("names", on)

    def toggle_dark(self, on: bool) -> None:
        """Dark or light."""
        self.theme = "dark" if on else "light"
        self.dress()
        self.change(theme=self.theme)

    def toggle_imperial(self, on: bool) -> None:
        """Feet and inches, or metric."""
        self.units = "imperial" if on else "metric"
        self.change(units=self.units)

    # The list.

    def _step(self, by: int) -> None:
        rows = self.list.model.rows
        if self.shown is not None and rows:
            row = self.shown.chosen_row
            at = rows.index(row) + by if row in rows else (0 if by > 0 else -1)
            self._chosen(rows[at % len(rows)])

    def next_row(self) -> None:
        """Select the next reflection of the list."""
        self._step(1)

    def previous_row(self) -> None:
        """Select the one before."""
        self._step(-1)

    def strongest_row(self) -> None:
        """Select the reflection that is strongest against the limit."""
        if self.shown is not None and self.list.model.rows:
            worst = self.shown.study.arrivals.zone_worst_db
            judged = ~np.isnan(self.shown.study.arrivals.margin_db)
            rows = [row for row in self.list.model.rows if judged[row]] or self.list.model.rows
            self._chosen(max(rows, key=lambda row: float(worst[row])))

    def clear_choice(self) -> None:
        """Select nothing and stop the sound."""
        self.player.stop()
        self.change(chosen=None, thing=None, time_s=None, trouble="", wanted=None)

    def toggle_over_only(self, on: bool) -> None:
        """List only what is over the limit."""
        self.put(self.shown and with_filter(self.shown, over_only=on))

    def toggle_peaks(self, on: bool) -> None:
        """List peaks or single arrivals."""
        self.change(as_peaks=on)

    def play(self) -> None:
        """Let the sound run through the room, or stop it."""
        if self.shown is not None:
            self.player.toggle(self.shown)
