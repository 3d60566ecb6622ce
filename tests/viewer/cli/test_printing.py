"""What is printed is plain text, whole at any width, and comes out on any stream."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support.scenes import HARD_WALLS, ROOT, SCENES
from viewer.cli.main import run

BOX = str(SCENES / "box.toml")

# Names that rich would read as markup, and a title that would steer the terminal.
ODD = (
    HARD_WALLS.replace('"left"', '"left [a] [/e]"')
    .replace('"mix"', '"mix [/]"')
    .replace("title = ", 'title = "Attic [rev b] x\\u001b[31m\\u202ey\\nz" # ')
)


@pytest.fixture
def odd(tmp_path):
    scene = tmp_path / "odd [b].toml"
    scene.write_text(ODD, encoding="utf-8")
    return scene


@pytest.mark.parametrize("command", ["check", "arrivals --order 1", "decay --rays 320", "materials --scene"])
def test_names_are_printed_as_they_are_written(odd, capsys, command):
    assert run([*command.split(), str(odd)]) == 0
    out = capsys.readouterr().out
    if command == "check":
        assert "Attic [rev b] x�[31m�y z" in out
    if not command.startswith("materials"):
        assert "left [a] [/e]" in out
        assert "mix [/]" in out
    assert "\x1b" not in out
    assert "\u202e" not in out


def test_a_path_is_printed_as_it_is(odd, capsys):
    page = odd.with_name("page [b].html")
    assert run(["page", str(odd), "--order", "1", "--out", str(page)]) == 0
    assert f"Written: {page}" in capsys.readouterr().out


def test_a_message_about_a_file_is_plain(tmp_path, capsys):
    scene = tmp_path / "a\x1b[31mb.toml"
    scene.write_text('title = "\x1b[2J"\n', encoding="utf-8")
    assert run(["check", str(scene)]) == 2
    message = capsys.readouterr().err
    assert "\x1b" not in message
    assert message.count("\n") == 3  # what is wrong, the line, and where in it


@pytest.mark.parametrize("width", ["40", "60"])
@pytest.mark.parametrize("options", ["arrivals --order 2", "check", "arrivals --order 2 --all --against"])
def test_a_narrow_terminal_costs_no_figure_and_no_name(monkeypatch, capsys, width, options):
    words = {}
    for columns in ("300", width):
        monkeypatch.setenv("COLUMNS", columns)
        command, *rest = options.split()
        against = ["bare"] if rest and rest[-1] == "--against" else []
        assert run([command, str(SCENES / "treated-box.toml"), *rest, *against]) == 0
        words[columns] = sorted(capsys.readouterr().out.split())
    assert words[width] == words["300"]
    assert not any("…" in word for word in words[width])


@pytest.mark.parametrize("options", ["check", "arrivals --order 2", "cutlist"])
def test_no_line_parts_a_length_in_feet_nor_a_figure_and_its_unit(monkeypatch, capsys, options):
    monkeypatch.setenv("COLUMNS", "80")
    scene = str(SCENES / "treated-box.toml")
    assert run([*options.split(), scene, "--units", "imperial"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 80
    assert not [line for line in lines if re.match(r"\s*(\d+/\d+\"|(dB|ms|lb|lbf|Hz|%)\b)", line)]
    # In a table: columns stand two blanks apart, so that a cell which ends within a length shows.
    assert not [line for line in lines if re.search(r"\d'(  |\s*$)", line)]


def test_a_terminal_of_no_width_is_taken_for_a_usual_one(monkeypatch, capsys):
    monkeypatch.setenv("COLUMNS", "0")
    assert run(["check", BOX]) == 0
    assert "front wall" in capsys.readouterr().out


def shell(command, **more):
    environment = {**os.environ, **more.pop("env", {})}
    words = command.replace("hitspot", f"{sys.executable} -m viewer.cli").replace("BOX", BOX)
    return subprocess.run(
        ["bash", "-c", f"set -o pipefail; {words}"],
        capture_output=True,
        cwd=ROOT,
        env=environment,
        check=False,
        **more,
    )


@pytest.mark.parametrize("command", ["hitspot --help | head -1", "hitspot builds | head -1"])
def test_who_reads_only_the_beginning_is_no_mistake(command):
    done = shell(command)
    assert (done.returncode, done.stderr) == (0, b"")


@pytest.mark.parametrize("closed", [">&-", "2>&-", "<&- >&- 2>&-"])
def test_closed_streams_swallow_what_is_printed(closed):
    done = shell(f"hitspot check BOX {closed}")
    assert (done.returncode, done.stderr) == (0, b"")


def test_a_stream_in_ascii_gets_the_nearest_signs():
    done = shell("hitspot check BOX", env={"PYTHONIOENCODING": "ascii"})
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"12.6 m2" in done.stdout
    assert b"20 deg C" in done.stdout


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a disk that is always full is a thing of Linux")
def test_a_full_disk_behind_the_output_is_one_message():
    done = shell("hitspot check BOX > /dev/full")
    assert done.returncode == 2
    assert done.stderr == b"The output cannot be written: No space left on device.\n"
