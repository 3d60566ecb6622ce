"""The room in the window: draws what a record shows, each part of it only when it differs."""

from collections.abc import Callable
from typing import Any

import numpy as np
from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from viewer.pictures import Camera, Floats, Layer, seen_facets
from viewer.window.room.canvas import Canvas
from viewer.window.room.gestures import Gestures
from viewer.window.scenery import (
    Fronts,
    bass_floor,
    bass_shape,
    cut_faces,
    differences,
    find_names,
    front_speaker,
    heard_paths,
    lines_of,
    marks,
    place_names,
    plane_of,
    scenery,
)
from viewer.window.state import Eye, OnScreen, Theme, is_from_above

#: A group of layers: its name, what it depends on, and what makes it.
Part = tuple[str, tuple[Any, ...], Callable[[], dict[str, Layer]]]
Seen = tuple[bool, ...]  # whether each facet shows its front to the camera

# What is compared by value where a key of a part is made of it.
_SMALL = (str, int, float, frozenset, tuple, bool, type(None), Eye, *scenery.SMALL)
# Layers on whose faces the room's own light falls, as far as it is known.
LIT = {"walls", "furniture", "panes", "panels", "speakers", "drivers", "heads", "props"}
MARGIN_PX = 12
REST_MS = 160  # after the last move the picture is drawn once more, in full quality


class RoomView(QWidget):
    """The room of an `OnScreen`; every gesture of its `hand` comes back as a new record."""

    built = Signal()  # all that the next picture is made of; the graphics card does the rest

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.surface = Canvas(self)
        self.surface.setAccessibleName("The room")
        self.surface.wanted.connect(self._build)
        self.hand = Gestures(self.surface)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.surface)
        self.trouble = QLabel(self, textFormat=Qt.TextFormat.PlainText, wordWrap=True)
        self.trouble.setObjectName("trouble over")
        self.trouble.hide()
        self._keys: dict[str, tuple[Any, ...]] = {}
        self._fine = True
        self._fronts = Fronts()
        self._rest = QTimer(self, singleShot=True, interval=REST_MS)
        self._rest.timeout.connect(lambda: self._set_quality(fine=True))

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height of the picture."""
        return self.hand.size_px

    @property
    def camera(self) -> Camera:
        """The camera of what is shown."""
        return self.hand.camera

    def draw(self, shown: OnScreen) -> None:
        """Show a record as soon as the window is painted; of several before then the last."""
        before, self.hand.shown = self.hand.shown, shown
        if not shown.settled or (before is not None and shown.eye != before.eye):
            self._set_quality(fine=False)
            self._rest.start()
        if shown.trouble != self.trouble.text():
            self.trouble.setText(shown.trouble)
            self.trouble.setVisible(bool(shown.trouble))
            self._place_trouble()
        self.surface.refresh()

    def _place_trouble(self) -> None:
        """Why something cannot be stands along the lower edge of the picture, over it."""
        width = self.width() - 2 * MARGIN_PX
        height = max(self.trouble.heightForWidth(width), 0)
        self.trouble.setGeometry(MARGIN_PX, self.height() - height - MARGIN_PX, width, height)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Words over the picture keep to its edge."""
        super().resizeEvent(event)
        self._place_trouble()

    def _build(self) -> None:
        """Make anew what differs from the last picture."""
        shown = self.hand.shown
        if shown is None:
            return
        if shown.light is not None and not _same((shown.light,), self._keys.get("light")):
            self._keys["light"] = (shown.light,)
            self.surface.shine(shown.light.pixels)
        for name, key, make in self._parts(shown):
            if not _same(key, self._keys.get(name)):
                self._keys[name] = key
                for part, layer in make().items():
                    self.surface.put(part, layer, _light_on(shown, part, layer))
        camera = self.camera
        self.surface.aim(camera, shown.stage.corners)
        self._cut(shown)
        measure = self.fontMetrics().horizontalAdvance
        self.surface.write(place_names(find_names(shown), camera, measure, lines=lines_of(shown)))
        self.built.emit()

    def _parts(self, shown: OnScreen) -> list[Part]:
        """Groups of layers with what each depends on."""
        seen = tuple(seen_facets(shown.stage, self.camera).tolist())
        return [*self._room_parts(shown, seen), *_sound_parts(shown), *self._sign_parts(shown, seen)]

    def _room_parts(self, shown: OnScreen, seen: Seen) -> list[Part]:
        """The room and what stands in it."""
        stage, study, theme, layers = shown.stage, shown.study, shown.theme, shown.layers
        scene, camera, inside, facing = study.scene, self.camera, shown.view == "seat", shown.faces_surface
        seats, light = (scene.seats, theme, inside, shown.seat, facing), shown.light
        return [
            ("walls", (stage.faces, theme, layers, facing, light), lambda: scenery.walls(shown)),
            ("edges", (stage.edges, seen, theme, layers), lambda: scenery.edges(shown, camera)),
            ("panes", (stage.faces, seen, theme, light), lambda: scenery.panes(shown, camera)),
            (
                "speakers",
                (scene.speakers, scene.seats, theme, facing, light),
                lambda: scenery.speakers(shown),
            ),
            ("seats", (*seats, light), lambda: scenery.seats(shown)),
            ("stands", (study, seen, theme, layers, facing, light), lambda: scenery.stands(shown, camera)),
            ("panels", (study.room, seen, theme, layers, light), lambda: scenery.panels(shown, camera)),
            *_bass_parts(shown),
        ]

    def _sign_parts(self, shown: OnScreen, seen: Seen) -> list[Part]:
        """What is drawn over room and sound: the selected thing, the section, time and dimensions."""
        study, theme, layers, camera = shown.study, shown.theme, shown.layers, self.camera
        scene, inside = study.scene, shown.view == "seat"
        end_on = camera.parallel and tuple((np.abs(camera.forward) > scenery.END_ON).tolist())
        cut = (study.room, scene, shown.cut, theme, layers, inside)
        balls = () if shown.time_s is None else (*_listed(shown), shown.time_s)
        measures = (scene, shown.measuring, shown.thing, theme, layers, seen, end_on)
        return [
            (
                "marks",
                (
                    scene,
                    study.room,
                    shown.thing,
                    shown.in_pairs,
                    shown.wanted,
                    shown.placing,
                    (shown.entries, shown.misfits),
                    (is_from_above(shown), shown.plan),
                    theme,
                ),
                lambda: marks(shown),
            ),
            ("differences", (study, shown.beside, theme), lambda: differences(shown)),
            ("cut faces", cut, lambda: cut_faces(shown)),
            ("balls", balls, lambda: scenery.balls(shown)),
            ("fronts", self._front_key(shown), lambda: self._fronts.layers(shown)),
            ("measures", measures, lambda: scenery.measures(shown)),
        ]

    @staticmethod
    def _front_key(shown: OnScreen) -> tuple[Any, ...]:
        """What the wave fronts depend on; nothing where none are drawn."""
        if "fronts" not in shown.layers or shown.time_s is None:
            return ()
        return shown.study, shown.seat, front_speaker(shown), shown.time_s, shown.theme

    def _cut(self, shown: OnScreen) -> None:
        """Take away what lies beyond the section plane, names and numbers excepted."""
        key = (shown.cut, shown.stage.faces)
        if _same(key, self._keys.get("cut")):
            return
        self._keys["cut"] = key
        plane = plane_of(shown)
        self.surface.cut([] if plane is None else [(plane.origin, plane.normal)])

    def _set_quality(self, *, fine: bool) -> None:
        """Full quality at rest, less while things move."""
        if fine != self._fine:
            self._fine = fine
            self.surface.set_quality(fine=fine)

    def picture(self) -> np.ndarray:
        """What is on the screen, (height, width, 3) uint8."""
        self._set_quality(fine=True)
        return self.surface.picture()

    def end(self) -> None:
        """Let go of the graphics card; nothing can be drawn afterwards."""
        self._rest.stop()
        self.hand.end()
        self.surface.end()

    def set_theme(self, theme: Theme) -> None:
        """Colours of the ground and of names."""
        self.surface.set_theme(theme)

    def take_keys(self) -> None:
        """Arrow keys go to the room from now on."""
        self.surface.setFocus()


def _light_on(shown: OnScreen, part: str, layer: Layer) -> tuple[Floats, Floats] | None:
    """The room's own light on a layer; None where it is not known, and where none falls."""
    if shown.light is None or part not in LIT or not layer.mesh.n_cells:
        return None
    return shown.light.on(shown.study, layer.mesh)


def _bass_parts(shown: OnScreen) -> list[Part]:
    """The bass over the floor, and the shape of a mode."""
    drawn = shown.bass if "bass" in shown.layers else None
    key = (drawn, shown.mode, shown.theme)
    return [
        ("bass floor", (drawn, shown.mode is None, shown.theme), lambda: bass_floor(shown)),
        ("bass shape", key, lambda: bass_shape(shown)),
    ]


def _listed(shown: OnScreen) -> tuple[Any, ...]:
    """What the drawn reflections depend on."""
    alone = shown.measured_peak is not None
    return shown.study, shown.seat, shown.filter, shown.theme, shown.layers, shown.view == "seat", alone


def _sound_parts(shown: OnScreen) -> list[Part]:
    """Reflections, their spots and areas, and the one that is picked out."""
    study, listed = shown.study, _listed(shown)
    is_out = shown.chosen is not None or shown.pointed is not None
    areas = (*listed, shown.chosen) if study.treatment_areas else ()
    out = (study if is_out else None, shown.chosen, shown.pointed, shown.theme)
    heard = (shown.measured, shown.measurement_at, shown.measured_chosen, shown.theme, shown.stage.faces)
    return [
        ("sound", listed, lambda: scenery.sound(shown)),
        ("near", listed, lambda: scenery.near_misses(shown)),
        ("spots", listed, lambda: scenery.spots(shown)),
        ("areas", areas, lambda: scenery.areas(shown)),
        ("out", out, lambda: scenery.picked_out(shown)),
        ("heard", heard if shown.measured_peak is not None else (), lambda: heard_paths(shown)),
    ]


def _same(one: tuple[Any, ...], other: tuple[Any, ...] | None) -> bool:
    """Whether two keys name the same: large things by identity, small ones by value."""
    if other is None or len(one) != len(other):
        return False
    return all(a is b or (isinstance(a, _SMALL) and a == b) for a, b in zip(one, other, strict=True))
