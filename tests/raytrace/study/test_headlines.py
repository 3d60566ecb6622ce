from dataclasses import replace

import pytest

from raytrace import compare, headline, load_scene, run_study
from tests.support.scenes import BOX


@pytest.fixture(scope="module")
def one(tmp_path_factory):
    path = tmp_path_factory.mktemp("scenes") / "scene.toml"
    return run_study(load_scene(path, BOX), up_to_order=1)


COUNTED = [
    (0, 0, 0, 0, "No early reflection over the limit, before or after"),
    (0, 1, 0, 1, "One early reflection now over the limit, where there was none"),
    (0, 3, 0, 3, "Three early reflections now over the limit, where there was none"),
    (9, 2, 7, 0, "Seven of nine early reflections that were over the limit are now below it"),
    (1, 2, 1, 2, "The one early reflection over the limit is now below it, but two others are now over it"),
    (2, 0, 2, 0, "Both early reflections that were over the limit are now below it"),
    (9, 0, 9, 0, "All nine early reflections that were over the limit are now below it"),
    (1, 0, 1, 0, "The one early reflection over the limit is now below it"),
    (
        1,
        1,
        0,
        0,
        "The one early reflection that was over the limit still is, the worst by 4.0 dB instead of 6.0",
    ),
    (
        14,
        14,
        0,
        0,
        "All 14 early reflections that were over the limit still are, the worst by 4.0 dB instead of 6.0",
    ),
    (
        3,
        4,
        1,
        2,
        "One of three early reflections that were over the limit is now below it, but four are over it, "
        "two of them new",
    ),
    (
        2,
        1,
        2,
        1,
        "Both early reflections that were over the limit are now below it, but one other is now over it",
    ),
]


@pytest.mark.parametrize(("was", "now", "cleared", "new", "words"), COUNTED)
def test_the_headline_says_how_many_were_and_are_over_the_limit(one, was, now, cleared, new, words):
    result = compare(one, one)
    pair = result.verdicts[0]
    before = replace(pair.before, n_over=was, worst_margin_db=-6.0)
    after = replace(pair.after, n_over=now, worst_margin_db=-4.0)
    verdict = replace(pair, before=before, after=after, n_cleared=cleared, n_new=new)
    assert headline(replace(result, verdicts=(verdict,))) == f"{words}."


@pytest.mark.parametrize(
    ("was", "now", "words"),
    [
        (3.9, -0.8, "left and right differ by 0.8 dB instead of 3.9"),
        (-0.8, 0.84, "left and right still differ by 0.8 dB"),
        (0.04, -0.03, "left and right match"),
        (0.4, -0.2, "left and right match within 0.2 dB"),
        (0.6, -0.2, "left and right differ by 0.2 dB instead of 0.6"),
        (0.8, 3.9, "left and right differ by 3.9 dB instead of 0.8"),
    ],
)
def test_the_headline_ends_with_left_against_right(tmp_path, was, now, words):
    right = '[[speakers]]\nname = "right"\nposition = [1.0, 2.7, 1.2]\ndirectivity = "omni"\n'
    study = run_study(load_scene(tmp_path / "scene.toml", BOX + right), up_to_order=1)
    sides = tuple(replace(study.left_right, difference_db=value) for value in (was, now))
    result = replace(compare(study, study), left_right=sides)
    assert headline(result).endswith(f"; {words}.")


def test_what_is_just_over_the_limit_does_not_read_as_nothing(one):
    result = compare(one, one)
    pair = result.verdicts[0]
    before = replace(pair.before, n_over=1, worst_margin_db=-0.3)
    after = replace(pair.after, n_over=1, worst_margin_db=-0.01)
    verdict = replace(pair, before=before, after=after, n_cleared=0, n_new=0)
    assert "the worst by <0.1 dB instead of 0.3" in headline(replace(result, verdicts=(verdict,)))
