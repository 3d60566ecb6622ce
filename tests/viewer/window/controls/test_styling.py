"""What the style draws itself can be seen in both themes."""

import pytest

from tests.support.colours import contrast
from tests.support.windows import driver
from viewer.window.state import THEMES

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
