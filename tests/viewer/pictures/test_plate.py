"""A picture with boxes in place of letters says so."""

import pytest

from viewer import look
from viewer.pictures.plate import Plate


@pytest.mark.parametrize("size", [look.REFERENCE_SIZE, (600, 400)])
def test_letters_that_are_boxes_are_told_on_the_lower_border(size):
    plate = Plate(size)
    plate.text((200, 200), "壁", 30)
    plate.finish()
    _, told = plate.boxes
    assert told.text == "A box stands for a letter that this typeface lacks: U+58C1"
    unit = size[0] / look.REFERENCE_SIZE[0]
    assert size[1] - look.BORDER_PX * unit < told.top < told.bottom < size[1]
    assert told.right < size[0]
