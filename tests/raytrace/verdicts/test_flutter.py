import numpy as np
import pytest

from raytrace import build_room
from raytrace.verdicts.flutter import FLUTTER_BELOW, FRESNEL_NUMBER, find_flutter
from tests.support.scenes import BOX


def test_bare_parallel_walls_flutter_at_c_over_2d(scene_of):
    found = find_flutter(build_room(scene_of(BOX)))
    assert [f.distance_m for f in found] == pytest.approx([2.6, 4.0, 5.0], abs=1e-9)
    for f in found:
        assert f.frequency_hz == pytest.approx(343.2 / (2 * f.distance_m), rel=1e-9)
        assert np.isinf(f.decay_s)


def test_flutter_decays_with_the_absorption_of_both_walls(scene_of):
    scene = scene_of(BOX.replace("[0, 0, 0, 0, 0, 0, 0, 0]", "[0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1]"))
    f = find_flutter(build_room(scene))[0]
    round_trips = 60 / (-20 * np.log10(0.9))  # two bounces of -10 lg 0.9 each a round trip
    assert f.decay_s == pytest.approx(round_trips * 2 * f.distance_m / 343.2, rel=1e-9)


def test_a_soft_ceiling_or_a_skew_wall_does_not_flutter(scene_of):
    scene = scene_of(
        BOX.replace(
            'shape = "box"\nlength = 5.0\nwidth = 4.0',
            'shape = "plan"\ncorners = [[0, 0], [5, 0], [5, 4], [0, 3.6]]',
        )
    )
    room = build_room(scene)
    pairs = [(room.surfaces[f.surface_a].name, room.surfaces[f.surface_b].name) for f in find_flutter(room)]
    assert ("floor", "ceiling") in pairs
    assert ("wall 1", "wall 3") not in pairs  # 4.6 degrees apart


def test_facing_area_is_what_nothing_stands_before(scene_of):
    wardrobe = """
[[objects]]
name = "wardrobe"
shape = "box"
centre = [4.7, 2.0, 1.3]
size = [0.6, 4.0, 2.6]
material = "hard"
"""
    found = find_flutter(build_room(scene_of(BOX + wardrobe)))
    assert pytest.approx(max(f.distance_m for f in found), abs=1e-6) == 4.4


def test_where_it_is_no_longer_told_mirrors_lose_what_the_absorption_of_the_limit_takes():
    # Fox and Li (1961): the mode of two strip mirrors is the eigenvector of the Fresnel integral across;
    # squares have it both ways. 200 points of Gauss: converged to ten digits.
    x, weights = np.polynomial.legendre.leggauss(200)
    step = np.exp(-1j * np.pi * FRESNEL_NUMBER * (x[:, None] - x[None]) ** 2) * weights
    kept = np.abs(np.linalg.eigvals(np.sqrt(1j * FRESNEL_NUMBER) * step)).max()
    assert 1.0 - kept**4 == pytest.approx(FLUTTER_BELOW, abs=0.005)  # the limit has two digits


def test_narrow_walls_far_apart_do_not_flutter(scene_of):
    # A niche of 0.9 by 2.6 m opposite a wall 5.0 m away, 0.5 m behind its own: 2.34 of 3.4 m2.
    niche = "[[0, 0], [5, 0], [5, 1], [4.5, 1], [4.5, 3.1], [5, 3.1], [5, 4], [0, 4]]"
    scene = scene_of(
        BOX.replace('shape = "box"\nlength = 5.0\nwidth = 4.0', f'shape = "plan"\ncorners = {niche}')
    )
    room = build_room(scene)
    apart = [round(f.distance_m, 9) for f in find_flutter(room)]
    assert {4.0, 4.5} < set(apart)  # side walls; front wall and what stands out
    assert 5.0 not in apart
