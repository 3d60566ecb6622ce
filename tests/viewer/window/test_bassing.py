"""The bass in the window: asked for, followed under the hand, mode by mode."""

import time

import numpy as np
from PySide6.QtCore import QEvent

from tests.support.pixels import pixel_of_thing
from tests.support.windows import SCENES, WAIT_MS, driver
from viewer.pictures import loops_of
from viewer.window.scenery import bass_floor, bass_shape, find_names

__all__ = ["driver"]


def with_bass(driver, scene):
    driver.open(scene)
    driver.window.bassing.toggle(True)
    driver.qtbot.waitUntil(lambda: driver.window.shown.bass is not None, timeout=WAIT_MS)
    return driver.window.shown


def test_sub_and_seat_are_dragged_over_the_map_with_the_curve_following(driver):
    shown = with_bass(driver, driver.copy("garage"))
    window = driver.window
    assert window.main.strips.currentWidget() is window.main.bass
    assert bass_floor(shown)["bass floor"].mesh.n_cells > 0
    window.looking.view("plan")
    driver.qtbot.wait(50)
    for thing in (("speakers", 2), ("seats", 0)):
        before = window.shown.bass_now
        driver.drag(pixel_of_thing(window, thing), (14, 40), release=False)
        driver.qtbot.waitUntil(lambda before=before: window.shown.bass_now is not before, timeout=WAIT_MS)
        held = window.shown
        assert np.abs(held.bass_now.level_db - before.level_db).max() > 0.5  # it is another place
        driver.send(driver.surface, QEvent.Type.MouseButtonRelease, (10, 10))
        driver.qtbot.waitUntil(lambda held=held: window.shown.bass is not held.bass, timeout=WAIT_MS)
        # From either end, or found anew: the same to rounding.
        assert np.allclose(window.shown.bass_now.level_db, window.shown.bass.now.level_db, atol=1e-6)
    driver.rest()
    window.editing.toggle_before(True)
    assert window.shown.bass is None
    assert "as it stands" in window.shown.bass_says
    window.editing.toggle_before(False)
    assert window.shown.bass is not None


def test_modes_are_chosen_under_the_curve_and_told_apart_without_colour(driver):
    shown = with_bass(driver, SCENES / "garage.toml")
    strip = driver.window.main.bass
    driver.qtbot.wait(20)
    lowest_mode = strip.x_of(shown.bass.modes_hz[0]), strip.box_of_modes.center().y()
    driver.click(strip, lowest_mode)
    layers = bass_shape(driver.window.shown)
    assert driver.window.shown.mode == 0
    assert layers["bass shape"].mesh.n_cells > 0
    # Lengthwise mode: hatched over the half where the pressure is negative, a sign for each half.
    x = np.concatenate(loops_of(layers["bass hatching"].mesh))[:, 0]
    length = shown.study.scene.room.length
    assert (x.min() > 0.45 * length) or (x.max() < 0.55 * length)
    signs = sorted(name.text for name in find_names(driver.window.shown) if name.text in "+−")
    assert signs == ["+", "−"]
    assert bass_floor(driver.window.shown)["bass floor"].mesh.n_cells == 0
    driver.click(strip, lowest_mode)
    assert driver.window.shown.mode is None

    search, scene = driver.window.bassing.search, shown.study.scene
    start = time.process_time()
    for _ in range(10):
        search.moved(scene)
    # 5 ms is what is asked of a step; five times that where others keep the machine busy.
    assert (time.process_time() - start) / 10 < 0.025
