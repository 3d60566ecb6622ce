"""The bass under the room: what stands beside its curves."""

import pytest

from tests.support.windows import driver  # (its module skips where there is no display)
from viewer.window.controls import BassStrip
from viewer.window.controls.bassstrip import TAPE_PX, TOP_PX

__all__ = ["driver"]


@pytest.mark.parametrize("height", [150, 220, 400])
def test_the_lowest_level_and_the_modes_below_it_are_both_readable(qtbot, height):
    strip = BassStrip()
    qtbot.addWidget(strip)
    strip.resize(800, height)
    words_px = strip.fontMetrics().tightBoundingRect("−30 dB").height()
    lowest = strip.box_of_level(height - TAPE_PX)
    assert strip.box_of_modes.center().y() - lowest.center().y() >= words_px + 2
    assert strip.box_of_level(TOP_PX).center().y() == TOP_PX  # the others stand at their lines
