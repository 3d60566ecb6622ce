"""Changes of the scene's text from its list, its form and its page: each is one edit and one step to undo."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from raytrace import (
    Key,
    KeyPath,
    SceneError,
    build_room,
    put_key,
    remove_in_text,
    rename_in_text,
    retyped,
)
from viewer.window.controls import keys_of, typed_values
from viewer.window.main_window import MainWindow
from viewer.window.screen import Screen
from viewer.window.session import Session, misfits, plain_words
from viewer.window.state import SceneState, Thing, still_there, thing_of, things_of


class Changing:
    """What is selected of the scene's text, and what is changed in it."""

    def __init__(self, session: Session, screen: Screen, main: MainWindow) -> None:
        self.state: SceneState | None = None
        self._session = session
        self._screen = screen
        self._main = main

    def show(self) -> None:
        """Show the scene as its text stands now."""
        if not self._session.is_open:
            self.state = None
            return
        scene = self._session.scene
        room = build_room(scene)
        own = tuple(s.name for s in room.surfaces if s.owner is None)
        chosen = () if self.state is None else still_there(scene, self.state.chosen)
        faces = tuple(dict.fromkeys(s.name for s in room.surfaces))
        self._put(SceneState(scene, own, faces, chosen, None, self._main.units, self._main.theme))
        self._still()

    def _put(self, state: SceneState) -> None:
        self.state = state
        self._main.contents.draw(state)
        self._main.text.draw(state)

    def redress(self) -> None:
        """Show the same in other units or colours."""
        if self.state is not None:
            self._change(units=self._main.units, theme=self._main.theme)

    # The text.

    def type_text(self, typed: str) -> None:
        """Go on with a text that was typed by hand, or say in its place why that is no scene."""
        if self._session.is_open:
            problem = self._session.change(retyped(self._session.draft.text, typed), by_hand=True)
            if problem is not None:
                self._main.text.refuse(problem)
            else:
                self.redress()

    def finish(self) -> str:
        """Read what was typed last; what keeps it from being a scene, "" for nothing."""
        if self._main.text.is_waiting:
            self._main.text.finish()
        problem = self._main.text.problem
        return "" if problem is None else words_of(problem)

    def point(self, path: KeyPath) -> None:
        """Select what the cursor in the text stands in."""
        self.choose((() if path == ("title",) else path,))

    def _change(self, **values: Any) -> None:
        if self.state is not None:
            self._put(replace(self.state, **values))

    def choose(self, chosen: Sequence[KeyPath]) -> None:
        """Select tables, and in the room what of them can be moved."""
        self._change(chosen=tuple(chosen), refused=None)
        self._screen.change(thing=self._thing(), entries=tuple(chosen), trouble="", wanted=None)

    def _thing(self) -> Thing | None:
        """What is selected alone and can be moved, if what was computed last has it already."""
        shown = self._screen.shown
        thing = None if self.state is None else thing_of(self.state.chosen)
        return thing if shown is not None and thing in things_of(shown.study) else None

    def rejoin(self) -> None:
        """A study has arrived, perhaps the first with what is selected."""
        shown = self._screen.shown
        if shown is not None and shown.thing != self._thing() and not self._screen.shows_before:
            self._screen.change(thing=self._thing())

    def _still(self) -> None:
        """In the room nothing is selected that is there no more."""
        shown = self._screen.shown
        if self.state is not None and shown is not None and shown.entries != self.state.chosen:
            self._screen.change(entries=self.state.chosen, thing=self._thing())

    # Values.

    def type_value(self, key: Key, told: Sequence[str]) -> None:
        """Put what is typed at a key of everything that is selected."""
        if self.state is None:
            return
        try:
            values = [(own, typed_values(own, told)) for own in self._keys_like(key)]
        except ValueError as problem:
            self.refuse(key.path, str(problem))
            return
        self._edit(key.path, lambda text: self._with_values(text, values))

    def drop_value(self, key: Key) -> None:
        """Leave a key out, so that what is usual holds."""
        if key.is_required:
            self.refuse(key.path, f"{key.label} has to be given")
            return
        keys = [own for own in self._keys_like(key) if own.value is not None]
        if keys:
            self._edit(key.path, lambda text: self._without(text, keys))

    def _keys_like(self, key: Key) -> list[Key]:
        """The same key of every table that is selected."""
        assert self.state is not None
        path = next((p for p in self.state.chosen if key.path[: len(p)] == p), key.path[:-1])
        tail = key.path[len(path) :]
        every = [own for p in self.state.chosen or (path,) for own in keys_of(self.state, p)]
        return [own for own in every if own.path[len(path) :] == tail]

    @staticmethod
    def _with_values(text: str, values: Sequence[tuple[Key, Any]]) -> str:
        for key, value in values:
            is_name = key.path[-1] == "name" and len(key.path) == 3
            text = rename_in_text(text, key.path[:-1], value) if is_name else put_key(text, key, value)
        return text

    @staticmethod
    def _without(text: str, keys: Sequence[Key]) -> str:
        for key in keys:
            text = remove_in_text(text, key.path)
        return text

    def _edit(self, key: KeyPath, edit: Callable[[str], str]) -> bool:
        """Change the text in one step, or say at a key why that cannot be."""
        try:
            text = edit(self._session.draft.text)
            problem = self._session.change(text)
        except ValueError as refusal:
            self.refuse(key, f"{refusal}: change it in the text")
            return False
        if problem is not None:
            self.refuse(key, plain_words(problem))
            if key[0] == "room":
                self._screen.change(trouble="", misfits=misfits(self._session.draft, text))
        elif self.state is not None and self.state.refused is not None:
            self._change(refused=None)  # the value that was there changes nothing else
        return problem is None

    def refuse(self, key: KeyPath, why: str) -> None:
        """Say at a key why it cannot be what was asked for."""
        self._change(refused=(key, why))


def words_of(problem: SceneError) -> str:
    """What is wrong with a scene and where."""
    return f"line {problem.line}: {plain_words(problem)}" if problem.line else plain_words(problem)
