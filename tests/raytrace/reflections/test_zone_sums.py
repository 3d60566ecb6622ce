"""Sums over images at many places, and pressures between known pitches, against plain numpy."""

import numpy as np
import pytest

from raytrace.acoustics import band_frequencies_hz
from raytrace.kernels.peaks import lead_images
from raytrace.kernels.zone import add_images
from raytrace.reflections.response import pressure_at

ROUNDING = 1e-12  # some thousand operations on numbers about 1


def random_pressures(n, seed):
    rng = np.random.default_rng(seed)
    shape = n, *band_frequencies_hz().shape
    return rng.normal(size=shape) + 1j * rng.normal(size=shape)


def test_magnitude_and_phase_are_carried_on_linearly_over_the_logarithm_of_frequency():
    pressure = random_pressures(7, seed=3)
    frequency_hz = np.geomspace(30.0, 15_000.0, 300)  # beyond both ends too
    known, wanted = np.log(band_frequencies_hz().ravel()), np.log(frequency_hz)
    flat = pressure.reshape(7, -1)
    size = np.array([np.interp(wanted, known, row) for row in np.abs(flat)])
    phase = np.array([np.interp(wanted, known, row) for row in np.unwrap(np.angle(flat), axis=1)])
    expected = size * np.exp(1j * phase)
    assert pressure_at(pressure, frequency_hz) == pytest.approx(expected, abs=ROUNDING * 100)  # phases to 100


def test_what_is_wholly_absorbed_stays_nothing():
    assert not pressure_at(0.0 * random_pressures(2, seed=1), np.array([100.0, 5000.0])).any()


def test_places_get_what_every_image_sends_from_the_nodes_about_them_with_its_delay():
    rng = np.random.default_rng(8)
    n_images, n_nodes, n_places, n_lines = 5, 9, 11, 40
    nodes = rng.normal(size=(n_images, n_nodes, n_lines)) + 1j * rng.normal(size=(n_images, n_nodes, n_lines))
    corner = rng.integers(0, n_nodes, (n_places, 8))
    corner[3:7] = corner[3]  # places in a row that share their nodes
    weight, delay_s = rng.uniform(size=(8, n_places)), rng.uniform(0.0, 0.02, (n_images, n_places))
    first, step, until_s = 2.0 * np.pi * 700.0, 2.0 * np.pi * 48.0, 0.015
    spectrum = np.zeros((2, n_lines, n_places))
    add_images(nodes, corner, weight, delay_s, until_s, first, step, spectrum)
    turns = np.exp(-1j * delay_s[..., None] * (first + step * np.arange(n_lines)))
    turns *= (delay_s <= until_s)[..., None]
    expected = np.einsum("cp,ipcf,ipf->fp", weight, nodes[:, corner], turns)
    assert spectrum[0] + 1j * spectrum[1] == pytest.approx(expected, abs=100 * ROUNDING)  # 40 turns in a row


def test_an_image_belongs_to_the_strongest_that_makes_half_of_its_loud_maxima():
    made_by = np.array([[1, 1, 0, 0], [1, 0, 1, 0], [0, 0, 1, 0], [0, 1, 1, 0]], bool)
    maximum = np.array([[0, 0, 1, -1], [1, 3, 2, -1], [-1, 3, 3, -1]])
    level_db = np.array([[-3.0, -3.0, -9.0, -40.0], [-4.0, -9.0, -5.0, -40.0], [-40.0, -9.0, -6.0, -40.0]])
    leader = np.empty(4, np.int64)
    # The second decides by its loudest place, which it shares with the first; the third shares one of three
    # maxima with the first, the fourth makes none.
    lead_images(made_by, level_db, np.array([-4.0, -3.0, -9.0, -40.0]), maximum, leader)
    assert leader.tolist() == [0, 0, 2, -1]
