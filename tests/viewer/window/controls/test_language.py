"""Fixed words of the window in another language: all go through Qt's translators, and a file is taken."""

import subprocess
import sys
from pathlib import Path

import pytest
from PySide6.QtCore import QCoreApplication, QLocale, QObject, QTranslator
from PySide6.QtWidgets import QAbstractSpinBox, QLineEdit

from raytrace import load_scene
from tests.support.phrases import Listener, ts_text
from tests.support.windows import SCENES, driver
from viewer.window.controls import (
    DRAWINGS,
    PAGE,
    REPORT,
    OutputForm,
    WishForm,
    in_own_language,
    keys_html,
    load_language,
)

__all__ = ["driver"]


@pytest.fixture
def marked(qapp):
    listener = Listener(qapp)
    QCoreApplication.installTranslator(listener)
    yield listener
    QCoreApplication.removeTranslator(listener)


def unmarked(root):
    """Fixed words of a widget, and of what is in it, that no translator was asked for."""
    names = ("text", "title", "toolTip", "accessibleName", "placeholderText", "specialValueText")
    found = set()
    for own in (root, *root.findChildren(QObject)):
        is_field = isinstance(own, QLineEdit | QAbstractSpinBox)
        for name in names:
            words = own.property(name)
            is_word = isinstance(words, str) and any(sign.isalpha() for sign in words)
            if is_word and not words.startswith("«") and not (is_field and name == "text"):
                found.add(words)
    return found


def test_all_words_that_stand_in_the_window_at_first_are_asked_for(marked, driver):
    # Qt's own: what scrolls pages of buttons, and texts of tool tips made from translated ones.
    assert unmarked(driver.window.main) <= {"qt_spinbox_lineedit"}
    assert "Cut the room open" in marked.heard
    assert "«Undo»" in keys_html()


@pytest.mark.usefixtures("marked")
def test_all_words_of_the_forms_are_asked_for_and_answers_stay_what_they_are(qtbot):
    scene = load_scene(SCENES / "treated-box.toml")
    wish = WishForm(scene, "metric", lambda *_: "")
    outputs = [
        OutputForm(own, "metric", choose_file=lambda *_: "", ask_wish=lambda: None)
        for own in (REPORT, DRAWINGS, PAGE)
    ]
    for form in (wish, *outputs):
        qtbot.addWidget(form)
        assert unmarked(form) == set()
    assert wish.asked().wish.seats == ("mix",)
    assert [word for form in outputs for word in form.asked() if "«" in word] == []


def test_a_file_of_phrases_is_spoken_where_it_is_the_readers_language(qapp, tmp_path):
    source = tmp_path / "hitspot.de.ts"
    source.write_text(ts_text({"Undo": "Rückgängig", "Redo": ""}), "utf-8")
    tool = Path(sys.executable).parent / "pyside6-lrelease"
    subprocess.run([tool, source, "-qm", source.with_suffix(".qm")], check=True, capture_output=True)
    assert not load_language(QLocale("en_GB"), tmp_path)
    assert load_language(QLocale("de_AT"), tmp_path)
    try:
        assert in_own_language("Undo") == "Rückgängig"
        assert in_own_language("Redo") == "Redo"
    finally:
        for own in qapp.findChildren(QTranslator):
            QCoreApplication.removeTranslator(own)
