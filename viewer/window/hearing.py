"""Measurements in the window: dropped or chosen, held against the room, their peaks selected."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from raytrace import SceneError, corrected_text
from viewer.window.main_window import MainWindow
from viewer.window.questions import Questions
from viewer.window.screen import Screen
from viewer.window.session import Found, Session, SoundSearch
from viewer.window.state import Sounds, sounds_told, with_filter

if TYPE_CHECKING:
    from raytrace import MeasuredRoom

PAGE = "Measured"
NO_ROOM = "A measurement is held against a room: open its scene first, then drop the files again."
OLD = "This is of the room as it was before the last change: it is being held against it anew."
NOT_BEFORE = "Measurements are shown of the room as it stands, not as it was when opened."


class Hearing:
    """What was measured in the room that is open."""

    def __init__(self, session: Session, screen: Screen, questions: Questions, main: MainWindow) -> None:
        self._session, self._screen = session, screen
        self._questions, self._main = questions, main
        self.sounds = Sounds()
        self._held = Sounds()  # those of them that were not refused
        self.search = SoundSearch(session)
        self.search.found.connect(self._found)
        self.search.refused.connect(self._refused)
        self.search.crashed.connect(session.crashed)
        self.search.progressed.connect(main.measured.show_progress)

    # Files.

    def ask_files(self) -> None:
        """Ask for sound files, and whose they are."""
        paths = self._questions.files_to_open("Measurements", "Sound files (*.wav *.flac)")
        if paths:
            self.take([Path(path) for path in paths], ask=True)

    def take(self, paths: Sequence[Path], *, ask: bool = False) -> None:
        """Hold files against the room; whose they are is asked where their names do not say it."""
        if not self._session.is_open or self._screen.shown is None:
            self._questions.tell("No room is open", NO_ROOM)
            return
        told = sounds_told(paths, self._session.scene)
        if told.files and (ask or not all(file.is_told for file in told.files)):
            asked = self._questions.ask_sounds(self._session.scene, told)
            if asked is None:
                return
            told = asked
        self.sounds = self.sounds.with_more(told)
        self._main.side.turn_to(PAGE)
        if not self.sounds.files:
            self._screen.change(measured_says="That is the sweep alone: drop what was recorded of it, too.")
            return
        self._hold()

    def forget(self) -> None:
        """Let go of all measurements."""
        self.sounds = self._held = Sounds()
        self.stop()
        self._screen.change(measured=None, measurement_at=0, measured_chosen=None, measured_says="")

    def stop(self) -> None:
        """Find nothing more out about them; what is known stays."""
        self.search.stop()
        self._main.measured.show_progress("", None)
        self._screen.change(measured_says="stopped" if self.sounds.files else "")

    def leave(self) -> None:
        """Another room is open: what was measured was not of it."""
        self.sounds = self._held = Sounds()
        self.search.stop()
        self._main.measured.show_progress("", None)

    # The room.

    def follow(self, found: Found) -> None:
        """A study has arrived: measurements are held against the room as it stands."""
        if self.sounds.files and found.settled and self._session.is_whole:
            self._hold()

    def _hold(self) -> None:
        scene = self._session.scene
        if not any(self.sounds.takes(scene, before=own) for own in (True, False)):
            self._refused("The room has none of the speakers and seats that were measured.")
            return
        if self.search.ask(scene, self.sounds):
            self._main.measured.show_progress("reading", 0.0)
            is_old = self._screen.shown is not None and self._screen.shown.measured is not None
            self._screen.change(measured_says=OLD if is_old else "")

    def _found(self, found: "MeasuredRoom") -> None:
        self._main.measured.show_progress("", None)
        self._held = self.sounds
        shown = self._screen.editable
        if shown is None:
            self.search.stop()  # the room is shown as it was: held anew when it is not
            self._screen.change(measured_says=NOT_BEFORE)
            return
        # The first of several that were dropped last; the same one where the room has changed.
        n = len(found.last.heard)
        at = shown.measurement_at if shown.measurement_at < n else 0
        is_first = shown.measured is None
        self._screen.change(
            measured=found, measurement_at=at, measured_chosen=self._still(found, at), measured_says=""
        )
        if is_first:
            self.choose(at)

    def _still(self, found: "MeasuredRoom", at: int) -> int | None:
        """The selected peak among those found now: the same file has the same ones."""
        shown = self._screen.shown
        before = None if shown is None else shown.measured_peak
        own = found.last.heard[at].peaks
        if before is None:
            return None
        return next((k for k, new in enumerate(own) if new.peak.delay_s == before.peak.delay_s), None)

    def _refused(self, why: str) -> None:
        self.sounds = self._held
        self._main.measured.show_progress("", None)
        self._screen.change(measured_says=why)

    # Selection.

    def choose(self, at: int) -> None:
        """Show another measurement, with the curve of its speaker at its seat."""
        shown = self._screen.shown
        if shown is None or shown.held is None:
            return
        take = shown.held.heard[at].take
        own = with_filter(shown, speaker=take.speaker, seat=take.seat)
        self._screen.put(own)
        self._screen.change(measurement_at=at, measured_chosen=None)

    def choose_peak(self, peak: int | None) -> None:
        """Select a measured peak, or none: its candidates are shown in the room."""
        self._screen.change(measured_chosen=peak, chosen=None)
        if peak is not None:
            self._main.side.turn_to(PAGE)

    def correct(self) -> None:
        """Put the numbers that the measurement holds likelier into the scene: one step to undo."""
        shown = self._screen.editable
        if shown is None or shown.measured is None or shown.held is None:
            return
        if shown.held.scene is not self._session.scene:
            self._refused("wait until the measurement is held against the room as it stands")
            return
        try:
            problem = self._session.change(corrected_text(shown.held.scene, shown.measured.corrections))
        except SceneError as refused:
            problem = refused
        if problem is not None:
            self._session.refused.emit(problem.why.splitlines()[0])

    def end(self) -> None:
        """Let go of what works beside the window."""
        self.search.end()
