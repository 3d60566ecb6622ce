from dataclasses import fields
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialogButtonBox, QPushButton, QWidget

from raytrace import PanelWish, load_scene
from tests.support.windows import SCENES
from viewer.window.controls import Asked, OutputForm, WishForm, stylesheet
from viewer.window.controls.outputform import DRAWINGS, PAGE, REPORT
from viewer.window.state import THEMES

ROOM = SCENES / "treated-box.toml"


@pytest.fixture
def form(qtbot):
    made = WishForm(load_scene(ROOM), "metric", lambda *_: "lists/owned.toml")
    qtbot.addWidget(made)
    return made


def entries(form):
    return {
        form.builds.item(k).data(Qt.ItemDataRole.UserRole): form.builds.item(k)
        for k in range(form.builds.count())
    }


def test_an_untouched_form_asks_for_a_usual_proposal(form):
    # The first seat is ticked, and is what counts when none is named.
    assert form.asked() == Asked(PanelWish(seats=("mix",)))


def test_each_part_of_a_wish_can_be_asked_for(form):
    entries(form)["wool 100"].setCheckState(Qt.CheckState.Checked)
    form.panels.setValue(6)
    form.budget.setValue(0.0)
    form.margin.setValue(1.5)
    form.singles.setChecked(True)
    form.together.setChecked(True)
    form.moves["desk"].setChecked(True)
    form.spend.setChecked(True)
    form.panels_only.setChecked(True)
    form.weights[0].setValue(3.0)
    form.order.setValue(5)
    form.until.setValue(20.0)
    form.stock.findChild(QPushButton).click()
    wish = PanelWish(
        6,
        0.0,
        ("wool 100",),
        ("mix",),
        (3.0,),
        1.5,
        singles=True,
        spend=True,
        moves=("desk",),
        panels_only=True,
    )
    assert form.asked() == Asked(wish, Path("lists/owned.toml"), up_to_order=5, within_s=0.020)
    untouched = PanelWish()
    assert all(getattr(wish, f.name) != getattr(untouched, f.name) for f in fields(PanelWish))


def test_builds_tell_their_price_and_what_is_owned(form):
    texts = {name: entry.text() for name, entry in entries(form).items()}
    assert "95 each" in texts["wool 100"]
    assert "2 owned" in texts["wool 50"]
    assert "each" not in texts["wool 50"]
    assert "1200 mm x 600 mm x 30 mm" in texts["wool 30"]


def test_a_list_that_was_chosen_can_be_left_out_again(form):
    choose, drop = form.prices.findChildren(QPushButton)
    choose.click()
    assert form.asked().prices == Path("lists/owned.toml")
    drop.click()
    assert form.asked().prices is None


def test_without_an_axis_there_are_no_pairs_to_part(qtbot):
    scene = load_scene(ROOM)
    aside = scene.seats[0].model_copy(update={"ears": (1.79, 1.70, 1.20)})
    form = WishForm(scene.model_copy(update={"seats": (aside,)}), "metric", lambda *_: "")
    qtbot.addWidget(form)
    form.show()
    assert not form.singles.isVisible()


def test_propose_takes_the_form_and_cancel_does_not(form):
    propose, cancel = form.findChild(QDialogButtonBox).buttons()
    for button, result in ((propose, True), (cancel, False)):
        form.show()
        button.click()
        assert bool(form.result()) is result


@pytest.mark.parametrize("which", ["box", "classroom", REPORT, DRAWINGS, PAGE])
def test_no_field_of_a_form_lies_over_another_and_none_is_cut_off(qtbot, which):
    parent = QWidget()
    parent.setStyleSheet(stylesheet(THEMES["light"]))
    qtbot.addWidget(parent)
    if isinstance(which, str):
        scene = load_scene(SCENES / f"{which}.toml")
        form = WishForm(scene, "metric", lambda *_: "", parent=parent)
    else:
        form = OutputForm(which, "metric", choose_file=lambda *_: "", ask_wish=lambda: None, parent=parent)
    form.show()
    qtbot.waitExposed(form)
    own = [child for child in form.children() if isinstance(child, QWidget) and child.isVisible()]
    assert len(own) > 8
    for k, child in enumerate(own):
        assert form.rect().contains(child.geometry())
        assert child.height() >= child.minimumSizeHint().height()
        assert not [other for other in own[:k] if other.geometry().intersects(child.geometry())]
    assert form.height() < 768  # of a screen of 1280 x 800
