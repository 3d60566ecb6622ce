import pytest
from numpy.testing import assert_allclose

from raytrace.acoustics.decaylimits import decay_target
from viewer.words import told


def test_the_target_grows_with_the_cube_root_of_the_volume():
    # EBU Tech 3276 formula and tolerance below 200 Hz from memory.
    target = decay_target(100.0)
    assert target.time_s == pytest.approx(0.25, abs=1e-12)
    assert decay_target(52.0).time_s == pytest.approx(0.2010, abs=5e-5)
    assert_allclose(target.high_s - target.time_s, [0.3, 0.152, 0.05, 0.05, 0.05, 0.05, 0.05, 0.1], atol=5e-4)
    assert_allclose(target.time_s - target.low_s, [0.05] * 7 + [0.1], atol=1e-12)
    assert target.note is None


def test_a_room_outside_the_range_of_the_target_is_said_so():
    assert "outside the range" in str(decay_target(30.0).note)
    assert "outside the range" in str(decay_target(450.0).note)
    assert decay_target(52.0).note is None


def test_the_volume_of_a_room_is_converted_before_it_is_rounded():
    note = decay_target(37.24).note
    assert "37 m³" in str(note)
    # 37 m³ would be 1307 ft³.
    assert "1315 ft³" in told(note, "imperial")
