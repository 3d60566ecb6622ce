"""Every fixed word of the window, for translators: `python -m tests.support.phrases > hitspot.de.ts`."""

import sys
from html import escape

from PySide6.QtCore import QCoreApplication, QSettings, QTranslator
from PySide6.QtWidgets import QApplication

CONTEXT = "hitspot"


class Listener(QTranslator):
    """Hears every phrase that is asked for, and answers with it between marks."""

    def __init__(self, parent=None):
        super().__init__(parent)
        self.heard = []

    def translate(self, context, words, _disambiguation=None, _n=-1):
        if context != CONTEXT:
            return ""
        self.heard.append(words)
        return f"«{words}»"

    def isEmpty(self):
        return False


def ts_text(phrases, language="de"):
    """What Qt's tools for translators read: each phrase with its translation, none yet where it is ""."""
    rows = [
        f"<message><source>{escape(words)}</source><translation>{escape(told)}</translation></message>"
        if told
        else f'<message><source>{escape(words)}</source><translation type="unfinished"/></message>'
        for words, told in phrases.items()
    ]
    head = f'<?xml version="1.0" encoding="utf-8"?>\n<!DOCTYPE TS>\n<TS version="2.1" language="{language}">'
    return "\n".join([head, f"<context><name>{CONTEXT}</name>", *rows, "</context></TS>\n"])


def main():
    """Print the phrases of the window and its forms."""
    application = QApplication.instance() or QApplication([])
    listener = Listener(application)
    QCoreApplication.installTranslator(listener)
    from raytrace import load_scene
    from tests.support.windows import SCENES
    from viewer.window.controls import DRAWINGS, PAGE, REPORT, OutputForm, WishForm
    from viewer.window.workbench import Workbench

    bench = Workbench(QSettings("nowhere.ini", QSettings.Format.IniFormat))
    scene = load_scene(SCENES / "treated-box.toml")
    WishForm(scene, "metric", lambda *_: "")
    for output in (REPORT, DRAWINGS, PAGE):
        OutputForm(output, "metric", choose_file=lambda *_: "", ask_wish=lambda: None)
    sys.stdout.write(ts_text(dict.fromkeys(dict.fromkeys(listener.heard), "")))
    bench.session.close()


if __name__ == "__main__":
    main()
