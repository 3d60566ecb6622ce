"""The line over the room: where it is seen from, what is cut away, what is drawn."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QMenu,
    QSizePolicy,
    QSlider,
    QToolButton,
    QWidget,
)

from viewer.window.controls.language import in_own_language
from viewer.window.controls.styling import switch
from viewer.window.state import HEADING, LAYERS, Cut, OnScreen, view_names

SHORT = {"room": "Whole room", "plan": "Above", "section": "Side", "seat": "Seat"}
CUTS = (
    ("no cut", 0, True),
    ("front cut off", 0, True),
    ("back cut off", 0, False),
    ("left cut off", 1, True),
    ("right cut off", 1, False),
    ("floor cut off", 2, True),
    ("ceiling cut off", 2, False),
)

STEPS = 200


class ViewBar(QWidget):
    """Controls of an `OnScreen` that say how the room is looked at."""

    view_wanted = Signal(str)
    parallel_wanted = Signal(bool)
    cut_wanted = Signal(object)  # Cut or None
    layer_wanted = Signal(str, bool)
    before_wanted = Signal(bool)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.views = {name: switch(SHORT[name]) for name in HEADING}
        self.faces = QComboBox()
        self.faces.setAccessibleName("Face a surface")
        self.faces.setMinimumWidth(120)
        self.cuts = QComboBox()
        self.cuts.addItems([words for words, _, _ in CUTS])
        self.cuts.setAccessibleName("Cut the room open")
        self.inwards = QSlider(Qt.Orientation.Horizontal)
        self.inwards.setRange(1, STEPS - 1)
        self.inwards.setValue(STEPS // 2)
        self.inwards.setFixedWidth(90)
        self.inwards.setAccessibleName("How far the cut goes in")
        self.layers = QToolButton(popupMode=QToolButton.ToolButtonPopupMode.InstantPopup)
        self.layers.setText("shown ▾")
        self.layers.setMenu(QMenu(self.layers))
        self.parallel = self.layers.menu().addAction("Flat view, as in a drawing")
        self.parallel.setCheckable(True)
        self.layers.menu().addSeparator()
        self.actions_of_layers = {name: self.layers.menu().addAction(words) for name, words in LAYERS.items()}
        self.before = switch("as opened")
        self.before.setToolTip("Shows the room as its file had it when it was opened (B)")
        self._names: tuple[str, ...] = ()
        self._lay_out()
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)

    def _lay_out(self) -> None:
        layout = QHBoxLayout(self)
        layout.setContentsMargins(12, 5, 12, 5)
        layout.setSpacing(4)
        for i, (name, button) in enumerate(self.views.items()):
            button.setToolTip(f"{HEADING[name]} ({i + 1})")
            button.clicked.connect(lambda _=False, n=name: self.view_wanted.emit(n))
            layout.addWidget(button)
        layout.addWidget(self.faces)
        layout.addSpacing(10)
        layout.addWidget(self.cuts)
        layout.addWidget(self.inwards)
        layout.addStretch(1)
        layout.addWidget(self.before)
        layout.addWidget(self.layers)
        self.before.clicked.connect(self.before_wanted)
        self.faces.activated.connect(lambda i: self.view_wanted.emit(self._names[i - 1]) if i else None)
        self.parallel.triggered.connect(self.parallel_wanted)
        self.cuts.activated.connect(lambda _: self.cut_wanted.emit(self.cut()))
        self.inwards.valueChanged.connect(lambda _: self.cut_wanted.emit(self.cut()))
        for name, action in self.actions_of_layers.items():
            action.setCheckable(True)
            action.triggered.connect(lambda on, n=name: self.layer_wanted.emit(n, on))

    def cut(self) -> Cut | None:
        """The section that the controls say."""
        place = self.cuts.currentIndex()
        _, axis, keeps_far = CUTS[place]
        share = self.inwards.value() / STEPS
        return Cut(axis, share if keeps_far else 1.0 - share, keeps_far) if place else None

    def draw(self, shown: OnScreen, *, can_compare: bool, shows_before: bool) -> None:
        """Show a record."""
        self.before.setVisible(can_compare or shows_before)
        self.before.setChecked(shows_before)
        names = tuple(name for name, _ in view_names(shown.study) if name not in HEADING)
        if names != self._names:
            self._names = names
            self.faces.clear()
            self.faces.addItems([in_own_language("Face a surface …"), *names])
        for name, button in self.views.items():
            button.setChecked(shown.view == name)
        self.faces.setCurrentIndex(names.index(shown.view) + 1 if shown.view in names else 0)
        self.parallel.setChecked(shown.eye.parallel)
        self.inwards.setVisible(shown.cut is not None)
        if shown.cut is None:
            self.cuts.setCurrentIndex(0)
        else:
            sides = [(axis, keeps) for _, axis, keeps in CUTS[1:]]
            self.cuts.setCurrentIndex(sides.index((shown.cut.axis, shown.cut.keeps_far)) + 1)
            share = shown.cut.share if shown.cut.keeps_far else 1.0 - shown.cut.share
            self.inwards.blockSignals(True)
            self.inwards.setValue(round(share * STEPS))
            self.inwards.blockSignals(False)
        for name, action in self.actions_of_layers.items():
            action.setChecked(name in shown.layers)
