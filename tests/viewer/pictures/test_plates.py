"""Pictures without words: on white, and on clear ground that anything may lie under."""

import numpy as np
import pytest
from PIL import Image

from tests.support.studies import shipped_study
from viewer.pictures import draw_stills

SIZE = (360, 240)


@pytest.mark.parametrize("plate", ["plain", "clear"])
def test_a_picture_without_words_holds_the_room_and_nothing_else(tmp_path, plate):
    drawn = draw_stills(shipped_study("box", up_to_order=2), tmp_path, SIZE, plate=plate)
    assert [still.path.name for still in drawn] == ["room.png", "plan.png", "section.png"]
    assert not any(still.boxes for still in drawn)
    with Image.open(drawn[0].path) as picture:
        assert picture.size == SIZE
        assert picture.mode == ("RGBA" if plate == "clear" else "RGB")
        pixels = np.asarray(picture.convert("RGBA"))
    edge = np.concatenate([pixels[:4].reshape(-1, 4), pixels[:, :4].reshape(-1, 4)])
    if plate == "clear":
        assert (edge[:, 3] == 0).all()
        assert 0.2 < (pixels[..., 3] == 255).mean() < 0.9
    else:
        assert (edge == 255).all()
        assert 0.2 < (pixels[..., :3] < 250).any(axis=-1).mean() < 0.9
