"""`hitspot view`: from the command line to the open window, the first picture as soon as can be."""

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PySide6.QtWidgets import QApplication

    from viewer.window.workbench import Workbench


def open_window(path: Path | None) -> int:
    """Open the window, with a scene file if one is named; returns when it is closed."""
    application, window = make_window(path)
    window.show()
    if path is None:
        window.offer_unnamed()
    elif window.session.history is None:
        window.open(path)
    return int(application.exec())


def make_window(path: Path | None) -> "tuple[QApplication, Workbench]":
    """The application and its window, not shown yet.

    The worker begins with the scene while the libraries that draw are still loading.
    """
    from PySide6.QtCore import Qt
    from PySide6.QtWidgets import QApplication

    if not os.environ.get("DISPLAY"):
        from viewer.pictures import prefer_off_screen_window

        prefer_off_screen_window()
    QApplication.setHighDpiScaleFactorRoundingPolicy(Qt.HighDpiScaleFactorRoundingPolicy.PassThrough)
    application = QApplication(sys.argv[:1])
    application.setApplicationName("hitspot")
    application.setStyle("Fusion")
    from viewer.window.session import Session, find_recovery, open_draft

    session = Session()
    # What a crash left has to be asked about first, and that takes a window.
    if path is not None and find_recovery(path) is None:
        session.open(open_draft(path))
    from viewer.window.workbench import Workbench

    window = Workbench(session=session)
    if path is not None:
        window.folder = path.resolve().parent
    return application, window
