"""What kind of proposal is wanted, as a form: builds, how many, for how much, which seats, what stock."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QCheckBox,
    QDialogButtonBox,
    QDoubleSpinBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from raytrace import MOVES, PanelWish, Scene, format_length, listening_axis
from viewer.window.controls.language import translate_words
from viewer.window.controls.styling import FormDialog, enter_answers, plain

WORDS = (
    "Chooses the fewest whole panels that bring every peak at the seats below the limit, proves them by a "
    "full run and adds them to the scene. That takes up to some minutes. Local codes and licensed practice "
    "come first; fixings must be checked by a competent person before anything is hung. With no build "
    "ticked: those with a price, else what is owned, else a usual one."
)
MOST_PANELS, MOST_BUDGET, MOST_MARGIN_DB = 200, 1e6, 20.0
MOST_ORDER, MOST_MS, USUAL_MS = 8, 500.0, 30.0
MOST_WEIGHT = 1000.0
LIST_PX, FIELD_PX, FORM_PX = 120, (300, 30), 680
_LISTS = "Lists (*.toml)"


@dataclass(frozen=True)
class Asked:
    """Which panels are asked for, by which reflections, and what goes before the scene's own lists.

    Attributes
    ----------
    wish : PanelWish
    stock, prices : Path or None
        Lists of what is owned and of prices.
    up_to_order : int or None
        The most bounces that are searched; None for as many as is usual.
    within_s : float
        How long after the direct sound. [s]
    """

    wish: PanelWish
    stock: Path | None = None
    prices: Path | None = None
    up_to_order: int | None = None
    within_s: float = USUAL_MS / 1e3


class WishForm(FormDialog):
    """A form that an empty answer leaves as a proposal usually is.

    Parameters
    ----------
    scene : Scene
        Whose builds, seats and prices there are.
    units : str
        "metric" or "imperial".
    choose_file : callable
        Asks for a file by a title and a kind; "" for none.
    asks_reach : bool
        Whether it asks by which reflections; what asks that itself goes without.
    """

    def __init__(
        self,
        scene: Scene,
        units: str,
        choose_file: Callable[[str, str], str],
        *,
        asks_reach: bool = True,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("hitspot")
        self.builds = QListWidget()
        for name in scene.known_builds:
            self._add_build(scene, name, units)
        self._names = [seat.name for seat in scene.seats]
        self.seats = [QCheckBox(seat.name) for seat in scene.seats]
        self.seats[0].setChecked(True)
        self.panels = QSpinBox(minimum=0, maximum=MOST_PANELS)
        self.panels.setSpecialValueText("as many as it takes")
        self.budget = _number(-1.0, MOST_BUDGET, 50.0, "whatever they cost")
        self.margin = _number(-0.5, MOST_MARGIN_DB, 0.5, "as far as each verdict is uncertain", " dB")
        self.spend = QCheckBox("spend all of that, goal after goal")
        self.panels_only = QCheckBox("look for nothing else, which is quicker")
        self.together = QCheckBox("together, weighing")
        self.weights = [self._weight(seat.name) for seat in scene.seats]
        self.order = QSpinBox(minimum=0, maximum=MOST_ORDER, suffix=" bounces")
        self.order.setSpecialValueText("usual bounces")
        self.until = QDoubleSpinBox(minimum=1.0, maximum=MOST_MS, value=USUAL_MS, decimals=0, suffix=" ms")
        self.moves = {name: QCheckBox(name) for name in MOVES}
        self.singles = QCheckBox("also without their mirror images")
        self.stock = _ListOfFile("List of what is owned", choose_file)
        self.prices = _ListOfFile("List of prices", choose_file)
        self._lay_out(has_pairs=listening_axis(scene) is not None, asks_reach=asks_reach)

    def _weight(self, seat: str) -> QDoubleSpinBox:
        """What a seat weighs beside others, asked for where several are served together."""
        weight = QDoubleSpinBox(minimum=1.0 / MOST_WEIGHT, maximum=MOST_WEIGHT, value=1.0, decimals=3)
        weight.setAccessibleName(f"What {seat} weighs")
        weight.setPrefix(f"{seat}: ")
        weight.setEnabled(False)
        self.together.toggled.connect(weight.setEnabled)
        return weight

    def _add_build(self, scene: Scene, name: str, units: str) -> None:
        build, price, owned = scene.build(name), scene.price(name), scene.stock.get(name, 0)
        sizes = " x ".join(format_length(m, units=units) for m in (*build.size, build.thickness))
        told = [sizes]
        told += [f"{price:g} each"] if price is not None else []
        told += [f"{owned} owned"] if owned else []
        entry = QListWidgetItem(f"{name}   {', '.join(told)}")
        entry.setData(Qt.ItemDataRole.UserRole, name)
        entry.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsUserCheckable)
        entry.setCheckState(Qt.CheckState.Unchecked)
        self.builds.addItem(entry)

    def _lay_out(self, *, has_pairs: bool, asks_reach: bool) -> None:
        heading = QLabel("Propose panels?")
        heading.setObjectName("heading")
        words = QLabel(WORDS, wordWrap=True)
        form = QFormLayout()
        form.setVerticalSpacing(8)
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.ExpandingFieldsGrow)
        self.builds.setFixedHeight(LIST_PX)
        for field in (self.panels, self.budget, self.margin):
            field.setFixedSize(*FIELD_PX)
        form.addRow("Builds to buy", self.builds)
        form.addRow("At most so many panels", self.panels)
        form.addRow("To spend at most", self.budget)
        form.addRow("", self.spend)
        form.addRow("Below the limit by", self.margin)
        if len(self.seats) > 1:
            form.addRow("For the seats", _in_a_row(self.seats))
            form.addRow("", _in_a_row([self.together, *self.weights]))
        if has_pairs:
            form.addRow("Panels", self.singles)
        form.addRow("Panels alone", self.panels_only)
        form.addRow("May stand elsewhere", _in_a_row([*self.moves.values()]))
        if asks_reach:
            form.addRow("Reflections of, until", _in_a_row([self.order, self.until]))
        form.addRow("What is owned", self.stock)
        form.addRow("Prices", self.prices)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 18)
        layout.setSpacing(14)
        for part in (heading, words):
            layout.addWidget(part)
        layout.addLayout(form)
        answers = self._answers()
        layout.addWidget(answers)
        enter_answers(self, answers)
        self.setFixedWidth(FORM_PX)
        translate_words(self)

    def _answers(self) -> QDialogButtonBox:
        answers = QDialogButtonBox()
        answers.addButton("Propose", QDialogButtonBox.ButtonRole.AcceptRole)
        answers.addButton("Cancel", QDialogButtonBox.ButtonRole.RejectRole)
        answers.accepted.connect(self.accept)
        answers.rejected.connect(self.reject)
        return plain(answers)

    def asked(self) -> Asked:
        """What is asked for as the form stands."""
        entries = [self.builds.item(k) for k in range(self.builds.count())]
        ticked = [entry for entry in entries if entry.checkState() == Qt.CheckState.Checked]
        seats = zip(self._names, self.seats, self.weights, strict=True)
        chosen = [(name, weight.value()) for name, box, weight in seats if box.isChecked()]
        wish = PanelWish(
            most_panels=self.panels.value() or None,
            budget=self.budget.value() if self.budget.value() >= 0.0 else None,
            builds=tuple(entry.data(Qt.ItemDataRole.UserRole) for entry in ticked),
            seats=tuple(name for name, _ in chosen),
            weights=tuple(weight for _, weight in chosen) if self.together.isChecked() else (),
            margin_db=self.margin.value() if self.margin.value() >= 0.0 else None,
            singles=self.singles.isChecked(),
            spend=self.spend.isChecked(),
            panels_only=self.panels_only.isChecked(),
            moves=tuple(name for name, box in self.moves.items() if box.isChecked()),
        )
        order, within_s = self.order.value() or None, self.until.value() / 1e3
        return Asked(wish, self.stock.path, self.prices.path, order, within_s)


class _ListOfFile(QWidget):
    """A workshop list: which file it is, chosen or taken away."""

    def __init__(self, title: str, choose_file: Callable[[str, str], str]) -> None:
        super().__init__()
        self.path: Path | None = None
        self._title, self._choose_file = title, choose_file
        self._name = QLabel(textFormat=Qt.TextFormat.PlainText)
        self._choose = QPushButton("A list …")
        self._drop = QPushButton("Without it")
        self._choose.clicked.connect(self._ask)
        self._drop.clicked.connect(lambda: self.take(None))
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        for part in (self._name, self._choose, self._drop):
            row.addWidget(part)
        row.addStretch(1)
        self.take(None)

    def take(self, path: Path | None) -> None:
        """Take a list, or none."""
        self.path = path
        self._name.setText("as the scene says" if path is None else path.name)
        self._drop.setVisible(path is not None)

    def _ask(self) -> None:
        path = self._choose_file(self._title, _LISTS)
        if path:
            self.take(Path(path))


def _in_a_row(parts: Sequence[QWidget]) -> QHBoxLayout:
    row = QHBoxLayout()
    row.setSpacing(12)
    for part in parts:
        row.addWidget(part)
    row.addStretch(1)
    return row


def _number(low: float, high: float, step: float, none: str, unit: str = "") -> QDoubleSpinBox:
    """A number that says in words what it means while it stands at its lowest."""
    box = QDoubleSpinBox(minimum=low, maximum=high, value=low, singleStep=step, decimals=1, suffix=unit)
    box.setSpecialValueText(none)
    return box
