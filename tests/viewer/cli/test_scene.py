"""A scene is started from a tape sketch and read back."""

import os
import pty
import subprocess
import sys

import pytest

from raytrace import QUESTIONS, build_room, load_scene
from tests.support.scenes import SCENES
from viewer.cli.main import run

BOX = str(SCENES / "box.toml")


def test_imperial_units_are_printed(capsys):
    assert run(["check", BOX, "--units", "imperial"]) == 0
    assert "13' 9 3/8\"" in capsys.readouterr().out  # 4.20 m to the eighth of an inch


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
