"""What a build says of its frame is an actual size."""

import pytest

from raytrace.scene.frames import frame_section, names_a_size

HALF_MM = 5e-4  # the standard gives its sizes in whole millimetres


@pytest.mark.parametrize(
    ("frame", "sides_m", "is_nominal"),
    [("20x120", (0.020, 0.120), False), ("1x6", (0.019, 0.140), True), (None, (0.020, 0.05), False)],
)
def test_inches_are_nominal_and_millimetres_are_not(frame, sides_m, is_nominal):
    section = frame_section(frame, 0.05)
    assert (section.thickness_m, section.depth_m) == pytest.approx(sides_m, abs=HALF_MM)
    assert section.is_nominal is is_nominal


def test_only_words_with_a_size_count_as_one():
    assert names_a_size("1x4")
    assert not names_a_size("pine")
