"""Paper and scales are those of the reader."""

import pytest

from raytrace import load_scene
from tests.support.scenes import SCENES
from viewer.cli.commandline import units_of
from viewer.paper import PAPERS_MM, papers_beside, scale_words, usual_paper
from viewer.report.report import PrintStyle
from viewer.sheets.elevation import SCALES


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


def test_every_scale_in_feet_can_be_read_off_a_rule_in_thirty_seconds_of_an_inch():
    for scale in SCALES["imperial"]:
        part = scale_words(scale, "imperial").removesuffix(" in = 1 ft").split()[-1]
        assert int(part.rpartition("/")[2] if "/" in part else 1) in (1, 2, 4, 8, 16, 32)


def test_a_command_goes_before_the_scene_and_the_scene_before_what_is_usual():
    scene = load_scene(SCENES / "box.toml")
    feet = with_job(scene, units="imperial")
    assert [units_of(scene, None), units_of(feet, None), units_of(feet, "metric")] == [
        "metric",
        "imperial",
        "metric",
    ]
    assert PrintStyle("imperial").sheet == "Letter"
    assert PrintStyle("imperial", paper="A4").sheet == "A4"


def with_job(scene, **keys):
    """The scene with other keys in its [job]."""
    return scene.model_copy(update={"job": scene.job.model_copy(update=keys)})
