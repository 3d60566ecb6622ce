import math

import pytest

from viewer.words import panels_words, signed


@pytest.mark.parametrize(
    ("stacked", "words"),
    [
        ([], "0 panels"),
        ([1], "1 panel"),
        ([1, 1, 1], "3 panels"),
        ([3], "3 panels in 1 place"),
        ([3, 2, 1], "6 panels in 3 places"),
    ],
)
def test_panels_are_counted_one_by_one_however_they_stand(stacked, words):
    assert panels_words(stacked) == words


@pytest.mark.parametrize(
    ("value", "figure"),
    [(3.21, "+3.2"), (-3.21, "−3.2"), (0.04, "0.0"), (-0.04, "0.0"), (math.nan, "–"), (math.inf, "–")],
)
def test_a_change_has_its_sign_and_nought_has_none(value, figure):
    assert signed(value) == figure
