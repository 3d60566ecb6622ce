"""The tape under the room: times, levels and the cursor."""

import pytest

from tests.support.windows import SCENES, driver
from viewer.window.controls.timestrip import FROM_S

__all__ = ["driver"]


def test_a_pixel_and_its_time_are_the_same(driver):
    driver.open(SCENES / "box.toml")
    strip = driver.window.main.strip
    for time_s in (0.0, 0.00412, 0.015, 0.030):
        assert strip.time_of(strip.x_of(time_s)) == pytest.approx(time_s, abs=1e-12)
    assert strip.time_of(-500) == FROM_S
    assert strip.y_of(0) < strip.y_of(-10) < strip.y_of(-30)


def test_a_click_on_the_tape_puts_the_cursor_there_and_arrows_move_it(driver):
    from PySide6.QtCore import Qt

    driver.open(SCENES / "box.toml")
    strip = driver.window.main.strip
    driver.click(strip, (strip.x_of(0.0025), strip.height() - 20))
    assert driver.window.shown.time_s == pytest.approx(0.0025, abs=1e-9)
    driver.qtbot.keyClick(strip, Qt.Key.Key_Right)
    assert driver.window.shown.time_s == pytest.approx(0.0026, abs=1e-9)
    driver.qtbot.keyClick(strip, Qt.Key.Key_Left, Qt.KeyboardModifier.ShiftModifier)
    assert driver.window.shown.time_s == pytest.approx(0.0016, abs=1e-9)


def test_play_runs_from_the_speakers_to_the_end_of_the_tape(driver, monkeypatch):
    monkeypatch.setattr("viewer.window.session.playing.SLOWED", 20.0)
    driver.open(SCENES / "box.toml")
    times = []
    driver.window.player.ticked.connect(times.append)
    driver.window.selecting.play()
    driver.qtbot.waitUntil(lambda: bool(times) and not driver.window.player.is_running, timeout=60_000)
    assert times[0] < 0
    assert times == sorted(times)
    assert times[-1] == driver.window.shown.until_s
