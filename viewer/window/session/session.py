"""The open scene: its draft and history, and what is computed for it off the thread of the window."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from PySide6.QtCore import QObject, QTimer, Signal

from raytrace import (
    Follower,
    PanelWish,
    Scene,
    SceneError,
    Study,
    build_room,
    is_cold,
    moved,
    propose,
    run_study,
    with_prices,
    with_stock,
)
from viewer.pictures import Stage, set_stage
from viewer.window.session.drafts import (
    Draft,
    History,
    autosave,
    changed_on_disk,
    discard_recovery,
    joist_catches,
    save,
    snap,
    stamp,
)
from viewer.window.session.drag import Drag, Move
from viewer.window.session.variants import Left, LeftVariants, move_history, rename_variant, write_variant
from viewer.window.session.worker import Progress, Worker
from viewer.window.state import Thing, catches, partner_place, place_in, surface_of

UNTIL_S = 0.030
UNNAMED = Path("untitled.toml")
WATCH_MS = 2000
STILL_M = 1e-6


@dataclass(frozen=True)
class Found:
    """A study with its stage, and whether it is of a scene at rest."""

    study: Study
    stage: Stage
    settled: bool


class Session(QObject):
    """One scene, its changes, and its newest study; variants of it that were left keep their changes.

    Everything slow runs in one worker: while a thing moves the ears alone, when it rests the head zone, then
    the whole study.
    """

    found = Signal(object)  # Found
    refused = Signal(str)  # why something cannot be
    crashed = Signal(object)  # exception
    proposed = Signal(object)  # Proposal, open in the session
    turned = Signal()  # to another variant of the room
    changed = Signal()  # the draft or its history
    progressed = Signal(str, float)
    overtaken_on_disk = Signal()
    unkept = Signal(str)  # why changes would not outlive a crash; once

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.history: History | None = None
        self.first: Found | None = None
        self.unread: Callable[[], str] = lambda: ""  # what is wrong with a text that is being typed
        self.is_first_run = False  # nothing was compiled on this machine when the scene was opened
        self._follower = Follower()
        self._stage: tuple[tuple[Any, ...], Stage] | None = None
        self._epoch = 0  # rises with every scene; what belongs to an earlier one is dropped
        self._rests = False
        self._warned: tuple[Path, object] | None = None  # a file, and the state of it that was told of
        self._told_unkept = False
        self._scene: Scene | None = None
        self._first_scene: Scene | None = None
        self._left = LeftVariants()
        self.drag = Drag(self._ask_moved, self)
        self.worker = Worker(self)
        self.worker.done.connect(self._done)
        self.worker.failed.connect(self._failed)
        self.worker.progressed.connect(self.progressed)
        self._watches = QTimer(self, interval=WATCH_MS)
        self._watches.timeout.connect(self.watch)

    @property
    def draft(self) -> Draft:
        """The draft as it stands."""
        assert self.history is not None, "nothing is open"
        return self.history.current

    @property
    def is_open(self) -> bool:
        """Whether there is a scene."""
        return self.history is not None

    @property
    def path(self) -> Path | None:
        """Where the open scene lies; None for one that was never saved, and where none is open."""
        return None if self.history is None else self.draft.path

    @property
    def can_compare(self) -> bool:
        """Whether the scene stands otherwise than its file had it, and what that was is known."""
        return self.history is not None and self.history.can_undo and self.first is not None

    @property
    def scene(self) -> Scene:
        """The scene as it stands; what is being moved is where it was."""
        assert self._scene is not None, "nothing is open"
        return self._scene

    @property
    def is_whole(self) -> bool:
        """Whether the whole study of the scene as it stands is there."""
        return self._rests

    @property
    def drafts(self) -> tuple[Draft, ...]:
        """All that is open: what is shown, then the variants that were left for it."""
        return (*(() if self.history is None else (self.draft,)), *self._left.drafts)

    def open(self, draft: Draft, *, beside: bool = False) -> None:
        """Begin with a draft, or go on with one `beside` what is there, whose changes are kept.

        Raises
        ------
        SceneError
            If it describes no scene; what was open stays.
        """
        scene = draft.scene()
        build_room(scene)
        if beside:
            self._leave()
            self._left.take(draft.path or UNNAMED)
        else:
            self._left.clear()
        self.is_first_run = is_cold()
        self._watches.start()
        self._go_on(Left(History(draft), None, scene))
        if draft.dirty:
            self.keep()

    def _go_on(self, own: Left) -> None:
        """Show what has a history already."""
        self.history, self.first, self._first_scene = own.history, own.first, own.first_scene
        self._begin("ears", self.draft.scene() if own.history.can_undo else own.first_scene)
        self.changed.emit()

    # Variants.

    def _leave(self) -> None:
        """Put what is shown aside, kept for the case of a crash."""
        path = self.path
        if self.history is not None and path is not None and self._first_scene is not None:
            self.keep()
            self._left.put(path, Left(self.history, self.first, self._first_scene))

    def turn_to(self, path: Path) -> bool:
        """Go on with a variant that was left; false where it never was."""
        own = self._left.take(path)
        if own is None:
            return False
        self._leave()
        self._go_on(own)
        self.turned.emit()
        return True

    def begin_variant(self, text: str) -> Path:
        """Write a text beside the scene and go on with that; undo takes it back to the scene as it stands.

        Raises
        ------
        SceneError
            If the file cannot be written; nothing has changed then.
        """
        before = self.draft
        assert before.path is not None, "a room without a file has none beside it"
        target = write_variant(before.path, text)
        self._leave()
        history = History(Draft(target, before.text, text))
        history.push(Draft(target, text, text))
        self._go_on(Left(history, None, before.scene()))
        self.turned.emit()
        return target

    def rename(self, path: Path, name: str) -> Path:
        """Give a variant another name, its changes with it; returns where it lies then.

        Raises
        ------
        ValueError, SceneError
            If it cannot have the name.
        """
        target = rename_variant(path, name)
        if path == self.path:
            assert self.history is not None
            move_history(self.history, target)
        self._left.move(path, target)
        self.changed.emit()
        return target

    def forget(self, path: Path) -> None:
        """A variant that was left is there no more."""
        self._left.take(path)
        discard_recovery(path)

    def save_left(self) -> None:
        """Write the variants that were left with changes; SceneError at the first that cannot be."""
        self._left.save()

    def move(self, study: Study, thing: Thing, place: tuple[float, ...], partner: Thing | None = None) -> str:
        """Follow a thing that is being moved, its partner with it; returns what it was drawn to in words."""
        snapped, why = _snapped(study, thing, place)
        # Along the floor a thing keeps its height to the millimetre, and the other way round.
        before = place_in(self.scene, thing)
        kept = np.abs(np.subtract(place, before)) < STILL_M
        snapped = tuple(np.where(kept, before, snapped).tolist())
        self._rests = False
        self.drag.move(_with_partner(study, (thing, snapped), partner))
        return why

    def drop(self) -> None:
        """Leave what is being moved where it is, or where it was if it cannot stand there."""
        move = self.drag.end()
        if move is not None:
            self._put(move)

    def place(
        self, study: Study, thing: Thing, place: tuple[float, ...], partner: Thing | None = None
    ) -> None:
        """Put a thing somewhere, its partner to the mirror image; one step of the history."""
        self._put(_with_partner(study, (thing, place), partner))

    def place_all(self, move: Move) -> None:
        """Put several things somewhere; one step of the history."""
        self._put(move)

    def _put(self, move: Move) -> None:
        draft = self.draft
        for thing, place in move:
            draft = _with_place(draft, thing, place)
        problem = self.change(draft.text)
        if problem is not None:
            self.refused.emit(f"Not possible there: {plain_words(problem)}")
            self.study_again()

    def change(self, text: str, *, by_hand: bool = False) -> SceneError | None:
        """Go on with another text as one step of the history; why not, where it is no scene that can be.

        What is not typed `by_hand` waits until a text that is typed is a scene again.
        """
        assert self.history is not None
        before = self.draft.text
        unread = "" if by_hand else self.unread()
        if self.draft.text != before:
            return SceneError("what was typed in the text came first; do it once more")
        if unread:
            return SceneError(f"the text beside the room comes first, or Escape in it; {unread}")
        draft = replace(self.draft, text=text)
        try:
            build_room(draft.scene())
        except SceneError as problem:
            return problem
        if draft.text != self.draft.text:
            self.history.push(draft)
            self._after_change()
        return None

    def undo(self) -> None:
        """One step back."""
        if self.history is not None and self.history.can_undo:
            self.history.undo()
            self._after_change()

    def redo(self) -> None:
        """One step forward again."""
        if self.history is not None and self.history.can_redo:
            self.history.redo()
            self._after_change()

    def propose(
        self,
        wish: PanelWish,
        *,
        stock: Path | None = None,
        prices: Path | None = None,
        reach: tuple[int | None, float] = (None, UNTIL_S),
    ) -> None:
        """Look for panels; they become one step of the history. Lists go before what the scene says.

        `reach` is how many bounces are searched, None for the usual number, and until when. [s]
        """
        path = self.draft.path or UNNAMED
        try:
            scene = self.draft.scene()
            scene = scene if stock is None else with_stock(scene, stock)
            scene = scene if prices is None else with_prices(scene, prices)
        except SceneError as problem:
            self.refused.emit(f"Nothing proposed: {problem}")
            self.proposed.emit(None)
            return
        self._rests = False
        self._epoch += 1
        asked = "propose", self._epoch
        order, within_s = reach
        self.worker.ask(
            asked,
            lambda progress: propose(
                scene, wish, out=path, up_to_order=order, within_s=within_s, progress=progress
            ),
        )

    def save(self, path: Any = None) -> None:
        """Write the draft; SceneError if it cannot be written."""
        assert self.history is not None
        self.history.push(save(self.draft, path))
        self.changed.emit()

    def keep(self) -> None:
        """Keep a dirty draft for the case of a crash; say once where that cannot be."""
        if self.history is None:
            return
        try:
            autosave(self.draft)
        except SceneError as problem:
            if not self._told_unkept:
                self._told_unkept = True
                self.unkept.emit(str(problem))

    def study_again(self) -> None:
        """Compute the draft as it stands."""
        self._begin("zone", self.draft.scene())

    def _after_change(self) -> None:
        self.keep()
        self.study_again()
        self.changed.emit()

    def watch(self) -> None:
        """Say once when someone else has changed the file, and again when it is changed once more."""
        if self.path is None or not changed_on_disk(self.draft):
            return
        state = (self.path, stamp(self.path))
        if self._warned != state:
            self._warned = state
            self.overtaken_on_disk.emit()

    def close(self) -> None:
        """End the worker; a dirty draft that was not saved is forgotten by whoever asked."""
        self._watches.stop()
        self.worker.end()

    # In the worker.

    def _begin(self, name: str, scene: Scene) -> None:
        """Compute another scene; what is on its way or in the hand of the one before comes to nothing."""
        self.drag.end()
        self._scene, self._rests = scene, False
        self._epoch += 1
        self._ask(name, scene)

    def _ask(self, name: str, scene: Scene) -> None:
        jobs: dict[str, Callable[[Progress], Study]] = {
            "ears": lambda _: self._follower.ears(scene),
            "moving": lambda _: self._follower.ears(scene),
            "held": lambda progress: self._follower.zone(scene, progress=progress),
            "zone": lambda progress: self._follower.zone(scene, progress=progress),
            "whole": lambda progress: run_study(scene, within_s=UNTIL_S, progress=progress),
            "before": lambda progress: run_study(scene, within_s=UNTIL_S, progress=progress),
        }

        def job(progress: Progress) -> Found:
            study = jobs[name](progress)
            return Found(study, self._staged(study), name not in ("ears", "moving"))

        self.worker.ask((name, self._epoch), job)

    def _ask_moved(self, name: str, move: Move) -> None:
        """Compute the scene with what is moved somewhere else, unchecked."""
        scene = self.scene
        for thing, place in move:
            scene = moved(scene, *thing, place)
        self._ask(name, scene)

    def _staged(self, study: Study) -> Stage:
        """What all pictures share; the room itself is laid out anew only where it has changed."""
        names = ("room", "objects", "surfaces", "openings")
        key = (*(getattr(study.scene, name) for name in names), len(study.room.facets))
        if self._stage is None or self._stage[0] != key:
            self._stage = key, set_stage(study)
        return replace(self._stage[1], study=study)

    def _done(self, asked: tuple[str, int], found: Any) -> None:
        name, epoch = asked
        if epoch != self._epoch:
            return
        if name == "propose":
            self.take_proposed(found.text)
            self.proposed.emit(found)
            return
        if name == "before":
            self.first = found
            return
        if name == "whole":
            self._rests = True
            self.first = found if found.study.scene is self._first_scene else self.first
        self.found.emit(found)
        following = {"ears": "zone", "zone": "whole"}.get(name)
        if following is not None and not self.worker.is_busy:
            self._ask(following, found.study.scene)
        elif name == "whole" and self.first is None and not self.worker.is_busy:
            # Something was moved before the file's own study was done.
            assert self._first_scene is not None
            self._ask("before", self._first_scene)

    def take_proposed(self, text: str) -> None:
        """Proposed panels make a variant; in a room that has no file they are one step of its history."""
        assert self.history is not None
        if self.path is not None and text != self.draft.text:
            with suppress(SceneError):  # a folder that takes no file
                self.begin_variant(text)
                return
        self.history.push(replace(self.draft, text=text))
        self._after_change()

    def _failed(self, asked: tuple[str, int], problem: Exception) -> None:
        name, epoch = asked
        if epoch != self._epoch:
            return
        if name == "propose" and isinstance(problem, ValueError):
            self.refused.emit(f"Nothing proposed: {problem}")
            self.proposed.emit(None)
        elif isinstance(problem, SceneError):
            self.refused.emit(f"Not possible there: {plain_words(problem)}")
        else:
            self.crashed.emit(problem)


def _with_partner(study: Study, own: tuple[Thing, tuple[float, ...]], partner: Thing | None) -> Move:
    """A thing with its place, and its partner with the mirror image of it."""
    return (own,) if partner is None else (own, (partner, partner_place(study, *own, partner)))


def _with_place(draft: Draft, thing: Thing, place: tuple[float, ...]) -> Draft:
    """The draft with one thing somewhere else; of a cloud the third length is its drop."""
    kind, index = thing
    if kind != "clouds":
        return draft.with_position(kind, index, place)
    placed = draft.with_position(kind, index, place[:2])
    if abs(draft.scene().clouds[index].drop - place[2]) < 5e-4:
        return placed
    return placed.with_value((kind, index, "drop"), round(place[2], 3))


def plain_words(problem: SceneError) -> str:
    """The message of a scene's error without file, line and the line itself.

    Lengths come as a scene file has them, where a quote is written with a stroke before it.
    """
    return problem.why.splitlines()[0].replace('\\"', '"')


def _snapped(study: Study, thing: Thing, place: tuple[float, ...]) -> tuple[tuple[float, ...], str]:
    """A place drawn to the grid, the other speaker's mirror image, the listening axis or a joist."""
    scene, (kind, index) = study.scene, thing
    if kind == "speakers":
        axis_m = scene.seats[0].ears[1]
        mains = [i for i, s in enumerate(scene.speakers) if s.use == "main" and i != index]
        pair = mains[0] if len(mains) == 1 and scene.speakers[index].use == "main" else None
        mirror = None if pair is None else scene.speakers[pair].position
        return snap(place, mirror_plane_y=axis_m, mirror=mirror, others=catches(study, thing))
    if kind == "seats":
        sides = [s.position[1] for s in scene.speakers if s.use == "main"]
        return snap(place, mirror_plane_y=float(np.mean(sides)) if len(sides) == 2 else None)
    surface = surface_of(study, thing)
    lines = catches(study, thing)
    if surface is None:
        return snap(place, others=lines)
    named = study.room.surfaces[surface]
    snapped, why = snap(place[:2], joists=joist_catches(scene, named), others=lines)
    return (*snapped, *(round(length, 2) for length in place[2:])), why
