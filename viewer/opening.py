"""`hitspot view`: from the command line to the open window, the first picture as soon as can be."""

import sys
from pathlib import Path


def open_window(path: Path | None) -> int:
    """Open the window, with a scene file if one is named; returns when it is closed."""
    from PySide6.QtCore import Qt
    from PySide6.QtWidgets import QApplication

    QApplication.setHighDpiScaleFactorRoundingPolicy(Qt.HighDpiScaleFactorRoundingPolicy.PassThrough)
    application = QApplication(sys.argv[:1])
    application.setApplicationName("hitspot")
    application.setStyle("Fusion")
    from viewer.window import Window

    window = Window()
    window.show()
    if path is not None:
        window.open(path)
    return application.exec()
