"""The bass of a box by its images in time, against that of its modes: two answers that share nothing."""

import numpy as np
import pytest

from raytrace import load_scene
from raytrace.measured import Take, find_measured_bass, hold_against
from tests.support.scenes import BOX
from tests.support.soundfiles import write_wav

SIZE_M, ABSORPTION, RATE_HZ, LONG_S = np.array([5.0, 4.0, 2.6]), 0.3, 48_000, 0.36
SOURCE, EARS = np.array([1.0, 1.3, 1.2]), np.array([3.2, 2.0, 1.2])


def by_images():
    """Pulses of all images within 0.36 s (J. B. Allen, D. A. Berkley, JASA 65 (1979) 943), pressure."""
    reach_m = 343.2 * LONG_S
    along, bounces = [], []
    for size, source, ears in zip(SIZE_M, SOURCE, EARS, strict=True):
        n = np.arange(-int(reach_m / (2 * size)) - 1, int(reach_m / (2 * size)) + 2)
        along.append(np.concatenate([2 * n * size + source, 2 * n * size - source]) - ears)
        bounces.append(np.concatenate([np.abs(2 * n), np.abs(2 * n - 1)]))
    away = np.sqrt(along[0][:, None, None] ** 2 + along[1][:, None] ** 2 + along[2] ** 2)
    order = bounces[0][:, None, None] + bounces[1][:, None] + bounces[2]
    heard = away < reach_m
    strength = np.sqrt(1.0 - ABSORPTION) ** order[heard] / away[heard]
    samples = np.bincount(
        np.round(away[heard] / 343.2 * RATE_HZ).astype(int) + 480, strength, round(LONG_S * RATE_HZ) + 480
    )
    return 0.5 * samples / np.abs(samples).max()


@pytest.fixture(scope="module")
def heard(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bass")
    path = write_wav(folder / "left.wav", by_images())

    def found(ears):
        text = BOX.replace("[0, 0, 0, 0, 0, 0, 0, 0]", str([ABSORPTION] * 8))
        (folder / "box.toml").write_text(text.replace("[3.2, 2.0, 1.2]", str(ears)), encoding="utf-8")
        scene = load_scene(folder / "box.toml")
        return find_measured_bass(hold_against(scene, [Take(0, 0, path)], up_to_order=1, within_s=0.012))

    return found


def test_the_modes_predict_what_the_images_make(heard):
    (own,) = heard([3.2, 2.0, 1.2])
    assert own.frequencies_hz[0] == 20.0
    # Walls of the modes take 0.3 as a local impedance would, those of the images at every angle alike.
    assert own.apart_db < 2.5


def test_another_seat_is_told_apart(heard):
    (here,), (there,) = heard([3.2, 2.0, 1.2]), heard([2.4, 2.9, 0.9])
    assert there.apart_db > 1.5 * here.apart_db
