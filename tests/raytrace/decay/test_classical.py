"""Worked room of 5 x 4 x 2.6 m; formulas and sources stand beside them in classical.py."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from raytrace import build_room
from raytrace.decay.classical import (
    DiffuseRoom,
    arau_puchades_s,
    diffuse_room,
    eyring_s,
    sabine_s,
    schroeder_hz,
)
from tests.support.scenes import BOX

WORKED = DiffuseRoom(
    volume_m3=52.0,
    area_m2=np.array([20.0, 20.0, 10.4, 10.4, 13.0, 13.0]),
    normals=np.array([[0, 0, 1], [0, 0, -1], [1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0]], float),
    absorption=np.array([[0.05], [0.40], [0.10], [0.50], [0.10], [0.10]]),
    air_per_m=np.zeros(1),
    speed_of_sound_m_s=343.2,
)
DAMP = replace(WORKED, air_per_m=np.array([1.07e-3]))


def test_the_formulas_give_the_worked_times():
    assert_allclose(sabine_s(WORKED), 0.46934, atol=1e-5)
    assert_allclose(eyring_s(WORKED), 0.41926, atol=1e-5)
    assert_allclose(arau_puchades_s(WORKED), 0.45495, atol=1e-5)
    assert_allclose(WORKED.mean_absorption, 0.205530, atol=1e-6)


def test_air_shortens_the_worked_times():
    assert_allclose(sabine_s(DAMP), 0.46356, atol=1e-5)
    assert_allclose(eyring_s(DAMP), 0.41464, atol=1e-5)


@pytest.mark.parametrize(("decay_s", "frequency_hz"), [(0.25, 138.68), (0.46934, 190.01), (0.5, 196.12)])
def test_the_schroeder_frequency_of_the_worked_room(decay_s, frequency_hz):
    assert schroeder_hz(decay_s, 52.0) == pytest.approx(frequency_hz, abs=0.01)


def test_a_black_room_does_not_ring_and_a_bare_one_rings_for_ever():
    black = replace(WORKED, absorption=np.ones((6, 1)))
    bare = replace(WORKED, absorption=np.zeros((6, 1)))
    for formula in (eyring_s, arau_puchades_s):
        assert_allclose(formula(black), 0.0)
    for formula in (sabine_s, eyring_s, arau_puchades_s):
        assert_allclose(formula(bare), np.inf)


def test_even_absorption_makes_arau_puchades_equal_eyring():
    even = replace(WORKED, absorption=np.full((6, 1), 0.3))
    assert_allclose(arau_puchades_s(even), eyring_s(even), rtol=1e-12)


def test_arau_puchades_does_not_ask_how_walls_are_cut():
    cut = replace(
        WORKED,
        area_m2=np.append(WORKED.area_m2, 5.0) - np.array([5.0, 0, 0, 0, 0, 0, 0]),
        normals=np.vstack([WORKED.normals, [0, 0, 1]]),
        absorption=np.vstack([WORKED.absorption, [0.05]]),
    )
    assert_allclose(arau_puchades_s(cut), arau_puchades_s(WORKED), rtol=1e-12)


def test_a_scene_gives_its_areas_with_openings_taken_off(scene_of):
    door = """
[[openings]]
name = "door"
surface = "back wall"
kind = "opening"
at = [1.0, 0.0]
size = [0.8, 2.0]
material = "air"
[materials.air]
absorption = [1, 1, 1, 1, 1, 1, 1, 1]
source = "sound leaves"
"""
    scene = scene_of(BOX + door)
    found = diffuse_room(scene, build_room(scene))
    assert found.surface_m2 == pytest.approx(86.8)
    assert found.volume_m3 == pytest.approx(52.0)
    assert_allclose(found.mean_absorption, 1.6 / 86.8)
    assert_allclose(found.air_per_m[4], 1.0741e-3, atol=1e-7)  # ISO 9613-1 at 20 degC, 50 %
