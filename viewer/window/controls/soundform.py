"""Of which speaker and seat sound files are, as a form: what their names do not say is asked."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import (
    QComboBox,
    QDialogButtonBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from raytrace import Scene
from viewer.window.controls.styling import FormDialog, enter_answers
from viewer.window.state import SoundFile, Sounds

HEADS = ("File", "Speaker", "Seat", "Measured", "Channel")
WHEN = ("as the room is", "before the work")
SOUND_FILES = "Sound files (*.wav *.flac)"
NO_SWEEP = "none: the files are impulse responses"
WORDS = "One speaker at a time. What a file's name does not tell is asked here."
_NAME_PX = 260
_MOST_CHANNELS = 64


class SoundForm(FormDialog):
    """A line for each sound file.

    Parameters
    ----------
    scene : Scene
        Whose speakers and seats there are.
    sounds : Sounds
        What is known of them.
    choose_file : callable
        Asks for a file by a title and a kind; "" for none.
    """

    def __init__(
        self,
        scene: Scene,
        sounds: Sounds,
        choose_file: Callable[[str, str], str],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("hitspot")
        self._files, self._sweep, self._choose_file = sounds.files, sounds.sweep, choose_file
        speakers, seats = ([entry.name for entry in own] for own in (scene.speakers, scene.seats))
        self.lines = [_Line(file, speakers, seats) for file in sounds.files]
        self.sweep = QPushButton()
        self.sweep.clicked.connect(lambda _: self._ask_sweep())
        self._lay_out()
        self._show_sweep()

    def _lay_out(self) -> None:
        heading, words = QLabel("What was measured?"), QLabel(WORDS, wordWrap=True)
        heading.setObjectName("heading")
        grid = QGridLayout()
        grid.setHorizontalSpacing(12)
        for column, head in enumerate(HEADS):
            grid.addWidget(QLabel(head), 0, column)
        for row, line in enumerate(self.lines, 1):
            for column, part in enumerate(line.parts):
                grid.addWidget(part, row, column)
        swept = QHBoxLayout()
        swept.addWidget(QLabel("The sweep that was played:"))
        swept.addWidget(self.sweep)
        swept.addStretch(1)
        answers = QDialogButtonBox()
        for name, role in (("Compare", "AcceptRole"), ("Cancel", "RejectRole")):
            answers.addButton(name, getattr(QDialogButtonBox.ButtonRole, role)).setIcon(QIcon())
        answers.accepted.connect(self.accept)
        answers.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 18)
        layout.setSpacing(14)
        for part in (heading, words):
            layout.addWidget(part)
        layout.addLayout(grid)
        layout.addLayout(swept)
        layout.addWidget(answers)
        enter_answers(self, answers)

    def _ask_sweep(self) -> None:
        path = self._choose_file("The sweep that was played", SOUND_FILES)
        self._sweep = Path(path) if path else None
        self._show_sweep()

    def _show_sweep(self) -> None:
        self.sweep.setText(NO_SWEEP if self._sweep is None else self._sweep.name.replace("&", "&&"))

    def asked(self) -> Sounds:
        """What is told of each file."""
        return Sounds(tuple(line.told() for line in self.lines), self._sweep)


class _Line:
    """One file with its answers."""

    def __init__(self, file: SoundFile, speakers: Sequence[str], seats: Sequence[str]) -> None:
        self._file = file
        self.speaker, self.seat, self.when = QComboBox(), QComboBox(), QComboBox()
        self.speaker.addItems(list(speakers))
        self.seat.addItems(list(seats))
        self.when.addItems(list(WHEN))
        self.channel = QSpinBox(minimum=0, maximum=_MOST_CHANNELS)
        self.channel.setSpecialValueText("the only one")
        self.speaker.setCurrentText(file.speaker or "")
        self.seat.setCurrentText(file.seat or "")
        self.when.setCurrentIndex(int(file.is_before))
        self.channel.setValue(file.channel or 0)
        name = QLabel(textFormat=Qt.TextFormat.PlainText)
        name.setText(name.fontMetrics().elidedText(file.path.name, Qt.TextElideMode.ElideMiddle, _NAME_PX))
        name.setToolTip(str(file.path))
        self.parts: tuple[QWidget, ...] = (name, self.speaker, self.seat, self.when, self.channel)
        for part, head in zip(self.parts[1:], HEADS[1:], strict=True):
            part.setAccessibleName(f"{head} of {file.path.name}")

    def told(self) -> SoundFile:
        return replace(
            self._file,
            speaker=self.speaker.currentText(),
            seat=self.seat.currentText(),
            is_before=self.when.currentIndex() == 1,
            channel=self.channel.value() or None,
        )
