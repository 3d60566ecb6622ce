import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from raytrace.acoustics.air import (
    BAND_NAMES,
    BANDS_HZ,
    air_attenuation_db_per_m,
    air_density_kg_m3,
    band_frequencies_hz,
    band_share,
    speed_of_sound_m_s,
)


def test_band_centres_are_the_exact_base_10_ones():
    # IEC 61260-1 (from memory): f_m = 1000 * 10**(3k/10).
    expected = [63.096, 125.89, 251.19, 501.19, 1000.0, 1995.3, 3981.1, 7943.3]
    np.testing.assert_allclose(BANDS_HZ, expected, rtol=3e-5)  # the list has five digits
    np.testing.assert_allclose(BANDS_HZ, BAND_NAMES, rtol=0.01)  # nominal names differ by up to 0.8 %


@pytest.mark.parametrize(
    ("temperature_c", "speed", "density"),
    [
        (0, 331.29, 1.2923),
        (10, 337.30, 1.2466),
        (15, 340.26, 1.2250),
        (18, 342.03, 1.2124),
        (20, 343.20, 1.2041),
        (22, 344.37, 1.1960),
        (25, 346.11, 1.1839),
        (30, 349.00, 1.1644),
    ],
)
def test_speed_and_density_follow_the_table(temperature_c, speed, density):
    # ISO 9613-1:1993, Annex A (from memory) for c; dry ideal gas for the density.
    assert speed_of_sound_m_s(temperature_c) == pytest.approx(speed, abs=0.005)  # two printed decimals
    assert air_density_kg_m3(temperature_c, 101.325) == pytest.approx(density, abs=5e-5)  # four decimals


def test_density_is_proportional_to_pressure():
    # Ideal gas law; rounding only.
    assert air_density_kg_m3(15.0, 84.3) == pytest.approx(air_density_kg_m3(15.0) * 84.3 / 101.325, rel=1e-12)


@pytest.mark.parametrize(
    ("temperature_c", "humidity", "db_per_km"),
    [
        (20, 50, [0.1228, 0.4453, 1.318, 2.7335, 4.6647, 9.8552, 29.419, 103.91]),
        (20, 70, [0.0897, 0.3395, 1.1324, 2.7979, 4.9778, 9.0164, 22.911, 76.621]),
        (10, 70, [0.1217, 0.4110, 1.0434, 1.9279, 3.6577, 9.6639, 32.770, 116.88]),
    ],
)
def test_attenuation_follows_iso_9613_1(temperature_c, humidity, db_per_km):
    # ISO 9613-1:1993 eqs (3) to (5), computed twice independently; half a unit of the last printed digit.
    found = air_attenuation_db_per_m(BANDS_HZ, temperature_c, humidity, 101.325) * 1000
    np.testing.assert_allclose(found, db_per_km, rtol=5e-5, atol=6e-5)


@pytest.mark.parametrize(
    ("temperature_c", "humidity", "db_per_km"),
    [
        (20, 30, [0.192, 0.615, 1.42, 2.52, 5.01, 14.1, 48.5, 166]),
        (20, 40, [0.150, 0.521, 1.39, 2.63, 4.65, 11.2, 36.1, 128]),
        (20, 50, [0.123, 0.445, 1.32, 2.73, 4.66, 9.86, 29.4, 104]),
        (22, 45, [0.128, 0.464, 1.39, 2.90, 4.93, 10.2, 30.0, 106]),
    ],
)
def test_attenuation_rounds_to_rows_of_three_digits(temperature_c, humidity, db_per_km):
    # As ISO 9613-1:1993, Table 1, prints them (from memory); the last row lies between those of the table.
    found = air_attenuation_db_per_m(BANDS_HZ, temperature_c, humidity) * 1000
    assert [float(f"{value:.3g}") for value in found] == db_per_km


@pytest.mark.parametrize(
    ("temperature_c", "db_per_km"),
    [(20, [0.1, 0.3, 1.1, 2.8, 5.0, 9.0, 22.9, 76.6]), (10, [0.1, 0.4, 1.0, 1.9, 3.7, 9.7, 32.8, 117])],
)
def test_attenuation_rounds_to_the_rows_of_iso_9613_2(temperature_c, db_per_km):
    # ISO 9613-2:1996, Table 2, 70 % relative humidity.
    found = air_attenuation_db_per_m(BANDS_HZ, temperature_c, 70.0, 101.325) * 1000
    np.testing.assert_allclose(found[:7], db_per_km[:7], atol=0.05)  # one printed decimal
    assert found[7] == pytest.approx(db_per_km[7], abs=0.5 if db_per_km[7] == 117 else 0.05)


@given(temperature_c=st.floats(-20, 50), humidity=st.floats(1, 50), scale=st.floats(0.5, 2))
def test_attenuation_per_pressure_depends_on_frequency_per_pressure(temperature_c, humidity, scale):
    # Gas of the same composition relaxes by collisions of two molecules, so frequency and attenuation scale
    # with pressure. The composition stays when humidity scales too: vapour is hr * psat / pa of the air.
    frequency_hz = np.array([63.0, 500.0, 2000.0, 10000.0])
    found = air_attenuation_db_per_m(scale * frequency_hz, temperature_c, scale * humidity, scale * 101.325)
    expected = scale * air_attenuation_db_per_m(frequency_hz, temperature_c, humidity, 101.325)
    np.testing.assert_allclose(found, expected, rtol=1e-12)  # rounding only


@pytest.mark.parametrize(
    "wrong", [(-274.0, 50.0, 101.3), (20.0, 101.0, 101.3), (20.0, -1.0, 101.3), (20.0, 50.0, 0.0)]
)
def test_impossible_air_is_refused(wrong):
    with pytest.raises(ValueError, match=r"must be"):
        air_attenuation_db_per_m(1000.0, *wrong)


def test_a_band_is_sampled_evenly_about_its_centre_and_bands_meet():
    frequencies = band_frequencies_hz()
    assert frequencies.shape == (8, 24)
    steps = np.diff(np.log10(frequencies).ravel())
    np.testing.assert_allclose(steps, 0.3 / 24, rtol=1e-9)  # no jump from band to band; rounding only
    np.testing.assert_allclose(np.log10(frequencies).mean(axis=1), np.log10(BANDS_HZ), rtol=1e-12)  # rounding


def test_share_of_the_limits_band_is_the_printed_one():
    # Arithmetic with octaves that meet at 1000 * 2**(n + 1/2) Hz; four printed decimals.
    np.testing.assert_allclose(band_share(1000.0, 8000.0)[4:], [0.0592, 0.2020, 0.4041, 0.3347], atol=5e-5)


@given(st.floats(45, 11000), st.floats(1.001, 300))
def test_shares_add_up_to_one_and_are_never_negative(from_hz, ratio):
    share = band_share(from_hz, from_hz * ratio)
    assert share.sum() == pytest.approx(1.0, abs=1e-12)  # rounding of eight terms
    assert (share >= 0).all()


@pytest.mark.parametrize(
    "wrong", [(1000.0, 1000.0), (8000.0, 1000.0), (0.0, 500.0), (10.0, 40.0), (12e3, 20e3)]
)
def test_a_band_that_holds_no_octave_is_refused(wrong):
    with pytest.raises(ValueError, match=r"band|octaves"):
        band_share(*wrong)
