"""What plain surfaces reflect at an angle: its mean over all angles, its limits, and wool as a witness."""

import numpy as np
import pytest

from raytrace.acoustics import (
    Incidence,
    Layer,
    Material,
    Medium,
    Miki,
    plain_reflection,
    random_absorption,
    reflection,
)
from raytrace.acoustics.plainsurfaces import MOST_LOCAL, local_absorption, local_admittance

AIR = Medium(343.2, 1.204)
MOST_ABSORBED = 0.951222
ABSORPTION = [0.0, 0.01, 0.1, 0.5, 0.9, 0.9512, 0.96, 1.0]  # two of them more than a local one can

# Paris' mean over all angles, the cosine's cube root as the variable: what is thin near grazing is resolved.
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(400)
ROOTS = 0.5 * (_NODES + 1.0)
COSINES = ROOTS**3
PARIS = 0.5 * _WEIGHTS * 3.0 * ROOTS**2 * 2.0 * COSINES


def factors(absorption, cosines, model="local"):
    """Reflection factors of a material, (n_angles, 8)."""
    return plain_reflection(Material("m", absorption, at_an_angle=model), cosines)[:, :, 0]


@pytest.mark.parametrize("admittance", [0.0, 1e-4, 0.01, 0.2, MOST_LOCAL, 3.0])
def test_closed_form_of_the_mean_over_all_angles_is_its_quadrature(admittance):
    reflected = (COSINES - admittance) / (COSINES + admittance)
    absorbed = PARIS @ (1.0 - reflected**2)
    assert float(local_absorption(admittance)) == pytest.approx(absorbed, abs=1e-8)  # the quadrature's own


def test_the_most_that_a_real_local_admittance_absorbs_is_the_published_maximum():
    # H. Kuttruff, Room Acoustics: 0.951 at an impedance of 1.57.
    assert float(local_absorption(1.0 / 1.565)) == pytest.approx(0.95122, abs=1e-4)
    assert float(local_absorption(MOST_LOCAL)) == pytest.approx(MOST_ABSORBED, abs=1e-6)
    for beside in (0.99, 1.01):
        assert local_absorption(beside * MOST_LOCAL) < local_absorption(MOST_LOCAL)


@pytest.mark.parametrize("model", ["random incidence", "local"])
def test_sound_from_all_sides_loses_what_the_material_says(model):
    absorbed = PARIS @ (1.0 - factors(ABSORPTION, COSINES, model) ** 2)
    np.testing.assert_allclose(absorbed, ABSORPTION, rtol=0.0, atol=1e-6)


def test_admittance_and_absorption_are_each_other_s_inverse_up_to_the_most():
    admittance = np.array([0.0, 1e-9, 1e-3, 0.1, 0.5, 0.63])
    found = local_admittance(local_absorption(admittance))
    # Near the maximum the absorption hardly tells admittances apart.
    np.testing.assert_allclose(found, admittance, rtol=1e-9, atol=0.0)
    np.testing.assert_array_equal(local_admittance([0.952, 0.99, 1.0]), MOST_LOCAL)


@pytest.mark.parametrize("model", ["random incidence", "local"])
def test_what_absorbs_nothing_returns_everything_and_a_hole_nothing_at_any_angle(model):
    grazing_too = np.array([0.0, 1e-9, 0.01, 0.5, 1.0])
    np.testing.assert_array_equal(factors(np.zeros(8), grazing_too, model), 1.0)
    np.testing.assert_array_equal(factors(np.ones(8), grazing_too, model), 0.0)


def test_reflection_of_a_local_surface_falls_towards_grazing_and_turns_negative_there():
    values = factors(ABSORPTION, np.linspace(0.0, 1.0, 101))[:, 1:7]
    assert (np.diff(values, axis=0) > 0.0).all()
    assert (values[0] < 0.0).all()
    assert (values[-1] > 0.0).all()
    np.testing.assert_allclose(values[0, :4], -1.0, atol=1e-2)  # at a cosine of 1e-6


def test_more_absorption_reflects_less_on_both_sides_of_the_most():
    steps = MOST_ABSORBED + np.array([-0.2, -0.05, -1e-3, -1e-6, 1e-6, 1e-3, 0.02, 0.04])
    at_angles = factors(steps, np.array([0.7, 1.0]))  # cosines above the admittance: nothing is negative
    assert (np.diff(at_angles, axis=1) < 0.0).all()
    # No step where the admittance stays as it is and only the factor shrinks.
    assert np.abs(np.diff(at_angles[:, 3:5], axis=1)).max() < 2e-3


def test_a_surface_behind_nothing_reflects_as_it_does_bare():
    bare = factors(ABSORPTION, np.array([0.3, 0.9]))
    behind = reflection([], 1000.0, np.array([[0.3], [0.9]]), AIR, backing=bare)
    np.testing.assert_allclose(behind, bare, rtol=0.0, atol=1e-12)  # rounding


def level_errors_db(thickness_m, flow_resistivity, angles_deg):
    """Each model's mean error of what a layer of wool on a hard floor reflects at some angles, 1 to 8 kHz."""
    frequency = np.array([1000.0, 1400.0, 2000.0, 2800.0, 4000.0, 5600.0, 7000.0, 8000.0])
    stack, cosines = (Layer(Miki(flow_resistivity), thickness_m),), np.cos(np.radians(angles_deg))
    from_all_sides = random_absorption(stack, frequency, AIR, incidence=Incidence(90.0, 400))
    wanted = np.abs(reflection(stack, frequency, cosines[:, None], AIR))
    models = ("random incidence", "local")
    found = (np.abs(factors(from_all_sides, cosines, model)) for model in models)
    return [float(np.mean(np.abs(20.0 * np.log10(values / wanted)))) for values in found]


def test_wool_on_a_hard_floor_is_no_witness_for_one_model_alone():
    """Bulk reacting wool by Miki: a thin cover is a local one up to 70 degrees, a thick one is not."""
    up_to_70 = np.arange(0.0, 71.0, 10.0)
    even_db, local_db = level_errors_db(0.003, 50_000.0, up_to_70)
    assert local_db < 0.3
    assert even_db > 0.7
    even_db, local_db = level_errors_db(0.010, 50_000.0, up_to_70)
    assert even_db < local_db
    even_db, local_db = level_errors_db(0.006, 20_000.0, np.array([80.0]))
    assert even_db < local_db
