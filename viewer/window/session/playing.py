"""Time made visible: the cursor runs slowly along the tape and the sound through the room with it."""

from PySide6.QtCore import QElapsedTimer, QObject, QTimer, Signal

from viewer.window.state import OnScreen

SLOWED = 400.0  # one millisecond of sound takes 0.4 s
TICK_MS = 33


class Player(QObject):
    """Moves the time cursor from the moment the sound leaves the speakers to the end of the tape."""

    ticked = Signal(object)  # seconds after the direct sound

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._timer = QTimer(self, interval=TICK_MS)
        self._timer.timeout.connect(self._tick)
        self._clock = QElapsedTimer()
        self._from_s = 0.0
        self._until_s = 0.0

    @property
    def is_running(self) -> bool:
        """Whether the cursor moves by itself."""
        return self._timer.isActive()

    def toggle(self, shown: OnScreen) -> None:
        """Start from the cursor, or from the speakers where there is none; or stop."""
        if self.is_running:
            self.stop()
            return
        self._until_s = shown.until_s
        start_s = -float(shown.study.arrivals.direct.delay_s.max())
        at_end = shown.time_s is None or shown.time_s >= shown.until_s - 1e-4
        self._from_s = start_s if at_end or shown.time_s is None else shown.time_s
        self._clock.start()
        self._timer.start()

    def stop(self) -> None:
        """Leave the cursor where it is."""
        self._timer.stop()

    def _tick(self) -> None:
        time_s = self._from_s + self._clock.elapsed() / 1e3 / SLOWED
        if time_s >= self._until_s:
            self.stop()
        self.ticked.emit(min(time_s, self._until_s))
