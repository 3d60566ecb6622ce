import numpy as np
import pytest

from raytrace import build_room, find_arrivals
from raytrace.verdicts.leftright import compare_left_right
from tests.support.scenes import BOX

RIGHT = '[[speakers]]\nname = "right"\nposition = [1.0, 2.7, 1.2]\ndirectivity = "omni"\n'


def test_a_symmetric_room_has_equal_sides_and_pairs_everything(scene_of):
    scene = scene_of(BOX + RIGHT)
    arrivals = find_arrivals(scene, build_room(scene), up_to_order=2)
    pair = compare_left_right(scene, arrivals)
    assert pair is not None
    assert pair.difference_db == pytest.approx(0.0, abs=1e-9)  # mirror images
    assert pair.unpaired == ()
    for a, b in pair.pairs:
        assert arrivals.delay_s[a] == pytest.approx(arrivals.delay_s[b], abs=1e-12)


def test_one_soft_side_shows_as_a_difference_towards_the_other(scene_of):
    soft = """"right wall" = "wool"
[materials.wool]
absorption = [0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9]
scattering = 0
source = "invented for the test"
"""
    scene = scene_of(BOX.replace('default = "hard"\n', 'default = "hard"\n' + soft) + RIGHT)
    arrivals = find_arrivals(scene, build_room(scene), up_to_order=1)
    pair = compare_left_right(scene, arrivals)
    assert pair is not None
    energies = []
    for speaker in (0, 1):
        rows = arrivals.at(speaker, 0)
        rows = rows[(arrivals.delay_s[rows] > 0.0003) & (arrivals.delay_s[rows] < 0.015)]
        energies.append(10 * np.log10(np.sum(10 ** (arrivals.band_level_db[rows] / 10))))
    assert pair.difference_db == pytest.approx(energies[0] - energies[1], abs=1e-9)
    assert pair.difference_db > 0.2  # the right speaker stands nearer to the soft wall


def test_one_speaker_has_no_left_and_right(scene_of):
    scene = scene_of(BOX)
    assert compare_left_right(scene, find_arrivals(scene, build_room(scene), up_to_order=1)) is None
