"""The command that tells what errors of the survey do."""

import json

import pytest

from tests.support.rooms import MEASURED_PLAN, room_text
from viewer.cli.main import run


@pytest.fixture
def scene(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text(room_text(MEASURED_PLAN), encoding="utf-8")
    return path


def test_the_adjusted_plan_is_written_and_all_else_stays(scene, tmp_path, capsys):
    adjusted = tmp_path / "adjusted.toml"
    assert run(["survey", str(scene), "--write", str(adjusted), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [entry["misfit"] is not None for entry in told["adjustment"]["measured"]] == [True] * 8
    assert len(told["numbers"]) == len(told["peaks"][0]["error_db"])
    assert all(area["figures"]["spot_from_u0"]["error_m"] > 0.0 for area in told["areas"])
    text = adjusted.read_text(encoding="utf-8")
    assert "[4.0, 3.0], [0, 3.0]]   # as paced" in text
    assert "height = 2.43\n" in text


def test_nothing_to_adjust_is_a_mistake_that_says_what_would_be(tmp_path, capsys):
    path = tmp_path / "box.toml"
    path.write_text(room_text("box"), encoding="utf-8")
    assert run(["survey", str(path), "--write", str(tmp_path / "other.toml")]) == 2
    assert "diagonals" in capsys.readouterr().err
    assert not (tmp_path / "other.toml").exists()
