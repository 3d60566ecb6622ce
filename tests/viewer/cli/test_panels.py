"""Panels are proposed into a file of their own; what stands there already stays."""

import json

import pytest

import raytrace
from raytrace import load_scene, propose
from tests.support.proposals import soon
from tests.support.scenes import SCENES
from viewer.cli.main import USER_MISTAKE, run
from viewer.cli.panels import Wish


def test_what_must_not_be_overwritten_is_not(tmp_path, capsys):
    box = str(SCENES / "box.toml")
    there = tmp_path / "there.toml"
    there.write_text("mine", encoding="utf-8")
    for options in (
        ["--out", str(there)],
        ["--out", box],
        ["--out", str(tmp_path / "new.txt")],
        ["--out", str(tmp_path / "no" / "new.toml")],
        ["--panels", "0"],
        ["--budget", "-1"],
        ["--build", "wool5"],
        ["--seat", "soffa"],
        ["--seat", "mix=much"],
        ["--seat", "mix=0"],
        ["--seat", "mix=-1"],
        ["--seat", "mix=nan"],
        ["--spend", "much"],
        ["--spend", "-5"],
        ["--spend", "0 panels"],
        ["--spend", "2.5 panels"],
        ["--spend", "8 panels", "--panels", "4"],
        ["--spend", "700", "--budget", "400"],
        ["--spend", "700"],  # the box has no prices
        ["--until", "0"],
        ["--order", "0"],
        ["--budget", "100"],
        ["--stock", str(there)],
        ["--json", "--units", "imperial"],
    ):
        given = options if "--out" in options else ["--out", str(tmp_path / "new.toml"), *options]
        assert run(["propose", box, *given]) == USER_MISTAKE
        assert capsys.readouterr().err.count("\n") >= 1
    assert there.read_text(encoding="utf-8") == "mine"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["there.toml"]


def test_a_weight_stands_behind_a_seat_unless_the_seat_is_called_so():
    scene = load_scene(SCENES / "box.toml")
    assert Wish(seat=["mix=3", "sofa"]).asked(scene).weights == (3.0, 1.0)
    assert Wish(seat=["mix=3", "sofa"]).asked(scene).seats == ("mix", "sofa")
    assert Wish(seat=["sofa", "mix"]).asked(scene).weights == ()
    (seat,) = scene.seats
    odd = scene.model_copy(update={"seats": (seat.model_copy(update={"name": "a=2"}),)})
    assert Wish(seat=["a=2"]).asked(odd).seats == ("a=2",)


def test_what_is_to_be_spent_is_money_or_panels():
    scene = load_scene(SCENES / "box.toml")
    money, panels = (Wish(spend=text).asked(scene) for text in ("700", "8 panels"))
    assert (money.budget, money.most_panels, money.spend) == (700.0, None, True)
    assert (panels.budget, panels.most_panels, panels.spend) == (None, 8, True)
    both = Wish(spend="700", panels=8).asked(scene)
    assert (both.budget, both.most_panels) == (700.0, 8)
    assert not Wish(budget=700.0).asked(scene).spend


@pytest.mark.slow
def test_a_scene_is_written_whole_and_read_back(tmp_path, capsys, monkeypatch):
    new, box, again = tmp_path / "new.toml", SCENES / "box.toml", []

    def keep(*given, **options):
        again.append(propose(*given, **options))
        return again[-1]

    monkeypatch.setattr(raytrace, "propose", keep)
    near = ["--order", "2", "--until", "18"]
    assert run(["propose", str(box), "--panels-only", *near, "--out", str(new)]) == 0
    assert f"Written: {new}" in capsys.readouterr().out
    assert [path.name for path in tmp_path.iterdir()] == ["new.toml"]
    assert run(["check", str(new)]) == 0
    text = new.read_text(encoding="utf-8")
    assert text.startswith(box.read_text(encoding="utf-8"))
    assert text == again[0].text == soon().text  # to the last byte, whoever asks
    assert repr(again[0].margins) == repr(soon().margins)  # to the last bit, NaN included
    assert repr(again[0].ladder) == repr(soon().ladder)


@pytest.mark.slow
def test_seats_that_count_may_be_named_one_after_another(tmp_path, capsys):
    sofa = '\n[[seats]]\nname = "sofa"\nears = [3.2, 1.1, 1.0]\n'
    room = tmp_path / "room.toml"
    room.write_text((SCENES / "box.toml").read_text(encoding="utf-8") + sofa, encoding="utf-8")
    few = ["--panels", "2", "--panels-only", "--order", "1", "--until", "18"]
    assert run(["propose", str(room), "--seat", "sofa", "--seat", "mix", *few, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["seats"] == ["sofa", "mix"]  # the first one named is served first
    assert found["other_seats"] == []
    assert any('"sofa" first, then "mix"' in note for note in found["notes"])
    assert run(["propose", str(room), "--replace", *few]) == 0
    assert '"sofa" does not count here' in " ".join(capsys.readouterr().out.split())
