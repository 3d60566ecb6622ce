"""Paper and scales are those of the reader."""

import pytest

from viewer.paper import PAPERS_MM, papers_beside, scale_words, usual_paper


def test_feet_come_on_letter_and_its_larger_kind():
    assert usual_paper("metric") == "A4"
    assert papers_beside(usual_paper("imperial")) == ("Letter", "Tabloid")
    for paper in PAPERS_MM:  # a larger paper is two of the smaller one
        for larger in papers_beside(paper)[1:]:
            short, long = PAPERS_MM[paper]
            assert PAPERS_MM[larger] == pytest.approx((long, 2.0 * short), abs=0.51)  # whole millimetres


@pytest.mark.parametrize(
    ("scale", "words"),
    [(48, "1/4 in = 1 ft"), (8, "1 1/2 in = 1 ft"), (12, "1 in = 1 ft"), (6, "2 in = 1 ft")],
)
def test_scales_in_feet_are_those_on_an_architects_rule(scale, words):
    assert scale_words(scale, "imperial") == words
    assert scale_words(scale, "metric") == f"1 : {scale}"
