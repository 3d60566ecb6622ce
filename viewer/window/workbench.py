"""The workbench: the scene that is open, the window that shows it, and who answers to which control."""

import traceback
from html import escape
from operator import attrgetter

from PySide6.QtCore import QSettings, QTimer
from PySide6.QtWidgets import QDialog

from viewer.window.adding import Adding
from viewer.window.arranging import Arranging
from viewer.window.asking import Asking
from viewer.window.bassing import Bassing
from viewer.window.changing import Changing
from viewer.window.controls import COMMANDS, keys_html, notes_html, show_page, translate_words
from viewer.window.editing import Editing
from viewer.window.exporting import Exporting
from viewer.window.filing import Filing
from viewer.window.hearing import PAGE as MEASURED
from viewer.window.hearing import Hearing
from viewer.window.looking import Looking
from viewer.window.main_window import MainWindow
from viewer.window.proposing import Proposing
from viewer.window.questions import Questions
from viewer.window.reshaping import Reshaping
from viewer.window.scanning import Scanning
from viewer.window.screen import Screen
from viewer.window.selecting import Selecting
from viewer.window.session import UNTIL_S, Found, LightSearch, Player, Session
from viewer.window.state import GROUPS, STARTERS, Filter, OnScreen, named_view
from viewer.window.varying import PAGE, Varying


class Workbench:
    """Holds session, window and what can be done with them, and connects one with the other.

    What a reader can do has a part of its own for each kind: files, exports, changes of the scene, proposals,
    the view, the selection. Each makes a new record of what is shown, or a new step of the session's history.
    """

    def __init__(self, settings: QSettings | None = None, session: Session | None = None) -> None:
        self.session = session or Session()
        self.main = MainWindow(settings or QSettings("hitspot", "hitspot"))
        self.session.setParent(self.main)
        self.player = Player(self.main)
        self.questions = Questions(self.main, self.main.settings)
        self.screen = Screen(self.session, self.main.draw)
        self.filing = Filing(self.session, self.questions, self.main)
        self.exporting = Exporting(self.session, self.screen, self.questions, self.main)
        self.changing = Changing(self.session, self.screen, self.main)
        self.editing = Editing(self.session, self.screen, self.main, self.changing)
        self.adding = Adding(self.session, self.screen, self.main, self.changing, self.main.point_out)
        self.reshaping = Reshaping(self.session, self.screen, self.main.point_out)
        self.arranging = Arranging(self.session, self.screen, self.changing)
        self.proposing = Proposing(self.session, self.screen, self.questions, self.main)
        self.varying = Varying(self.session, self.screen, self.questions, self.filing, self.main)
        self.asking = Asking(self.session, self.screen, self.questions, self.main)
        self.looking = Looking(self.screen, self.main)
        self.light = LightSearch(self.main)
        self.bassing = Bassing(self.screen, self.looking, self.session)
        self.selecting = Selecting(self.screen, self.main.list, self.player, self.main.point_out)
        self.scanning = Scanning(self.questions, self.filing, self.main, self._crashed)
        self.hearing = Hearing(self.session, self.screen, self.questions, self.main)
        self.page: QDialog | None = None
        self.filing.finish = self.session.unread = self.changing.finish
        self.main.may_close = lambda: self.filing.may_leave()
        self._offer()
        self._connect_session()
        self._connect_window()
        self._connect_room()
        self._connect_controls()
        self.main.restore()
        self._entitle()
        self.changing.show()
        if self.session.is_open:
            self._wait()

    @property
    def shown(self) -> OnScreen | None:
        """The record on the screen."""
        return self.screen.shown

    # Who answers to what.

    def _offer(self) -> None:
        """What menus offer: the commands, what can be put into a room, files opened of late."""
        self.main.fill_menus({command.name: attrgetter(command.name)(self) for command in COMMANDS})
        words = [own.words for own in STARTERS]
        for at in reversed(GROUPS):
            words.insert(at, "")
        self.main.offer(words, self.adding.begin)
        self.main.offer_recent(lambda: self.questions.recent, self.filing.open)
        translate_words(self.main)

    def _connect_session(self) -> None:
        session, filing, player = self.session, self.filing, self.player
        session.found.connect(self._found)
        session.found.connect(self._lighten)
        session.found.connect(self.bassing.follow)
        session.found.connect(self.varying.follow)
        session.found.connect(self.hearing.follow)
        session.refused.connect(self.editing.refuse)
        session.crashed.connect(self._crashed)
        session.unkept.connect(self._warn_unkept)
        session.changed.connect(self._entitle)
        session.changed.connect(self._changed)
        session.turned.connect(self._turned)
        session.progressed.connect(lambda text, _share: self.main.say(text))
        filing.opened.connect(self._opened)
        filing.said.connect(self.main.say)
        player.ticked.connect(self.selecting.set_time)
        self.light.found.connect(lambda light: self.screen.change(light=light))
        self.light.crashed.connect(self._crashed)

    def _connect_window(self) -> None:
        main, start, filing = self.main, self.main.start, self.filing
        main.file_dropped.connect(filing.open)
        main.sounds_dropped.connect(self.hearing.take)
        main.scan_dropped.connect(self.scanning.take)
        main.closed.connect(self._end)
        main.field_left.connect(self._redraw)
        main.dressed.connect(self.changing.redress)
        main.dressed.connect(self.varying.show)
        filing.start_wanted.connect(main.show_start)
        start.file_wanted.connect(filing.ask_open)
        start.scan_wanted.connect(self.scanning.ask_file)
        start.example_wanted.connect(filing.show_example)
        start.room_sketched.connect(filing.begin_sketched)

    def _connect_room(self) -> None:
        room, hand, drag = self.main.room, self.main.hand, self.session.drag
        editing, looking, selecting = self.editing, self.looking, self.selecting
        room.built.connect(drag.follow)
        hand.eye_moved.connect(looking.turn)
        hand.resized.connect(looking.fit)
        hand.way_pointed.connect(selecting.point)
        hand.way_chosen.connect(selecting.choose)
        hand.thing_chosen.connect(editing.choose)
        hand.thing_moving.connect(editing.move)
        hand.thing_dropped.connect(lambda _thing: self.session.drop())
        hand.nudged.connect(lambda *steps: None if self.adding.nudge(*steps) else editing.nudge(*steps))
        hand.hold_pointed.connect(self.adding.point)
        hand.hold_dropped.connect(self.adding.drop)
        hand.put_wanted.connect(self.adding.put)
        hand.corner_moving.connect(self.reshaping.pull)
        hand.corner_dropped.connect(self.reshaping.drop)
        hand.cut_moving.connect(looking.pull_cut)
        hand.cut_dropped.connect(lambda: self.main.point_out("", None))
        hand.end_measured.connect(lambda pixel: selecting.measure_to(hand.camera, pixel))

    def _connect_controls(self) -> None:
        strip, listed, views, place = self.main.strip, self.main.list, self.main.views, self.main.place
        looking, selecting = self.looking, self.selecting
        strip.way_pointed.connect(selecting.point)
        strip.way_chosen.connect(selecting.choose)
        strip.time_moved.connect(selecting.set_time)
        listed.row_pointed.connect(selecting.point)
        listed.row_chosen.connect(selecting.choose)
        listed.filtered.connect(selecting.filter)
        listed.sorted.connect(selecting.sort)
        listed.peaks_wanted.connect(selecting.toggle_peaks)
        views.view_wanted.connect(looking.view)
        views.parallel_wanted.connect(looking.toggle_parallel)
        views.cut_wanted.connect(looking.cut)
        views.layer_wanted.connect(looking.layer)
        views.layer_wanted.connect(lambda name, on: self.bassing.begin() if name == "bass" and on else None)
        self.main.bass.mode_chosen.connect(self.bassing.choose)
        views.before_wanted.connect(self.editing.toggle_before)
        self._connect_variants()
        self._connect_measured()
        place.place_typed.connect(self.editing.place)
        place.refused.connect(lambda why: self.screen.change(trouble=why))
        contents = self.main.contents
        place.hold_typed.connect(self.adding.type_place)
        place.put_wanted.connect(self.adding.put)
        self.main.text.typed.connect(self.changing.type_text)
        self.main.text.pointed.connect(self.changing.point)
        contents.chosen.connect(self.changing.choose)
        contents.add_wanted.connect(self.adding.begin)
        contents.duplicate_wanted.connect(self.adding.duplicate)
        contents.mirror_wanted.connect(self.adding.mirror)
        contents.delete_wanted.connect(self.adding.delete)
        contents.form.value_typed.connect(self.changing.type_value)
        contents.form.value_dropped.connect(self.changing.drop_value)

    def _connect_variants(self) -> None:
        page, varying = self.main.variants, self.varying
        self.main.side.turned.connect(lambda name: varying.show() if name == PAGE else None)
        page.variant_wanted.connect(varying.turn_to)
        page.beside_wanted.connect(varying.compare)
        page.add_wanted.connect(varying.add)
        page.rename_wanted.connect(varying.rename)
        page.delete_wanted.connect(varying.delete)

    def _connect_measured(self) -> None:
        page, hearing = self.main.measured, self.hearing
        self.main.strip.measured_chosen.connect(hearing.choose_peak)
        page.files_wanted.connect(hearing.ask_files)
        page.forget_wanted.connect(hearing.forget)
        page.stop_wanted.connect(hearing.stop)
        page.corrections_wanted.connect(hearing.correct)
        page.measurement_chosen.connect(hearing.choose)
        page.peak_chosen.connect(hearing.choose_peak)

    # From the session to the window.

    def _opened(self) -> None:
        """Another scene is open; its first study is on its way."""
        self.screen.clear()
        self.scanning.cancel()
        self.light.forget()
        self.bassing.search.forget()
        self.hearing.leave()
        self._entitle()
        self._wait()

    def _turned(self) -> None:
        """Another variant of the room is open; it is looked at as the one before."""
        self.screen.leave()
        self.bassing.search.forget()
        self._entitle()
        self._wait()

    def _wait(self) -> None:
        """Say which room is on its way."""
        session = self.session
        self.main.wait_for(session.scene.title, is_first_run=session.is_first_run)

    def _found(self, found: Found) -> None:
        """A study has arrived; the first of a scene is shown as a whole room."""
        self.main.say("")
        if self.shown is not None:
            self.screen.follow(found)
            self.changing.rejoin()
            return
        self.main.show_work()
        if self.screen.look_like(found):
            return
        eye = named_view(found.stage, "room", self.main.room_px)
        seat = 0 if len(found.study.scene.seats) > 1 else None
        self.screen.put(
            OnScreen(
                study=found.study,
                stage=found.stage,
                settled=found.settled,
                eye=eye,
                filter=Filter(seat=seat),
                until_s=UNTIL_S,
                theme=self.main.theme,
                units=self.main.units,
            )
        )
        QTimer.singleShot(0, self.looking.fit)

    def _lighten(self, found: Found) -> None:
        """Find the light of a room that rests; while something is in the hand the old light stays."""
        if found.settled and self.session.drag.wanted is None:
            self.light.ask(found.stage)

    def _changed(self) -> None:
        """The text is another one: what was wrong before is so no more, and the hand holds nothing of it."""
        if self.session.drag.wanted is None:  # what is saved stays in the hand
            self.main.hand.let_go()
        self.screen.change(trouble="", wanted=None, plan=None)
        self.changing.show()
        self.varying.show()

    def _redraw(self) -> None:
        """Show what there is anew, in fields as well."""
        self.screen.put(self.shown)
        self.changing.redress()

    def _entitle(self) -> None:
        history, main = self.session.history, self.main
        if history is None:
            main.entitle("", dirty=False)
        else:
            draft = history.current
            main.entitle(draft.path.name if draft.path else "not saved yet", dirty=draft.dirty)
        main.enable("editing.undo", history is not None and history.can_undo)
        main.enable("editing.redo", history is not None and history.can_redo)

    def _warn_unkept(self, why: str) -> None:
        words = f"{why}. Unsaved changes would be lost in a crash: save often."
        self.questions.tell("Changes are kept nowhere but in the scene's file", words)

    def _crashed(self, problem: Exception) -> None:
        lines = "".join(traceback.format_exception_only(problem)).strip()
        words = f"What is shown may be old. {escape(lines, quote=False)}"
        self.questions.tell("Something went wrong in hitspot", words)
        if self.shown is None:
            self.main.show_start()

    def _end(self) -> None:
        """Let go of what works beside the window."""
        self.session.close()
        self.light.end()
        self.bassing.end()
        self.varying.end()
        self.asking.end()
        self.hearing.end()
        self.scanning.end()
        self.exporting.end()

    def step_back(self) -> None:
        """Leave what is pulled where it was, or the field that is typed in; else select nothing, be still."""
        if not self._put_back() and not self.main.leave_field() and not self.adding.cancel():
            self.selecting.clear_choice()
            self.changing.choose(())

    def _put_back(self) -> bool:
        """Leave what the hand pulls where it was; false where it pulls nothing."""
        if not self.main.hand.let_go():
            return False
        if self.session.drag.wanted is not None:
            self.session.study_again()
        self.main.point_out("", None)
        self.screen.change(trouble="", wanted=None, plan=None)
        return True

    # The column beside the room.

    def show_reflections(self) -> None:
        """What reaches the seat, beside the room."""
        self.main.side.turn_to("Reflections")
        self.main.list.table.setFocus()

    def show_contents(self) -> None:
        """What the room holds, beside the room."""
        self.main.side.turn_to("Contents")
        self.main.contents.tree.setFocus()

    def show_text(self) -> None:
        """The scene as text, beside the room."""
        self.main.side.turn_to("Text")

    def show_variants(self) -> None:
        """The variants of the room, beside it."""
        self.main.side.turn_to(PAGE)

    def show_measured(self) -> None:
        """What was measured, beside the room."""
        self.main.side.turn_to(MEASURED)

    # Pages of words.

    def show_keys(self) -> None:
        """Keys and gestures."""
        self.page = show_page(self.main, "Keys and gestures", keys_html())

    def show_notes(self) -> None:
        """Limits of validity and cautions."""
        if self.shown is not None:
            told = notes_html(self.shown.study, self.shown.units)
            self.page = show_page(self.main, "Limits and cautions", told)
