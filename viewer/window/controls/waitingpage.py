"""The window while the first study of a scene is on its way: which room it is, and what takes so long."""

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QProgressBar, QVBoxLayout, QWidget

from raytrace import count_kernels

USUAL_WORDS = "Finding what reaches the seat."
FIRST_WORDS = (
    "Preparing the computation on this machine for the first time. That takes a minute or two, once; "
    "the room opens by itself."
)
LOOK_MS = 500
WIDTH_PX = 560


class WaitingPage(QWidget):
    """Name of the room, why it is not there yet, and that work goes on where that takes long."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.name = QLabel(wordWrap=True, textFormat=Qt.TextFormat.PlainText)
        self.name.setObjectName("heading")
        self.why = QLabel(wordWrap=True)
        self.bar = QProgressBar(minimum=0, maximum=0, textVisible=False)  # busy: nobody knows how long
        self.bar.setAccessibleName("Work goes on")
        self.ready = QLabel()
        self._looks = QTimer(self, interval=LOOK_MS)
        self._looks.timeout.connect(self._count)
        column = QVBoxLayout()
        column.setSpacing(12)
        column.addStretch(1)
        for part in (self.name, self.why, self.bar, self.ready):
            part.setFixedWidth(WIDTH_PX)
            column.addWidget(part)
        column.addStretch(2)
        centred = QHBoxLayout(self)
        centred.addStretch(1)
        centred.addLayout(column)
        centred.addStretch(1)

    def wait_for(self, name: str, *, is_first_run: bool) -> None:
        """Say which room is on its way, and whether this machine has computed none before."""
        self.name.setText(name)
        self.why.setText(FIRST_WORDS if is_first_run else USUAL_WORDS)
        for part in (self.bar, self.ready):
            part.setVisible(is_first_run)  # else it is a matter of moments
        self._count()

    def _count(self) -> None:
        count = count_kernels() if self.ready.isVisibleTo(self) else 0
        self.ready.setText(
            "" if not count else "1 part is ready" if count == 1 else f"{count} parts are ready"
        )

    def showEvent(self, event: QShowEvent) -> None:
        """Count what is ready from now on."""
        super().showEvent(event)
        self._looks.start()

    def hideEvent(self, event: QHideEvent) -> None:
        """Nobody reads it any more."""
        super().hideEvent(event)
        self._looks.stop()
