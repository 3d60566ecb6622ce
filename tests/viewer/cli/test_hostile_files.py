"""Files in the way of commands: what they read stays, what has no end or is something else is refused."""

import os
import shutil

import pytest

from tests.support.scans import Rough, gable_room, obj_text, scan_of
from tests.support.scenes import SCENES
from viewer.cli.main import run

LONG = "a" * 300


def refused(words, capsys):
    """What a command says that must not run."""
    assert run(words) == 2
    return " ".join(capsys.readouterr().err.split())


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A folder with scenes of its own, to work in."""
    for name in ("box.toml", "half-slope.toml", "half-slope.obj"):
        shutil.copy(SCENES / name, tmp_path)
    lists = '[prices]\n"wool 50" = 40\n[stock]\n"wool 50" = 4\n'
    (tmp_path / "prices.toml").write_text(lists, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize(
    ("words", "stays"),
    [
        (["export", "half-slope.toml", "--to", "half-slope.obj"], "half-slope.obj"),
        (["propose", "box.toml", "--prices", "prices.toml", "--out", "prices.toml"], "prices.toml"),
        (["propose", "box.toml", "--stock", "prices.toml", "--out", "linked.toml"], "prices.toml"),
        (
            [
                *("compare", "box.toml", "--measured", "left=a.wav"),
                *("--against", "half-slope.toml", "--write", "half-slope.toml"),
            ],
            "half-slope.toml",
        ),
        (["survey", "box.toml", "--write", "box.toml"], "box.toml"),
    ],
)
def test_what_a_command_reads_it_never_replaces(place, capsys, words, stays):
    (place / "linked.toml").symlink_to("prices.toml")
    before = (place / stays).read_bytes()
    said = refused([*words, "--replace"], capsys)
    assert "is read by this command and stays as it is" in said or "is the scene itself" in said
    assert (place / stays).read_bytes() == before


def test_a_scan_is_not_replaced_by_the_mesh_of_its_room(place, capsys):
    scan = place / "den-room.obj"
    scan.write_text(obj_text(*scan_of(gable_room(3.0, 2.5, eaves=1.8, ridge=2.6), Rough(edge=0.5))))
    before = scan.read_bytes()
    said = refused(["clean", "den-room.obj", "--out", "den.toml", "--replace"], capsys)
    assert "den-room.obj is read by this command" in said
    assert scan.read_bytes() == before


def test_a_record_is_kept_in_no_file_that_holds_something_else(place, capsys):
    before = (place / "box.toml").read_bytes()
    assert "holds something else" in refused(["seats", "box.toml", "--record", "box.toml"], capsys)
    assert (place / "box.toml").read_bytes() == before


@pytest.mark.parametrize(
    "words",
    [
        ["seats", "box.toml", "--record", "endless"],
        ["drawings", "box.toml", "--text", "endless"],
        ["survey", "endless"],
        ["propose", "--each", "endless"],
        ["propose", "box.toml", "--stock", "endless"],
        ["clean", "endless", "--out", "new.toml"],
        ["compare", "box.toml", "--measured", "left=endless"],
        ["export", "endless", "--to", "room.glb"],
    ],
)
def test_a_file_without_end_is_refused_at_once(place, capsys, words):
    (place / "endless").symlink_to("/dev/zero")
    assert refused(words, capsys)


def test_a_sparse_table_of_gigabytes_is_no_directivity(place, capsys):
    (place / "wide.csv").touch()
    os.truncate(place / "wide.csv", 20_000_000_000)
    text = (place / "box.toml").read_text(encoding="utf-8")
    given = text.replace('directivity = "two-way"', 'directivity = {file = "wide.csv"}', 1)
    (place / "box.toml").write_text(given, encoding="utf-8")
    assert "wide.csv: over 2 MB, no directivity file" in refused(["check", "box.toml"], capsys)


@pytest.mark.usefixtures("place")
def test_a_missing_scene_is_refused_whatever_stands_where_its_change_is_to_go(capsys):
    words = ["survey", "none.toml", "--write", "box.toml"]
    assert "box.toml exists already" in refused(words, capsys)
    assert "none.toml: no such file" in refused([*words, "--replace"], capsys)


@pytest.mark.parametrize("path", ["/", ".", f"{LONG}.toml", "half-slope.obj"])
@pytest.mark.usefixtures("place")
def test_one_of_many_that_is_no_scene_does_not_keep_others_from_being_told(capsys, path):
    assert run(["propose", "--each", path, "none.toml"]) == 2
    said = capsys.readouterr()
    assert "none.toml: no such file" in " ".join(said.out.split())
    assert "2 of 2 scenes could not be done" in said.err


@pytest.mark.parametrize(
    "address", ["tcp://", "tcp://10.0.0.5", "tcp://10.0.0.5:99999999999999999999", "tcp://[x"]
)
@pytest.mark.usefixtures("place")
def test_an_address_without_a_port_is_refused_before_it_is_called(capsys, address):
    assert "give an address such as" in refused(["seats", "box.toml", "--scheduler", address], capsys)


@pytest.mark.usefixtures("place")
def test_a_name_that_is_too_long_for_a_page_is_refused_before_anything_is_run(capsys, monkeypatch):
    monkeypatch.setattr("viewer.cli.files.study_of", lambda *_: pytest.fail("it was run"))
    assert "name too long" in refused(["page", "box.toml", "--out", f"{LONG}.html"], capsys)
