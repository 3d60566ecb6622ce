import numpy as np
import pytest
from scipy.special import eval_legendre, spherical_jn, spherical_yn

from raytrace.acoustics.air import BANDS_HZ, band_frequencies_hz
from raytrace.acoustics.directivity import (
    FLOOR_DB,
    cap_pattern,
    from_table,
    omni,
    piston_pattern,
    read_directivity,
    two_way,
)

SPEED = 343.2
AXIS = np.array([1.0, 0.0, 0.0])
FREQUENCIES_HZ = band_frequencies_hz().reshape(-1)


def towards(angles_deg):
    """Directions so many degrees off the axis, to the side."""
    angle = np.radians(np.asarray(angles_deg, np.float64))
    return np.stack([np.cos(angle), np.sin(angle), np.zeros_like(angle)], axis=-1)


def from_the_middle(frequency_hz, angles_deg, box_radius):
    """Pressure of the default two-way speaker on a box, with ways from the middle of its sphere."""
    q = ((frequency_hz / 2500.0) ** 4)[:, None]
    angles = np.radians(angles_deg)
    woofer, tweeter = (cap_pattern(frequency_hz, angles, r, box_radius, SPEED) for r in (0.065, 0.0125))
    return (woofer + q * tweeter) / (1.0 + q)


def levels_db(directivity, angles_deg):
    """Level in the middle of each octave, (n, 8): the mean of the two frequencies beside it."""
    return db(directivity.pressure(towards(angles_deg), AXIS)[:, :, 11:13]).mean(axis=2)


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
    found = db(from_the_middle(BANDS_HZ, [30, 60, 90, 120, 150, 180], 0.13)[band])
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
    level_db = levels_db(two_way(speed_of_sound_m_s=SPEED), np.arange(181))
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
    level_db = db(
        two_way(0.12, 0.1, 2500.0, 0.13, speed_of_sound_m_s=SPEED).pressure(towards(range(181)), AXIS)
    )
    assert level_db.min() == pytest.approx(FLOOR_DB, abs=1e-9)
    np.testing.assert_allclose(level_db[0], 0.0, atol=1e-12)  # rounding only


def test_crossover_hands_over_from_woofer_to_tweeter():
    angles = np.radians(np.arange(181))
    woofer = db(cap_pattern(FREQUENCIES_HZ[84:85], angles, 0.065, 0.13, SPEED)[0])
    tweeter = db(cap_pattern(FREQUENCIES_HZ[180:181], angles, 0.0125, 0.13, SPEED)[0])
    level_db = db(two_way(speed_of_sound_m_s=SPEED).pressure(towards(range(181)), AXIS)).reshape(181, -1)
    np.testing.assert_allclose(level_db[:, 84], woofer, atol=0.02)  # q = (0.5/2.5)**4 = 0.0016 of the other
    np.testing.assert_allclose(level_db[:100, 180], tweeter[:100], atol=0.3)  # q = 110: 1 % of the woofer


@pytest.mark.parametrize("box_radius", [0.07, 0.13, 0.4, 1.0])
def test_between_its_steps_a_pattern_keeps_its_stated_error(box_radius):
    angles_deg = np.random.default_rng(3).uniform(0.0, 180.0, 400)
    found = two_way(0.065, 0.0125, 2500.0, box_radius, speed_of_sound_m_s=SPEED).pressure(
        towards(angles_deg), AXIS
    )
    angles = np.radians(angles_deg)
    middle = from_the_middle(FREQUENCIES_HZ, angles_deg, box_radius)
    ka = 2.0 * np.pi * FREQUENCIES_HZ[:, None] * box_radius / SPEED
    expected = (middle * np.exp(1j * ka * (1.0 - np.cos(angles)))).T
    is_above = np.abs(expected) > 10.0 ** (FLOOR_DB / 20.0) + 1e-3
    error = np.abs(found.reshape(expected.shape) - expected)[is_above]
    assert error.max() < 1e-3
    assert error.max() > 1e-7  # it is a table


def test_sound_that_leaves_to_the_rear_of_a_box_comes_late():
    # High up it creeps round the sphere: a quarter circle to its side instead of the straight way back to
    # the middle, (pi/2 - 1) a farther than the line from the front; low down it is later still.
    frequency_hz, a = FREQUENCIES_HZ, 0.13
    turned = np.unwrap(np.angle(two_way(speed_of_sound_m_s=SPEED).pressure(towards([179.9]), AXIS).ravel()))
    late_m = -np.diff(turned) / np.diff(frequency_hz) * SPEED / (2 * np.pi)
    # The mean from 500 Hz to 2 kHz, below the crossover; creeping waves travel some per cent below c.
    assert np.mean(late_m[84:132]) == pytest.approx((np.pi / 2 - 1) * a, rel=0.35)


@pytest.mark.parametrize("rise_deg", [-15.0, 15.0, 40.0])
@pytest.mark.parametrize("distance_m", [0.8, 2.5, np.inf])
def test_drivers_above_each_other_draw_the_lobe_of_two_sources(rise_deg, distance_m):
    # Two small sources in phase, shares 1/(1 + q) and q/(1 + q), each later by its own way: closed form.
    low, high, crossover = -0.12, 0.06, 2000.0
    lobed = two_way(0.005, 0.005, crossover, 0.01, (low, high), speed_of_sound_m_s=SPEED)
    single = two_way(0.005, 0.005, crossover, 0.01, speed_of_sound_m_s=SPEED)
    angle = np.radians(rise_deg)
    direction = np.array([[np.cos(angle), 0.0, np.sin(angle)]])
    if np.isinf(distance_m):
        ways_m = np.array([-low * np.sin(angle), -high * np.sin(angle)])
    else:
        ear = distance_m * direction[0]
        ways_m = np.array([np.linalg.norm(ear - [0.0, 0.0, h]) for h in (low, high)]) - distance_m
    q = (FREQUENCIES_HZ / crossover) ** 4
    turns = np.exp(-2j * np.pi * FREQUENCIES_HZ / SPEED * ways_m[:, None])
    expected = (turns[0] + q * turns[1]) / (1.0 + q)
    found, alone = (d.pressure(direction, AXIS, distance_m).ravel() for d in (lobed, single))
    above = np.abs(expected) > 0.1  # above the floor
    # The same caps off the same sphere: what is left is the table's error.
    np.testing.assert_allclose((found / alone)[above], expected[above], atol=2e-3)


def test_ears_off_in_height_lose_some_decibels_at_the_crossover():
    # Equal drivers 200 mm apart, 15 degrees: 52 mm of 172 mm at 2 kHz, cos(0.95) = -4.7 dB.
    lobed = two_way(0.0125, 0.0125, BANDS_HZ[5], 0.13, (-0.1, 0.1), speed_of_sound_m_s=SPEED)
    angle = np.radians(15.0)
    beside, above = np.array([[np.cos(angle), np.sin(angle), 0.0], [np.cos(angle), 0.0, np.sin(angle)]])
    loss_db = [
        db(lobed.pressure(d[None], AXIS)[0, 5, 11:13]).mean() for d in (beside, above, above * [1, 1, -1])
    ]
    expected_db = db(np.cos(np.pi * BANDS_HZ[5] * 0.2 * np.sin(angle) / SPEED))
    assert loss_db[1] - loss_db[0] == pytest.approx(expected_db, abs=0.01)
    assert loss_db[2] == pytest.approx(loss_db[1], abs=0.1)  # equal shares: the same above and below


def test_a_tilted_speaker_carries_its_drivers_with_it():
    lobed = two_way(0.065, 0.0125, 2000.0, 0.13, (-0.1, 0.1), speed_of_sound_m_s=SPEED)
    tilt, angle = np.radians(30.0), np.radians([0.0, 15.0])
    level = np.stack([np.cos(angle), 0 * angle, np.sin(angle)], axis=1)
    raised = np.stack([np.cos(angle + tilt), 0 * angle, np.sin(angle + tilt)], axis=1)
    np.testing.assert_allclose(
        lobed.pressure(raised, np.array([np.cos(tilt), 0.0, np.sin(tilt)])),
        lobed.pressure(level, AXIS),
        atol=1e-9,  # rounding of the angles
    )
    down = lobed.pressure(raised, np.array([0.0, 0.0, -1.0]))
    assert np.isfinite(down).all()


def test_energy_is_the_mean_of_its_band_with_and_without_lobes():
    directions = towards(np.linspace(1.0, 179.0, 50))
    directions = directions @ np.array([[1, 0, 0], [0, 0.6, 0.8], [0, -0.8, 0.6]])
    for heights in ((0.0, 0.0), (-0.1, 0.05)):
        directivity = two_way(drivers_m=heights, speed_of_sound_m_s=SPEED)
        mean = np.mean(np.abs(directivity.pressure(directions, AXIS)) ** 2, axis=2)
        # Without lobes energies are read linearly between whole degrees: a bend of 1e-3 at most.
        np.testing.assert_allclose(directivity.energy(directions, AXIS), mean, atol=2e-3)


def test_a_piston_in_a_wall_sends_nothing_of_a_box():
    # 2 J1(x)/x of Beranek and Mellow's figures below.
    directivity = two_way(0.065, 0.064, 2500.0, np.inf, speed_of_sound_m_s=SPEED)
    piston = piston_pattern(FREQUENCIES_HZ, np.radians([30.0, 60.0]), 0.065, SPEED)
    found = directivity.pressure(towards([30.0, 60.0]), AXIS).reshape(2, -1).T
    np.testing.assert_allclose(
        found[:120], piston[:120], atol=2e-2
    )  # below 2 kHz the other driver says little
    at_2k = piston_pattern(np.array([2000.0, 4000.0]), np.radians([30.0, 45.0, 60.0]), 0.065, SPEED)
    np.testing.assert_allclose(db(at_2k), [[-1.59, -3.28, -5.11], [-7.12, -18.79, -25.35]], atol=0.005)
    assert np.abs(found[:, 0] / directivity.pressure(towards([150.0]), AXIS).ravel()).max() < 30


def test_an_omni_source_sends_the_same_everywhere():
    directions = towards(np.linspace(0, 180, 7))
    np.testing.assert_allclose(omni().pressure(directions, AXIS), 1.0, atol=1e-15)
    np.testing.assert_allclose(omni().energy(directions, AXIS), 1.0, atol=1e-15)


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
    found = levels_db(directivity, [0, 45, 90, 135, 180])[:, 3]
    np.testing.assert_allclose(found, [0, -3, -6, -8, -10], atol=1e-9)  # rounding of the angles


@pytest.mark.parametrize("last_deg", [70.0, 90.0, 179.4])
def test_a_table_that_ends_early_is_held_from_its_last_angle(last_deg):
    angles = np.linspace(0.0, last_deg, 70)
    directivity = from_table(angles, np.outer(-0.1 * angles, np.ones(8)))
    assert directivity.held_from_deg == last_deg
    found = levels_db(directivity, [0.5 * last_deg, np.ceil(last_deg), 180.0])[:, 5]
    np.testing.assert_allclose(found, [-0.05 * last_deg, -0.1 * last_deg, -0.1 * last_deg], atol=0.02)


@pytest.mark.parametrize("other_side", [-60.0, 300.0])
def test_both_sides_of_a_table_are_folded_onto_one_by_energy(other_side):
    levels = np.outer([0.0, -2.0, -6.0, -10.0], np.ones(8))
    directivity = from_table([0.0, 60.0, other_side, 180.0], levels)
    expected = 10 * np.log10((10**-0.2 + 10**-0.6) / 2)
    np.testing.assert_allclose(
        levels_db(directivity, [60.0])[0], expected, atol=1e-9
    )  # rounding of the angle


@pytest.mark.parametrize(
    ("angles", "levels", "message"),
    [
        ([0, 45], np.zeros((2, 8)), "up to 60 or more: found 0 to 45"),
        ([10, 180], np.zeros((2, 8)), "a row at 0 degrees"),
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
    found = levels_db(read_directivity(path), [45, 180])
    np.testing.assert_allclose(found, np.outer([-0.5, -2.0], np.arange(1, 9)), atol=1e-9)  # of the angles


def test_a_csv_file_of_a_hemisphere_is_read(tmp_path):
    path = tmp_path / "speaker.csv"
    path.write_text(CSV)
    directivity = read_directivity(path)
    assert directivity.held_from_deg == 90.0
    np.testing.assert_allclose(levels_db(directivity, [120])[0], -np.arange(1, 9), atol=1e-9)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (CSV + "180,-2,-4\n", r"speaker\.csv:6: found 3 values, not 9"),
        (CSV + "180;-2;-4;-6;-8;-10;-12;-14;-16\n", r"speaker\.csv:6: found 1 values.*commas"),
        (CSV + LAST.replace("-16", "loud"), r'speaker\.csv:6: "loud" is not a number'),
        (CSV + LAST.replace("-16", "nan"), r'speaker\.csv:6: "nan" is not a finite number'),
        (CSV + "text," + LAST, r"speaker\.csv:6: found 10 values"),
        (CSV.replace("90,", "40,"), r"speaker\.csv: .*up to 60 or more"),
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


@pytest.mark.parametrize("level", ["1e308", "-1e308", "200.1"])
def test_a_level_that_no_speaker_has_is_refused(tmp_path, level):
    path = tmp_path / "speaker.csv"
    path.write_text(f"0,0,0,0,0,0,0,0,0\n90,0,0,0,0,0,0,0,{level}\n")
    with pytest.raises(ValueError, match=r"speaker.csv:2: found .* dB; accepted: -200 to 200 dB"):
        read_directivity(path)
    path.write_text("0,0,0,0,0,0,0,0,0\n90,0,0,0,0,0,0,0,-200\n")
    assert read_directivity(path).held_from_deg == 90.0
