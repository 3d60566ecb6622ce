"""What holds for every chart on disk: its words stand apart and inside, its border is empty."""

import itertools

import numpy as np
from PIL import Image


def assert_clean(chart, size):
    """No two words overlap, none comes near the edge, and nothing is drawn there either; size in pixels."""
    width, height = size
    for box in chart.boxes:
        assert 0.02 * width <= box.left < box.right <= 0.98 * width, box
        assert 0.02 * height <= box.top < box.bottom <= 0.98 * height, box
    for one, other in itertools.combinations(chart.boxes, 2):
        assert not one.overlaps(other), (one, other)
    pixels = np.asarray(Image.open(chart.path).convert("RGB"))
    assert pixels.shape == (height, width, 3)
    border = np.ones(pixels.shape[:2], bool)
    border[height // 50 : -(height // 50), width // 50 : -(width // 50)] = False
    assert (pixels[border] == 255).all()


def mains_at_seats(scene):
    """Speakers that are no subs at all seats, by their indices and in the order of charts."""
    mains = [i for i, speaker in enumerate(scene.speakers) if speaker.use == "main"]
    return list(itertools.product(mains, range(len(scene.seats))))
