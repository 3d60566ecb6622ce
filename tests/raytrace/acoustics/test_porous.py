import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from raytrace.acoustics.air import BAND_NAMES
from raytrace.acoustics.materials import load_library
from raytrace.acoustics.porous import (
    Facing,
    Gap,
    Incidence,
    Layer,
    Medium,
    Miki,
    absorption,
    random_absorption,
    reflection,
    transmission,
)
from tests.support.oracles_porous import JohnsonChampouxAllard, typical_wool

AIR = Medium(343.2, 1.204)
BANDS = np.array(BAND_NAMES, dtype=float)  # the tables below are for nominal frequencies
PRINTED = 0.00051  # half of the third printed decimal, and rounding
JCA = JohnsonChampouxAllard(10_000.0, 0.98, 1.02, 90e-6, 180e-6)


class DelanyBazley:
    """An older model, kept here to check the layers with; Appl. Acoust. 3 (1970) 105, from memory."""

    def __init__(self, flow_resistivity):
        self.flow_resistivity = flow_resistivity

    def waves(self, frequency_hz, medium):
        X = medium.density_kg_m3 * frequency_hz / self.flow_resistivity
        impedance = medium.impedance * (1 + 0.0571 * X**-0.754 - 0.0870j * X**-0.732)
        k0 = 2 * np.pi * frequency_hz / medium.speed_of_sound_m_s
        return impedance, k0 * (1 + 0.0978 * X**-0.700 - 0.1890j * X**-0.595)


# Absorption by Miki's model, computed with 400 Gauss points by formulas of the layer in impedances.
# thickness [mm], flow resistivity [Pa s/m2], gap [mm], largest angle [deg], 0 for normal
# incidence | 63 Hz to 8 kHz
LAYERS = """
 30 10000   0 0 | 0.009 0.028 0.078 0.202 0.476 0.861 0.932 0.980
 30 10000   0 78 | 0.022 0.068 0.180 0.372 0.611 0.824 0.921 0.973
 30 10000   0 90 | 0.025 0.076 0.189 0.375 0.604 0.807 0.901 0.957
 30 20000   0 0 | 0.008 0.029 0.093 0.271 0.633 0.969 0.949 0.999
 30 20000   0 78 | 0.017 0.058 0.172 0.400 0.696 0.909 0.961 0.978
 30 20000   0 90 | 0.019 0.063 0.178 0.400 0.684 0.889 0.942 0.961
 50 10000   0 0 | 0.021 0.066 0.192 0.485 0.883 0.982 0.971 1.000
 50 10000   0 78 | 0.044 0.132 0.322 0.597 0.846 0.950 0.970 0.980
 50 10000   0 90 | 0.049 0.139 0.325 0.589 0.828 0.930 0.954 0.963
 50 20000   0 0 | 0.025 0.085 0.262 0.621 0.936 0.948 0.982 0.991
 50 20000   0 78 | 0.045 0.143 0.370 0.691 0.915 0.963 0.969 0.977
 50 20000   0 90 | 0.049 0.150 0.371 0.680 0.896 0.945 0.951 0.959
100 10000   0 0 | 0.086 0.262 0.621 0.936 0.948 0.982 0.991 0.994
100 10000   0 78 | 0.145 0.370 0.691 0.915 0.963 0.969 0.977 0.981
100 10000   0 90 | 0.151 0.371 0.680 0.896 0.945 0.951 0.959 0.965
100 20000   0 0 | 0.129 0.347 0.661 0.844 0.880 0.949 0.974 0.989
100 20000   0 78 | 0.197 0.457 0.750 0.899 0.929 0.957 0.969 0.976
100 20000   0 90 | 0.205 0.460 0.742 0.885 0.914 0.939 0.951 0.958
 30 10000 100 0 | 0.056 0.189 0.537 0.936 0.799 0.979 0.869 0.918
 30 10000 100 78 | 0.045 0.146 0.395 0.724 0.831 0.860 0.920 0.964
 30 10000 100 90 | 0.047 0.150 0.394 0.711 0.814 0.840 0.903 0.948
 30 20000 100 0 | 0.097 0.297 0.684 0.971 0.825 0.984 0.930 0.969
 30 20000 100 78 | 0.062 0.200 0.503 0.826 0.903 0.920 0.951 0.972
 30 20000 100 90 | 0.063 0.199 0.495 0.807 0.882 0.900 0.934 0.955
 50 10000 100 0 | 0.107 0.331 0.753 0.997 0.767 0.931 0.996 0.982
 50 10000 100 78 | 0.089 0.268 0.601 0.872 0.888 0.953 0.971 0.979
 50 10000 100 90 | 0.092 0.269 0.592 0.852 0.868 0.933 0.955 0.963
 50 20000 100 0 | 0.174 0.443 0.775 0.895 0.769 0.916 0.975 0.989
 50 20000 100 78 | 0.128 0.353 0.689 0.894 0.897 0.954 0.969 0.976
 50 20000 100 90 | 0.129 0.351 0.676 0.875 0.880 0.937 0.951 0.958
100 10000 100 0 | 0.263 0.605 0.887 0.887 0.941 0.983 0.985 0.995
100 10000 100 78 | 0.245 0.559 0.848 0.933 0.948 0.969 0.976 0.982
100 10000 100 90 | 0.248 0.552 0.830 0.914 0.930 0.951 0.958 0.965
100 20000 100 0 | 0.327 0.567 0.718 0.775 0.905 0.945 0.974 0.989
100 20000 100 78 | 0.325 0.606 0.805 0.874 0.931 0.956 0.969 0.976
100 20000 100 90 | 0.328 0.602 0.795 0.862 0.916 0.939 0.951 0.958
"""

# Normal incidence, Delany and Bazley, hard backing: thickness [mm], flow resistivity | 63 Hz to 8 kHz
DELANY_BAZLEY = """
 30 10000 | -0.006 0.008 0.064 0.214 0.509 0.860 0.942 0.978
 30 20000 | -0.010 -0.001 0.057 0.252 0.643 0.968 0.963 1.000
 50 10000 | -0.004 0.034 0.172 0.496 0.885 0.986 0.973 0.999
 50 20000 | -0.006 0.040 0.222 0.619 0.943 0.958 0.985 0.995
100 10000 | 0.041 0.222 0.619 0.943 0.958 0.985 0.995 0.997
100 20000 | 0.085 0.316 0.657 0.840 0.885 0.957 0.981 0.993
"""

# Miki's model, 50 mm, 20 000 Pa s/m2: gap [mm], angle [deg] | 63 Hz to 8 kHz
ANGLES = """
  0  0 | 0.025 0.085 0.262 0.621 0.936 0.948 0.982 0.991
  0 30 | 0.030 0.103 0.305 0.663 0.943 0.977 0.985 0.996
  0 45 | 0.038 0.129 0.362 0.709 0.943 0.996 0.990 0.998
  0 60 | 0.056 0.180 0.446 0.742 0.909 0.975 0.974 0.978
  0 75 | 0.103 0.278 0.508 0.652 0.727 0.799 0.813 0.820
100  0 | 0.174 0.443 0.775 0.895 0.769 0.916 0.975 0.989
100 30 | 0.146 0.396 0.753 0.935 0.863 0.976 0.986 0.996
100 45 | 0.120 0.342 0.702 0.946 0.955 0.990 0.996 0.998
100 60 | 0.102 0.296 0.620 0.875 0.980 0.945 0.970 0.977
100 75 | 0.119 0.308 0.535 0.670 0.750 0.829 0.811 0.821
"""


def rows(table):
    split = [line.split("|") for line in table.strip().splitlines()]
    return [
        pytest.param(*case.split(), np.array(values.split(), dtype=float), id=" ".join(case.split()))
        for case, values in split
    ]


def wool(thickness_mm, flow_resistivity, gap_mm=0):
    stack = (Layer(Miki(float(flow_resistivity)), float(thickness_mm) / 1000),)
    return (*stack, Gap(float(gap_mm) / 1000)) if float(gap_mm) else stack


@pytest.mark.parametrize(
    ("fluid", "frequency_hz", "impedance", "wavenumber"),
    [
        # Miki 1990; Delany and Bazley 1970; Johnson, Champoux and Allard 1987, 1991 (see raytrace/porous.py).
        (Miki(10_000.0), 125.0, 2.1165 - 1.7066j, 6.030 - 5.493j),
        (Miki(10_000.0), 500.0, 1.4649 - 0.7106j, 15.508 - 9.327j),
        (Miki(10_000.0), 2000.0, 1.1936 - 0.2959j, 47.406 - 15.840j),
        (DelanyBazley(10_000.0), 125.0, 2.3514 - 1.8774j, 6.511 - 5.253j),
        (DelanyBazley(10_000.0), 500.0, 1.4751 - 0.6805j, 15.554 - 9.209j),
        (DelanyBazley(10_000.0), 2000.0, 1.1671 - 0.2467j, 46.317 - 16.145j),
        (Miki(20_000.0), 125.0, 2.7302 - 2.6448j, 8.031 - 8.430j),
        (Miki(20_000.0), 500.0, 1.7204 - 1.1012j, 18.906 - 14.315j),
        (Miki(20_000.0), 2000.0, 1.3000 - 0.4585j, 53.176 - 24.310j),
        (DelanyBazley(20_000.0), 125.0, 3.2790 - 3.1183j, 9.149 - 7.934j),
        (DelanyBazley(20_000.0), 500.0, 1.8013 - 1.1303j, 19.552 - 13.910j),
        (DelanyBazley(20_000.0), 2000.0, 1.2817 - 0.4097j, 52.376 - 24.387j),
        (JCA, 125.0, 2.1557 - 1.7900j, 6.486 - 5.852j),
        (JCA, 500.0, 1.3912 - 0.7038j, 15.113 - 10.039j),
        (JCA, 2000.0, 1.2031 - 0.2395j, 47.209 - 14.378j),
    ],
)
def test_waves_in_wool_follow_the_published_models(fluid, frequency_hz, impedance, wavenumber):
    zc, k = fluid.waves(np.array([frequency_hz]), AIR)
    np.testing.assert_allclose(
        [zc[0].real / AIR.impedance, zc[0].imag / AIR.impedance],
        [impedance.real, impedance.imag],
        atol=5.1e-5,
    )  # four printed decimals
    np.testing.assert_allclose(
        [k[0].real, k[0].imag], [wavenumber.real, wavenumber.imag], atol=5.1e-4
    )  # three


@pytest.mark.parametrize(
    ("gap_mm", "angle_deg", "impedance"),
    [
        (0, 0, 0.92983 - 1.50652j),
        (100, 0, 1.78693 - 0.47139j),
        (0, 45, 1.05362 - 1.52305j),
        (100, 45, 1.46241 - 0.68800j),
    ],
)
def test_surface_impedance_of_50_mm_is_the_worked_one(gap_mm, angle_deg, impedance):
    # Layer formulas in impedances, computed apart from this program, five printed decimals.
    cosine = np.cos(np.radians(angle_deg))
    returned = reflection(wool(50, 20_000, gap_mm), 500.0, cosine, AIR)
    assert (1 + returned) / (1 - returned) / cosine == pytest.approx(impedance, abs=1e-5)


def test_reflection_of_50_mm_is_the_worked_one():
    returned = reflection(wool(50, 20_000), 500.0, 1.0, AIR)
    assert returned == pytest.approx(0.35606 - 0.50269j, abs=1e-5)  # five printed decimals
    assert 20 * np.log10(abs(returned)) == pytest.approx(-4.208, abs=6e-4)  # three printed decimals


@pytest.mark.parametrize(("thickness", "resistivity", "gap", "limit_deg", "expected"), rows(LAYERS))
def test_absorption_of_wool_layers_follows_the_table(thickness, resistivity, gap, limit_deg, expected):
    stack = wool(thickness, resistivity, gap)
    if limit_deg == "0":
        found = absorption(stack, BANDS, 1.0, AIR)
    else:
        found = random_absorption(stack, BANDS, AIR, incidence=Incidence(float(limit_deg)))
    np.testing.assert_allclose(found, expected, atol=PRINTED)


@pytest.mark.parametrize(("thickness", "resistivity", "expected"), rows(DELANY_BAZLEY))
def test_layers_take_another_model_with_its_known_faults(thickness, resistivity, expected):
    stack = (Layer(DelanyBazley(float(resistivity)), float(thickness) / 1000),)
    np.testing.assert_allclose(absorption(stack, BANDS, 1.0, AIR), expected, atol=PRINTED)


@pytest.mark.parametrize(("gap", "angle_deg", "expected"), rows(ANGLES))
def test_absorption_at_an_angle_follows_the_table(gap, angle_deg, expected):
    cosine = np.cos(np.radians(float(angle_deg)))
    found = absorption(wool(50, 20_000, gap), BANDS, cosine, AIR)
    np.testing.assert_allclose(found, expected, atol=PRINTED)


def test_johnson_champoux_allard_layers_follow_the_table():
    layer = Layer(JCA, 0.05)
    normal = [0.017, 0.062, 0.208, 0.517, 0.874, 0.971, 0.975, 0.996]
    random = [0.036, 0.123, 0.333, 0.625, 0.846, 0.939, 0.973, 0.983]
    with_gap = [0.114, 0.352, 0.751, 0.994, 0.792, 0.920, 0.983, 0.987]
    np.testing.assert_allclose(absorption((layer,), BANDS, 1.0, AIR), normal, atol=PRINTED)
    np.testing.assert_allclose(random_absorption((layer,), BANDS, AIR), random, atol=PRINTED)
    np.testing.assert_allclose(absorption((layer, Gap(0.1)), BANDS, 1.0, AIR), with_gap, atol=PRINTED)


@pytest.mark.parametrize(
    ("resistance", "mass", "expected"),
    [
        (100.0, 0.2, [0.027, 0.101, 0.314, 0.681, 0.936, 0.918, 0.967, 0.971]),
        (200.0, 0.2, [0.027, 0.106, 0.357, 0.732, 0.925, 0.886, 0.941, 0.941]),
        (400.0, 0.2, [0.026, 0.104, 0.401, 0.810, 0.890, 0.824, 0.877, 0.872]),
        (1000.0, 0.2, [0.026, 0.100, 0.413, 0.921, 0.784, 0.673, 0.698, 0.687]),
        (np.inf, 0.05, [0.025, 0.087, 0.286, 0.745, 0.987, 0.774, 0.363, 0.115]),
        (np.inf, 0.2, [0.026, 0.095, 0.377, 0.999, 0.404, 0.150, 0.030, 0.008]),
    ],
)
def test_a_facing_on_50_mm_of_wool_follows_the_table(resistance, mass, expected):
    # Series impedance of a cloth that moves, on Miki's layer; computed apart from this program.
    stack = (Facing(resistance, mass), *wool(50, 20_000))
    np.testing.assert_allclose(absorption(stack, BANDS, 1.0, AIR), expected, atol=PRINTED)


def test_a_real_local_impedance_absorbs_at_most_0_951_at_random():
    # Kuttruff, Room Acoustics: 0.951 at zeta = 1.565. A thin sheet of that resistance over a long lossy
    # layer of the air's own impedance reflects nothing behind it: zeta = 1.565. Sound is so slow in the layer
    # that it goes straight in, at whatever angle it arrives.
    class Sink:
        def waves(self, frequency_hz, medium):
            k0 = 2 * np.pi * frequency_hz / medium.speed_of_sound_m_s
            return medium.impedance + 0j * frequency_hz, 1e4 * (1 - 0.5j) * k0

    heavy = 1e9
    stack = (Facing(0.565 * AIR.impedance, heavy), Layer(Sink(), 100.0))
    found = random_absorption(stack, 1000.0, AIR, incidence=Incidence(90.0))
    assert found == pytest.approx(0.95122, abs=1e-5)  # five printed decimals


layers = st.builds(
    Layer,
    st.builds(Miki, st.floats(2e3, 1e5)) | st.builds(typical_wool, st.floats(2e3, 1e5)),
    st.floats(0.005, 0.5),
)
gaps = st.builds(Gap, st.floats(0, 0.5))
facings = st.builds(Facing, st.floats(5, 5000) | st.just(np.inf), st.floats(0.02, 5))
stacks = st.lists(layers | gaps | facings, min_size=1, max_size=4)


@given(stacks, st.floats(50, 11_000), st.floats(0, 1), st.sampled_from(["rigid", "free"]))
def test_absorption_lies_between_nothing_and_everything(stack, frequency_hz, cosine, backing):
    found = absorption(stack, frequency_hz, cosine, AIR, backing=backing)
    assert -1e-9 <= found <= 1 + 1e-9  # rounding of amplitudes of 1


@given(stacks, st.floats(50, 11_000), st.floats(0.01, 1))
def test_a_free_stack_lets_through_the_same_from_both_sides(stack, frequency_hz, cosine):
    there = transmission(stack, frequency_hz, cosine, AIR)
    back = transmission(stack[::-1], frequency_hz, cosine, AIR)
    assert there == pytest.approx(back, rel=1e-6, abs=1e-12)  # rounding, worst for very thick wool


@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 60.0])
@pytest.mark.parametrize("gap_m", [0.02, 0.1, 0.3])
def test_an_endless_free_panel_before_a_wall_is_layer_gap_and_wall(angle_deg, gap_m):
    # Sum of the waves that pass and return: a geometric series, independent of the rigid backing's matrix.
    cosine = np.cos(np.radians(angle_deg))
    frequency_hz = np.geomspace(63, 8000, 50)
    for panel in (wool(50, 10_000), (Facing(200.0, 0.2), *wool(100, 15_000))):
        front = reflection(panel, frequency_hz, cosine, AIR, backing="free")
        behind = reflection(panel[::-1], frequency_hz, cosine, AIR, backing="free")
        through = transmission(panel, frequency_hz, cosine, AIR)
        G = np.exp(-2j * 2 * np.pi * frequency_hz / AIR.speed_of_sound_m_s * gap_m * cosine)
        expected = front + through**2 * G / (1 - behind * G)
        found = reflection((*panel, Gap(gap_m)), frequency_hz, cosine, AIR)
        np.testing.assert_allclose(found, expected, atol=1e-9)  # the project's own bound; measured 1e-15


@given(st.floats(0.001, 0.5), st.floats(50, 8000), st.floats(0.05, 1))
def test_air_alone_only_delays(depth_m, frequency_hz, cosine):
    delay = np.exp(-2j * np.pi * frequency_hz / AIR.speed_of_sound_m_s * depth_m * cosine)
    gap = (Gap(depth_m),)
    assert reflection(gap, frequency_hz, cosine, AIR) == pytest.approx(delay**2, abs=1e-9)  # rounding
    assert transmission(gap, frequency_hz, cosine, AIR) == pytest.approx(delay, abs=1e-9)
    assert reflection(gap, frequency_hz, cosine, AIR, backing="free") == pytest.approx(0.0, abs=1e-9)


def test_an_empty_stack_is_the_bare_wall_or_nothing():
    assert reflection((), 500.0, 0.5, AIR) == 1.0
    assert reflection((), 500.0, 0.5, AIR, backing="free") == 0.0
    assert transmission((), 500.0, 0.5, AIR) == 1.0


def test_very_thick_and_dense_wool_stays_finite():
    stack = (Layer(Miki(1e6), 3.0), Layer(Miki(1e6), 3.0))
    assert np.isfinite(reflection(stack, 11_000.0, 0.5, AIR))
    assert abs(transmission(stack, 11_000.0, 0.5, AIR)) == 0.0


def test_two_layers_of_one_wool_are_one_layer():
    cosine = np.array([[1.0], [0.5]])
    halves = reflection((*wool(30, 12_000), *wool(20, 12_000)), BANDS, cosine, AIR)
    assert halves.shape == (2, 8)
    np.testing.assert_allclose(
        halves, reflection(wool(50, 12_000), BANDS, cosine, AIR), atol=1e-12
    )  # rounding


def test_the_recipe_for_wool_stays_near_mikis_model():
    # Two descriptions of the same ordinary wool: within 0.08 of each other, as the tables above differ.
    ours = random_absorption((Layer(typical_wool(12_000.0), 0.05),), BANDS, AIR)
    np.testing.assert_allclose(ours, random_absorption(wool(50, 12_000), BANDS, AIR), atol=0.08)


@pytest.mark.parametrize(
    ("name", "thickness_mm"), [("foam 30 mm", 30), ("mineral wool 50 mm", 50), ("mineral wool 100 mm", 100)]
)
def test_the_librarys_wool_is_this_model(name, thickness_mm):
    expected = random_absorption(wool(thickness_mm, 10_000), BANDS, AIR)
    np.testing.assert_allclose(load_library()[name].absorption, expected, atol=PRINTED)


@pytest.mark.parametrize(
    "build",
    [
        lambda: Miki(0.0),
        lambda: Layer(Miki(1e4), 0.0),
        lambda: Gap(-0.01),
        lambda: Facing(np.inf, 0.0),
        lambda: Facing(-1.0, 0.2),
        lambda: reflection(wool(50, 1e4), 0.0, 1.0, AIR),
        lambda: reflection(wool(50, 1e4), 500.0, 1.1, AIR),
        lambda: random_absorption(wool(50, 1e4), 500.0, AIR, incidence=Incidence(91.0)),
    ],
)
def test_impossible_builds_and_questions_are_refused(build):
    with pytest.raises(ValueError, match=r"must|at most"):
        build()
