"""A film: as long as it says, small enough to mail, there whole or not at all."""

import numpy as np
import pytest
from PIL import Image

from tests.support.studies import shipped_study
from viewer.pictures import film, write_film


@pytest.fixture(autouse=True)
def few_frames(monkeypatch):
    """Two a second and small: a test is about what is shown, not how smoothly."""
    monkeypatch.setattr(film, "FRAMES_PER_S", dict.fromkeys(film.FILM_FORMATS, 2))
    monkeypatch.setattr(film, "SIZE", (300, 200))


@pytest.mark.parametrize("suffix", [".webp", ".gif"])
def test_a_film_lasts_ten_seconds_and_ends_with_the_sound(tmp_path, suffix):
    told = []
    path = tmp_path / f"room{suffix}"
    write_film(shipped_study("box", up_to_order=2), path, progress=lambda *said: told.append(said))
    with Image.open(path) as moving:
        seconds = 0.0
        frames = []
        for k in range(moving.n_frames):
            moving.seek(k)
            moving.load()
            seconds += moving.info["duration"] / 1e3
            frames.append(np.asarray(moving.convert("RGB")).astype(int))
    assert seconds == pytest.approx(10.0, abs=0.5)  # frames that are alike may be one
    assert path.stat().st_size < film.MOST_BYTES
    assert np.abs(frames[1] - frames[0]).max() > 60  # it turns
    assert np.abs(frames[-1] - frames[10]).max() > 60  # there is sound in the end
    shares = [share for _, share in told]
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0.0, 1.0)


def test_an_interrupted_film_leaves_nothing_behind(tmp_path):
    path = tmp_path / "room.webp"
    path.write_bytes(b"earlier")

    def stop(_text, share):
        if share > 0.2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_film(shipped_study("box", up_to_order=2), path, progress=stop)
    assert [file.name for file in tmp_path.iterdir()] == ["room.webp"]
    assert path.read_bytes() == b"earlier"


def test_the_sound_goes_as_far_as_it_says():
    line = np.array([[0.0, 0, 0], [1, 0, 0], [1, 1, 0]])
    path = [(line, np.zeros(3), 0.01)]
    for reach_m in (0.3, 1.4, 5.0):
        bars = film.sound_bars(path, reach_m, 1.0)
        lengths = np.linalg.norm(bars.ends[:, 1] - bars.ends[:, 0], axis=1)
        assert lengths.sum() == pytest.approx(min(reach_m, 2.0))
        assert bars.is_shaded.sum() == (reach_m < 2.0)  # one ball at the front until it has arrived
