import csv
import io
import json
import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest
from conftest import SCENES

from raytrace import QUESTIONS, build_room, load_scene
from viewer.cli import INTERRUPTED, USER_MISTAKE, run

BOX = str(SCENES / "box.toml")


def test_arrivals_prints_a_table_with_the_notes(capsys):
    assert run(["arrivals", BOX, "--order", "1"]) == 0
    out = capsys.readouterr().out
    assert "left at mix" in out
    assert "left wall" in out
    assert "3060 / 1200" in out  # the left wall's spot: 4.20 - 1.14 m from its left edge, at ear height
    assert "Note: Reflections are complete up to" in out


def test_arrivals_as_json_and_csv_hold_the_same_rows(capsys):
    assert run(["arrivals", BOX, "--order", "2", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)["arrivals"]
    assert run(["arrivals", BOX, "--order", "2", "--csv"]) == 0
    table = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert len(rows) == len(table) > 20


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
    assert "not a page of ours" in capsys.readouterr().err
    assert page.read_text(encoding="utf-8") == "my own"


def test_a_speaker_can_be_picked(capsys):
    assert run(["arrivals", BOX, "--order", "1", "--speaker", "right", "--json"]) == 0
    assert {row["speaker"] for row in json.loads(capsys.readouterr().out)["arrivals"]} == {"right"}


@pytest.mark.parametrize("form", ["--json", "--csv"])
def test_data_files_are_metric_and_say_so(form, capsys):
    assert run(["arrivals", BOX, form, "--units", "imperial"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert f"{form} is always metric" in err


def test_imperial_units_are_printed(capsys):
    assert run(["check", BOX, "--units", "imperial"]) == 0
    assert "13' 9 3/8\"" in capsys.readouterr().out  # 4.20 m to the eighth of an inch


@pytest.mark.parametrize(
    ("tokens", "words"),
    [
        (["arrivls", BOX], "arrivls"),
        (["arrivals"], "scene"),
        (["arrivals", "no-such.toml"], "no-such.toml"),
        (["arrivals", BOX, "--order", "many"], "order"),
        (["arrivals", BOX, "--order", "0"], "--order must be 1 or more"),
        (["arrivals", BOX, "--until", "-3"], "--until"),
        (["arrivals", BOX, "--seat", "sofa"], '"mix"'),
        (["arrivals", BOX, "--speaker", "centre"], '"left", "right"'),
        (["arrivals", BOX, "--json", "--csv"], "exclude"),
        (["arrivals", BOX, "--units", "cubits"], "metric"),
        (["stills", BOX, "--size", "big"], "2400x1600"),
        (["page", BOX, "--against", "bare"], "holds no panels"),
        (["page", BOX, "--out", "no-such-folder/page.html"], "not a folder"),
        (["stills", BOX, "--size", "20x20"], "300"),
        (["new", "room.txt"], ".toml"),
        (["new", BOX], "exists already"),
        (["new", "no-such-folder/room.toml", "--shape", "box"], "not a folder"),
        (["new", "room.toml", "--shape", "dome"], "dome"),
        (["new", "room.toml", "--shape", "box", "--lenght", "4"], "--length"),
        (["new", "room.toml", "--shape", "box", "--length", "4,2"], "--length"),
    ],
    ids=lambda value: " ".join(value)[:40] if isinstance(value, list) else None,
)
def test_a_users_mistake_is_one_message_and_exit_code_2(tmp_path, monkeypatch, capsys, tokens, words):
    monkeypatch.chdir(tmp_path)
    assert run(tokens) == USER_MISTAKE
    streams = capsys.readouterr()
    assert streams.out == ""
    assert words in streams.err
    assert "Traceback" not in streams.err
    assert list(tmp_path.iterdir()) == []


def test_help_names_every_command(capsys):
    assert run(["--help"]) == 0
    out = capsys.readouterr().out
    for command in ("new", "check", "arrivals", "cutlist", "report", "stills"):
        assert command in out


@pytest.mark.parametrize("shape", QUESTIONS)
def test_new_writes_a_scene_that_runs(tmp_path, capsys, shape):
    path = tmp_path / "room.toml"
    assert run(["new", str(path), "--shape", shape]) == 0
    scene = load_scene(path)
    assert scene.room.shape == shape
    build_room(scene)
    assert run(["check", str(path)]) == 0
    assert "hitspot check" in capsys.readouterr().out


def test_new_takes_answers_as_options(tmp_path):
    path = tmp_path / "room.toml"
    assert run(["new", str(path), "--shape", "box", "--length", "13' 9\"", "--width", "3100 mm"]) == 0
    room = load_scene(path).room
    assert room.length == pytest.approx(4.191, abs=1e-9)
    assert room.width == pytest.approx(3.1, abs=1e-9)


def test_new_asks_one_question_after_the_other_at_a_terminal(tmp_path):
    path = tmp_path / "room.toml"
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "viewer.cli", "new", str(path)],
        stdin=theirs,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        cwd=SCENES.parent,
    ) as process:
        # The shape, a length that is no length, a length in feet, then every suggestion.
        os.write(ours, b"box\nlong\n14 ft\n" + b"\n" * 30)
        out = process.communicate(timeout=60)[0].decode()
    os.close(ours)
    os.close(theirs)
    assert process.returncode == 0, out
    assert load_scene(path).room.length == pytest.approx(14 * 0.3048)
    assert "for example" in out


def test_an_interrupt_is_said_in_one_line(monkeypatch, capsys):
    def interrupted(*_args, **_kwargs):
        raise KeyboardInterrupt

    monkeypatch.setattr("raytrace.run_study", interrupted)
    assert run(["arrivals", BOX]) == INTERRUPTED
    assert capsys.readouterr().err.strip().endswith("nothing was written.")


def test_a_pipe_closed_early_is_no_error():
    command = f"{sys.executable} -m viewer.cli arrivals {BOX} --json | head -c 10"
    done = subprocess.run(
        ["bash", "-c", f"set -o pipefail; {command}"],
        capture_output=True,
        text=True,
        check=False,
        cwd=SCENES.parent,
    )
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr


def test_the_installed_command_is_on_the_path():
    command = Path(sys.executable).parent / "hitspot"
    done = subprocess.run([command, "--version"], capture_output=True, text=True, check=True)
    from importlib.metadata import version

    assert done.stdout.strip() == version("hitspot")
