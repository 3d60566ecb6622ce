"""A scene is started from a tape sketch and read back."""

import errno
import os
import pty
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

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
        os.write(ours, b"box\nmetres\nlong\n14 ft\n" + b"\n" * 30)
        out = process.communicate(timeout=60)[0].decode()
    os.close(ours)
    os.close(theirs)
    assert process.returncode == 0, out
    assert load_scene(path).room.length == pytest.approx(14 * 0.3048)
    assert "for example" in out


def at_a_terminal(folder, typed, *options):
    """Exit code and output of `new` with what somebody types."""
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "viewer.cli", "new", str(folder / "room.toml"), *options],
        stdin=theirs,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        cwd=SCENES.parent,
    ) as process:
        os.write(ours, typed)
        out = process.communicate(timeout=60)[0].decode()
    os.close(ours)
    os.close(theirs)
    return process.returncode, out


def piped(folder, lines, *options):
    """The same with lines out of a pipe."""
    done = subprocess.run(
        [sys.executable, "-m", "viewer.cli", "new", str(folder / "room.toml"), *options],
        input=lines,
        capture_output=True,
        text=True,
        cwd=SCENES.parent,
        timeout=60,
    )
    return done.returncode, done.stdout + done.stderr


def test_new_takes_feet_and_inches_as_they_are_read_off_a_tape(tmp_path):
    code, out = at_a_terminal(tmp_path, b"box\nfeet\n13'4\n10-2\n8 1/2\n8 0\n" + b"\n" * 30)
    assert code == 0, out
    assert "[4 ft 0 in]" not in out
    assert '"8 1/2" is not a length' in out.replace("\r", "")
    text = (tmp_path / "room.toml").read_text()
    assert 'length = "13 ft 4 in"' in text
    assert 'width = "10 ft 2 in"' in text
    assert 'height = "8 ft"' in text
    room = load_scene(tmp_path / "room.toml").room
    assert room.length == pytest.approx((13 * 12 + 4) * 0.0254, abs=1e-12)  # the inch is 25.4 mm


def test_new_in_millimetres_writes_millimetres(tmp_path):
    code, out = at_a_terminal(tmp_path, b"box\nmillimetres\n4200\n3000\n2400\n1200\n" + b"\n" * 30)
    assert code == 0, out
    text = (tmp_path / "room.toml").read_text()
    assert 'length = "4200 mm"' in text
    assert 'position = ["560 mm", "900 mm", "1150 mm"]' in text  # 0.38 x 4.2 m less 1.2 m sqrt(3/4)


def test_a_word_goes_back_to_the_question_before(tmp_path):
    typed = b"box\nmetres\n4.2\n3\nundo\nundo\n5.1\n3.3\n" + b"\n" * 30
    assert at_a_terminal(tmp_path, typed)[0] == 0
    room = load_scene(tmp_path / "room.toml").room
    assert (room.length, room.width) == (5.1, 3.3)


def test_an_answer_that_does_not_fit_is_asked_again_at_once(tmp_path):
    # Eaves above the ridge; a door wider than its wall.
    typed = b"gable\nmetres\n\n\n2.5\n2.4\n2.9\n" + b"\n" * 5 + b"back, 4, 0.8\nnone\n" + b"\n" * 20
    code, out = at_a_terminal(tmp_path, typed)
    assert code == 0, out
    assert out.count("2.4 m is not above the side walls (2.5 m)") == 1
    assert "reaches beyond the back wall, which is 4.4 m wide" in out
    assert load_scene(tmp_path / "room.toml").room.ridge == 2.9


@pytest.mark.parametrize(("typed", "code"), [(b"box\nmetres\n4.2\n\x04", 2), (b"box\n\x04", 2)])
def test_the_end_of_the_answers_leaves_no_file(tmp_path, typed, code):
    found, out = at_a_terminal(tmp_path, typed)
    assert found == code
    assert "The answers ended early; nothing was written." in out
    assert "Traceback" not in out
    assert list(tmp_path.iterdir()) == []


def test_answers_are_taken_from_a_pipe(tmp_path):
    code, out = piped(tmp_path, "box\n4.4\n3.2\n")
    assert code == 0, out
    room = load_scene(tmp_path / "room.toml").room
    assert (room.length, room.width, room.height) == (4.4, 3.2, 2.4)


def test_a_piped_answer_that_is_refused_is_named_with_its_line(tmp_path):
    code, out = piped(tmp_path, "4.4\n13 feet\n", "--shape", "box")
    assert code == 2
    assert out.startswith('line 2, "13 feet", cannot answer "Width, from the wall on your left')
    assert '"13 feet" is not a length' in out
    assert list(tmp_path.iterdir()) == []
    code, out = piped(tmp_path, "dome\n")
    assert (code, out.splitlines()[0]) == (
        2,
        'line 1, "dome", cannot answer "Shape of the room": accepted: box, gable, lean-to, plan, section',
    )


def test_a_full_disk_leaves_no_file(tmp_path, monkeypatch, capsys):
    def full(path, _text, **_how):
        path.touch()
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "write_text", full)
    assert run(["new", str(tmp_path / "room.toml"), "--shape", "box"]) == 2
    assert capsys.readouterr().err.endswith("room.toml: cannot be written: No space left on device\n")
    assert list(tmp_path.iterdir()) == []


def test_a_read_only_folder_is_refused_before_the_first_question(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(os, "access", lambda _path, _mode: False)  # root may write anywhere
    assert run(["new", str(tmp_path / "room.toml"), "--shape", "box"]) == 2
    assert "is read-only" in capsys.readouterr().err


def test_a_file_name_that_is_not_utf_8_is_written_and_read(tmp_path):
    path = os.fsencode(tmp_path) + b"/salle \xe9.toml"
    for command, more in (("new", ["--shape", "box"]), ("check", [])):
        done = subprocess.run(
            [sys.executable, "-m", "viewer.cli", command, path, *more],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            cwd=SCENES.parent,
            timeout=60,
        )
        assert (done.returncode, done.stderr) == (0, "")


def test_view_goes_on_to_the_window_where_changes_of_a_missing_file_were_kept(tmp_path, monkeypatch):
    import viewer.window

    monkeypatch.setattr("viewer.cli.display.begin_probe", lambda: SimpleNamespace(answer=lambda: ""))
    opened, kept, path = [], [None, "a draft"], tmp_path / "gone.toml"
    monkeypatch.setattr(viewer.window, "open_window", opened.append)
    monkeypatch.setattr(viewer.window, "find_recovery", lambda _path: kept.pop(0))
    assert run(["view", str(path)]) == 2
    assert opened == []
    assert run(["view", str(path)]) == 0
    assert opened == [path]
