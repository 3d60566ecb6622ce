"""The room is asked: why a peak is over the limit, and what one panel would bring."""

from typing import Any

from PySide6.QtWidgets import QDialog

from raytrace import PeakMending, SceneError, mend_peak
from viewer.window.controls import show_sheets
from viewer.window.main_window import MainWindow
from viewer.window.questions import Questions
from viewer.window.screen import Screen
from viewer.window.session import UNTIL_S, Session, Worker
from viewer.window.state import OnScreen, Thing, mending_lines, surface_under, thing_at, why_lines
from viewer.words import peak_of, peak_words

PUT_UP, CLOSE = "Put it up", "Close"
NO_SHEET = "Point at a panel, or at a surface from which something is over the limit, or select one of them."
NO_PEAK = "Select a reflection that makes a peak first: in the room, the list or the tape."


class Asking:
    """Questions about the peak of the selected reflection."""

    def __init__(self, session: Session, screen: Screen, questions: Questions, main: MainWindow) -> None:
        self._session, self._screen = session, screen
        self._questions, self._main = questions, main
        self._worker: Worker | None = None
        self.page: QDialog | None = None

    def why(self) -> None:
        """Tell why the peak of the selected reflection is as strong as it is."""
        asked = self._asked()
        if asked is not None:
            shown, peak = asked
            title = peak_words(shown.study, peak)
            self._questions.tell_plain(title, "\n\n".join(why_lines(shown.study, peak, shown.units)))

    def mend(self) -> None:
        """Find the single panel that takes most of the peak of the selected reflection."""
        asked = self._asked()
        if asked is None:
            return
        if self._screen.editable is None or not self._session.is_whole:
            self._main.say("wait until the room is computed as it stands")
            return
        (shown, peak), text = asked, self._session.draft.text
        if self._worker is None:
            self._worker = Worker(self._session)
            self._worker.done.connect(self._found)
            self._worker.failed.connect(lambda _asked, problem: self._session.crashed.emit(problem))
            self._worker.progressed.connect(lambda words, _share: self._main.say(f"trying {words} …"))
        study = shown.study
        self._worker.ask(
            text, lambda progress: mend_peak(study, peak, text=text, within_s=UNTIL_S, progress=progress)
        )

    def sheet(self) -> None:
        """Show the installer's sheet of what is under the pointer, elsewhere of what is selected."""
        shown = self._screen.shown
        if shown is None:
            return
        try:
            own = next((sheets for what in self._meant(shown) if (sheets := self.sheets_of(shown, what))), [])
        except SceneError as problem:
            self._questions.tell_plain("No sheet", problem.why.splitlines()[0])
            return
        if own:
            self.page = show_sheets(self._main, "Sheet for the installer", own)
        else:
            self._main.say(NO_SHEET)

    def _meant(self, shown: OnScreen) -> list[Thing | int | None]:
        """What a sheet may be meant of, the likeliest first: things, and surfaces by their index."""
        over, camera = self._main.hand.over, self._main.room.camera
        under: list[Thing | int | None] = []
        if over is not None:
            found = surface_under(shown.study.room, camera, over, "any")
            under = [thing_at(shown.study, camera, over), None if found is None else found[0]]
        return [*under, shown.thing, self._surface(shown)]

    @staticmethod
    def sheets_of(shown: OnScreen, what: Thing | int | None) -> list[Any]:
        """The sheets of a panel, stand or cloud, or of the spots on a surface; none of anything else."""
        study = shown.study
        if isinstance(what, int):
            from viewer.report import spot_pictures

            return list(spot_pictures(study, what, units=shown.units))
        own = [k for k, panel in enumerate(study.room.panels) if panel.key[:2] == what]
        if not own:
            return []
        from viewer.sheets import panel_picture

        return list(panel_picture(study.scene, study.room, own[0], units=shown.units))

    @staticmethod
    def _surface(shown: OnScreen) -> int | None:
        """Where the selected reflection is thrown back first, else the surface that is faced."""
        row = shown.chosen_row
        if row is not None and shown.study.arrivals.order[row] > 0:
            return int(shown.study.arrivals.path_surfaces[row, 0])
        names = [surface.name for surface in shown.study.room.surfaces]
        return names.index(shown.view) if shown.view in names else None

    def _asked(self) -> Any:
        """What is shown, and the peak that is asked about; None where there is none, which is said."""
        shown = self._screen.shown
        peak = None if shown is None or shown.chosen_row is None else peak_of(shown.study, shown.chosen_row)
        if shown is None or peak is None:
            self._main.say(NO_PEAK)
            return None
        return shown, peak

    def _found(self, text: str, mending: PeakMending) -> None:
        self._main.say("")
        shown, best = self._screen.shown, mending.best
        if shown is None or self._session.draft.text != text:
            return  # the room is another one by now
        lines = mending_lines(shown.study, mending, shown.units)
        title = peak_words(shown.study, mending.peak)
        answers = (CLOSE,) if best is None else (PUT_UP, CLOSE)
        taken = answers[self._questions.ask_plain(title, "\n\n".join(lines), answers)]
        if taken == PUT_UP and best is not None:
            problem = self._session.change(best.text)
            if problem is not None:
                self._session.refused.emit(problem.why.splitlines()[0])

    def end(self) -> None:
        """Let go of what works beside the window."""
        if self._worker is not None:
            self._worker.end()
