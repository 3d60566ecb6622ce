"""The window draws a room in the light of its stills: found when it rests, kept while something is pulled."""

import numpy as np
from PySide6.QtCore import QEvent

from tests.support.pixels import pixel_of_thing
from tests.support.windows import WAIT_MS, driver
from viewer.pictures import light_room

__all__ = ["driver"]


def test_the_room_has_its_own_light_which_stays_while_something_is_pulled(driver):
    window = driver.window
    window.light.ask = driver.lighten
    path = driver.copy("box")
    driver.open(path)
    driver.qtbot.waitUntil(lambda: window.shown.light is not None, timeout=WAIT_MS)
    before = window.shown.light
    # The very light of the stills: the brightest and darkest places of the floor.
    floor = window.shown.study.room.surface_index("floor")
    facet = next(i for i, own in enumerate(window.shown.study.room.facets) if own.surface == floor)
    grid = light_room(window.shown.stage).grids[facet].values
    left, low, nu, nv = before.places["surface", "floor", 0]
    assert (before.pixels[low : low + nv, left : left + nu] == np.round(255 * grid)).all()
    assert before.fits(window.shown.study)
    # In the hand: the old light; once it rests: another.
    start = pixel_of_thing(window, ("speakers", 0))
    driver.drag(start, (30, 10), release=False)
    driver.qtbot.waitUntil(lambda: not window.shown.light.fits(window.shown.study), timeout=WAIT_MS)
    assert window.shown.light is before
    driver.send(driver.surface, QEvent.Type.MouseButtonRelease, (start[0] + 30, start[1] + 10))
    driver.qtbot.waitUntil(lambda: window.shown.light is not before, timeout=WAIT_MS)
    assert window.shown.light.fits(window.shown.study)
    # Another room begins without the light of this one.
    window.light.ask = lambda _stage: None
    window.editing.undo()
    driver.rest()
    driver.open(driver.copy("elbow"))
    assert window.shown.light is None
