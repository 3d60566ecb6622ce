"""The key of a picture: every sign has its words, and they stand apart."""

import itertools

import pytest

from viewer.pictures.key import SIGNS, draw_key, draw_scale_bar
from viewer.pictures.labels import Box
from viewer.pictures.plate import Plate, lay_out


@pytest.mark.parametrize("n_signs", [1, 3, 7, len(SIGNS)])
def test_the_words_of_the_key_stand_apart_and_on_the_sheet(n_signs):
    plate, layout = Plate((2400, 1600)), lay_out((2400, 1600))
    signs = tuple(SIGNS)[:n_signs]
    draw_key(plate, layout, "reflection against the limit", signs)
    words = [box.text for box in plate.boxes]
    assert words[-n_signs:] == [SIGNS[name][0] for name in signs]
    for one, other in itertools.combinations(plate.boxes, 2):
        assert not one.overlaps(other), (one, other)
    assert all(box.left >= 0 and box.right <= 2400 for box in plate.boxes)


def test_every_sign_leaves_ink_beside_its_words():
    import numpy as np

    for name in SIGNS:
        plate, layout = Plate((2400, 1600)), lay_out((2400, 1600))
        draw_key(plate, layout, "", (name,))
        (words,) = [box for box in plate.boxes if box.text == SIGNS[name][0]]
        sample = Box("", words.left - 82, words.top, words.left - 16, words.bottom)
        picture = np.asarray(plate.finish())
        part = picture[round(sample.top) : round(sample.bottom), round(sample.left) : round(sample.right)]
        assert (part < 215).any(), name


def test_a_scale_bar_is_as_long_as_it_says():
    plate, layout = Plate((2400, 1600)), lay_out((2400, 1600))
    draw_scale_bar(plate, layout, 150.0, "m")
    ends = {box.text: (box.left + box.right) / 2 for box in plate.boxes}
    assert ends["2 m"] - ends["0"] == pytest.approx(300.0, abs=1e-6)
