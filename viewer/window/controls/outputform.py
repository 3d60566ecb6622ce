"""What is to be written of a scene, as a form: the options of the commands that write, and their words."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDialogButtonBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from viewer.window.controls.language import translate_words
from viewer.window.controls.styling import FormDialog, enter_answers, plain
from viewer.window.controls.wishform import Asked

Kind = Literal["switch", "one of", "some of", "typed", "several", "file"]
FORM_PX = 660
SCENES, LISTS, SOUNDS = "Scene files (*.toml)", "Lists (*.toml)", "Sound files (*.wav *.flac)"


@dataclass(frozen=True)
class Option:
    """One option of a command.

    Attributes
    ----------
    flag : str
        As it stands on the command line.
    label : str
    kind : Kind
    choices : tuple of str
        Of one or some of them; of a typed one or a file what stands for it, or which files.
    hint : str
        What is so where it is left as it is.
    """

    flag: str
    label: str
    kind: Kind
    choices: tuple[str, ...] = ()
    hint: str = ""


@dataclass(frozen=True)
class Output:
    """A command that writes: what it is called, what it does, where to, its options."""

    command: str
    title: str
    words: str
    place: str
    kinds: str
    options: tuple[Option, ...]


_EXTENT = (
    Option("--order", "Bounces at most", "typed", hint="4, and as many as the limit's time takes"),
    Option("--until", "Up to, in ms", "typed", hint="30"),
)
_UNITS = Option("--units", "Units", "one of", ("metric", "imperial"))
_LISTS = (
    Option("--stock", "What is owned", "file", (LISTS,), "as the scene says"),
    Option("--prices", "Prices", "file", (LISTS,), "as the scene says"),
)
_SOUNDS = (
    Option("--measured", "What was measured", "several", hint="left=left.wav; right=right.wav"),
    Option(
        "--after", "The same after treatment", "several", hint="left=left-after.wav; right=right-after.wav"
    ),
    Option(
        "--sweep", "The sweep that was played", "file", (SOUNDS,), "none: the files are impulse responses"
    ),
)
_MEASURED = (
    *_SOUNDS,
    Option("--against", "The room before treatment", "file", (SCENES,), "the room without its panels"),
)
_REPLACE = Option("--replace", "Replace what was made of another scene", "switch")
_BASS = Option("--bass", "With the bass, which takes long in large rooms", "switch")
REPORT = Output(
    "report",
    "Report for client and installer",
    "Documents for each reader, pictures, sheets, tables and the page for a browser, in one folder. That "
    "takes up to some minutes; the room can be worked on meanwhile.",
    "report",
    "",
    (
        Option("--for", "Only for", "some of", ("client", "installer", "workshop", "details")),
        Option("--propose", "Propose panels first, and report on the room with them", "switch"),
        _BASS,
        Option("--size", "Size of pictures", "typed", hint="2400x1600"),
        *_EXTENT,
        _UNITS,
        *_LISTS,
        *_MEASURED,
        _REPLACE,
    ),
)
DRAWINGS = Output(
    "drawings",
    "Drawings to scale for the installer",
    "Ceiling plan, treated surfaces and floor plan with hooks, cords and loads: PDF, SVG, DXF in one folder.",
    "drawings",
    "",
    (
        Option("--paper", "Paper", "one of", ("A4", "A3", "Letter", "Tabloid")),
        _UNITS,
        *_LISTS,
        _REPLACE,
    ),
)
PAGE = Output(
    "page",
    "Page for a browser",
    "The room as one file that opens in any browser, offline: turn it, point at a path, read it.",
    ".html",
    "Pages (*.html)",
    (
        Option("--against", "To switch to and fro", "file", (SCENES,), "the room without its panels"),
        _BASS,
        *_EXTENT,
        _UNITS,
        *_SOUNDS,
        _REPLACE,
    ),
)


class OutputForm(FormDialog):
    """A form of an `Output`; what is left as it is is left to the command.

    Parameters
    ----------
    output : Output
    units : str
        Those of the window, which are proposed.
    choose_file : callable
        Asks for a file by a title and a kind; "" for none.
    ask_wish : callable
        Asks which panels are to be proposed; None for a usual proposal.
    """

    def __init__(
        self,
        output: Output,
        units: str,
        *,
        choose_file: Callable[[str, str], str],
        ask_wish: Callable[[], Asked | None],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("hitspot")
        self._ask_wish = ask_wish
        self.wish: Asked | None = None
        self.which = QPushButton("Which panels …")
        self.fields = {own.flag: _field(own, units, choose_file) for own in output.options}
        heading = QLabel(output.title)
        heading.setObjectName("heading")
        form = QFormLayout()
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.ExpandingFieldsGrow)
        for own in output.options:
            form.addRow("" if own.kind == "switch" else own.label, self.fields[own.flag])
            if own.flag == "--propose":
                form.addRow("", self._wish_row())
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 18)
        layout.setSpacing(14)
        layout.addWidget(heading)
        layout.addWidget(QLabel(output.words, wordWrap=True))
        layout.addLayout(form)
        answers = self._answers()
        layout.addWidget(answers)
        enter_answers(self, answers)
        self.setFixedWidth(FORM_PX)
        translate_words(self)

    def _wish_row(self) -> QPushButton:
        """The way to say which panels, there while any are to be proposed."""
        switch = self.fields["--propose"]
        self.which.setEnabled(False)
        switch.changed.connect(lambda: self.which.setEnabled(bool(switch.told())))
        self.which.clicked.connect(lambda _: self._take_wish())
        return self.which

    def _take_wish(self) -> None:
        self.wish = self._ask_wish() or self.wish

    def _answers(self) -> QDialogButtonBox:
        answers = QDialogButtonBox()
        answers.addButton("Write …", QDialogButtonBox.ButtonRole.AcceptRole)
        answers.addButton("Cancel", QDialogButtonBox.ButtonRole.RejectRole)
        answers.accepted.connect(self.accept)
        answers.rejected.connect(self.reject)
        return plain(answers)

    def asked(self) -> list[str]:
        """The options as they stand on a command line."""
        told = [word for field in self.fields.values() for word in field.told()]
        return told + (wish_words(self.wish) if self.wish is not None and "--propose" in told else [])


def wish_words(asked: Asked) -> list[str]:
    """A wish for panels as options of a command line."""
    wish = asked.wish
    amounts: dict[str, object] = {
        "--panels": wish.most_panels,
        "--budget": wish.budget,
        "--margin": wish.margin_db,
    }
    if wish.spend and wish.budget is not None:
        amounts["--spend"] = amounts.pop("--budget")
    elif wish.spend and wish.most_panels is not None:
        amounts["--spend"] = f"{amounts.pop('--panels')} panels"
    amounts |= {"--stock": asked.stock, "--prices": asked.prices}
    amounts["--moves"] = ",".join(wish.moves) or None
    words = [word for flag, value in amounts.items() if value is not None for word in (flag, f"{value}")]
    seats = zip(wish.seats, wish.weights or (None,) * len(wish.seats), strict=True)
    for seat, weight in seats:
        words += ["--seat", seat if weight is None else f"{seat}={weight:g}"]
    for build in wish.builds:
        words += ["--build", build]
    return [
        *words,
        *(["--singles"] if wish.singles else []),
        *(["--panels-only"] if wish.panels_only else []),
    ]


class _Field(QWidget):
    """What is asked for with one option."""

    changed = Signal()

    def __init__(self, own: Option) -> None:
        super().__init__()
        self.option = own
        self.row = QHBoxLayout(self)
        self.row.setContentsMargins(0, 0, 0, 0)

    def told(self) -> list[str]:
        """The option as it stands on a command line; empty where it is left as it is."""
        raise NotImplementedError


class _Switch(_Field):
    def __init__(self, own: Option) -> None:
        super().__init__(own)
        self.box = QCheckBox(own.label)
        self.row.addWidget(self.box)
        self.box.toggled.connect(lambda _: self.changed.emit())

    def told(self) -> list[str]:
        return [self.option.flag] if self.box.isChecked() else []


class _OneOf(_Field):
    def __init__(self, own: Option, chosen: str) -> None:
        super().__init__(own)
        self.box = QComboBox()
        self.box.addItems(["as the scene says", *own.choices])
        self.box.setCurrentText(chosen)
        self.box.setAccessibleName(own.label)
        self.row.addWidget(self.box)
        self.row.addStretch(1)

    def told(self) -> list[str]:
        at = self.box.currentIndex()
        return [self.option.flag, self.option.choices[at - 1]] if at > 0 else []


class _SomeOf(_Field):
    def __init__(self, own: Option) -> None:
        super().__init__(own)
        self.boxes = [QCheckBox(choice) for choice in own.choices]
        for box in self.boxes:
            self.row.addWidget(box)
        self.row.addStretch(1)

    def told(self) -> list[str]:
        both = zip(self.option.choices, self.boxes, strict=True)
        return [word for own, box in both if box.isChecked() for word in (self.option.flag, own)]


class _Typed(_Field):
    def __init__(self, own: Option) -> None:
        super().__init__(own)
        self.line = QLineEdit(placeholderText=own.hint)
        self.line.setAccessibleName(own.label)
        self.row.addWidget(self.line)

    def told(self) -> list[str]:
        text = self.line.text().strip()
        return [f"{self.option.flag}={text}"] if text else []


class _Several(_Typed):
    """A line for an option that is given again for each."""

    def told(self) -> list[str]:
        return [f"{self.option.flag}={own.strip()}" for own in self.line.text().split(";") if own.strip()]


class _File(_Field):
    def __init__(self, own: Option, choose_file: Callable[[str, str], str]) -> None:
        super().__init__(own)
        self.line = QLineEdit(placeholderText=own.hint)
        self.line.setAccessibleName(own.label)
        self.row.addWidget(self.line)
        self.choose = QPushButton("Choose …")
        self.choose.clicked.connect(lambda _: self._take(choose_file))
        self.row.addWidget(self.choose)

    def _take(self, choose_file: Callable[[str, str], str]) -> None:
        path = choose_file(self.option.label, self.option.choices[0])
        if path:
            self.line.setText(path)

    def told(self) -> list[str]:
        text = self.line.text().strip()
        return [self.option.flag, text] if text else []


def _field(own: Option, units: str, choose_file: Callable[[str, str], str]) -> _Field:
    if own.kind == "switch":
        return _Switch(own)
    if own.kind == "one of":
        return _OneOf(own, units if own.flag == "--units" else "")
    if own.kind == "some of":
        return _SomeOf(own)
    if own.kind == "several":
        return _Several(own)
    return _Typed(own) if own.kind == "typed" else _File(own, choose_file)
