"""The window without a room: how to start, with the questions of a tape sketch as a form."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLayout,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from raytrace import QUESTIONS, AnswerError, Tape, check_answer, sketch_scene

SHAPES = {
    "box": "four walls, flat ceiling",
    "gable": "attic under a ridge",
    "lean-to": "ceiling that slopes one way",
    "plan": "any floor plan, flat ceiling",
    "section": "any cross-section, carried along the room",
}

TAPES = {
    Tape.METRES: "metres",
    Tape.MILLIMETRES: "millimetres",
    Tape.FEET: "feet, or feet and inches",
}
"""What numbers without a unit are."""

FIELD_PX, LABEL_PX, COLUMN_PX = 280, 480, 860


class StartPage(QWidget):
    """Ways to begin: a file, a scan or floor plan, an example, a few numbers from a tape."""

    file_wanted = Signal()
    scan_wanted = Signal()
    example_wanted = Signal()
    room_sketched = Signal(str)  # text of a scene file

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shape = QComboBox()
        for name, words in SHAPES.items():
            self.shape.addItem(words, name)
        self.tape = QComboBox()
        for tape, words in TAPES.items():
            self.tape.addItem(words, tape.value)
        self.title = QLineEdit("New room")
        for field in (self.title, self.shape, self.tape):
            field.setFixedWidth(FIELD_PX)
        self.title.returnPressed.connect(self.focusNextChild)
        self.fields: dict[str, QLineEdit] = {}
        self.form = QFormLayout()
        self.trouble = QLabel(wordWrap=True)
        self.trouble.setObjectName("trouble")
        self._build()
        self._ask("box")

    def _build(self) -> None:
        heading = QLabel("Which room is it?")
        heading.setObjectName("heading")
        intro = QLabel(
            "Drop a scene file, a scan or a floor plan here, open one, or look at an example.", wordWrap=True
        )
        by_tape = QLabel("Or type what your tape says")
        by_tape.setObjectName("subheading")
        how = QLabel(
            "An empty field takes the length it suggests. Any length may have its unit: 3400 mm, 8 ft, "
            "11' 2\".",
            wordWrap=True,
        )
        self.make = QPushButton("Draw this room")
        self.make.setObjectName("main")
        self.make.clicked.connect(self.sketch)
        self.shape.currentIndexChanged.connect(lambda _: self._ask(self.shape.currentData()))
        self.tape.currentIndexChanged.connect(lambda _: self._suggest())
        column = QVBoxLayout()
        column.setContentsMargins(28, 24, 28, 24)
        column.setSpacing(12)
        column.addStretch(1)
        for widget in (heading, intro):
            column.addWidget(widget)
        column.addLayout(self._ways())
        column.addSpacing(14)
        column.addWidget(by_tape)
        column.addWidget(how)
        column.addLayout(self.form)
        column.addStretch(2)
        self._centre(column)
        self.form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.FieldsStayAtSizeHint)
        self.form.addRow("Name of the room", self.title)
        self.form.addRow("Shape", self.shape)
        self.form.addRow("Numbers without a unit are", self.tape)

    def _ways(self) -> QHBoxLayout:
        """The ways to begin that need no tape."""
        ways = QHBoxLayout()
        for words, wanted in (
            ("Open a scene file …", self.file_wanted),
            ("Scan or floor plan …", self.scan_wanted),
            ("Look at an example room", self.example_wanted),
        ):
            way = QPushButton(words)
            way.clicked.connect(wanted)
            ways.addWidget(way)
        ways.addStretch(1)
        return ways

    def _centre(self, column: QVBoxLayout) -> None:
        """Put a column of a width that can be read into the middle, to be scrolled where it is too high."""
        middle = _centred(column)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setAccessibleName("How to begin")
        scroll.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOn)  # what is below keeps in line
        scroll.setWidget(middle)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(scroll, 1)
        ending = _centred(self._ending())
        ending.setContentsMargins(0, 0, scroll.verticalScrollBar().sizeHint().width(), 0)
        whole.addWidget(ending)

    def _ending(self) -> QHBoxLayout:
        """What goes on with the answers, in sight however long the questions are."""
        ending = QHBoxLayout()
        ending.setContentsMargins(28, 10, 28, 14)
        ending.addWidget(self.make)
        ending.addWidget(self.trouble, 1)
        return ending

    def _ask(self, shape: str) -> None:
        """Put the questions of a shape, keeping what was typed for the same ones."""
        typed = {key: field.text() for key, field in self.fields.items()}
        for field in self.fields.values():
            self.form.removeRow(field)
        self.fields = {}
        for question in QUESTIONS[shape]:
            field = QLineEdit(typed.get(question.key, ""))
            field.setFixedWidth(FIELD_PX)
            field.editingFinished.connect(self._suggest)
            field.returnPressed.connect(lambda own=question.key: self._go_on(own))
            label = QLabel(question.text, wordWrap=True)
            label.setMinimumWidth(LABEL_PX)  # else short ones wrap where the longest does
            label.setBuddy(field)
            self.form.addRow(label, field)
            QWidget.setTabOrder(list(self.fields.values())[-1] if self.fields else self.tape, field)
            QWidget.setTabOrder(field, self.make)
            self.fields[question.key] = field
        self._suggest()

    def _go_on(self, key: str) -> None:
        """Enter, as a laser sends it behind a length, goes to the next answer; behind the last it draws."""
        if key == list(self.fields)[-1]:
            self.sketch()
        else:
            self.focusNextChild()

    def _suggest(self) -> None:
        """Show in each empty field what it would take, given what is typed so far."""
        values: dict[str, object] = {}
        self._blame("", "")
        tape = Tape(self.tape.currentData())
        for question in QUESTIONS[self.shape.currentData()]:
            field = self.fields[question.key]
            try:
                suggestion = question.suggestion(values, tape)
                example = question.example_by(tape)
                # What answers hold in which order is seen best in one of them.
                field.setPlaceholderText(f"{suggestion}, or {example}" if "," in example else suggestion)
                field.setToolTip(f"for example {example}")
                values[question.key] = question.read(_answer(field.text()) or suggestion, tape)
                check_answer(question.key, values, tape)
            except (ValueError, KeyError) as problem:
                if field.text():
                    self._blame(question.key, str(problem))
                return

    def _blame(self, key: str, why: str) -> None:
        """Say what is wrong with an answer and outline its field; nothing is with a key that is ""."""
        words = next((q.text for q in QUESTIONS[self.shape.currentData()] if q.key == key), key)
        # Examples come as a scene file has them, where a quote is written with a stroke before it.
        self.trouble.setText(f"{words}: {why}".replace('\\"', '"') if key else "")
        for name, field in self.fields.items():
            field.setProperty("wrong", name == key)
            field.style().polish(field)

    def sketch(self) -> None:
        """Turn the answers into a scene, or say what does not fit."""
        answers = {key: _answer(field.text()) for key, field in self.fields.items() if field.text().strip()}
        shape, tape = self.shape.currentData(), Tape(self.tape.currentData())
        try:
            text = sketch_scene(shape, answers, title=self.title.text() or "New room", tape=tape)
        except AnswerError as problem:
            self._blame(problem.key, problem.why)
            if problem.key in self.fields:
                self.fields[problem.key].setFocus()
            return
        self._blame("", "")
        self.room_sketched.emit(text)


def _centred(content: QLayout) -> QWidget:
    """Content in the middle of a line, no wider than can be read."""
    page, middle = QWidget(), QWidget()
    page.setLayout(content)
    page.setMaximumWidth(COLUMN_PX)
    line = QHBoxLayout(middle)
    line.setContentsMargins(0, 0, 0, 0)
    line.addStretch(1)
    line.addWidget(page, 20)
    line.addStretch(1)
    return middle


def _answer(text: str) -> str:
    return text.strip()
