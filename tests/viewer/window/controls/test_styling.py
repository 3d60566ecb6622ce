"""What the style draws itself can be seen in both themes, and Enter answers every form."""

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLineEdit, QPushButton, QWidget

from raytrace import load_scene
from tests.support.colours import contrast
from tests.support.windows import SCENES, driver
from viewer.window.controls import DRAWINGS, PAGE, REPORT, OutputForm, SoundForm, WishForm
from viewer.window.state import THEMES, SoundFile, Sounds

__all__ = ["driver"]

BOX_PX = 18  # the words stand beyond


@pytest.mark.parametrize("name", THEMES)
def test_the_edge_of_a_box_to_tick_stands_out_from_its_ground(driver, name):
    window = driver.window
    driver.open(driver.copy("box"))
    window.looking.toggle_dark(name == "dark")
    box = window.main.list.over_only
    assert not box.isChecked()
    picture = box.grab().toImage()
    drawn = {picture.pixelColor(x, y).name() for x in range(BOX_PX) for y in range(picture.height())}
    assert max(contrast(own, THEMES[name].paper) for own in drawn) >= 3.0


def forms():
    """Every form of the window that has answers below it, and what makes one."""
    scene = load_scene(SCENES / "treated-box.toml")
    sounds = Sounds((SoundFile(Path("a.wav"), "left", "mix"),))
    yield "wish", lambda: WishForm(scene, "metric", lambda *_: "")
    yield "sounds", lambda: SoundForm(scene, sounds, lambda *_: "")
    for own in (REPORT, DRAWINGS, PAGE):
        made = {"choose_file": lambda *_: "", "ask_wish": lambda: None}
        yield own.command, lambda own=own, made=made: OutputForm(own, "metric", **made)


@pytest.mark.parametrize("make", [pytest.param(make, id=name) for name, make in forms()])
def test_enter_goes_on_wherever_the_cursor_is_and_escape_does_not(qtbot, make):
    form = make()
    qtbot.addWidget(form)
    asked = []
    for kind in (QWidget, QLineEdit, QPushButton):
        form.show()
        fields = [own for own in form.findChildren(kind) if own.focusPolicy() & Qt.FocusPolicy.TabFocus]
        (fields[0] if fields else form).setFocus()
        for button in form.findChildren(QPushButton):
            button.pressed.connect(lambda own=button: asked.append(own.text()))
        qtbot.keyClick(fields[0] if fields else form, Qt.Key.Key_Return)
        assert form.result() == form.DialogCode.Accepted
        assert not form.isVisible()
        assert not any("…" in own and not own.startswith("Write") for own in asked)  # no file is asked for
    form.show()
    qtbot.keyClick(form, Qt.Key.Key_Escape)
    assert form.result() == form.DialogCode.Rejected
