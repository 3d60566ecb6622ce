"""Figures of the variants of a room, found off the window's thread when they are asked for."""

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from raytrace import (
    BillOfMaterials,
    SceneError,
    Study,
    Treatment,
    build_room,
    find_decay,
    load_scene,
    run_study,
)
from viewer.pictures import set_stage
from viewer.window.session.search import Search
from viewer.window.session.session import UNTIL_S, plain_words
from viewer.window.session.worker import Progress
from viewer.window.state import VariantFigures

MOST_KEPT = 12
Text = tuple[Path, str]  # a file, and what it holds or would if it were saved


class VariantSearch(Search):
    """What each variant comes to, one after the other in a thread of its own, each text once."""

    found = Signal()  # something new of any of them

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._known: dict[tuple[Path, str], VariantFigures] = {}
        self._wanted: list[Text] = []
        self._study: tuple[Text, Study] | None = None

    def ask(self, variants: Sequence[Text], *, study: tuple[Text, Study] | None = None) -> None:
        """Find what some files come to with these texts; what was wanted before is not any more.

        A `study` that is there already of one of them is not made once more.
        """
        self._study = study or self._study
        self._wanted = [own for own in variants if own not in self._known]
        self._go_on()

    def figures(self, path: Path, text: str) -> VariantFigures | None:
        """What is known of a text; None until it is."""
        return self._known.get((path, text))

    def _go_on(self) -> None:
        if not self._wanted or self._asked == self._wanted[0]:
            return
        asked = self._wanted[0]
        study = self._study[1] if self._study is not None and self._study[0] == asked else None
        self._ask(asked, lambda progress: figures_of(*asked, study=study, progress=progress))

    def _answered(self, asked: Text, found: VariantFigures) -> None:
        self._known[asked], self._asked = found, None
        while len(self._known) > MOST_KEPT:
            self._known.pop(next(iter(self._known)))
        if asked in self._wanted:
            self._wanted.remove(asked)
        self.found.emit()
        self._go_on()

    def _refusal(self, _problem: Exception) -> None:
        self._wanted, self._asked = [], None


def figures_of(
    path: Path, text: str, *, study: Study | None = None, progress: Progress | None = None
) -> VariantFigures:
    """What a scene's text comes to, with its study where that is known; why not, where it is no scene."""
    try:
        if study is None:
            scene = load_scene(path, text)
            build_room(scene)
            study = run_study(scene, within_s=UNTIL_S, progress=progress)
        decays = find_decay(study.scene, study.room, study.arrivals, progress=progress)
        return VariantFigures(study, set_stage(study), decays, _goods(study))
    except SceneError as problem:
        return VariantFigures(trouble=plain_words(problem))


def _goods(study: Study) -> BillOfMaterials | None:
    try:
        return Treatment(study.scene, study.room).bill_of_materials
    except SceneError:  # a stand that would tip: the room is heard all the same
        return None
