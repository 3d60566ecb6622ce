import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from raytrace.scene.units import format_length, parse_length


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("1200 mm", 1.2),
        ("30mm", 0.03),
        ("12.5 cm", 0.125),
        ("3.4 m", 3.4),
        (".5m", 0.5),
        ("-30 mm", -0.03),
        ("8' 6 1/2\"", 2.6035),
        ("8'6\"", 2.5908),
        ("8'-6\"", 2.5908),
        ("8′ 6″", 2.5908),
        ("8 ft 6 in", 2.5908),
        ("8 ft", 2.4384),
        ("8.5 ft", 2.5908),
        ("3/4 in", 0.01905),
        ("6 1/2 in", 0.1651),
        ('14"', 0.3556),
        ("-1' 6\"", -0.4572),
        (" 2.4 M ", 2.4),
    ],
)
def test_lengths_as_people_write_them_become_metres(text, metres):
    # Exact: one inch is 25.4 mm by definition (international yard and pound agreement of 1959, from memory).
    assert parse_length(text) == metres


@pytest.mark.parametrize("number", [0, 3, 2.45, -0.3])
def test_a_bare_number_is_metres(number):
    assert parse_length(number) == number
    assert isinstance(parse_length(number), float)


@pytest.mark.parametrize(
    "value",
    [
        "12,5 cm",
        "1,200 mm",
        "3.4",
        "3.4 metres long",
        "",
        "m",
        "8' 14\"",
        "8' 6",
        "8.5 ft 6 in",
        "1/0 in",
        "6 9/8 in",
        "--3 m",
        "3 m 20 cm",
        "1e3 mm",
        "3.4.1 m",
        "6 mm 1/2",
        "1 yd",
        True,
        None,
        [3],
        math.nan,
        math.inf,
    ],
)
def test_anything_else_is_refused_in_one_line_with_an_example(value):
    with pytest.raises(ValueError, match=r'"[^"]+ (mm|cm|m|in)"') as caught:
        parse_length(value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("value", "meant"),
    [
        ("3,4 m", 'for example "3.4 m"'),
        ("12,5cm", 'for example "12.5cm"'),
        ("1,200 mm", 'for example "1200 mm" or "1.200 mm"'),
        ("1,234,500 mm", 'for example "1234500 mm"'),
        ("3,4", "write metres as a bare number"),
    ],
)
def test_a_decimal_comma_is_named_as_the_fault_and_answered_with_what_was_meant(value, meant):
    with pytest.raises(ValueError, match="comma") as caught:
        parse_length(value)
    assert meant in str(caught.value)


def test_a_number_in_quotes_is_answered_with_its_own_digits():
    with pytest.raises(ValueError, match="no unit") as caught:
        parse_length("340")
    assert 'write "340 mm" or "340 cm" or "340 m"' in str(caught.value)


def test_lengths_are_printed_for_people():
    assert format_length(1.27) == "1270 mm"
    assert format_length(1.2744, style="m") == "1.27 m"
    assert format_length(1.27, units="imperial") == "4' 2\""
    assert format_length(2.6035, units="imperial") == "8' 6 1/2\""
    assert format_length(0.01905, units="imperial") == '3/4"'
    assert format_length(0.3047, units="imperial") == "1' 0\""
    assert format_length(-0.3048, units="imperial") == "-1' 0\""


def test_nothing_is_printed_as_minus_nothing():
    assert format_length(-1e-5) == "0 mm"
    assert format_length(-1e-5, style="m") == "0.00 m"
    assert format_length(-1e-5, units="imperial") == '0"'


@given(st.floats(-100, 100))
def test_what_is_printed_reads_back_within_half_its_last_step(metres):
    rounding = 1e-12  # floats of this size carry about 1e-14; a tie may fall either way
    assert abs(parse_length(format_length(metres)) - metres) <= 0.0005 + rounding
    assert abs(parse_length(format_length(metres, style="m")) - metres) <= 0.005 + rounding
    assert abs(parse_length(format_length(metres, units="imperial")) - metres) <= 0.0254 / 16 + rounding


@pytest.mark.parametrize("wrong", [{"units": "US"}, {"style": "cm"}])
def test_unknown_units_and_styles_are_refused(wrong):
    with pytest.raises(ValueError, match=r"metric|mm"):
        format_length(1.0, **wrong)


def test_a_length_that_is_not_finite_is_not_printed():
    with pytest.raises(ValueError, match="nan"):
        format_length(math.nan)
