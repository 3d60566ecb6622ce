"""The window while a room is on its way: its name, what takes long, and what happens if it does not come."""

import pytest
from PySide6.QtCore import Qt

from raytrace import count_kernels, load_scene
from tests.support.windows import SCENES, driver
from viewer.window.controls.waitingpage import FIRST_WORDS, USUAL_WORDS, WaitingPage

__all__ = ["driver"]


@pytest.mark.parametrize(("cold", "words"), [(True, FIRST_WORDS), (False, USUAL_WORDS)])
def test_a_room_on_its_way_is_named_and_opens_by_itself(driver, monkeypatch, cold, words):
    monkeypatch.setattr("viewer.window.session.session.is_cold", lambda: cold)
    main = driver.window.main
    assert main.pages.currentWidget() is main.start
    driver.window.filing.open(SCENES / "box.toml")
    assert main.pages.currentWidget() is main.waiting
    assert main.waiting.name.text() == load_scene(SCENES / "box.toml").title
    assert main.waiting.why.text() == words
    assert main.waiting.bar.isVisible() == main.waiting.ready.isVisible() == cold
    driver.rest()
    assert main.pages.currentWidget() is main.across


def test_a_room_that_takes_the_place_of_another_leaves_that_in_view_until_it_comes(driver):
    driver.open(SCENES / "box.toml")
    main = driver.window.main
    driver.window.filing.open(SCENES / "garage.toml")
    assert main.pages.currentWidget() is main.across
    driver.rest()


def test_a_room_that_does_not_come_leads_back_to_the_start(driver, monkeypatch):
    def fails(*_args, **_options):
        raise RuntimeError("no such room")

    monkeypatch.setattr("viewer.window.session.session.Follower.ears", fails)
    main = driver.window.main
    driver.window.filing.open(SCENES / "box.toml")
    driver.qtbot.waitUntil(lambda: bool(driver.asked), timeout=20_000)
    assert "no such room" in driver.asked[-1][1]
    assert main.pages.currentWidget() is main.start


def test_parts_are_counted_as_they_become_ready(qtbot, tmp_path, monkeypatch):
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    page = WaitingPage()
    qtbot.addWidget(page)
    page.wait_for("attic <b>", is_first_run=True)
    page.show()
    assert page.name.textFormat() == Qt.TextFormat.PlainText  # a title is no markup
    assert (count_kernels(), page.ready.text()) == (0, "")
    for count, words in ((1, "1 part is ready"), (2, "2 parts are ready")):
        (tmp_path / f"kernel-{count}.nbi").touch()
        qtbot.waitUntil(lambda words=words: page.ready.text() == words, timeout=10_000)
        assert count_kernels() == count
