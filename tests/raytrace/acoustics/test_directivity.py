import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import eval_legendre, spherical_jn, spherical_yn

from raytrace.acoustics.air import BANDS_HZ
from raytrace.acoustics.directivity import FLOOR_DB, cap_pattern, from_table, omni, read_directivity, two_way

SPEED = 343.2


def db(pressure):
    return 20.0 * np.log10(np.abs(pressure))


@pytest.mark.parametrize(
    ("band", "levels"),
    [
        (4, [-0.7, -2.7, -5.0, -8.2, -9.2, -5.4]),
        (6, [-1.0, -3.0, -5.9, -10.5, -16.9, -7.9]),
        (7, [-1.1, -3.5, -7.6, -14.0, -19.5, -11.7]),
    ],
)
def test_two_way_speaker_has_the_published_pattern(band, levels):
    # Morse and Ingard's cap on a sphere, the project's design figures at the exact band centres,
    # computed twice independently, printed to 0.1 dB.
    found = two_way(speed_of_sound_m_s=SPEED).level_db[[30, 60, 90, 120, 150, 180], band]
    np.testing.assert_allclose(found, levels, atol=0.05)  # half of the last printed digit


@pytest.mark.parametrize(("radius", "box_radius"), [(0.065, 0.13), (0.0125, 0.13), (0.15, 0.30), (0.2, 1.0)])
def test_cap_equals_the_series_with_scipys_bessel_functions(radius, box_radius):
    angles = np.radians([0.0, 20.0, 77.0, 90.0, 135.0, 180.0])
    frequency_hz = np.append(BANDS_HZ, 11220.0)
    mu = np.sqrt(1 - (radius / box_radius) ** 2)
    for frequency, found in zip(
        frequency_hz, cap_pattern(frequency_hz, angles, radius, box_radius, SPEED), strict=True
    ):
        ka = 2 * np.pi * frequency / SPEED * box_radius
        n = np.arange(int(1.2 * ka + 30))
        hankel_slope = spherical_jn(n, ka, derivative=True) - 1j * spherical_yn(n, ka, derivative=True)
        before = np.where(n == 0, 1.0, eval_legendre(np.maximum(n - 1, 0), mu))
        terms = 1j ** (n + 1) * (before - eval_legendre(n + 1, mu)) / hankel_slope
        expected = (terms * eval_legendre(n, np.cos(angles)[:, None])).sum(axis=1)
        # The series is cut at terms of 1e-12 of the axis; notches lie some orders below it.
        np.testing.assert_allclose(found, expected / expected[0], atol=1e-9)


@pytest.mark.parametrize(
    ("radius", "frequency_hz", "levels"),
    [
        (0.0125, 8000.0, [-0.93, -1.89, -2.89]),
        (0.065, 2000.0, [-1.59, -3.28, -5.11]),
        (0.065, 4000.0, [-7.12, -18.79, -25.35]),
        (0.050, 4000.0, [-3.94, -8.73, -15.28]),
    ],
)
def test_on_a_very_large_sphere_a_cap_becomes_a_piston_in_a_baffle(radius, frequency_hz, levels):
    # 2 J1(x)/x with x = ka sin(theta) at 30, 45 and 60 degrees (Beranek and Mellow).
    found = db(cap_pattern([frequency_hz], np.radians([30.0, 45.0, 60.0]), radius, 8.0, SPEED)[0])
    # Two printed decimals, and the sphere of 8 m still bends: 0.02 dB, falling to half when it doubles.
    np.testing.assert_allclose(found, levels, atol=0.03)


def test_a_box_sends_the_same_everywhere_low_down_and_weakly_behind_high_up():
    level_db = two_way(speed_of_sound_m_s=SPEED).level_db
    assert np.abs(level_db[:, 0]).max() < 1.0  # ka = 0.15 at 63 Hz: first order in ka leaves under 1 dB
    assert level_db[120, 7] < level_db[60, 7] < level_db[30, 7] < 0.0


def test_a_small_box_is_a_monopole_with_the_dipole_of_its_first_order():
    # h_0' ~ -j/x**2, h_1' ~ -2j/x**3 for small x (Abramowitz and Stegun, chapter 10, from memory) give
    # p ~ 1 + (3/4) j ka (1 + mu) cos(theta), so the pressure behind is (1 - e)/(1 + e) of that in front.
    ka = 1e-3
    e = 0.75j * ka * (1 + np.sqrt(0.75))
    found = cap_pattern([ka * SPEED / (2 * np.pi * 0.13)], [np.pi], 0.065, 0.13, SPEED)[0, 0]
    assert found == pytest.approx((1 - e) / (1 + e), abs=1e-8)  # left out: odd terms of (ka)**3 = 1e-9


def test_nothing_falls_below_the_floor_and_the_axis_is_the_reference():
    level_db = two_way(0.12, 0.1, 2500.0, 0.13, speed_of_sound_m_s=SPEED).level_db
    assert level_db.min() == FLOOR_DB
    np.testing.assert_allclose(level_db[0], 0.0, atol=1e-12)  # rounding only


def test_crossover_hands_over_from_woofer_to_tweeter():
    angles = np.radians(np.arange(181))
    woofer = db(cap_pattern(BANDS_HZ[3:4], angles, 0.065, 0.13, SPEED)[0])
    tweeter = db(cap_pattern(BANDS_HZ[7:8], angles, 0.0125, 0.13, SPEED)[0])
    level_db = two_way(speed_of_sound_m_s=SPEED).level_db
    np.testing.assert_allclose(level_db[:, 3], woofer, atol=0.02)  # q = (0.5/2.5)**4 = 0.0016 of the other
    np.testing.assert_allclose(level_db[:100, 7], tweeter[:100], atol=0.3)  # q = 102: 1 % of the woofer


def test_an_omni_source_sends_the_same_everywhere():
    np.testing.assert_array_equal(omni().energy(np.linspace(0, np.pi, 7)), 1.0)


@given(st.floats(0, np.pi))
def test_energy_lies_between_its_neighbours_and_is_linear_in_db(angle):
    directivity = two_way(speed_of_sound_m_s=SPEED)
    degrees = np.degrees(angle)
    expected = [np.interp(degrees, directivity.angles_deg, band) for band in directivity.level_db.T]
    np.testing.assert_allclose(10 * np.log10(directivity.energy([angle])[0]), expected, atol=1e-9)  # rounding


def test_energy_takes_many_angles_and_the_ends():
    energy = two_way(speed_of_sound_m_s=SPEED).energy(np.array([0.0, np.pi, np.pi + 1e-12]))
    assert energy.shape == (3, 8)
    np.testing.assert_allclose(energy[0], 1.0, rtol=1e-12)  # rounding only
    np.testing.assert_array_equal(energy[1], energy[2])


@pytest.mark.parametrize(
    "wrong",
    [
        {"radius_m": 0.2},
        {"radius_m": 0.0},
        {"tweeter_radius_m": -0.01},
        {"crossover_hz": 0.0},
        {"box_radius_m": np.nan},
        {"tweeter_radius_m": 0.13},
    ],
)
def test_an_impossible_speaker_is_refused_in_one_line(wrong):
    with pytest.raises(ValueError, match=r"must be positive|does not fit") as caught:
        two_way(**wrong, speed_of_sound_m_s=SPEED)
    assert "\n" not in str(caught.value)


def test_a_table_is_interpolated_in_db_and_set_to_zero_on_the_axis():
    directivity = from_table([180, 0, 90], np.outer([80.0, 90.0, 84.0], np.ones(8)))
    np.testing.assert_allclose(
        directivity.level_db[[0, 45, 90, 135, 180], 3], [0, -3, -6, -8, -10], atol=1e-12
    )


@pytest.mark.parametrize("other_side", [-60.0, 300.0])
def test_both_sides_of_a_table_are_folded_onto_one_by_energy(other_side):
    levels = np.outer([0.0, -2.0, -6.0, -10.0], np.ones(8))
    directivity = from_table([0.0, 60.0, other_side, 180.0], levels)
    expected = 10 * np.log10((10**-0.2 + 10**-0.6) / 2)
    np.testing.assert_allclose(directivity.level_db[60], expected, atol=1e-12)  # rounding only


@pytest.mark.parametrize(
    ("angles", "levels", "message"),
    [
        ([0, 90], np.zeros((2, 8)), "0 and at 180"),
        ([10, 180], np.zeros((2, 8)), "0 and at 180"),
        ([0, 180], np.zeros((2, 7)), "eight levels"),
        ([0, 400, 180], np.zeros((3, 8)), "0 to 180"),
        ([0, 180], np.full((2, 8), -np.inf), "finite"),
        ([], np.zeros((0, 8)), "0 to 180"),
    ],
)
def test_a_table_that_says_too_little_is_refused(angles, levels, message):
    with pytest.raises(ValueError, match=message):
        from_table(angles, levels)


CSV = "angle,63,125,250,500,1k,2k,4k,8k\n# measured at 2 m\n0,0,0,0,0,0,0,0,0\n\n90,-1,-2,-3,-4,-5,-6,-7,-8\n"
LAST = "180,-2,-4,-6,-8,-10,-12,-14,-16\n"


@pytest.mark.parametrize("text", [CSV + LAST, "\ufeff" + CSV + LAST, (CSV + LAST).replace("\n", "\r\n")])
def test_a_csv_file_is_read_with_its_heading_comments_and_empty_lines(tmp_path, text):
    path = tmp_path / "speaker.csv"
    path.write_bytes(text.encode())
    level_db = read_directivity(path).level_db
    np.testing.assert_allclose(level_db[45], -0.5 * np.arange(1, 9), atol=1e-12)  # rounding only
    np.testing.assert_allclose(level_db[180], -2.0 * np.arange(1, 9), atol=1e-12)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (CSV + "180,-2,-4\n", r"speaker\.csv:6: found 3 values, not 9"),
        (CSV + "180;-2;-4;-6;-8;-10;-12;-14;-16\n", r"speaker\.csv:6: found 1 values.*commas"),
        (CSV + LAST.replace("-16", "loud"), r'speaker\.csv:6: "loud" is not a number'),
        (CSV + LAST.replace("-16", "nan"), r'speaker\.csv:6: "nan" is not a finite number'),
        (CSV + "text," + LAST, r"speaker\.csv:6: found 10 values"),
        (CSV, r"speaker\.csv: .*0 and at 180"),
        ("", r"no rows"),
        ("# nothing\n", r"no rows"),
    ],
)
def test_a_wrong_csv_file_is_refused_in_one_line_that_names_the_place(tmp_path, text, message):
    path = tmp_path / "speaker.csv"
    path.write_text(text)
    with pytest.raises(ValueError, match=message) as caught:
        read_directivity(path)
    assert "\n" not in str(caught.value)


def test_a_missing_or_binary_csv_file_is_refused(tmp_path):
    with pytest.raises(ValueError, match="cannot read"):
        read_directivity(tmp_path / "missing.csv")
    (tmp_path / "binary.csv").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ValueError, match="not UTF-8"):
        read_directivity(tmp_path / "binary.csv")
