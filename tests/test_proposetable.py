import json

import pytest
from conftest import SCENES
from proposals import proposal
from rich.console import Console

from viewer.cli import USER_MISTAKE, run
from viewer.proposetable import proposal_json, proposal_tables


def printed(name, units="metric"):
    console = Console(width=160, highlight=False, record=True, file=None)
    with console.capture() as capture:
        console.print(proposal_tables(proposal(name), units=units))
    return capture.get()


@pytest.mark.slow
def test_the_terminal_says_what_why_how_much_and_what_remains():
    text = printed("box")
    assert "Proposed: 4 panels" in text
    assert "by way of right wall, 7.4 ms" in text
    assert "What fewer panels bring" in text
    assert "Still over the limit, and what stands in the way" in text
    assert "floor: is walked on" in text
    assert "Local codes and licensed practice come first" in text
    assert " safe" not in text.lower()


@pytest.mark.slow
def test_stands_come_with_what_tips_them():
    text = printed("rented", units="imperial")
    assert "left wall leaning panel 1: 4.4 kg; a pull of" in text
    assert "right wall stand 1: 4.4 kg; without feet a push of" in text
    assert "'" in text  # feet and inches


@pytest.mark.slow
def test_the_json_object_holds_plain_numbers():
    found = proposal_json(proposal("box"))
    text = json.dumps(found, allow_nan=False)
    assert json.loads(text) == found
    assert len(found["panels"]) == found["ladder"][-1]["panels"]
    assert found["agreement_db"]["one_bounce"] <= 0.5
    assert found["unreached"][0]["in_the_way"]
    assert found["cautions"]


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
        ["--budget", "100"],
        ["--stock", str(there)],
        ["--json", "--units", "imperial"],
    ):
        given = options if "--out" in options else ["--out", str(tmp_path / "new.toml"), *options]
        assert run(["propose", box, *given]) == USER_MISTAKE
        assert capsys.readouterr().err.count("\n") >= 1
    assert there.read_text(encoding="utf-8") == "mine"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["there.toml"]


@pytest.mark.slow
def test_a_scene_is_written_whole_and_read_back(tmp_path, capsys):
    new = tmp_path / "new.toml"
    assert run(["propose", str(SCENES / "ridge.toml"), "--out", str(new)]) == 0
    assert f"Written: {new}" in capsys.readouterr().out
    assert [path.name for path in tmp_path.iterdir()] == ["new.toml"]
    assert run(["check", str(new)]) == 0
    assert new.read_text(encoding="utf-8").startswith((SCENES / "ridge.toml").read_text(encoding="utf-8"))
