"""sweep and compare from the command line: files in, tables out, mistakes in one message."""

import json

import numpy as np
import pytest
import soundfile

from tests.support.scenes import BOX
from tests.support.soundfiles import pulses, write_wav
from viewer.cli import run


@pytest.fixture
def room(tmp_path, monkeypatch):
    """A folder with a scene and two measurements of it, the working folder."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "box.toml").write_text(BOX, encoding="utf-8")
    write_wav(tmp_path / "before.wav", pulses([0.0, 0.0029764, 0.007], [1.0, 0.7, 0.3]))
    write_wav(tmp_path / "after.wav", pulses([0.0, 0.0029764], [1.0, 0.35]))
    return tmp_path


def printed(capsys, *words):
    assert run(["compare", "box.toml", "--order", "1", "--until", "12", *words]) == 0
    return capsys.readouterr().out


def test_sweep_writes_a_file_and_says_how_to_measure(room, capsys):
    assert run(["sweep", "--out", "s.wav", "--seconds", "2"]) == 0
    out = capsys.readouterr().out
    assert sum(out.count(f"{k}. ") for k in range(1, 7)) >= 6
    assert "ear protection" in out
    samples, rate_hz = soundfile.read(room / "s.wav")
    assert rate_hz == 48_000
    assert 20.0 * np.log10(np.abs(samples).max()) == pytest.approx(-12.0, abs=0.01)  # 24 bits
    assert run(["sweep", "--out", "s.wav"]) == 2
    assert "exists already" in capsys.readouterr().err


@pytest.mark.usefixtures("room")
def test_json_holds_what_was_measured_and_what_nothing_explains(capsys):
    told = json.loads(printed(capsys, "--measured", "left=before.wav", "--json"))
    sections = {"scene", "measured", "changes", "bass", "left_right", "corrections", "notes"}
    assert set(told) == sections
    own = told["measured"][0]
    assert (own["speaker"], own["seat"], own["file"]) == ("left", "mix", "before.wav")
    floor, other = own["peaks"]
    assert floor["arrivals"][0]["surfaces"] == ["floor"]
    assert floor["explained"]
    assert not other["explained"]
    assert other["extra_path_m"] == pytest.approx(0.007 * 343.2, abs=0.01)  # the pulse at 7 ms
    assert any("nothing drawn explains it; an extra path of 2.40 m" in note for note in told["notes"])
    assert {tuple(peak["surfaces"]) for peak in own["unheard"]} >= {("left wall",), ("ceiling",)}
    assert own["beyond_record"] == []


def test_what_lies_behind_the_end_of_a_record_is_told_as_that(room, capsys):
    write_wav(room / "short.wav", pulses([0.0, 0.0029764], [1.0, 0.7])[: round(0.0595 * 48_000)])
    words = ["--measured", "left=short.wav"]
    own = json.loads(printed(capsys, *words, "--json"))["measured"][0]
    surfaces = [[tuple(peak["surfaces"]) for peak in own[key]] for key in ("unheard", "beyond_record")]
    assert surfaces == [[("ceiling",), ("left wall",), ("front wall",), ("right wall",)], [("back wall",)]]
    assert own["until_ms"] == pytest.approx(9.5, abs=0.05)  # a sample, and where the pulse has its top
    told = " ".join(printed(capsys, *words).split())
    assert "The record ends 9.5 ms after the direct sound: of 1 predicted peak behind that" in told
    assert "Not heard: back wall" not in told


@pytest.mark.parametrize("whose", ["l=x@1", "l=x@1@mix"])
def test_a_speaker_whose_name_holds_an_equals_sign_is_named_like_any_other(room, capsys, whose):
    (room / "box.toml").write_text(BOX.replace('name = "left"', 'name = "l=x@1"'), encoding="utf-8")
    assert run(["compare", "box.toml", "--measured", f"{whose}=none.wav"]) == 2
    assert capsys.readouterr().err.startswith("none.wav: ")


@pytest.mark.usefixtures("room")
def test_before_and_after_tell_the_change(capsys):
    words = ["--measured", "left=before.wav", "--after", "left@mix=after.wav"]
    told = json.loads(printed(capsys, *words, "--json"))
    assert [own["state"] for own in told["measured"]] == ["before", "after"]
    change = told["changes"][0]
    # From 0.7 to 0.35; the scene has no panels, so nothing was predicted to change.
    assert change["after_db"] - change["before_db"] == pytest.approx(-6.0, abs=0.3)  # side lobes of a third
    assert change["predicted_after_db"] == change["predicted_before_db"]
    assert "Before and after" in printed(capsys, *words)


def test_the_page_has_the_measured_curve_over_the_predicted_one(room, capsys):
    words = ["page", "box.toml", "--order", "1", "--until", "12", "--out", "box.html"]
    assert run([*words, "--measured", "left=before.wav"]) == 0
    page = (room / "box.html").read_text(encoding="utf-8")
    assert '<section id="measured">' in page
    assert "Pale: the prediction" in page
    assert (room / "box.html").stat().st_size < 2_000_000  # what a client gets by mail
    assert run([*words, "--sweep", "before.wav"]) == 2
    assert "name what was measured" in capsys.readouterr().err
    assert run([*words, "--measured", "middle=before.wav"]) == 2
    assert (room / "box.html").read_text(encoding="utf-8") == page  # a mistake leaves it as it was


@pytest.mark.usefixtures("room")
def test_paths_are_joined_as_all_outputs_join_them(capsys):
    assert run(["compare", "box.toml", "--order", "2", "--until", "12", "--measured", "left=before.wav"]) == 0
    assert " wall › " in capsys.readouterr().out


def test_tables_go_to_a_folder_and_come_out_the_same(room, capsys):
    words = ["--measured", "left=before.wav", "--after", "left=after.wav", "--out", "tables"]
    printed(capsys, *words)
    first = {path.name: path.read_bytes() for path in (room / "tables").iterdir()}
    printed(capsys, *words)
    assert first == {path.name: path.read_bytes() for path in (room / "tables").iterdir()}
    tables = {".hitspot", "measured.json", "peaks.csv", "changes.csv"}
    charts = {"before-speaker-1-seat-1.png", "after-speaker-1-seat-1.png"}
    # The pulse at 7 ms, which nothing drawn explains, is gone after.
    assert set(first) == tables | charts | {"before-speaker-1-seat-1-unexplained-1.png"}


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ([], "name what was measured"),
        (["--measured", "before.wav"], "names no speaker and file"),
        (["--measured", "right=before.wav"], 'no speaker is called "right"'),
        (["--measured", "left@sofa=before.wav"], 'no seat is called "sofa"'),
        (["--measured", "left=none.wav"], "cannot be read: No such file"),
        (["--measured", "left=box.toml"], "is no sound file"),
        (["--measured", "left=before.wav:2"], "has one channel, not 2"),
        (["--measured", "left=before.wav", "--measured", "left=after.wav"], "is given twice"),
        (["--measured", "left=before.wav", "--against", "bare"], "--against goes with --after"),
        (["--measured", "left=before.wav", "--sweep", "after.wav"], "holds no sweep"),
    ],
)
def test_mistakes_are_told_in_one_message(room, capsys, words, message):
    assert run(["compare", "box.toml", *words, "--out", "tables"]) == 2
    shown = capsys.readouterr()
    assert message in shown.err
    assert shown.out == ""
    assert not (room / "tables").exists()
