"""What commands share: what a user can put right is one message, data is whole, nothing else is written."""

import json

import pytest

from raytrace import load_scene
from tests.support.scenes import BOX, SCENES
from viewer.cli import commandline
from viewer.cli.commandline import (
    Extent,
    Mistake,
    check_form,
    check_name,
    mistakes,
    read_scene,
    study_of,
    units_of,
)
from viewer.cli.printing import print_json


def test_only_what_was_named_becomes_a_mistake():
    with pytest.raises(Mistake, match="full"), mistakes(OSError):
        raise OSError("full")
    with pytest.raises(OSError, match="full"), mistakes():
        raise OSError("full")


def test_a_scene_that_is_none_is_a_mistake_with_its_name(tmp_path):
    with pytest.raises(Mistake, match=r"no-such\.toml"):
        read_scene(tmp_path / "no-such.toml")


def test_progress_is_not_written_where_no_terminal_is(capsys):
    study = study_of(read_scene(SCENES / "box.toml"), Extent(1))
    assert len(study.arrivals.order)
    assert capsys.readouterr() == ("", "")


def test_a_json_object_is_printed_in_full_precision(capsys):
    print_json({"third": 1 / 3, "none": None})
    assert json.loads(capsys.readouterr().out) == {"third": 1 / 3, "none": None}


@pytest.mark.parametrize(
    "form", [(True, True, "metric"), (True, False, "imperial"), (False, True, "imperial")]
)
def test_data_is_of_one_kind_and_metric(form):
    with pytest.raises(Mistake, match=r"--(json|csv)"):
        check_form(*form)
    check_form(False, False, "imperial")


def test_a_wrong_name_is_answered_with_those_there_are():
    check_name(None, ("left", "right"), "speaker")
    with pytest.raises(Mistake, match='no speaker is called "middle"; there is "left", "right"'):
        check_name("middle", ("left", "right"), "speaker")


def test_a_scene_that_is_being_edited_keeps_the_name_of_its_file(tmp_path):
    draft = tmp_path / "draft"
    draft.write_text(BOX.replace("title =", "# title ="), encoding="utf-8")
    scene = read_scene(tmp_path / "attic.toml", draft)
    assert (scene.path, scene.title) == (tmp_path / "attic.toml", "attic")


def test_a_command_goes_before_the_scene_and_the_scene_before_what_is_usual():
    scene = load_scene(SCENES / "box.toml")
    feet = with_job(scene, units="imperial")
    assert [units_of(scene, None), units_of(feet, None), units_of(feet, "metric")] == [
        "metric",
        "imperial",
        "metric",
    ]


def with_job(scene, **keys):
    """The scene with other keys in its [job]."""
    return scene.model_copy(update={"job": scene.job.model_copy(update=keys)})


def test_what_takes_minutes_tells_now_and_then_how_far_it_is_where_no_terminal_is(monkeypatch, capsys):
    monkeypatch.setattr(commandline, "EVERY_S", 0.0)
    with commandline.showing_progress("counting") as progress:
        progress("counted: 3 of 4", 0.75)
    assert "hitspot: counted: 3 of 4 (75 %)\n" in capsys.readouterr().err
    monkeypatch.setattr(commandline, "EVERY_S", 3600.0)
    with commandline.showing_progress("counting") as progress:
        progress("counted: 3 of 4", 0.75)
    assert "3 of 4" not in capsys.readouterr().err
