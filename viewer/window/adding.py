"""Things put into the room and taken out: by pointing, by typed lengths, as copies or mirror images."""

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QPoint

from raytrace import (
    KeyPath,
    Scene,
    SceneError,
    Study,
    add_in_text,
    format_length,
    listening_axis,
    remove_in_text,
)
from viewer.window.changing import Changing
from viewer.window.main_window import MainWindow
from viewer.window.screen import Screen
from viewer.window.session import Session, joist_catches, plain_words, snap
from viewer.window.state import (
    OnScreen,
    Placing,
    Starter,
    are_entries,
    entry_of,
    first_place,
    hold_catches,
    is_free,
    kept_inside,
    mirrored,
    new_name,
    on_top,
    placed,
    starter_like,
    starter_of,
    surface_under,
    top_under,
)

NUDGE_M = 0.010
WHERE = {"floor": "the floor", "wall": "a wall", "ceiling": "the ceiling", "any": "a surface of the room"}
LENGTHS = ("position", "ears", "centre", "at", "size", "radius", "first", "spacing", "drop")


class Adding:
    """What is on its way into the room; `point_out` shows words beside the pointer, "" takes them away."""

    def __init__(
        self,
        session: Session,
        screen: Screen,
        main: MainWindow,
        changing: Changing,
        point_out: Callable[[str, QPoint | None], None],
    ) -> None:
        self._session = session
        self._screen = screen
        self._main = main
        self._changing = changing
        self._point_out = point_out
        self._drawn_to = ""  # what the pointer's place was drawn to last

    @property
    def _shown(self) -> OnScreen | None:
        return self._screen.editable

    def begin(self, words: str) -> None:
        """Hold something new over the room, in the middle of where it can go, until it is put down."""
        self._screen.show_before(False)  # as it was when opened nothing is put into it
        starter = starter_of(words)
        self._hold(starter, new_name(self._session.scene, starter.kind, words))

    def _hold(self, starter: Starter, name: str) -> None:
        shown = self._shown
        if shown is not None:
            self._changing.choose(())
            surface, place = first_place(shown.study, starter)
            placing = placed(shown.study, Placing(starter, name), surface, place)
            self._screen.change(placing=placing, measuring=None, trouble="", wanted=None)
            self._main.room.take_keys()

    def point(self, pixel: tuple[float, float], at: QPoint) -> None:
        """Hold it where the pointer is, and tell how far from the edges that is."""
        placing = self._under(pixel)
        if placing is not None:
            self._screen.change(placing=placing, trouble="")
            self._point_out(self.words(placing), at)
        else:
            self._point_out("", None)

    def _under(self, pixel: tuple[float, float]) -> Placing | None:
        """What is held, where the pointer is; None over what it does not go to."""
        shown = self._shown
        if shown is None or shown.placing is None:
            return None
        starter, study = shown.placing.starter, shown.study
        if is_free(starter):
            return self._over_ground(study, shown.placing, pixel)
        found = surface_under(study.room, self._main.room.camera, pixel, starter.on)
        if found is None:
            return None
        surface = study.room.surfaces[found[0]]
        at = surface.frame.to_plane(found[1])
        place, self._drawn_to = snap(
            at.tolist(),
            joists=joist_catches(study.scene, surface),
            others=hold_catches(study, shown.placing, at, found[0]),
        )
        place = kept_inside(study, starter, surface.name, place)
        return placed(study, shown.placing, surface.name, place)

    def _over_ground(self, study: Study, placing: Placing, pixel: tuple[float, float]) -> Placing | None:
        """What stands on the floor, or on the furniture whose top is under the pointer."""
        camera = self._main.room.camera
        top = top_under(study.room, camera, pixel)
        placing = on_top(study, placing, *(("", 0.0) if top is None else (top[0], float(top[1][2]))))
        found = surface_under(study.room, camera, pixel, placing.starter.on) if not placing.ground else top
        if found is None:
            return None
        at = found[1][:2]
        place, self._drawn_to = snap(
            at.tolist(),
            mirror_plane_y=listening_axis(study.scene),
            others=hold_catches(study, placing, at),
        )
        place = kept_inside(study, placing.starter, "", place)
        return placed(study, placing, placing.surface, place)

    def words(self, placing: Placing) -> str:
        """How far a thing is from the edges."""
        told = [f"{format_length(m, units=self._main.units)} {words}" for words, m in placing.edges]
        return ", ".join([*told, *filter(None, (self._drawn_to,))])

    def drop(self, pixel: tuple[float, float]) -> None:
        """Put it down where the pointer is, or say where it goes."""
        placing, shown = self._under(pixel), self._shown
        if placing is not None:
            self._screen.change(placing=placing)
            self.put()
        elif shown is not None and shown.placing is not None:
            held = shown.placing
            self._screen.change(trouble=f"Point at {WHERE[held.starter.on]}: {held.name} goes there")

    def type_place(self, place: tuple[float, ...]) -> None:
        """Hold it where typed lengths say."""
        shown = self._shown
        if shown is not None and shown.placing is not None:
            placing = placed(shown.study, shown.placing, shown.placing.surface, place)
            self._screen.change(placing=placing, trouble="")

    def nudge(self, right: int, back: int, up: int) -> bool:
        """Hold it a step farther; false where nothing is held."""
        shown = self._shown
        if shown is None or shown.placing is None:
            return False
        x, y = shown.placing.place
        steps = (back, right) if is_free(shown.placing.starter) else (right, up - back)
        self.type_place((x + NUDGE_M * steps[0], y + NUDGE_M * steps[1]))
        return True

    def put(self) -> bool:
        """Put down what is held; false where nothing is held or it cannot be there."""
        shown = self._shown
        if shown is None or shown.placing is None:
            return False
        placing = shown.placing
        if not self._add(placing.starter.kind, entry_of(shown.study, placing)):
            return False
        self._point_out("", None)
        return True

    def _add(self, kind: str, entry: dict[str, Any]) -> bool:
        """Add an entry to the scene and select it."""
        scene = self._session.scene
        index = len(getattr(scene, kind))
        text = add_in_text(self._session.draft.text, kind, in_units_of(scene, entry))
        problem = self._session.change(text)
        if problem is not None:
            self._refuse(problem)
            return False
        self._screen.change(placing=None)
        self._changing.choose(((kind, index),))
        return True

    def _refuse(self, problem: SceneError) -> None:
        self._screen.change(trouble=f"Not possible there: {plain_words(problem)}")

    def cancel(self) -> bool:
        """Hold nothing any more; false where nothing was held."""
        shown = self._screen.shown
        if shown is None or shown.placing is None:
            return False
        self._point_out("", None)
        self._screen.change(placing=None, trouble="")
        return True

    # What is there already.

    def _chosen(self) -> tuple[KeyPath, ...]:
        """Entries that are selected, in the room as it stands."""
        self._screen.show_before(False)
        state = self._changing.state
        return (
            state.chosen
            if state is not None and self._shown is not None and are_entries(state.chosen)
            else ()
        )

    def duplicate(self) -> None:
        """Hold one more of what is selected."""
        chosen = self._chosen()
        if chosen:
            scene, (kind, index) = self._session.scene, chosen[-1]
            entry = scene.document[str(kind)][index]
            starter = starter_like(str(kind), entry, getattr(scene, str(kind))[index])
            self._hold(starter, new_name(scene, str(kind), starter.words))

    def mirror(self) -> None:
        """Put the mirror image of all that is selected on the other side, as one step."""
        shown, chosen = self._shown, self._chosen()
        if shown is None or not chosen:
            return
        scene, text, made = self._session.scene, self._session.draft.text, list[tuple[str, int]]()
        for path in chosen:
            kind = str(path[0])
            entry = mirrored(shown.study, scene, path)
            if entry is None:
                self._screen.change(
                    trouble="It has no mirror image: no surface lies on the other side of the axis"
                )
                return
            made.append((kind, len(getattr(scene, kind)) + sum(k == kind for k, _ in made)))
            text = add_in_text(text, kind, entry)
        problem = self._session.change(text)
        if problem is not None:
            self._refuse(problem)
        else:
            self._changing.choose(made)

    def delete(self) -> None:
        """Take out all that is selected, as one step."""
        chosen = self._chosen()
        if chosen:
            text = self._session.draft.text
            for path in sorted(chosen, key=lambda path: (str(path[0]), path[1]), reverse=True):
                text = remove_in_text(text, path)
            problem = self._session.change(text)
            if problem is not None:
                self._screen.change(trouble=f"It has to stay: {plain_words(problem)}")
            else:
                self._changing.choose(())

    def rename(self) -> None:
        """Put the cursor into the name of what is selected."""
        if self._chosen():
            self._main.side.turn_to("Contents")
            self._main.contents.form.type_first()


def in_units_of(scene: Scene, entry: dict[str, Any]) -> dict[str, Any]:
    """An entry with its lengths in feet and inches where a scene gives the sizes of its room so."""
    sizes = [own for own in scene.document["room"].values() if isinstance(own, str)]
    if not any(sign in own for own in sizes for sign in ("'", '"', "ft", "in")):
        return entry
    return {key: _in_feet(value) if key in LENGTHS else value for key, value in entry.items()}


def _in_feet(value: Any) -> Any:
    """Lengths as such a scene has them."""
    if isinstance(value, list):
        return [_in_feet(own) for own in value]
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return format_length(value, units="imperial") if is_number else value
