"""The picture of the window's view, drawn in a process of its own."""

import numpy as np
import pytest
from PIL import Image

from tests.support.studies import shipped_study
from viewer import look
from viewer.pictures import set_stage
from viewer.window.snapshot import picture as viewpicture
from viewer.window.state import Filter, OnScreen, named_view

SIZE = (900, 500)


@pytest.fixture(scope="module")
def shown():
    study = shipped_study("box", up_to_order=1)
    stage = set_stage(study)
    eye = named_view(stage, "room", SIZE)
    return OnScreen(study=study, stage=stage, eye=eye, view="room", filter=Filter(seat=0), theme="dark")


def colours_of(path):
    with Image.open(path) as picture:
        assert picture.width == 2400
        assert picture.info["dpi"] == pytest.approx((300, 300), abs=0.1)  # PNG keeps pixels per metre
        return np.asarray(picture.convert("RGB")).astype(int)


def assert_is_a_room_on_white_paper(pixels):
    assert (pixels[:30] == 255).all()
    assert (pixels[:, :30] == 255).all()
    inked = (np.abs(pixels - 255).max(axis=2) > 12).mean()
    assert 0.05 < inked < 0.9
    accent = np.abs(pixels - np.round(255 * look.rgb(look.ACCENT))).max(axis=2) < 24
    assert accent.sum() > 500  # outlines of areas over the limit, and the words about them


@pytest.mark.slow
def test_the_kept_view_is_drawn(shown, tmp_path):
    job, target = viewpicture.keep_job(shown, SIZE), tmp_path / "view.png"
    try:
        viewpicture.draw_job(job, target)
    finally:
        job.unlink()
    assert_is_a_room_on_white_paper(colours_of(target))


def test_what_is_kept_is_small(shown):
    job = viewpicture.keep_job(shown, SIZE)
    try:
        assert job.stat().st_size < 2e6
    finally:
        job.unlink()
