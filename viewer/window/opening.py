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
    application, bench = make_window(path)
    bench.main.show()
    if path is None:
        bench.filing.offer_unnamed()
    elif not bench.session.is_open:
        bench.filing.open(path)
    return int(application.exec())


def make_window(path: Path | None) -> "tuple[QApplication, Workbench]":
    """The application and its workbench, the window not shown yet.

    The worker begins with the scene while the libraries that draw are still loading.
    """
    from PySide6.QtCore import QLocale, Qt
    from PySide6.QtWidgets import QApplication

    if not os.environ.get("DISPLAY"):
        from viewer.pictures import prefer_off_screen_window

        prefer_off_screen_window()
    QApplication.setHighDpiScaleFactorRoundingPolicy(Qt.HighDpiScaleFactorRoundingPolicy.PassThrough)
    application = QApplication(sys.argv[:1])
    application.setApplicationName("hitspot")
    application.setStyle("Fusion")
    from viewer.window.controls import load_language
    from viewer.window.session import Session, find_recovery, open_draft

    load_language(QLocale())
    session = Session()
    # What a crash left has to be asked about first, and that takes a window.
    if path is not None and find_recovery(path) is None:
        session.open(open_draft(path))
    from viewer.window.workbench import Workbench

    bench = Workbench(session=session)
    if path is not None:
        bench.questions.folder = path.resolve().parent
    return application, bench
