"""Pictures without words: on white, and on clear ground that anything may lie under."""

import numpy as np
import pytest
from PIL import Image

from tests.support.studies import shipped_study
from viewer.pictures import Lettering, draw_stills

SIZE = (360, 240)


@pytest.mark.parametrize("plate", ["plain", "clear"])
def test_a_picture_without_words_holds_the_room_and_nothing_else(tmp_path, plate):
    drawn = draw_stills(shipped_study("box", up_to_order=2), tmp_path, SIZE, lettering=Lettering(plate=plate))
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


def test_before_and_after_are_seen_from_one_place(tmp_path):
    after = shipped_study("treated-box", up_to_order=2)
    before = shipped_study("box", up_to_order=2)
    drawn = draw_stills(after, tmp_path, SIZE, before=before, lettering=Lettering(plate="clear"))
    names = [still.name for still in drawn]
    assert names[-2:] == ["before", "after"]
    one, other = (np.asarray(Image.open(tmp_path / f"{name}.png")) for name in names[-2:])
    # The same room from the same place has the same outline; panels hang inside it.
    assert np.array_equal(one[..., 3] == 255, other[..., 3] == 255)
    assert np.abs(one.astype(int) - other).max() > 60
