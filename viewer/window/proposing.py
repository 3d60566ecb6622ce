"""Panels proposed in the window: asked for, watched, stopped, and told about."""

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QProgressDialog, QWidget

from raytrace import Proposal, Study
from viewer.window.questions import Questions
from viewer.window.screen import Screen
from viewer.window.session import Session, variant_name
from viewer.window.state import hidden_words
from viewer.words import (
    TOO_CLOSE,
    arrangement_title,
    listed,
    panels_words,
    proposed_covers,
    told,
    variant_words,
)


class Proposing:
    """A search for panels from the question to what came of it."""

    def __init__(self, session: Session, screen: Screen, questions: Questions, parent: QWidget) -> None:
        self.progress: QProgressDialog | None = None
        self._of: Path | None = None  # the scene that panels are proposed for
        self._session = session
        self._screen = screen
        self._questions = questions
        self._parent = parent
        session.progressed.connect(self._progressed)
        session.proposed.connect(self._proposed)

    def propose(self) -> None:
        """Ask whether panels are wanted, and look for them with a way to stop."""
        shown = self._screen.editable
        asked = None if shown is None else self._questions.ask_wish(self._session.scene, shown.units)
        if asked is not None:
            self.progress = QProgressDialog("looking at the room", "Stop", 0, 100, self._parent)
            self.progress.setWindowModality(Qt.WindowModality.WindowModal)
            self.progress.setMinimumDuration(0)
            self.progress.canceled.connect(self._session.study_again)  # what the search had interrupted
            self.progress.setValue(0)
            self._of = self._session.path
            reach = asked.up_to_order, asked.within_s
            self._session.propose(asked.wish, stock=asked.stock, prices=asked.prices, reach=reach)

    def _progressed(self, text: str, share: float) -> None:
        if self.progress is not None and self.progress.isVisible():
            self.progress.setLabelText(text)
            self.progress.setValue(min(round(100 * share), 99))

    def _proposed(self, proposal: Proposal | None) -> None:
        if self.progress is not None:
            self.progress.canceled.disconnect()
            self.progress.close()
            self.progress = None
        if proposal is not None:
            stacked = [panel.stacked for panel in proposal.panels]
            things = [panels_words(stacked)] if stacked else []
            things += [cover.cover for cover in proposed_covers(proposal)]
            units = "metric" if self._screen.shown is None else self._screen.shown.units
            notes = [*_arrangements(proposal, units), *(told(note, units) for note in proposal.notes)]
            stays = what_stays(proposal.after)
            words = [f"{listed(things)} proposed; {stays}. {self._where()}", *notes]
            if not proposal.is_new:
                words[0] = f"Nothing is proposed; {stays}."
            self._questions.tell("Proposed" if proposal.is_new else "Nothing to propose", "\n\n".join(words))

    def _where(self) -> str:
        """Where proposed panels are, and what is left of the room without them."""
        path = self._session.path
        if path is None or path == self._of:
            return "Undo takes them away again."
        before = self._of.name if self._of else "the room"
        return (
            f"They are in variant {variant_name(path)}, {path.name}; {before} stays as it was. "
            "Undo takes them away again."
        )


def _arrangements(proposal: Proposal, units: str) -> list[str]:
    """The best change for each peak that no panel mends, a sentence each."""
    scene = proposal.after.scene
    speakers = [speaker.name for speaker in scene.speakers]
    return [
        f"{arrangement_title(found, speakers, scene.seats[found.target.seat].name)}: "
        f"{variant_words(found.mending[0], units)}, proven by a full run."
        for found in proposal.variants
        if found.mending
    ]


def what_stays(study: Study) -> str:
    """What is still over the limit with some panels, too close to it to say, or not judged at all."""
    over, near = (sum(getattr(v, name) for v in study.verdicts) for name in ("n_over", "n_undecided"))
    stays = (
        ["1 peak stays over the limit" if over == 1 else f"{over} peaks stay over the limit"] if over else []
    )
    stays += [f"{near} {'is' if near == 1 else 'are'} {TOO_CLOSE}"] if near else []
    stays += [words for seat in range(len(study.scene.seats)) if (words := hidden_words(study, seat))]
    if not any(v.status == "judged" for v in study.verdicts):
        stays.append("no verdict is passed on any speaker")
    return "; ".join(stays) or "all peaks that were found are below the limit then"
