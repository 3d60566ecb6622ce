"""`seats` prints places and writes the scene of one; what it cannot take is one clear message."""

import json
import tomllib

import pytest

from tests.support.scenes import SCENES
from viewer.cli.main import run

BOX = str(SCENES / "box.toml")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--best", "0"], "--best must lie between 1 and 12"),
        (["--place", "6"], "--place must lie between 1 and --best 5"),
        (["--step", "0.45"], "has no unit"),
        (["--step", "10 mm"], "--step must lie between"),
        (["--wall", "left wal"], 'no wall is called "left wal"; there is "front wall"'),
        (["--processes", "0"], "--processes must lie between"),
        (["--scheduler", "10.0.0.5"], "give an address such as tcp://"),
        (["--scheduler", "tcp://10.0.0.5:1", "--processes", "2"], "exclude each other"),
        (["--write", "new.txt"], 'a scene file ends in ".toml"'),
        (["--write", BOX], "is the scene itself"),
        (["--picture", "map.gif"], "a drawing ends in .png"),
        (["--units", "imperial", "--json"], "always metric"),
    ],
)
def test_what_it_cannot_take_is_refused_at_once(options, words, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert run(["seats", BOX, *options]) == 2
    assert words in " ".join(capsys.readouterr().err.split())
    assert not list(tmp_path.iterdir())


@pytest.mark.slow
def test_places_come_as_data_as_a_scene_and_as_a_map(capsys, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    new, picture = tmp_path / "new.toml", tmp_path / "map.svg"
    options = ["--wall", "right wall", "--step", "1800 mm", "--processes", "1", "--json"]
    assert run(["seats", BOX, *options, "--write", str(new), "--picture", str(picture)]) == 0
    found = json.loads(capsys.readouterr().out)
    first = found["candidates"][0]
    assert {"wall", "ears_m", "speakers_m", "score", "over_db", "left_right_db", "evenness_db"} <= set(first)
    assert first["wall"] == "right wall"
    assert found["now"]["wall"] == "front wall"
    scores = [one["score"] for one in found["candidates"] if one["in_full"]]
    assert scores == sorted(scores)
    written = tomllib.loads(new.read_text(encoding="utf-8"))
    assert (written["room"]["length"], written["room"]["width"]) == ("3000 mm", "4200 mm")
    assert written["seats"][0]["ears"][0] == "1800 mm"
    assert picture.read_text(encoding="utf-8").startswith("<?xml")
    assert not list((tmp_path / "state").rglob("*.jsonl")), "what is finished needs no record any more"


def test_many_scenes_are_told_one_by_one_and_the_worst_decides(capsys, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    (tmp_path / "broken.toml").write_text("title = 3\n", encoding="utf-8")
    (tmp_path / "there.toml").write_text((SCENES / "box.toml").read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "there-proposed.toml").write_text("mine", encoding="utf-8")
    names = ("broken.toml", "there.toml", "missing.toml")
    assert run(["propose", "--each", *(str(tmp_path / name) for name in names)]) == 2
    out, err = capsys.readouterr()
    lines = " ".join(out.split())
    assert "broken.toml:1:1: room: missing" in lines
    assert "there-proposed.toml exists already" in lines
    assert "missing.toml" in lines
    assert "3 of 3 scenes could not be done" in err
    assert (tmp_path / "there-proposed.toml").read_text(encoding="utf-8") == "mine"


def test_one_scene_or_many_not_both_and_not_none(capsys):
    for options, words in (
        (["propose"], "which scene?"),
        (["propose", BOX, "--each", BOX], "stands before --each"),
        (["propose", BOX, "--processes", "2"], "name them behind --each"),
        (["propose", "--each", BOX, "--out", "x.toml"], "leave out --out"),
    ):
        assert run(options) == 2
        assert words in " ".join(capsys.readouterr().err.split())
