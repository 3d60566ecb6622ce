"""Files for a client are written where they are told, and over nothing that is not ours."""

from pathlib import Path

from tests.support.scenes import SCENES
from viewer.cli.main import USER_MISTAKE, run

BOX = str(SCENES / "box.toml")


def test_a_page_is_written_beside_or_where_it_is_told(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert run(["page", BOX, "--order", "1"]) == 0
    assert "Written: box.html" in capsys.readouterr().out
    assert "<title>Box room</title>" in (tmp_path / "box.html").read_text(encoding="utf-8")
    assert (
        run(["page", BOX, "--order", "1", "--against", str(SCENES / "ridge.toml"), "--out", "two.html"]) == 0
    )
    text = (tmp_path / "two.html").read_text(encoding="utf-8")
    assert '"name":"Before"' in text
    assert '"name":"After"' in text


def test_a_page_of_a_scene_with_panels_switches_to_the_bare_room(capsys, tmp_path):
    hung = tmp_path / "hung.toml"
    panel = '[[panels]]\nname = "one"\nsurface = "left wall"\nbuild = "wool 50"\ncentre = [3.06, 1.2]\n'
    hung.write_text(Path(BOX).read_text(encoding="utf-8") + panel, encoding="utf-8")
    page = tmp_path / "hung.html"
    assert run(["page", str(hung), "--order", "1", "--out", str(page)]) == 0
    assert '"name":"Before"' in page.read_text(encoding="utf-8")
    page.write_text("my own", encoding="utf-8")
    assert run(["page", str(hung), "--order", "1", "--out", str(page)]) == USER_MISTAKE
    assert "holds no page of ours" in capsys.readouterr().err
    assert page.read_text(encoding="utf-8") == "my own"


def test_stills_refuse_a_file_for_a_folder(capsys, tmp_path):
    there = tmp_path / "there"
    there.write_text("mine", encoding="utf-8")
    assert run(["stills", BOX, "--order", "1", "--out", str(there)]) == USER_MISTAKE
    assert "something that is not a folder stands here" in capsys.readouterr().err
    assert there.read_text(encoding="utf-8") == "mine"
